import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.stage_shares import SPREAD, lean_jobs, restored_hours, stage_shares

LEAN = np.array([10, 12.5, 25, 17.5, 12.5, 22.5, 10, 6.5]) / 116.5


def _jobs(rng, share, unlike, n):
    """Hours of n jobs that divide around ``share``, ``unlike`` times the guessed variance, lengths a half apart."""
    hours = rng.gamma((1 / (unlike * SPREAD) - 1) * share, size=(n, share.size))
    return hours / hours.sum(axis=1, keepdims=True) * rng.lognormal(3, 0.5, (n, 1))


def test_many_jobs_are_their_totals_over_totals():
    hours = _jobs(np.random.default_rng(1), LEAN, 1.0, 4000)
    found = stage_shares(hours, np.full(8, 1 / 8), 1.0)
    assert_allclose(found.share[0], hours.sum(axis=0) / hours.sum(), atol=1e-4)
    assert found.jobs.tolist() == [4000]


def test_leaning_by_hand():
    # two jobs of 8 hours, 3/4 of them the first stage, and two leaned on that are half and half
    found = stage_shares([[6.0, 2.0], [6.0, 2.0]], [0.5, 0.5], 2.0)
    assert_allclose(found.share, [[0.625, 0.375]])


def test_without_a_job_it_is_what_it_leans_on_and_wide():
    found = stage_shares(np.empty((0, 8)), LEAN, 1.0, n_groups=2, group=[])
    assert_allclose(found.share, [LEAN, LEAN])
    assert (found.low < LEAN / 1.5).all() and (found.high > LEAN * 1.4).all()
    assert found.jobs.tolist() == [0, 0]


def test_shares_sum_to_one_within_their_intervals_and_more_jobs_narrow_them():
    rng = np.random.default_rng(2)
    group = np.repeat(np.arange(3), [2, 12, 80])
    found = stage_shares(_jobs(rng, LEAN, 1.0, 94), LEAN, 2.0, group)
    assert_allclose(found.share.sum(axis=1), 1.0)
    assert ((found.low > 0) & (found.low < found.share) & (found.share < found.high) & (found.high < 1)).all()
    width = (found.high - found.low).sum(axis=1)
    assert (np.diff(width) < 0).all()


def test_a_stage_that_never_came_up_keeps_a_share_above_zero():
    found = stage_shares(np.tile([3.0, 5.0, 0.0], (6, 1)), [0.3, 0.5, 0.2], 1.0)
    assert_allclose(found.share[0, 2], 0.2 / 7)
    assert 0 < found.low[0, 2] < found.high[0, 2] < 0.2


def test_what_is_leaned_on_brings_its_own_doubt():
    sure, unsure = (stage_shares(np.ones((2, 8)), LEAN, 4.0, lean_sd=sd).sd for sd in (0.0, 0.05))
    assert_allclose(unsure**2 - sure**2, (4 / 6 * 0.05) ** 2)


@pytest.mark.parametrize(("unlike", "least", "most"), [(0.5, 0.76, 0.98), (1.0, 0.72, 0.88), (2.0, 0.60, 0.72)])
@pytest.mark.parametrize("n_jobs", [1, 3, 10, 40])
def test_true_coverage_of_an_interval_of_four_in_five(unlike, least, most, n_jobs):
    # shops whose own shares lie around the leaned ones as if those were one job of theirs
    rng, held = np.random.default_rng([n_jobs, int(100 * unlike)]), []
    for _ in range(250):
        truth = np.maximum(rng.dirichlet((1 / (unlike * SPREAD) - 1) * LEAN), 1e-9)
        found = stage_shares(_jobs(rng, truth / truth.sum(), unlike, n_jobs), LEAN, 1.0)
        held.append((found.low[0] <= truth) & (truth <= found.high[0]))
    assert least < np.mean(held) < most


def _families(rng, apart, n_families=12, n_jobs=15):
    """Jobs of families whose shares are as far ``apart`` as that many jobs of one family (variance over variance)."""
    truth = LEAN if apart == 0 else rng.dirichlet((1 / (apart * SPREAD) - 1) * LEAN, n_families) + 1e-9
    truth = np.broadcast_to(truth, (n_families, 8))
    hours = [_jobs(rng, one / one.sum(), 1.0, n_jobs) for one in truth]
    return np.concatenate(hours), np.repeat(np.arange(n_families), n_jobs), np.zeros(n_families, dtype=int), truth


def test_families_alike_lean_long_and_families_apart_soon_stand_alone():
    alike, apart = (lean_jobs(*_families(np.random.default_rng(3), far)[:3]) for far in (0.0, 1.0))
    assert alike > 20
    assert 0.7 < apart < 2


def test_true_coverage_of_families_that_lean_on_their_scope():
    rng, held = np.random.default_rng(4), []
    for _ in range(40):
        hours, group, kind, truth = _families(rng, 0.25, n_families=8, n_jobs=3)
        scope = stage_shares(hours, LEAN, 1.0)
        found = stage_shares(hours, scope.share[kind], lean_jobs(hours, group, kind), group, 8, scope.sd[kind])
        held.append((found.low <= truth) & (truth <= found.high))
    assert 0.74 < np.mean(held) < 0.9


def test_one_job_a_group_leaves_the_guess():
    assert lean_jobs(np.ones((2, 3)), [0, 1], [0, 0]) == 4


def test_restored_by_hand():
    assert_allclose(restored_hours([1.0, 2.0], 0.25, 0.25, 0.125, fitting_hours=0.5), [3.0, 5.5])


@pytest.mark.parametrize(
    ("bad", "named"),
    [
        ({"hours": [[1.0, -1.0]]}, "hours"),
        ({"hours": [[0.0, 0.0]]}, "hours"),
        ({"hours": [1.0, 2.0]}, "hours"),
        ({"lean_share": [0.5, 0.4]}, "lean_share"),
        ({"lean_share": [1.0, 0.0]}, "lean_share"),
        ({"lean_share": [0.5, 0.3, 0.2]}, "lean_share"),
        ({"lean_jobs": 0.0}, "lean_jobs"),
        ({"level": 80}, "level"),
    ],
)
def test_refuses_the_impossible(bad, named):
    with pytest.raises(InvalidParameter, match=named):
        stage_shares(**{"hours": [[1.0, 1.0]], "lean_share": [0.5, 0.5], "lean_jobs": 1.0, **bad})


def test_hours_without_a_bench_share_cannot_be_scaled():
    with pytest.raises(InvalidParameter, match="bench_share"):
        restored_hours(1.0, 0.0, 0.3, 0.1)
