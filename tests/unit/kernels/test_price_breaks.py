import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels import price_breaks


def random_items(rng, n_items=40, n_breaks=4):
    demand, ordering = rng.uniform(5, 2000, n_items), rng.uniform(1, 60, n_items)
    share = rng.uniform(0.05, 0.5, n_items)
    steps = rng.uniform(5, 400, (n_items, n_breaks - 1)).cumsum(axis=1).round()
    from_pcs = np.column_stack([np.ones(n_items), 1 + steps])
    prices = rng.uniform(1, 20, n_items)[:, None] * np.cumprod(rng.uniform(0.75, 0.99, (n_items, n_breaks)), axis=1)
    return demand, ordering, share, from_pcs, prices


def incremental_cost(quantity, demand, ordering, share, from_pcs, prices):
    """Cost of a quantity by adding up the pieces of each range: the referee, item by item."""
    edges = np.append(from_pcs, np.inf)
    edges[0] = 0
    purchase = sum(price * max(min(quantity, edges[k + 1]) - edges[k], 0) for k, price in enumerate(prices))
    return (ordering + purchase) * demand / quantity + share * purchase / 2


def test_all_units_beats_every_quantity_of_a_fine_grid():
    items = random_items(np.random.default_rng(1))
    quantity, cost = price_breaks.all_units(*items)
    grid = np.broadcast_to(np.linspace(1, 3000, 6000), (40, 6000))
    assert (cost[:, None] <= price_breaks.all_units_cost(grid, *items) * (1 + 1e-12)).all()
    assert_allclose(price_breaks.all_units_cost(quantity[:, None], *items)[:, 0], cost)


def test_incremental_beats_every_quantity_of_a_fine_grid():
    items = random_items(np.random.default_rng(2))
    items[3][:, 0] = 0
    quantity, cost = price_breaks.incremental(*items)
    for k in range(40):
        one = [column[k] for column in items]
        assert_allclose(incremental_cost(quantity[k], *one), cost[k], rtol=1e-10)
        assert all(cost[k] <= incremental_cost(q, *one) * (1 + 1e-12) for q in np.linspace(1, 3000, 400))


def test_breaks_padded_with_infinity_change_nothing():
    plain = price_breaks.all_units([100], [5], [0.2], [[1, 50]], [[2.0, 1.8]])
    padded = price_breaks.all_units([100], [5], [0.2], [[1, 50, np.inf]], [[2.0, 1.8, 1.8]])
    assert_allclose(plain, padded)
    assert_allclose(
        price_breaks.incremental([100], [5], [0.2], [[0, 50]], [[2.0, 1.8]]),
        price_breaks.incremental([100], [5], [0.2], [[0, 50, np.inf]], [[2.0, 1.8, 1.8]]),
    )


@pytest.mark.parametrize("from_pcs", [[[1, 1]], [[5, 3]], [[2, 8]]])
def test_breaks_that_do_not_rise_from_the_first_piece_are_refused(from_pcs):
    with pytest.raises(InvalidParameter, match="does not rise from 0 or 1"):
        price_breaks.all_units([100], [5], [0.2], from_pcs, [[2.0, 1.8]])


def test_a_price_of_zero_is_refused():
    with pytest.raises(InvalidParameter, match="unit_prices is 0"):
        price_breaks.incremental([100], [5], [0.2], [[0, 50]], [[2.0, 0.0]])


def test_one_price_per_break():
    with pytest.raises(InvalidParameter, match="wanted that of unit_prices"):
        price_breaks.all_units([100], [5], [0.2], [[1, 50]], [[2.0]])
