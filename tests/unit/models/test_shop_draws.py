"""The believed shop drawn: rates, needs, announcements and lead times against what is believed of them."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.kernels.lead_time import LeadTime
from pipeline.kernels.shop_replay import KnownJobs
from pipeline.models import shop_draws
from pipeline.models.lead_times import LeadTimes
from tests.support.kinds_by_hand import kinds_of, use_of

EM, SS = ("em", "thorough", 0.06, 6.0), ("ss", "refresh", 0.03, 40.0)
NOTICE, LAGS, WEIGHT = (10.0, 20.0, 30.0, 40.0), (0, 8, 20), (1.0, 2.0, 1.0)
# Drawn from the longest notice before the first day on: a lag later as many are torn down as ever.
SETTLED = 20
PAIRS = ((0.0, 0.0, 1.0, 0.0), (0.0, 0.4, 0.0, 0.6))
USE = use_of(("em", "thorough", "coil", 6, 2), ("em", "thorough", "lamp", 20, 60, PAIRS),
             ("ss", "refresh", "lamp", 3, 7))
N_RUNS, N_DAYS = 600, 220


def drawn_shop(seed=1, n_runs=N_RUNS, n_days=N_DAYS, use=USE, **course):
    kinds = kinds_of(use, EM, SS, **({"notice": NOTICE, "lags": LAGS, "weight": WEIGHT} | course))
    draws = shop_draws.ShopDraws(use, kinds, n_runs, np.random.default_rng(seed))
    return kinds, draws, draws.jobs(n_days)


@pytest.fixture(scope="module")
def shop():
    return drawn_shop()


def by_run(jobs, chosen):
    return np.bincount(jobs.run[chosen], minlength=N_RUNS)


def test_jobs_come_at_their_rates_and_each_run_has_a_rate_of_its_own(shop):
    kinds, _, jobs = shop
    is_in = (jobs.teardown_day >= SETTLED) & (jobs.teardown_day < N_DAYS)
    for kind in range(2):
        count, mean = by_run(jobs, is_in & (jobs.kind == kind)), kinds.per_day[kind] * (N_DAYS - SETTLED)
        assert_allclose(count.mean(), mean, rtol=0.05)
        # gamma-Poisson: the mean, and its square over the shape
        assert_allclose(count.var(), mean + mean**2 / kinds.shape[kind], rtol=0.2)


def test_the_shop_is_as_busy_at_the_end_as_at_the_beginning(shop):
    _, _, jobs = shop
    first, last = (by_run(jobs, (jobs.teardown_day >= start) & (jobs.teardown_day < start + 100)).mean()
                   for start in (SETTLED, N_DAYS - 100))
    assert_allclose(first, last, rtol=0.05)


def test_days_follow_one_another_as_past_jobs_showed(shop):
    _, _, jobs = shop
    for found, seen, weight in ((jobs.planned_day - jobs.known_day, NOTICE, np.ones(4)),
                                (jobs.teardown_day - jobs.planned_day, LAGS, np.array(WEIGHT))):
        days, count = np.unique(found, return_counts=True)
        assert_array_equal(days, seen)
        assert_allclose(count / count.sum(), weight / weight.sum(), atol=0.015)


@pytest.mark.parametrize(("today", "days"), [(60, 15), (60, 45), (100, 100)])
def test_the_unknown_jobs_are_those_announced_as_such(shop, today, days):
    kinds, _, jobs = shop
    is_new = (jobs.known_day > today) & (jobs.teardown_day <= today + days)
    wanted = kinds.announcements().unknown(days)
    for kind in range(2):
        count = by_run(jobs, is_new & (jobs.kind == kind))
        assert_allclose(count.mean(), wanted[kind], atol=4 * count.std() / np.sqrt(N_RUNS) + 1e-9)
    assert wanted[0] > 0


def test_known_jobs_come_as_soon_as_their_lag_says(shop):
    kinds, _, jobs = shop
    today = 80
    is_known = (jobs.known_day <= today) & (jobs.teardown_day > today)
    known = type(jobs)(*(getattr(jobs, name)[is_known] for name in ("run", "kind", "known_day", "planned_day",
                                                                     "teardown_day", "need_pcs")))
    on_the_books = KnownJobs(known.run, known.kind, known.planned_day - today)
    share = kinds.announcements().known_share(on_the_books, np.array([7.0, 21.0]))
    for days, of_days in zip((7, 21), share, strict=True):
        came = known.teardown_day <= today + days
        assert_allclose(of_days.sum(), came.sum(), rtol=0.05)


def test_a_shop_that_writes_no_bookings_knows_a_job_when_it_is_torn_down():
    kinds, _, jobs = drawn_shop(n_runs=200, notice=())
    assert_array_equal(jobs.known_day, jobs.teardown_day)
    assert_array_equal(np.unique(jobs.teardown_day - jobs.planned_day), LAGS)


def test_jobs_booked_before_the_end_are_there_although_they_come_after_it(shop):
    _, _, jobs = shop
    assert jobs.known_day.max() == N_DAYS - 1
    assert (jobs.teardown_day >= N_DAYS).any() and (jobs.teardown_day < 0).any()


def test_needs_are_those_expected(shop):
    kinds, draws, jobs = shop
    for kind in range(2):
        need = jobs.need_pcs[jobs.kind == kind]
        assert_allclose(need.mean(axis=0), kinds.expected_pcs[kind], rtol=0.06, atol=1e-12)
        assert_allclose((need > 0).mean(axis=0), kinds.share[kind], rtol=0.06, atol=1e-12)
    more = draws.needs(0, np.arange(N_RUNS).repeat(5))
    assert more.shape == (5 * N_RUNS, 2) and more.dtype == np.int64
    assert_allclose(more.mean(axis=0), kinds.expected_pcs[0], rtol=0.08)


def test_pieces_are_those_of_one_belief_in_each_run(shop):
    # Half of the runs believe in pairs, the others in one (0.4) or three (0.6).
    _, draws, _ = shop
    run = np.arange(N_RUNS).repeat(40)
    lamps = draws.needs(0, run)[:, 1]
    pairs, others = (np.bincount(run, is_so, N_RUNS) > 0 for is_so in (lamps == 2, (lamps == 1) | (lamps == 3)))
    assert not (pairs & others).any() and (pairs | others).mean() > 0.99
    assert_allclose(pairs.mean(), 0.5, atol=0.08)
    assert_allclose((lamps == 1).sum() / ((lamps == 1) | (lamps == 3)).sum(), 0.4, atol=0.03)
    assert lamps.max() == 3


def test_every_run_holds_a_belief_of_its_own_and_keeps_it(shop):
    _, draws, _ = shop
    first, second = (draws.needs(0, np.arange(N_RUNS).repeat(40))[:, 0].reshape(N_RUNS, 40).mean(axis=1)
                     for _ in range(2))
    # The coil's share is Beta(6, 2): variance 0.75 x 0.25 / 9 between runs, and that of forty jobs within each.
    between = 0.75 * 0.25 / 9
    assert_allclose(np.cov(first, second)[0, 1], between, rtol=0.2)
    assert_allclose(first.var(), between + (0.75 * 0.25 - between) / 40, rtol=0.2)


def test_a_kind_nothing_is_known_of_needs_nothing():
    use = use_of(("em", "thorough", "coil", 6, 2))
    _, draws, jobs = drawn_shop(n_runs=50, use=use)
    assert (jobs.kind == 1).any()
    assert_array_equal(jobs.need_pcs[jobs.kind == 1], 0)
    assert draws.needs(0, np.zeros(0, dtype=np.int64)).shape == (0, 1)


def test_the_same_source_draws_the_same_shop():
    one, other = (drawn_shop(seed=3, n_runs=20)[2] for _ in range(2))
    for name in ("run", "kind", "known_day", "planned_day", "teardown_day", "need_pcs"):
        assert_array_equal(getattr(one, name), getattr(other, name))


def lead_times_of(*rows):
    """Vendors with mean days and shape."""
    return LeadTimes(pd.DataFrame({"vendor": [row[0] for row in rows]}),
                     LeadTime(*(np.array([row[place] for row in rows], dtype=float) for place in (1, 2))), np.zeros(0))


def test_lead_times_are_whole_days_with_the_vendors_means():
    fitted = lead_times_of(("north", 12.0, 4.0), ("quick", 0.2, 4.0), ("mute", np.nan, np.nan))
    wanted = ["mute", "north", None, "quick", "unheard-of"]
    days = shop_draws.lead_days(fitted, wanted, 30.0, 300, 50, np.random.default_rng(2))
    assert days.shape == (300, 5, 50) and days.dtype == np.int64
    assert days.min() == 1
    mean = days.mean(axis=(0, 2))
    assert_allclose(mean[[0, 1, 2, 4]], [30.5, 12.5, 30.5, 30.5], rtol=0.01)  # a day begun is counted whole
    assert_allclose(mean[3], 1, atol=0.01)
    # gamma of shape 4: standard deviation half the mean, also where nothing can tell
    assert_allclose(days.std(axis=(0, 2))[[0, 1]], [15, 6], rtol=0.03)


def test_orders_of_one_vendor_take_days_of_their_own():
    days = shop_draws.lead_days(lead_times_of(("north", 12.0, 4.0)), ["north"], 30.0, 400, 3, np.random.default_rng(4))
    assert abs(np.corrcoef(days[:, 0].T)[0, 1]) < 0.15
    assert shop_draws.lead_days(lead_times_of(), [], 30.0, 2, 3, np.random.default_rng(4)).shape == (2, 0, 3)
