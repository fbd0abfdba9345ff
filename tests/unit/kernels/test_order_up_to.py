"""The exact (s, S) rule against enumeration of every rule, and against a simulated shelf."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import order_up_to
from pipeline.kernels.loss import level_cost


def convolved(pmf, times):
    total = np.ones(1)
    for _ in range(times):
        total = np.convolve(total, pmf)
    return total


def random_items(rng, n_items):
    """Lumpy demands, lead times of 0 to 4 periods, costs over two orders of magnitude, some free orders."""
    for _ in range(n_items):
        pmf = rng.dirichlet(np.full(rng.integers(2, 7), 0.7))
        costs = rng.uniform(0.05, 2), rng.uniform(0.5, 20), rng.choice([0.0, rng.uniform(0, 40)])
        yield pmf, convolved(pmf, rng.integers(1, 6)), *costs


def stacked(rows):
    width = max(len(row) for row in rows)
    return np.array([np.pad(row, (0, width - len(row))) for row in rows])


def cheapest_by_enumeration(pmf, lead, holding, waiting, ordering, lowest=-60, highest=140):
    """Least cost over every pair of levels, by Zheng & Federgruen's formula with plain loops."""
    cost = level_cost([lead], [holding], [waiting], [lowest], highest - lowest + 1)[0]
    passes = [1 / (1 - pmf[0])]
    for j in range(1, highest - lowest + 1):
        passes.append(sum(pmf[d] * passes[j - d] for d in range(1, min(j, len(pmf) - 1) + 1)) / (1 - pmf[0]))
    passes = np.array(passes)
    least = np.inf
    for top in range(lowest + 1, highest + 1):
        down = cost[top - lowest :: -1][: top - lowest]  # cost at S, S - 1, ..., lowest + 1
        share = passes[: len(down)]
        least = min(least, ((ordering + np.cumsum(share * down)) / np.cumsum(share)).min())
    return least


def test_no_rule_of_an_enumeration_is_cheaper():
    items = list(random_items(np.random.default_rng(20), 60))
    columns = list(zip(*items, strict=True))
    rule = order_up_to.best(stacked(columns[0]), stacked(columns[1]), *map(np.array, columns[2:]))
    assert_allclose(rule.cost, [cheapest_by_enumeration(*item) for item in items], rtol=1e-10)


def test_the_cost_of_the_best_rule_is_the_cost_of_that_rule():
    columns = list(zip(*random_items(np.random.default_rng(21), 80), strict=True))
    arguments = stacked(columns[0]), stacked(columns[1]), *map(np.array, columns[2:])
    rule = order_up_to.best(*arguments)
    found = order_up_to.rule_cost(*arguments, rule.reorder_point_pcs, rule.order_up_to_pcs)
    assert_allclose(found, rule.cost, rtol=1e-10)


def test_a_simulated_shelf_costs_what_the_formula_says():
    rng = np.random.default_rng(7)
    pmf, lead, n_periods, s, top = np.array([0.6, 0.2, 0.0, 0.2]), 2, 400_000, 1, 6
    demand = rng.choice(4, p=pmf, size=n_periods)
    position, total, standing = top, 0.0, np.zeros(n_periods)
    for t in range(n_periods):
        if position <= s:
            total, position = total + 5.0, top
        standing[t] = position
        position -= demand[t]
    window = np.convolve(demand, np.ones(lead + 1))[lead : n_periods - 0]  # demand over lead time and one period
    net = standing[: n_periods - lead] - window[: n_periods - lead]
    total += (0.3 * np.maximum(net, 0) + 4.0 * np.maximum(-net, 0)).sum()
    cost = order_up_to.rule_cost([pmf], [convolved(pmf, lead + 1)], [0.3], [4.0], [5.0], [s], [top])
    assert_allclose(total / n_periods, cost[0], rtol=0.01)


def test_standing_shares_equal_a_markov_chain_left_to_run():
    pmf, s, top = np.array([0.5, 0.3, 0.0, 0.2]), 0, 5
    step = np.zeros((5, 5))  # from S - i to S - j after demand and order
    for i in range(5):
        for size, chance in enumerate(pmf):
            step[i, i + size if i + size < 5 else 0] += chance
    long_run = np.linalg.matrix_power(step, 4000)[0]
    assert_allclose(order_up_to.standing_shares([pmf], [s], [top])[0], long_run, atol=1e-10)


def test_free_orders_mean_ordering_back_every_piece():
    rule = order_up_to.best([[0.2, 0.5, 0.3]], [[0.2, 0.5, 0.3]], [1.0], [3.0], [0.0])
    assert rule.order_up_to_pcs[0] - rule.reorder_point_pcs[0] == 1


def test_an_item_without_demand_is_neither_held_nor_ordered():
    rule = order_up_to.best([[1.0, 0.0], [0.5, 0.5]], [[1.0, 0.0], [0.5, 0.5]], [1.0, 1.0], [3.0, 3.0], [5.0, 5.0])
    assert (rule.reorder_point_pcs[0], rule.order_up_to_pcs[0], rule.cost[0]) == (-1, 0, 0)
    assert rule.cost[1] > 0


def test_items_do_not_touch_each_other():
    columns = list(zip(*random_items(np.random.default_rng(22), 30), strict=True))
    period, lead, costs = stacked(columns[0]), stacked(columns[1]), [np.array(c) for c in columns[2:]]
    together = order_up_to.best(period, lead, *costs)
    for k in range(30):
        alone = order_up_to.best(period[k : k + 1], lead[k : k + 1], *(c[k : k + 1] for c in costs))
        assert alone.reorder_point_pcs[0] == together.reorder_point_pcs[k]
        assert alone.order_up_to_pcs[0] == together.order_up_to_pcs[k]


def test_rare_and_dear_is_bought_only_when_owed():
    # 1 piece in 5 years, holding a year costs 200, a machine waits a week for 63: waiting the cheaper
    rare = np.array([[1 - 1 / 260, 1 / 260]])
    rule = order_up_to.best(rare, rare, [200 / 52], [3.0], [20.0])
    assert rule.reorder_point_pcs[0] < 0


def test_cost_of_one_number_serves_every_item():
    period = np.array([[0.5, 0.5], [0.9, 0.1]])
    assert_array_equal(
        order_up_to.best(period, period, 0.1, 5.0, 4.0).order_up_to_pcs,
        order_up_to.best(period, period, [0.1, 0.1], [5.0, 5.0], [4.0, 4.0]).order_up_to_pcs,
    )


@pytest.mark.parametrize(
    ("holding", "waiting", "ordering", "said"),
    [(0.0, 1.0, 1.0, "holding is 0"), (1.0, -1.0, 1.0, "waiting is -1"), (1.0, 1.0, -2.0, "ordering is -2")],
)
def test_costs_out_of_range_are_refused(holding, waiting, ordering, said):
    with pytest.raises(InvalidParameter, match=said):
        order_up_to.best([[0.5, 0.5]], [[0.5, 0.5]], [holding], [waiting], [ordering])


def test_a_rule_that_never_orders_is_refused():
    with pytest.raises(InvalidParameter, match="nothing is ever ordered"):
        order_up_to.rule_cost([[0.5, 0.5]], [[0.5, 0.5]], [1.0], [1.0], [1.0], [3], [3])


def test_costs_in_different_units_are_refused_rather_than_laid_out_for_hours():
    with pytest.raises(InvalidParameter, match="same money and period"):
        order_up_to.best([[0.5, 0.5]], [[0.5, 0.5]], [1e-12], [1.0], [1e6])


def test_no_items_at_all_are_no_rules():
    rule = order_up_to.best(np.ones((0, 1)), np.ones((0, 1)), [], [], [])
    assert rule.cost.shape == (0,)
    assert order_up_to.standing_shares(np.ones((0, 1)), [], []).shape[0] == 0
