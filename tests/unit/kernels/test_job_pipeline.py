"""Jobs to come: recency, booking rates, and the work still before running jobs."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels import job_pipeline


def test_weighted_days_integrate_the_weight():
    age = np.linspace(0, 1400, 400_001)
    wanted = np.trapezoid(job_pipeline.recency_weight(age, 730), age)
    assert_allclose(job_pipeline.weighted_days(1400, 730), wanted, rtol=1e-9)


def test_a_steady_stream_has_the_same_rate_under_any_half_life():
    age = np.arange(0.5, 2000)  # one booking a day
    for half_life in (200, 730, 1e6):
        rate = job_pipeline.recency_weight(age, half_life).sum() / job_pipeline.weighted_days(2000, half_life)
        assert_allclose(rate, 1.0, rtol=1e-3)


def test_rates_keep_the_shops_total_and_order():
    bookings = np.array([30.0, 12.0, 3.0, 10.0, 5.0, 0.0])
    family, scope = np.repeat([0, 1], 3), np.tile([0, 1, 2], 2)
    shape, rate_days, _ = job_pipeline.booking_rate(bookings, 1000.0, family, scope)
    mean = shape / rate_days
    assert_allclose(mean.sum(), 0.06, rtol=0.03)
    assert (np.diff(mean[:3]) < 0).all() and mean[5] > 0


def test_rates_follow_the_mix_where_it_explains_and_the_counts_where_not():
    family, scope = np.repeat(np.arange(5), 3), np.tile(np.arange(3), 5)
    product = np.outer([40, 30, 20, 15, 10], [0.5, 0.3, 0.2]).ravel()
    rng = np.random.default_rng(1)
    _, _, worth_mix = job_pipeline.booking_rate(rng.poisson(product), 1000.0, family, scope)
    _, _, worth_own = job_pipeline.booking_rate(rng.permutation(np.geomspace(1, 90, 15)), 1000.0, family, scope)
    assert worth_mix > 8 > worth_own


def test_rate_intervals_hold_the_truth():
    rng = np.random.default_rng(2)
    family, scope = np.repeat(np.arange(5), 3), np.tile(np.arange(3), 5)
    held = []
    for _ in range(60):
        true = rng.gamma(4, 1 / 4, 15) * np.outer(rng.uniform(5, 30, 5), [0.5, 0.3, 0.2]).ravel()
        shape, rate_days, _ = job_pipeline.booking_rate(rng.poisson(true), 1.0, family, scope)
        draws = rng.gamma(shape, 1 / rate_days, (2000, 15))
        low, high = np.quantile(draws, [0.1, 0.9], axis=0)
        held.append((low <= true) & (true <= high))
    assert 0.74 < np.mean(held) < 0.86


def test_a_shop_without_a_booking_still_gets_a_small_rate():
    shape, rate_days, _ = job_pipeline.booking_rate([0.0, 0.0], 365.0, [0, 0], [0, 1])
    assert 0 < (shape / rate_days).sum() < 1 / 365


def courses(*takings, n_days=120):
    """Share taken by day of past jobs that each took their parts on some days, in equal shares."""
    return np.array([(np.arange(n_days)[:, None] >= np.array(days)).mean(axis=1) for days in takings])


def test_the_chance_that_a_family_lives_is_that_among_simulated_ones():
    # Rates from the belief itself, ends at a constant risk; of those with six bookings, by how long they are silent.
    rng = np.random.default_rng(3)
    n, history, typical, risk = 400_000, 1000.0, 0.006, 0.3
    rate = rng.exponential(typical, n)
    end = rng.exponential(365.25 / risk, n)
    watched = np.minimum(end, history)
    count = rng.poisson(rate * watched)
    last = watched * rng.random(n) ** (1 / np.maximum(count, 1))  # the latest of that many even ones
    alike = (count == 6) & (last > 600) & (last < 650)
    told = job_pipeline.alive_share([6.0], [625.0], history, typical, risk)[0]
    assert_allclose((end[alike] > history).mean(), told, atol=0.02)


def test_nothing_ended_where_nothing_came_or_something_came_today():
    assert_allclose(job_pipeline.alive_share([0.0, 5.0], [0.0, 700.0], 700.0, 0.01), 1)


def test_work_to_come_by_hand():
    # Two past jobs of 20 and 40 days, takings at 5 15 and at 10 30; on day 12 both still ran.
    to_come, done = job_pipeline.work_to_come([12.0], 5.0, courses([5, 15], [10, 30]), [20, 40], [1, 1])
    assert_allclose([to_come[0], done[0]], [0.25, 0.5])


def test_a_job_that_says_more_counts_more():
    to_come, _ = job_pipeline.work_to_come([12.0], 5.0, courses([5, 15], [10, 30]), [20, 40], [3, 1])
    assert_allclose(to_come[0], 0.5 * 3 / 4)


def test_only_jobs_that_ran_as_long_are_asked():
    # Five quick jobs took all on day 1; three slow ones took all on day 50.
    taken, span = courses(*[[1]] * 5, *[[50]] * 3), np.r_[np.full(5, 2.0), np.full(3, 60.0)]
    to_come, _ = job_pipeline.work_to_come([0.0, 10.0], 91.0, taken, span, np.ones(8))
    assert_allclose(to_come, [1.0, 1.0])
    to_come, _ = job_pipeline.work_to_come([0.0, 10.0], 30.0, taken, span, np.ones(8))
    assert_allclose(to_come, [5 / 8, 0.0])


def test_a_job_that_outran_all_others_is_placed_near_their_end():
    taken, span = courses([10, 29], [20, 39], [5, 49]), [30.0, 40.0, 50.0]
    to_come, done = job_pipeline.work_to_come([500.0], 91.0, taken, span, np.ones(3))
    assert_allclose([to_come[0], done[0]], [0.5, 0.5])


def test_shares_never_pass_one():
    rng = np.random.default_rng(3)
    taken = np.sort(rng.uniform(0, 1, (20, 90)), axis=1)
    to_come, done = job_pipeline.work_to_come(rng.uniform(0, 150, 40), 60.0, taken, rng.uniform(1, 90, 20), np.ones(20))
    assert (to_come >= 0).all() and (done >= 0).all() and (to_come + done <= 1 + 1e-12).all()


def test_days_left_are_those_of_jobs_that_ran_as_long():
    rng = np.random.default_rng(4)
    left = job_pipeline.days_left([10.0, 25.0], [5, 20, 40, 50, 60], [5, 20, 40, 50, 60], np.ones(5), 400, rng)
    assert set(left[:, 0]) == {10, 30, 40, 50}
    assert set(left[:, 1]) == {15, 25, 35}
    assert job_pipeline.days_left([], [5], [5], [1], 7, rng).shape == (7, 0)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: job_pipeline.recency_weight([-1], 365), "age_days"),
        (lambda: job_pipeline.recency_weight([1], 0), "half_life_days"),
        (lambda: job_pipeline.weighted_days(-1, 365), "history_days"),
        (lambda: job_pipeline.booking_rate([1.0], 0.0, [0], [0]), "exposure_days"),
        (lambda: job_pipeline.booking_rate([-1.0], 1.0, [0], [0]), "bookings"),
        (lambda: job_pipeline.work_to_come([1.0], 1.0, np.zeros((0, 9)), [], []), "no past job"),
        (lambda: job_pipeline.work_to_come([-1.0], 1.0, np.ones((1, 9)), [1], [1]), "elapsed_days"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
