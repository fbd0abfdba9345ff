"""Exact (r, Q) and (r, nQ) rules against enumeration and against a simulated shelf."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.stats import nbinom, poisson

from pipeline.errors import InvalidParameter
from pipeline.kernels import reorder_point
from pipeline.kernels.loss import level_cost

LOWEST, HIGHEST = -80, 260


def by_enumeration(order_weight, lead, holding, waiting, ordering, multiple):
    """Least cost over every reorder point and every quantity, one pair after the other."""
    cost = level_cost([lead], [holding], [waiting], [LOWEST], HIGHEST - LOWEST + 1)[0]
    total = np.concatenate([[0.0], np.cumsum(cost)])
    least = np.inf
    for quantity in range(multiple, 160, multiple):
        windows = (total[quantity:] - total[:-quantity]) / quantity
        least = min(least, ordering * order_weight(quantity) / quantity + windows.min())
    return least


def test_unit_demand_rule_is_the_cheapest_of_an_enumeration():
    rng = np.random.default_rng(4)
    demand, lead_time = rng.uniform(0.05, 8, 40), rng.uniform(0.2, 4, 40)
    lead = np.array([poisson.pmf(np.arange(120), mean) for mean in demand * lead_time])
    costs = rng.uniform(0.2, 3, 40), rng.uniform(2, 60, 40), rng.uniform(0, 60, 40)
    rule = reorder_point.best(demand, lead, *costs)
    for k in range(40):
        least = by_enumeration(lambda _, k=k: demand[k], lead[k], *(c[k] for c in costs), 1)
        assert_allclose(rule.cost[k], least, rtol=1e-10)


def test_lumpy_demand_in_packs_is_the_cheapest_of_an_enumeration():
    rng = np.random.default_rng(5)
    sizes = np.arange(60)
    period = np.array([nbinom.pmf(sizes, r, p) for r, p in rng.uniform([0.05, 0.2], [2, 0.6], (30, 2))])
    period /= period.sum(axis=1, keepdims=True)
    lead = np.array([np.convolve(np.convolve(row, row), row) for row in period])
    costs = rng.uniform(0.1, 3, 30), rng.uniform(2, 60, 30), rng.uniform(0, 60, 30)
    packs = rng.choice([1, 2, 5, 10, 25], 30)
    rule = reorder_point.best_in_packs(period, lead, *costs, packs)
    assert_array_equal(rule.order_pcs % packs, 0)
    for k in range(30):

        def weight(quantity, k=k):
            return np.minimum(sizes, quantity) @ period[k]

        least = by_enumeration(weight, lead[k], *(c[k] for c in costs), int(packs[k]))
        assert_allclose(rule.cost[k], least, rtol=1e-10)


def test_a_simulated_shelf_bought_in_packs_costs_what_the_formula_says():
    rng = np.random.default_rng(8)
    pmf = np.array([0.55, 0.2, 0.1, 0.0, 0.15])
    rule = reorder_point.best_in_packs([pmf], [np.convolve(pmf, pmf)], [0.4], [6.0], [3.0], [3])
    r, quantity = int(rule.reorder_point_pcs[0]), int(rule.order_pcs[0])
    n_periods, position, orders = 300_000, int(rule.reorder_point_pcs[0]) + 1, 0
    demand, standing = rng.choice(5, p=pmf, size=n_periods), np.zeros(n_periods)
    for t in range(n_periods):
        if position <= r:
            orders += 1
            position += quantity * -(-(r + 1 - position) // quantity)
        standing[t] = position
        position -= demand[t]
    net = standing[:-1] - demand[:-1] - demand[1:]  # lead time one period, so two periods' demand
    cost = (0.4 * np.maximum(net, 0) + 6.0 * np.maximum(-net, 0)).mean() + 3.0 * orders / n_periods
    assert_allclose(cost, rule.cost[0], rtol=0.01)


def test_a_dearer_order_is_placed_less_often():
    lead = [poisson.pmf(np.arange(60), 3.0)] * 4
    quantity = reorder_point.best([1.5] * 4, lead, 20, 150, [0.0, 50.0, 200.0, 800.0]).order_pcs
    assert quantity[0] == 1
    assert (np.diff(quantity) > 0).all()


def test_an_item_without_demand_is_not_ordered():
    rule = reorder_point.best_in_packs([[1.0, 0.0]], [[1.0, 0.0]], [1.0], [5.0], [5.0], [10])
    assert (rule.reorder_point_pcs[0], rule.order_pcs[0], rule.cost[0]) == (-1, 10, 0)


def test_a_pack_of_zero_is_refused():
    with pytest.raises(InvalidParameter, match="pack_pcs is 0"):
        reorder_point.best_in_packs([[0.5, 0.5]], [[0.5, 0.5]], [1.0], [5.0], [5.0], [0])


def test_unit_demand_of_nothing_is_refused():
    with pytest.raises(InvalidParameter, match="demand_pcs is 0"):
        reorder_point.best([0.0], [[1.0]], [1.0], [5.0], [5.0])
