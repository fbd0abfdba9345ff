"""Places on the bench, starts under few places, and the share of a job's takings that falls in a window."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import job_flow

NO_LIMIT = (999, np.array([999, 999]), 0.0)


def past(duration=10.0, first=4, n_days=60):
    taken = (np.arange(n_days) >= first).astype(float)[None].repeat(4, axis=0)
    return job_flow.PastWork(np.array([0, 0, 0, 0]), np.full(4, duration), np.ones(4), taken)


def queue(*jobs):
    """One run; a job is (scope, ready, order)."""
    return job_flow.Queue(*(np.array([[job[i] for job in jobs]], dtype=kind)
                            for i, kind in enumerate((int, float, float))))


def started(jobs, places, free=(), free_scope=(), horizon=100.0, work=None):
    start, _ = job_flow.start_days(work or past(), queue(*jobs), np.array([free], dtype=float).reshape(1, -1),
                                   np.array(free_scope, dtype=int), places, horizon, np.random.default_rng(1))
    return start[0]


def test_with_room_for_all_every_job_starts_when_it_may():
    assert_array_equal(started([(0, 5, 1), (1, 2, 9)], NO_LIMIT), [5, 2])


def test_on_one_place_jobs_follow_each_other_in_the_order_planned():
    # Ten days each: the one planned first goes first, whatever its place in the list.
    assert_array_equal(started([(0, 1, 9), (0, 1, 3), (0, 1, 6)], (1, np.array([999, 999]), 0.0)), [21, 1, 11])


def test_a_place_stays_empty_for_the_days_between_two_jobs():
    assert_array_equal(started([(0, 1, 1), (0, 1, 2)], (1, np.array([999, 999]), 3.0)), [1, 14])


def test_a_running_job_holds_its_place():
    assert_array_equal(started([(0, 1, 1)], (1, np.array([999, 999]), 0.0), free=[7], free_scope=[0]), [7])


def test_a_scope_that_is_full_lets_the_other_pass():
    places = (3, np.array([1, 999]), 0.0)
    assert_array_equal(started([(0, 1, 1), (0, 1, 2), (1, 1, 3)], places), [1, 11, 1])


def test_what_starts_beyond_the_horizon_does_not_start():
    assert_array_equal(started([(0, 1, 1), (0, 1, 2)], (1, np.array([999, 999]), 0.0), horizon=10.0), [1, np.inf])


def test_runs_do_not_touch_each_other():
    work, rng = past(), np.random.default_rng(3)
    jobs = job_flow.Queue(np.array([[0, 0], [0, -1]]), np.array([[1.0, 1.0], [4.0, np.inf]]),
                          np.array([[1.0, 2.0], [1.0, 2.0]]))
    start, _ = job_flow.start_days(work, jobs, np.zeros((2, 0)), np.zeros(0, int), (1, np.array([9, 9]), 0.0), 99, rng)
    assert_array_equal(start, [[1, 11], [4, np.inf]])


def test_a_queue_equals_a_walk_through_the_days():
    # The same first-come bench, one place at a time, written out day by day.
    rng, n = np.random.default_rng(5), 12
    planned = np.sort(rng.integers(1, 60, n)).astype(float)
    work = job_flow.PastWork(np.zeros(1, int), np.array([9.0]), np.ones(1), np.ones((1, 5)))
    got = started([(0, day, day) for day in planned], (2, np.array([999]), 0.0), horizon=500, work=work)
    free, want = [0.0, 0.0], []
    for day in planned:
        free.sort()
        want.append(max(day, free[0]))
        free[0] = want[-1] + 9
    assert_array_equal(got, want)


def test_places_are_read_from_days_on_which_jobs_waited():
    # Two at a time, forty days each, the next one long due.
    start = -600.0 + 20 * np.arange(30)
    bench, by_scope, turn = job_flow.places_seen(np.zeros(30, int), start - 60, start, start + 40, 1)
    assert bench == 2
    assert_array_equal(by_scope, [999])  # no other work was started past it
    assert turn == 0


def test_a_scope_passed_by_other_work_has_places_of_its_own():
    slow = -600.0 + 30 * np.arange(20)
    quick = -590.0 + 25 * np.arange(20)
    scope = np.repeat([0, 1], 20)
    start, end = np.r_[slow, quick], np.r_[slow + 30, quick + 5]
    planned = np.r_[slow - 50, quick - 1]
    bench, by_scope, _ = job_flow.places_seen(scope, planned, start, end, 2)
    assert_array_equal(by_scope, [1, 999])
    assert bench == 2


def test_where_nobody_waits_no_limit_shows():
    start = -600.0 + 40 * np.arange(15)
    bench, by_scope, turn = job_flow.places_seen(np.zeros(15, int), start, start, start + 10, 1)
    assert (bench, by_scope[0], turn) == (999, 999, 0)


def test_planned_days_that_are_not_known_say_nothing():
    start = -600.0 + 40 * np.arange(15)
    assert job_flow.places_seen(np.zeros(15, int), np.full(15, np.nan), start, start + 90, 1)[0] == 999


def test_the_share_in_a_window_counts_from_the_start():
    work = past(first=4)
    start, course = np.array([[2.0, 9.0, np.inf]]), np.zeros((1, 3), int)
    mean, variance, share = job_flow.counts_in_window(work, start, course, 10)
    assert_array_equal(share, [1, 0, 0])  # taken on day 6; on day 13; never
    assert (mean, variance) == (1, 0)


def test_the_variance_holds_chance_and_the_spread_of_runs():
    taken = np.array([[0.5, 0.5, 1.0]])
    work = job_flow.PastWork(np.zeros(1, int), np.array([2.0]), np.ones(1), taken)
    start = np.array([[0.0], [np.inf]])
    mean, variance, _ = job_flow.counts_in_window(work, start, np.zeros((2, 1), int), 1)
    # Shares one half and none: mean 1/4, chance 1/4 * 1/2, spread of means 1/16.
    assert_allclose([mean, variance], [0.25, 0.125 + 0.0625])


def test_takings_counted_from_the_first():
    work = past(first=4, n_days=8)
    assert_array_equal(work.first_days(np.array([0])), [4])
    assert_array_equal(work.since_first(np.array([0]))[0], np.ones(8))


def test_no_past_job_is_refused():
    work = job_flow.PastWork(np.zeros(0, int), np.zeros(0), np.zeros(0), np.zeros((0, 5)))
    with pytest.raises(InvalidParameter, match="holds no finished job"):
        started([(0, 1, 1)], NO_LIMIT, work=work)
