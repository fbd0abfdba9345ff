import itertools

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import kit


def test_the_best_kit_equals_enumeration_of_every_kit():
    rng = np.random.default_rng(30)
    for _ in range(300):
        n_parts = rng.integers(1, 8)
        need, holding, penalty = rng.uniform(0, 0.9, n_parts), rng.uniform(0, 1, n_parts), rng.uniform(0, 10)
        least = min(
            holding[list(carried)].sum() + penalty * (1 - np.delete(1 - need, list(carried)).prod())
            for size in range(n_parts + 1)
            for carried in itertools.combinations(range(n_parts), size)
        )
        is_carried, cost, ready = kit.best_kit(need, holding, penalty)
        assert_allclose(cost, least, atol=1e-12)
        assert_allclose(holding[is_carried].sum() + penalty * (1 - (1 - need[~is_carried]).prod()), cost, atol=1e-12)
        assert_allclose(ready, (1 - need[~is_carried]).prod(), atol=1e-12)


def test_a_part_no_job_needs_is_left_out():
    is_carried, _, _ = kit.best_kit([0.0, 0.5], [0.1, 0.1], 100.0)
    assert_array_equal(is_carried, [False, True])


def ready_by_loops(shelf, need):
    return np.array([[all(s >= n for s, n in zip(row, job, strict=True) if n > 0) for job in need] for row in shelf])


def test_ready_jobs_equals_plain_loops():
    rng = np.random.default_rng(31)
    shelf = rng.integers(-2, 5, (40, 9))
    need = rng.integers(0, 5, (25, 9)) * (rng.random((25, 9)) < 0.4)
    assert_array_equal(kit.ready_jobs(shelf, need), ready_by_loops(shelf, need))


def test_a_job_that_needs_nothing_is_ready_even_on_a_shelf_in_debt():
    assert kit.ready_jobs([[-3, -1]], [[0, 0]]).all()


def test_multiplying_item_rates_is_wrong_when_the_same_jobs_need_the_same_parts():
    # two kinds of job: half need parts 0 and 1 together, half need neither; one draw in two lacks both
    shelf, need = np.array([[1, 1], [0, 0]]), np.array([[1, 1], [0, 0]])
    true_share = kit.ready_jobs(shelf, need).mean()
    item_rates = [(shelf[:, part, None] >= need[:, part]).mean() for part in range(2)]
    assert true_share == 0.75
    assert_allclose(np.prod(item_rates), 0.5625)


def test_independent_parts_agree_with_draws_of_independent_needs():
    rng = np.random.default_rng(32)
    pmfs = rng.dirichlet(np.ones(4), size=5)
    need = np.array([rng.choice(4, p=pmf, size=200_000) for pmf in pmfs]).T
    stock = np.array([1, 2, 3, 0, 1])
    assert_allclose(kit.ready_jobs(stock[None], need).mean(), kit.independent_ready_share(stock, pmfs), atol=0.004)


def test_stalls_by_part_equal_plain_loops():
    rng = np.random.default_rng(33)
    shelf, need = rng.integers(0, 4, (15, 6)), rng.integers(0, 4, (12, 6))
    is_short = (shelf[:, None, :] < need[None]) & (need[None] > 0)
    stalls, alone = kit.stalls_by_part(shelf, need)
    assert_allclose(stalls, is_short.mean(axis=(0, 1)))
    assert_allclose(alone, (is_short & (is_short.sum(axis=2, keepdims=True) == 1)).mean(axis=(0, 1)))


def test_stocking_the_part_that_stalls_alone_mends_exactly_that_share():
    rng = np.random.default_rng(34)
    shelf, need = rng.integers(0, 3, (30, 5)), rng.integers(0, 3, (20, 5))
    before = kit.ready_jobs(shelf, need).mean()
    _, alone = kit.stalls_by_part(shelf, need)
    for part in range(5):
        filled = shelf.copy()
        filled[:, part] = 99
        assert_allclose(kit.ready_jobs(filled, need).mean() - before, alone[part], atol=1e-12)


def test_weights_say_how_often_a_job_turns_out_like_each():
    shelf, need = np.array([[1, 0], [0, 1]]), np.array([[1, 0], [0, 1]])
    stalls, _ = kit.stalls_by_part(shelf, need, [3.0, 1.0])
    assert_allclose(stalls, [0.75 * 0.5, 0.25 * 0.5])
    repeated, _ = kit.stalls_by_part(shelf, need[[0, 0, 0, 1]])
    assert_allclose(stalls, repeated)


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(InvalidParameter, match="wanted the same parts in both"):
        kit.ready_jobs([[1, 2]], [[1]])
    with pytest.raises(InvalidParameter, match="wanted one weight for each of 1 jobs"):
        kit.stalls_by_part([[1]], [[1]], [1.0, 2.0])
    with pytest.raises(InvalidParameter, match="wanted one each"):
        kit.best_kit([0.1], [0.1, 0.2], 3)
