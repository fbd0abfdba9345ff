import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.optimize import minimize_scalar
from scipy.stats import nbinom

from pipeline.errors import InvalidParameter
from pipeline.kernels import newsvendor


def test_normal_level_is_where_a_search_finds_the_least_cost():
    level, cost = newsvendor.normal(30, 6, 2.0, 5.0)
    found = minimize_scalar(
        lambda x: float(newsvendor.normal_cost(x, 30, 6, 2.0, 5.0)), bounds=(0, 80), method="bounded"
    )
    assert_allclose([level, cost], [found.x, found.fun], rtol=1e-5)


def test_discrete_level_beats_every_other():
    rng = np.random.default_rng(3)
    demand = np.arange(120)
    pmf = np.array([nbinom.pmf(demand, r, 0.3) for r in rng.uniform(0.2, 9, 50)])
    over, under = rng.uniform(0.1, 5, 50), rng.uniform(0.1, 50, 50)
    level, cost = newsvendor.discrete(pmf, over, under)
    gap = demand[:, None] - demand[None, :]  # demand less level
    table = np.einsum("id,dl->il", pmf, np.maximum(gap, 0)) * under[:, None]
    table += np.einsum("id,dl->il", pmf, np.maximum(-gap, 0)) * over[:, None]
    assert_allclose(cost, table.min(axis=1), rtol=1e-9)
    assert_array_equal(level, table.argmin(axis=1))


def test_a_share_met_exactly_counts():
    assert newsvendor.quantile([[0.1] * 10], [0.3])[0] == 2  # 0.1 + 0.1 + 0.1 is above 0.3 by rounding alone


def test_quantile_of_one_is_the_largest_demand():
    assert newsvendor.quantile([[0.5, 0.5, 0.0]], [1.0])[0] == 1


def test_costs_of_zero_are_refused():
    with pytest.raises(InvalidParameter, match="over is 0"):
        newsvendor.discrete([[0.5, 0.5]], [0.0], [1.0])
    with pytest.raises(InvalidParameter, match="sd_pcs is 0"):
        newsvendor.normal(10, 0, 1, 1)
