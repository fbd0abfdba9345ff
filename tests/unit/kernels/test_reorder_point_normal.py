import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate
from scipy.optimize import minimize
from scipy.stats import norm

from pipeline.errors import InvalidParameter
from pipeline.kernels import reorder_point_normal

ITEM = {"demand_pcs": 400.0, "lead_mean_pcs": 30.0, "lead_sd_pcs": 9.0}
RATES = {"holding": 0.8, "waiting": 11.0, "ordering": 17.0}


def test_cost_equals_the_integral_over_standing_levels():
    def standing(level):
        z = (level - 30) / 9
        return 0.8 * (level - 30) + 11.8 * 9 * (norm.pdf(z) - z * norm.sf(z))

    area, _ = integrate.quad(standing, 20, 150, epsabs=1e-10)
    assert_allclose(reorder_point_normal.cost(20, 130, **ITEM, **RATES), (17 * 400 + area) / 130, rtol=1e-10)


def test_the_optimum_is_where_a_general_search_ends():
    found = minimize(
        lambda x: float(reorder_point_normal.cost(x[0], max(x[1], 1e-3), **ITEM, **RATES)),
        [30.0, 100.0],
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-12},
    )
    r, quantity, cost = reorder_point_normal.best(**ITEM, **RATES)
    assert_allclose([r, quantity], found.x, rtol=1e-5)
    assert_allclose(cost, found.fun, rtol=1e-11)


def test_many_items_at_once_over_wide_ranges():
    rng = np.random.default_rng(9)
    demand, sd = 10 ** rng.uniform(0, 4, 200), 10 ** rng.uniform(-1, 2.5, 200)
    holding, waiting, ordering = (10 ** rng.uniform(-2, 2, 200) for _ in range(3))
    r, quantity, cost = reorder_point_normal.best(demand, 0.1 * demand, sd, holding, waiting, ordering)
    for r_step, q_step in [(1.01, 1.0), (0.99, 1.0), (1.0, 1.01), (1.0, 0.99)]:
        shifted = 0.1 * demand + (r - 0.1 * demand) * r_step
        near = reorder_point_normal.cost(
            shifted, quantity * q_step, demand, 0.1 * demand, sd, holding, waiting, ordering
        )
        assert (near >= cost * (1 - 1e-12)).all()


def test_a_shortage_cheaper_than_holding_through_a_cycle_is_refused():
    with pytest.raises(InvalidParameter, match="holding x order_pcs"):
        reorder_point_normal.per_piece_short(200, 100, 25, 2.0, 0.5, 50)


def test_no_spread_is_refused():
    with pytest.raises(InvalidParameter, match="lead_sd_pcs is 0"):
        reorder_point_normal.best(400, 30, 0, 1, 1, 1)
