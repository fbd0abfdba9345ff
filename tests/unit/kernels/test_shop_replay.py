"""The shop replayed: by hand, against queueing theory, in its properties, and what it refuses."""

from dataclasses import replace as changed

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels.reorder_rules import FixedLevels
from pipeline.kernels.shop_replay import ReplayJobs, Supply, replay


def jobs_of(*rows, n_parts=1):
    """Jobs: (run, known, planned, teardown, needs)."""
    columns = [np.array([row[place] for row in rows], dtype=np.int64) for place in range(4)]
    needs = np.array([row[4] for row in rows], dtype=np.int64).reshape(len(rows), n_parts)
    return ReplayJobs(columns[0], np.zeros(len(rows), dtype=np.int64), *columns[1:], needs)


def supply_of(lead, n_parts=1, price=1.0, pack=1, freight=(5.0, np.inf), n_runs=1, n_reviews=60):
    return Supply(np.zeros(n_parts, dtype=np.int64), np.full(n_parts, pack), np.full(n_parts, price),
                  np.full((n_runs, 1, n_reviews), lead), np.array(freight[:1]), np.array(freight[1:]))


def rule_of(s, top, reserve=0, expected=0.0, review=7):
    s, top = np.atleast_1d(s), np.atleast_1d(top)
    return FixedLevels(s, top, np.full(s.size, reserve), np.full((1, s.size), expected), review)


def test_a_job_takes_what_is_there_and_waits_for_the_rest_by_hand():
    # One piece there, two needed on day 3; ordered at the review of day 7, here on day 12.
    found = replay(jobs_of((0, 3, 3, 3, [2])), supply_of(5), rule_of(0, 1), 30)
    assert_array_equal(found.wait_days, [9])
    assert_array_equal(found.shelf_pcs, [[1]])  # position -1: two ordered, one of them owed
    assert_array_equal(found.orders, [1])
    assert_array_equal(found.freight_amount, [5])
    # On the shelf on days 0 to 2, and from day 12 on.
    assert_allclose(found.shelf_amount, (3 + 18) / 30)


def test_a_job_that_finds_everything_never_waits_and_one_cut_off_is_not_known():
    found = replay(jobs_of((0, 3, 3, 3, [1]), (0, 4, 4, 4, [1])), supply_of(100), rule_of(0, 1), 20)
    assert found.wait_days[0] == 0 and np.isnan(found.wait_days[1])


def test_the_first_torn_down_is_served_first():
    # Of the two pieces of day 10 the earlier job takes what it lacks; the later one waits for those of day 17.
    found = replay(jobs_of((0, 8, 8, 8, [2]), (0, 1, 1, 1, [2])), supply_of(3), rule_of(0, 1), 40)
    assert_array_equal(found.wait_days, [9, 9])


def test_a_known_job_is_ordered_for_in_time_and_an_unknown_one_is_not():
    known, unknown = (jobs_of((0, day, 20, 20, [2])) for day in (0, 20))
    rule = rule_of(-1, 0, reserve=14, expected=2.0)
    assert replay(known, supply_of(6), rule, 60).wait_days == [0]  # day 7: 13 days ahead; here on day 13
    assert replay(unknown, supply_of(6), rule, 60).wait_days == [7]  # day 21: 6 days


def test_whole_packs_are_bought_and_freight_is_free_from_its_threshold():
    found = replay(jobs_of((0, 1, 1, 1, [3])), supply_of(2, pack=10, freight=(5.0, 10.0)), rule_of(0, 3), 30)
    assert_array_equal(found.received_pcs, [[3 + 10]])
    assert_array_equal(found.freight_amount, [0])


def test_the_share_served_at_once_is_that_of_the_lost_queue_of_orders():
    # Review every day, one piece a job, Poisson jobs: a job waits unless fewer than S pieces are on their way to it
    # (Palm: they are Poisson). A day's jobs come together, so only the first of a day is asked.
    rng, rate, lead, top = np.random.default_rng(1), 0.15, 12, 4
    n_runs, n_days = 60, 800
    count = rng.poisson(rate, (n_runs, n_days))
    run, day = (np.repeat(axis, count.ravel()) for axis in np.indices(count.shape).reshape(2, -1))
    jobs = ReplayJobs(run, np.zeros_like(run), day, day, day, np.ones((run.size, 1), dtype=np.int64))
    found = replay(jobs, supply_of(lead, n_runs=n_runs, n_reviews=n_days), rule_of(top - 1, top, review=1), n_days)
    first = np.r_[True, (np.diff(run) != 0) | (np.diff(day) != 0)] & (day > 100)
    share = (found.wait_days[first] == 0).mean()
    # An order of the day a lead time ago came in this morning: one day less is on its way.
    assert_allclose(share, stats.poisson.cdf(top - 1, rate * (lead - 1)), atol=0.012)


def test_what_each_job_found_by_hand():
    # Two jobs of day 3 need two each: the first finds what lay there, the second what is left. Ordered on day 7 up to
    # S and what is owed, here on day 12, when the second takes what it lacks: the job of day 13 finds S. That of day 40
    # is beyond the replay.
    jobs = jobs_of((0, 40, 40, 40, [9]), (0, 3, 3, 3, [2]), (0, 3, 3, 3, [2]), (0, 13, 13, 13, [1]))
    found = replay(jobs, supply_of(5), rule_of(0, 2), 20, keep_shelves=True)
    assert_array_equal(found.found_pcs[:, 0], [0, 2, 0, 2])
    three = replay(jobs, supply_of(5), rule_of(0, 3), 20, keep_shelves=True)
    assert_array_equal(three.found_pcs[:, 0], [0, 3, 1, 3])
    assert replay(jobs, supply_of(5), rule_of(0, 3), 20).found_pcs is None


@given(st.integers(0, 10**6))
@settings(max_examples=20, deadline=None)
def test_a_job_waits_exactly_where_it_found_too_little(seed):
    jobs, supply, rule, n_days = random_shop(seed)
    found = replay(jobs, supply, rule, n_days, keep_shelves=True)
    assert_array_equal(found.wait_days == 0, (jobs.need_pcs <= found.found_pcs).all(axis=1))


def test_an_overdue_job_reserves_only_where_known_jobs_reserve():
    # Planned for day 0 and not torn down by day 14: it is near for the part that reserves, and nothing for the other.
    jobs = jobs_of((0, 0, 0, 50, [0, 0]), n_parts=2)
    rule = FixedLevels(np.array([-1, -1]), np.array([0, 0]), np.array([7, 0]), np.full((1, 2), 2.0))
    assert_array_equal(replay(jobs, supply_of(5, n_parts=2), rule, 14).received_pcs, [[2, 0]])


def random_shop(seed, n_runs=3, n_parts=4, n_days=200):
    rng = np.random.default_rng(seed)
    n_jobs = int(rng.integers(0, 60))
    day = rng.integers(0, n_days, n_jobs)
    jobs = ReplayJobs(rng.integers(0, n_runs, n_jobs), rng.integers(0, 2, n_jobs), day - rng.integers(0, 60, n_jobs),
                      day, np.minimum(day + rng.integers(0, 5, n_jobs), n_days - 1),
                      rng.poisson(0.7, (n_jobs, n_parts)))
    supply = Supply(rng.integers(0, 2, n_parts), rng.integers(1, 4, n_parts), rng.uniform(0.5, 20, n_parts),
                    rng.integers(1, 30, (n_runs, 2, 40)), np.array([5.0, 8.0]), np.array([30.0, np.inf]))
    s = rng.integers(-1, 4, n_parts)
    rule = FixedLevels(s, s + rng.integers(1, 4, n_parts), rng.integers(0, 40, n_parts),
                       rng.uniform(0, 2, (2, n_parts)))
    return jobs, supply, rule, n_days


@given(st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_no_piece_is_made_or_lost(seed):
    jobs, supply, rule, n_days = random_shop(seed)
    found = replay(jobs, supply, rule, n_days)
    needed = np.zeros_like(found.shelf_pcs)
    np.add.at(needed, jobs.run, jobs.need_pcs)
    assert_array_equal(found.received_pcs, found.shelf_pcs + needed - found.owed_pcs)
    assert (found.shelf_pcs >= 0).all() and (found.on_order_pcs >= 0).all() and (found.owed_pcs >= 0).all()
    still = np.isnan(found.wait_days)
    assert (found.owed_pcs.sum() == 0) == (not still.any())


@given(st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_runs_are_apart_and_jobs_may_stand_in_any_order(seed):
    jobs, supply, rule, n_days = random_shop(seed)
    whole = replay(jobs, supply, rule, n_days)
    for run in range(len(supply.lead_days)):
        here = np.flatnonzero(jobs.run == run)[::-1]
        here = here[np.argsort(jobs.teardown_day[here], kind="stable")]
        if len(np.unique(jobs.teardown_day[here])) < here.size:
            continue  # jobs of one day are served in the order given
        one = ReplayJobs(np.zeros_like(here), *(getattr(jobs, name)[here] for name in (
            "kind", "known_day", "planned_day", "teardown_day", "need_pcs")))
        alone = replay(one, changed(supply, lead_days=supply.lead_days[[run]]), rule, n_days)
        assert_array_equal(alone.wait_days, whole.wait_days[here])
        assert_allclose(alone.shelf_amount, whole.shelf_amount[[run]])


def test_a_deeper_shelf_of_single_pieces_never_makes_a_job_wait_longer():
    for seed in range(20):
        jobs, supply, rule, n_days = random_shop(seed)
        jobs, supply = changed(jobs, known_day=jobs.teardown_day), changed(
            supply, pack_pcs=np.ones(4, dtype=np.int64), lead_days=np.full_like(supply.lead_days, 9))
        base = changed(rule, order_up_to_pcs=rule.reorder_point_pcs + 1, reserve_days=np.zeros(4, dtype=np.int64))
        deep = changed(base, reorder_point_pcs=base.reorder_point_pcs + 1, order_up_to_pcs=base.order_up_to_pcs + 1)
        waits = [np.nan_to_num(replay(jobs, supply, one, n_days).wait_days, nan=n_days) for one in (base, deep)]
        assert (waits[1] <= waits[0]).all()


@pytest.mark.parametrize(("change", "message"), [
    ({"pack_pcs": np.array([0])}, "pack_pcs"),
    ({"lead_days": np.zeros((1, 1, 60), dtype=int)}, "lead_days"),
    ({"lead_days": np.ones((1, 1, 2), dtype=int)}, "2 reviews"),
    ({"unit_price": np.ones(2)}, "unit_price"),
])
def test_bad_supply_is_refused(change, message):
    with pytest.raises(InvalidParameter, match=message):
        replay(jobs_of((0, 1, 1, 1, [1])), changed(supply_of(5), **change), rule_of(0, 1), 60)


def test_bad_jobs_and_rules_are_refused():
    jobs = jobs_of((0, 1, 1, 1, [1]))
    with pytest.raises(InvalidParameter, match="run goes from 3"):
        replay(changed(jobs, run=np.array([3])), supply_of(5), rule_of(0, 1), 60)
    with pytest.raises(InvalidParameter, match="planned_day"):
        replay(changed(jobs, planned_day=np.zeros(2, dtype=int)), supply_of(5), rule_of(0, 1), 60)
    with pytest.raises(InvalidParameter, match="opening_pcs"):
        replay(jobs, supply_of(5), rule_of([0, 0], [1, 1]), 60)
    with pytest.raises(InvalidParameter, match="order_up_to_pcs has shape"):
        rule_of([0, 0], [1])
