import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import minimize_scalar

from pipeline.errors import InvalidParameter
from pipeline.kernels import lot_size


def test_economic_order_is_where_a_search_finds_the_least_cost():
    found = minimize_scalar(lambda q: lot_size.order_cost(q, 90, 14, 0.6), bounds=(1, 1000), method="bounded")
    quantity, cost = lot_size.economic_order(90, 14, 0.6)
    assert_allclose(quantity, found.x, rtol=1e-5)
    assert_allclose(cost, found.fun, rtol=1e-10)


def test_economic_order_takes_many_items_at_once():
    quantity, _ = lot_size.economic_order([90, 1300], [14, 8], [0.6, 0.225])
    assert_allclose(quantity[1], 304.04678, rtol=1e-8)


def test_waiting_that_costs_more_and_more_gives_the_plain_quantity():
    plain, plain_cost = lot_size.economic_order(90, 14, 0.6)
    quantity, owed, cost = lot_size.economic_order_with_waiting(90, 14, 0.6, 1e9)
    assert_allclose([quantity, cost], [plain, plain_cost], rtol=1e-8)
    assert owed < 1e-8


def test_planned_waiting_matches_a_search_over_both_variables():
    demand, ordering, holding, waiting = 200.0, 30.0, 1.5, 4.0
    quantity, owed, cost = lot_size.economic_order_with_waiting(demand, ordering, holding, waiting)
    q, x = np.meshgrid(np.linspace(60, 160, 401), np.linspace(0, 0.6, 601))
    costs = ordering * demand / q + holding * q * (1 - x) ** 2 / 2 + waiting * q * x**2 / 2
    best = np.unravel_index(costs.argmin(), costs.shape)
    assert_allclose([quantity, owed], [q[best], x[best]], atol=0.3)
    assert cost <= costs.min() + 1e-9


@pytest.mark.parametrize("arguments", [(0, 1, 1), (1, 0, 1), (1, 1, -1), (np.nan, 1, 1)])
def test_nothing_is_computed_from_a_value_out_of_range(arguments):
    with pytest.raises(InvalidParameter, match="wanted a finite number above 0"):
        lot_size.economic_order(*arguments)
