"""Stock kernels against a general-purpose inventory library of the bench tier: 500 random items each.

Kernels that take part: ``newsvendor.normal``, ``newsvendor.discrete``, ``lot_size.economic_order`` and
``economic_order_with_waiting``, ``price_breaks.all_units`` and ``incremental``, ``reorder_point.best``,
``order_up_to.best``. Run with `python3 -m pipeline test -m bench tests/reference`.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels import lot_size, newsvendor, order_up_to, price_breaks, reorder_point
from tests.support import inventory_library
from tests.support.inventory_library import each, poisson_pmf, spread

pytestmark = pytest.mark.bench

ITEMS = 500
FEW_PCS = {"demand_pcs": (0.2, 20), "ordering": (1, 12)}  # the library's search grows with the square of the pieces


@pytest.fixture
def rng(request):
    return np.random.default_rng(list(request.node.name.encode()))


def test_newsvendor_of_normal_demand(rng):
    mean, over, under = (spread(rng, *ends, ITEMS) for ends in ((5, 500), (0.05, 5), (0.5, 50)))
    sd = mean * rng.uniform(0.05, 0.4, ITEMS)
    theirs = each(inventory_library.module("newsvendor").newsvendor_normal, over, under, mean, sd)
    assert_allclose(np.transpose(newsvendor.normal(mean, sd, over, under)), theirs, rtol=1e-9)


def test_newsvendor_of_poisson_demand(rng):
    mean, over, under = (spread(rng, *ends, ITEMS) for ends in ((0.1, 80), (0.05, 5), (0.5, 50)))
    theirs = each(inventory_library.module("newsvendor").newsvendor_poisson, over, under, mean)
    assert_allclose(np.transpose(newsvendor.discrete(poisson_pmf(mean), over, under)), theirs, rtol=1e-9)


def test_economic_order(rng):
    demand, ordering, holding = (spread(rng, *ends, ITEMS) for ends in ((1, 9000), (2, 900), (0.05, 50)))
    theirs = each(inventory_library.module("eoq").economic_order_quantity, ordering, holding, demand)
    assert_allclose(np.transpose(lot_size.economic_order(demand, ordering, holding)), theirs, rtol=1e-12)


def test_economic_order_with_backorders(rng):
    demand, ordering, holding = (spread(rng, *ends, ITEMS) for ends in ((1, 9000), (2, 900), (0.05, 50)))
    waiting = holding * spread(rng, 0.5, 50, ITEMS)
    ask = inventory_library.module("eoq").economic_order_quantity_with_backorders
    ours = lot_size.economic_order_with_waiting(demand, ordering, holding, waiting)
    assert_allclose(np.transpose(ours), each(ask, ordering, holding, waiting, demand), rtol=1e-12)


@pytest.mark.parametrize("kind", ["all_units", "incremental"])
def test_quantity_discounts(rng, kind):
    demand, ordering, share = spread(rng, 20, 9000, ITEMS), spread(rng, 2, 90, ITEMS), rng.uniform(0.1, 0.4, ITEMS)
    from_pcs = np.column_stack([np.zeros(ITEMS), np.cumsum(rng.integers(5, 400, (ITEMS, 3)), axis=1)]).astype(float)
    prices = spread(rng, 0.3, 90, ITEMS)[:, None] * np.cumprod(rng.uniform(0.85, 0.99, (ITEMS, 4)), axis=1)
    ask = getattr(inventory_library.module("eoq"), f"economic_order_quantity_with_{kind}_discounts")

    def one(number):
        k = int(number)
        return ask(float(ordering[k]), float(share[k]), float(demand[k]), from_pcs[k].tolist(), prices[k].tolist())

    theirs = each(one, range(ITEMS))
    quantity, cost = getattr(price_breaks, kind)(demand, ordering, share, from_pcs, prices)
    assert_allclose(np.transpose([quantity, cost]), [(q, paid) for q, _, paid in theirs], rtol=1e-9)
    assert np.unique([region for _, region, _ in theirs]).tolist() == [0, 1, 2, 3]  # every price is met


def test_reorder_point_and_quantity_of_poisson_demand(rng):
    demand, ordering = (spread(rng, *FEW_PCS[name], ITEMS) for name in ("demand_pcs", "ordering"))
    lead, holding, waiting = (spread(rng, *ends, ITEMS) for ends in ((0.02, 0.6), (0.5, 8), (10, 400)))
    ask = inventory_library.module("rq").r_q_poisson_exact
    rule = reorder_point.best(demand, poisson_pmf(demand * lead), holding, waiting, ordering)
    assert_allclose(np.transpose(rule), each(ask, holding, waiting, ordering, demand, lead), rtol=1e-9)


def test_order_up_to_rule_of_poisson_demand(rng):
    demand, ordering = (spread(rng, *FEW_PCS[name], ITEMS) for name in ("demand_pcs", "ordering"))
    holding = spread(rng, 0.3, 2, ITEMS)
    waiting = holding * spread(rng, 3, 40, ITEMS)
    ask = inventory_library.module("ss").s_s_discrete_exact
    pmf = poisson_pmf(demand)
    rule = order_up_to.best(pmf, pmf, holding, waiting, ordering)
    theirs = each(lambda h, p, k, mean: ask(h, p, k, True, mean), holding, waiting, ordering, demand)
    assert_allclose(np.transpose(rule), theirs, rtol=1e-9)
