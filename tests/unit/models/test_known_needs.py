"""Needs of the jobs on the books by and by: what is taken, begun, between windows, and against the demand model."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.kernels import marginal_reorder as margin
from pipeline.kernels.job_factor import LOADING_GRID, Loading
from pipeline.models import demand, known_needs
from tests.support.jobs_to_come import jobs_of
from tests.support.kinds_by_hand import kinds_of, use_of

ROUGH = Loading(1.0, 1.0, 1.0, np.where(LOADING_GRID == LOADING_GRID[np.abs(LOADING_GRID - 1).argmin()], 0.0, -np.inf),
                9)
STREAMS = [("em", "thorough", 0.05), ("ss", "thorough", 0.02)]
# A belief so sure that its mean may stand for it: the rule reckons with the mean.
USE = use_of(("em", "thorough", "coil", 6e6, 4e6), ("em", "thorough", "lamp", 3e6, 7e6, ((0, 0.5, 0.5, 0),) * 2),
             ("ss", "thorough", "lamp", 1e6, 9e6))
COIL, LAMP = 0, 1


def fitted(known=(), taken=(), use=USE, streams=STREAMS, lead=(9.5,), review=7.0, excess=0.3):
    """Kinds, needs laid out on the grid, and the jobs to come."""
    kinds = kinds_of(use, *((family, scope, per_day, 4.0) for family, scope, per_day in streams))
    jobs = jobs_of(known, streams, taken, excess)
    needs = margin.needs(kinds.share, kinds.pieces_pmf, np.full(kinds.share.shape, 3.0))
    return needs, known_needs.fit(use, kinds, jobs, np.array(lead), review), jobs


def mean(log_transform):
    return margin.pmf(log_transform) @ np.arange(margin.GRID)


def test_a_job_needs_its_parts_by_their_shares_and_none_it_has_taken():
    _, needs, _ = fitted([("K1", "em", "thorough", 5, 0.0), ("K2", "ss", "thorough", 5, 0.0),
                          ("K3", "em", "thorough", 5, 0.0)], [("K1", "coil"), ("K3", "lamp"), ("K3", "screw")])
    assert_array_equal(needs.kind, [0, 1, 0])
    assert_allclose(needs.chance, [[0, 0.3], [0, 0.1], [0.6, 0]])


def test_a_job_of_a_kind_nobody_knows_is_left_out():
    _, needs, _ = fitted([("K1", "zz", "thorough", 5, 0.0), ("K2", "ss", "thorough", 5, 0.0)])
    assert_array_equal(needs.kind, [1])
    assert needs.chance.shape == (1, 2) and needs.known_share.shape[1] == needs.done_share.size == 1


def test_the_chance_of_a_running_job_is_that_of_not_having_taken_it_yet():
    # Half of its takings lie behind it without the coil: 0.6 x 0.5 / (1 - 0.6 x 0.5) by day 5, none before.
    grid, needs, _ = fitted([("K1", "em", "thorough", 5, 0.5)])
    coming, _ = needs.jobs(grid, np.array([COIL]), 7.0)
    assert_allclose(margin.pmf(coming)[0, :3], [1 - 0.3 / 0.7, 0.3 / 0.7, 0], atol=1e-9)
    _, needed = needs.jobs(grid, np.array([COIL]), 0.0)
    assert_allclose(needed[0, 0], 0.3 / 0.7)


def test_a_rough_job_begun_needs_more_of_the_rest():
    cells = [("em", "thorough", f"p{n:02}", 3e6, 7e6) for n in range(20)]
    use = use_of(*cells, factor=ROUGH)
    known = [("K1", "em", "thorough", 5, 0.5), ("K2", "em", "thorough", 5, 0.5), ("K3", "em", "thorough", 5, 0.0)]
    taken = [("K1", f"p{n:02}") for n in range(12)]
    _, needs, _ = fitted(known, taken, use, STREAMS[:1])
    assert_array_equal(needs.chance[0, :12], 0)
    assert needs.chance[0, 19] > 0.4 > 0.3 > needs.chance[1, 19]
    assert_allclose(needs.chance[2], 0.3)


def test_between_windows_jobs_are_mixed_from_both_neighbours():
    # On day 9 the job comes: within 7 days none of its takings, within 10.5 all.
    grid, needs, _ = fitted([("K1", "em", "thorough", 9, 0.0)], review=0.0)
    for days, share in ((7.0, 0), (8.4, 0.4), (8.75, 0.5), (10.5, 1), (12.0, 1)):
        coming, needed = needs.jobs(grid, np.array([COIL]), days)
        assert_allclose(mean(coming)[0], 0.6 * share, atol=1e-9)
        assert_allclose(needed, 0, atol=1e-12)  # a review every day: no week
        stream, _ = needs.stream(grid, np.array([COIL]), days, np.zeros((2, 2)))
        assert_allclose(mean(stream)[0], 0.6 * 0.05 * days, rtol=1e-6)


def test_windows_reach_beyond_the_longest_lead_time_and_the_week():
    _, needs, _ = fitted(lead=(3.0, 60.0))
    assert needs.days[-1] > 67 and needs.days[0] == 0
    assert_allclose(np.diff(needs.days), known_needs.STEP_DAYS)
    assert_allclose(needs.unbooked[:, 0], 0.05 * needs.days)
    assert_array_equal(needs.known_share.shape, (needs.days.size, 0))


@pytest.mark.parametrize("days", [7.0, 21.0, 42.0])
def test_expected_pieces_are_those_of_the_demand_model(days):
    known = [("K1", "em", "thorough", 5, 0.0), ("K2", "em", "thorough", 20, 0.0), ("K3", "ss", "thorough", 30, 0.0),
             ("K4", "em", "thorough", 3, 0.4), ("K5", "em", "thorough", 3, 0.7)]
    grid, needs, jobs = fitted(known, [("K4", "lamp")], lead=(50.0,), review=0.0)
    parts = np.arange(2)
    coming, _ = needs.jobs(grid, parts, days)
    stream, _ = needs.stream(grid, parts, days, np.zeros((2, 2)))
    for source, found in (("known", mean(coming)), ("unbooked", mean(stream)), ("all", mean(coming + stream))):
        wanted = demand.expect(USE, jobs, days, source).groupby("part")["expected_pcs"].sum()
        assert_allclose(found, wanted[["coil", "lamp"]], rtol=1e-4, err_msg=source)


def test_jobs_not_booked_vary_as_their_number_and_the_share_are_in_doubt():
    # 14 days of 0.05 a day: 0.7 jobs, variance 1.3 of the mean; the coil's share with a squared cv of 0.2.
    grid, needs, _ = fitted(review=0.0, lead=(20.0,))
    stream, _ = needs.stream(grid, np.array([COIL]), 14.0, np.array([[0.2, 0], [0, 0]]))
    pmf, place = margin.pmf(stream)[0], np.arange(margin.GRID)
    uses = 0.7 * 0.6
    assert_allclose(pmf @ place, uses, rtol=1e-6)
    assert_allclose(pmf @ place**2 - uses**2, uses + uses**2 * (0.2 + 0.3 / 0.7), rtol=1e-5)


def test_what_the_week_needs_is_counted_by_jobs():
    grid, needs, _ = fitted([("K1", "em", "thorough", 16, 0.0), ("K2", "em", "thorough", 30, 0.0)], lead=(14.0,))
    _, needed = needs.jobs(grid, np.array([COIL, LAMP]), 14.0)
    assert_allclose(needed[:, 0], [0.6, 0.3])
    _, of_stream = needs.stream(grid, np.array([COIL, LAMP]), 14.0, np.zeros((2, 2)))
    assert_allclose(of_stream[:, 0], 7 * np.array([0.05 * 0.6, 0.05 * 0.3 + 0.02 * 0.1]))


def test_no_job_stands_before_itself_and_of_two_in_a_week_either_comes_first():
    sure = use_of(("em", "thorough", "coil", 1e12, 1e-3))
    known = [("K1", "em", "thorough", 15, 0.0), ("K2", "em", "thorough", 15, 0.0)]
    for jobs, gain in ((known[:1], [1, 0, 0]), (known, [2, 1, 0])):
        grid, needs, _ = fitted(jobs, use=sure, streams=STREAMS[:1], lead=(14.0,))
        demand_before, needed = needs.jobs(grid, np.array([0]), 14.0)
        assert_allclose(margin.stall_gain(np.exp(demand_before) * needed)[0, :3], gain, atol=1e-6)
