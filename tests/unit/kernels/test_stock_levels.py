import numpy as np
import pytest
from numpy.testing import assert_array_equal
from scipy.stats import poisson

from pipeline.errors import InvalidParameter
from pipeline.kernels import order_up_to, stock_levels
from pipeline.kernels.loss import level_cost


def random_shelf(n_items, seed):
    rng = np.random.default_rng(seed)
    mean = 10 ** rng.uniform(-2, 1.5, n_items)
    pmf = poisson.pmf(np.arange(120), mean[:, None])
    costs = 10 ** rng.uniform(-2, 1, n_items), 10 ** rng.uniform(0, 2, n_items), 10 ** rng.uniform(-1, 2, n_items)
    return pmf / pmf.sum(axis=1, keepdims=True), mean, *costs


def test_the_ceiling_is_above_the_optimum_and_the_run_reaches_it_on_both_sides():
    pmf, mean, holding, waiting, ordering = random_shelf(300, 1)
    lowest, n_levels, ceiling = stock_levels.bounds(pmf, mean, holding, waiting, ordering, np.ones(300))
    assert (order_up_to.best(pmf, pmf, holding, waiting, ordering).cost <= ceiling * (1 + 1e-12)).all()
    first = level_cost(pmf, holding, waiting, lowest, 1)[:, 0]
    last = level_cost(pmf, holding, waiting, lowest + n_levels - 1, 1)[:, 0]
    assert (first > ceiling).all() and (last > ceiling).all()


def test_a_pack_gets_room_below_and_above():
    pmf, mean, holding, waiting, ordering = random_shelf(5, 2)
    plain, n_plain, _ = stock_levels.bounds(pmf, mean, holding, waiting, ordering, np.ones(5))
    packed, n_packed, _ = stock_levels.bounds(pmf, mean, holding, waiting, ordering, np.full(5, 100))
    assert (packed <= plain - 99).all() and (n_packed >= n_plain + 198).all()


def test_batches_hold_every_item_once_and_are_wide_enough():
    n_levels = np.random.default_rng(3).integers(2, 5000, 400)
    seen = []
    for items, width in stock_levels.in_batches(n_levels):
        assert width >= n_levels[items].max() and width <= 2 * n_levels[items].min()
        seen.extend(items.tolist())
    assert_array_equal(np.sort(seen), np.arange(400))


def test_batches_stay_within_memory():
    sizes = [len(items) * width for items, width in stock_levels.in_batches(np.full(3000, 4096))]
    assert max(sizes) <= stock_levels.MOST_CELLS + 4096


def test_too_long_a_run_is_refused_with_the_item_named():
    with pytest.raises(InvalidParameter, match="item 1 would need"):
        stock_levels.bounds([[0.5, 0.5]] * 2, [0.5, 0.5], [1.0, 1e-13], [1.0, 1.0], [1.0, 1e3], [1, 1])
