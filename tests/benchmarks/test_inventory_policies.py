"""Exact reorder rules of 2,000 items beside a general-purpose inventory library: equal, and the ratio of time.

Run with `python3 -m pipeline test -m bench tests/benchmarks` once the packages of the bench tier are there.

The library takes one item at a time, and would take some seven minutes of processor for all 2,000 reorder points and
quantities, four for the order-up-to rules. So it is asked about a random subset, 100 and 40 items, its time is taken
per item, and equality is checked on that subset; ours is timed on all items, the probabilities that the kernel wants
as input reckoned in. Both in one run. The library's search grows with the square of the pieces ordered at a time, so
lamps by the hundred weigh more in its mean than boards by the piece: of items of which half order 8 pieces or fewer and
none more than 57, the ratio of reorder points was 1,200 in place of the 16,500 seen here.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels import order_up_to, reorder_point
from tests.support import inventory_library
from tests.support.inventory_library import each, poisson_pmf
from tests.support.processor_time import processor_seconds

ITEMS, REFEREED, REFEREED_PERIODIC = 2000, 100, 40
LEAST_RATIO = 1000
REPEATS = 5  # ours is over in hundredths of a second


def told(rule, ours, theirs):
    """Print and return the ratio of times per item; each is (result, seconds) and how many items that were."""
    (seconds, n_items), (their_seconds, their_items) = ours, theirs
    ratio = (their_seconds / their_items) / (seconds / n_items)
    print(f"{rule}: {n_items} items in {seconds:.4f} s here; {their_items} in {their_seconds:.2f} s there: "
          f"{ratio:,.0f} times per item")
    return ratio


def same_policies(ours, theirs, cost):
    """Assert equal costs to 1e-6; where two policies cost the same either may be named: return how many differ."""
    assert_allclose([item[2] for item in theirs], cost, rtol=1e-6)
    return sum(tuple(map(int, item[:2])) != tuple(rule) for item, rule in zip(theirs, zip(*ours, strict=True),
                                                                             strict=True))


@pytest.mark.bench
def test_reorder_point_and_quantity_beside_a_library():
    library = inventory_library.module("rq")
    rng = np.random.default_rng(20261129)
    items = inventory_library.shop_items(rng, ITEMS)
    rates = [items[name] for name in ("holding", "waiting", "ordering")]

    def ours():
        return reorder_point.best(items["demand_pcs"], poisson_pmf(items["demand_pcs"] * items["lead_years"]), *rates)

    chosen = rng.choice(ITEMS, REFEREED, replace=False)
    asked = [column[chosen] for column in (*rates, items["demand_pcs"], items["lead_years"])]
    ours()  # what is imported or planned on a first call belongs to neither side
    rule, seconds = processor_seconds(ours, REPEATS)
    theirs, their_seconds = processor_seconds(lambda: each(library.r_q_poisson_exact, *asked))
    differ = same_policies((rule.reorder_point_pcs[chosen], rule.order_pcs[chosen]), theirs, rule.cost[chosen])
    print(f"{differ} of {REFEREED} rules differ at equal cost; the middle one orders {np.median(rule.order_pcs):.0f}")
    assert told("(r, Q)", (seconds, ITEMS), (their_seconds, REFEREED)) > LEAST_RATIO
    assert differ == 0  # costs drawn at random do not tie


@pytest.mark.bench
def test_order_up_to_rule_beside_a_library():
    library = inventory_library.module("ss")
    rng = np.random.default_rng(20261130)
    items = inventory_library.weekly_items(rng, ITEMS)
    rates = [items[name] for name in ("holding", "waiting", "ordering")]

    def ours():
        pmf = poisson_pmf(items["demand_pcs"])
        return order_up_to.best(pmf, pmf, *rates)  # as the library has it: what is ordered is there at once

    def one(holding, waiting, ordering, demand_pcs):
        return library.s_s_discrete_exact(holding, waiting, ordering, True, demand_pcs)

    chosen = rng.choice(ITEMS, REFEREED_PERIODIC, replace=False)
    ours()
    rule, seconds = processor_seconds(ours, REPEATS)
    theirs, their_seconds = processor_seconds(
        lambda: each(one, *(column[chosen] for column in (*rates, items["demand_pcs"]))))
    differ = same_policies((rule.reorder_point_pcs[chosen], rule.order_up_to_pcs[chosen]), theirs, rule.cost[chosen])
    print(f"{differ} of {REFEREED_PERIODIC} rules differ at equal cost")
    assert told("(s, S)", (seconds, ITEMS), (their_seconds, REFEREED_PERIODIC)) > LEAST_RATIO
    assert differ == 0
