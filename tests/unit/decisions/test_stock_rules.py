"""Levels of each part: costs, lots, the owner's word, supply and what is kept for booked work."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.stats import poisson

from pipeline.decisions import final_buy, stock_rules
from pipeline.kernels import order_up_to, reorder_point
from pipeline.models.shelf_demand import ShelfDemand

SETTINGS = SimpleNamespace(holding_rate_share=0.2, bay_cost_per_day=10.0, labour_cost=30.0)
NAMES = ["a", "b", "c", "d"]


def positions(**columns):
    base = {
        "part": NAMES,
        "wear_class": "coil",
        "supply": "steady",
        "keep": "auto",
        "unit_price": [2.0, 20.0, 5.0, 5.0],
        "longest_gap_days": np.nan,
        "is_at_will": True,
    }
    return pd.DataFrame(base | columns)


def terms(**columns):
    base = {
        "vendor": ["north", "south"],
        "freight_flat": [9.0, np.nan],
        "order_hours": [0.5, 0.2],
        "mean_freight_amount": np.nan,
        "lines_per_order": [4.0, np.nan],
    }
    return pd.DataFrame(base | columns)


@pytest.fixture
def demand():
    """Poisson demand of 0.5, 0.1, 2 and 0 pieces a week; three weeks from order to the next look."""
    weekly = np.array([0.5, 0.1, 2.0, 0.0])
    week, lead = (poisson.pmf(np.arange(60), mean[:, None]) for mean in (weekly, 3 * weekly))
    return ShelfDemand(NAMES, week, [lead] * 7)


def costs(holding=0.02, waiting=70.0, ordering=4.0):
    return stock_rules.Costs(*(np.full(4, float(value)) for value in (holding, waiting, ordering)))


def written(known=(0, 0, 0, 0)):
    return pd.DataFrame({"known_pcs": np.array(known), "known_jobs": np.minimum(known, 1)})


def levels(demand, base=(2, -1, 4, -1), raised=(0, 0, 0, 0), join=(1, 0, 2, 0), lots=(1, 1, 5, 1), known=(0, 0, 0, 0),
           **columns):
    """Levels where jobs on the books raise the points, and parts join an order so many pieces earlier."""
    base, raised = np.array(base), np.array(raised)
    points = base, base + raised, base + raised + np.array(join)
    return stock_rules.levels(positions(**columns), demand, written(known), points, np.array(lots))


class TestCosts:
    def test_holding_is_the_rate_on_the_price_by_the_week(self):
        found = stock_rules.costs(positions(), ["north"] * 4, terms(), SETTINGS)
        assert_allclose(found.holding, 0.2 * np.array([2, 20, 5, 5]) / (365.25 / 7))
        assert_allclose(found.waiting, 70.0)

    def test_ordering_is_shared_by_the_lines_of_an_order(self):
        # north: (0.5 h x 30 + 9) / 4 lines = 6; south: 0.2 x 30 = 6, one line
        found = stock_rules.costs(
            positions(), ["north", "south", "north", "south"], terms(order_hours=[0.5, 0.3]), SETTINGS
        )
        assert_allclose(found.ordering, [6, 9, 6, 9])

    def test_freight_is_as_past_orders_had_it(self):
        found = stock_rules.costs(positions(), ["north"] * 4, terms(mean_freight_amount=[5.0, np.nan]), SETTINGS)
        assert_allclose(found.ordering, 5.0)

    def test_a_part_without_vendor_takes_the_middle_of_all(self):
        found = stock_rules.costs(positions(), [None, "nobody", "north", "south"], terms(), SETTINGS)
        assert_allclose(found.ordering[:2], found.ordering[2:].mean())

    def test_no_vendors_at_all_and_costs_of_zero_still_price_a_part(self):
        free = SimpleNamespace(holding_rate_share=0.0, bay_cost_per_day=0.0, labour_cost=0.0)
        found = stock_rules.costs(positions(), [None] * 4, terms()[:0], free)
        assert (found.holding > 0).all() and (found.waiting > 0).all()
        assert_allclose(found.ordering, 0)


class TestLots:
    def lots(self, demand, packs=(1, 1, 1, 1), rates=None, line_share=1.0):
        return stock_rules.lots(demand, demand.coming[0], rates or costs(), np.array(packs), line_share)

    def test_single_pieces_come_in_the_lots_of_the_exact_rule(self, demand):
        exact = order_up_to.best(demand.week_pmf[:3], demand.coming[0][:3], 0.02, 70.0, 4.0)
        gap = exact.order_up_to_pcs - exact.reorder_point_pcs
        half_year = np.ceil(np.array([0.5, 0.1, 2]) * 365.25 / 14)
        assert_array_equal(self.lots(demand)[:3], np.minimum(gap, half_year))
        assert self.lots(demand)[3] == 1

    def test_packs_stay_whole(self, demand):
        exact = reorder_point.best_in_packs(demand.week_pmf[[2]], demand.coming[0][[2]], 0.2, 70.0, 4.0, [25])
        found = self.lots(demand, packs=(10, 1, 25, 4), rates=costs(holding=0.2))
        assert found[2] == exact.order_pcs[0]
        assert_array_equal(found % [10, 1, 25, 4], 0)

    def test_a_line_that_joins_an_order_comes_in_smaller_lots(self, demand):
        alone, joined = self.lots(demand), self.lots(demand, line_share=stock_rules.LINE_SHARE)
        assert (joined <= alone).all() and joined[2] < alone[2]


class TestLevels:
    def test_an_order_lifts_a_part_at_most_a_lot_above_the_point_at_which_it_joins(self, demand):
        found = levels(demand)
        assert found["reorder_point_pcs"].tolist() == [2, -1, 4, -1]
        assert found["join_point_pcs"].tolist() == [3, -1, 6, -1]
        assert found["order_up_to_pcs"].tolist() == [4, 0, 11, 0]

    def test_kept_for_booked_work_is_what_is_written_and_what_jobs_raise_the_point_by(self, demand):
        found = levels(demand, raised=(3, 0, 1, 0), known=(2, 0, 0, 1))
        assert found["committed_pcs"].tolist() == [5, 0, 1, 1]
        free = levels(demand)  # the levels themselves are those of a shop with no job on the books
        assert_array_equal(found["reorder_point_pcs"], free["reorder_point_pcs"])
        assert_array_equal(found["order_up_to_pcs"], free["order_up_to_pcs"])

    def test_yearly_use_is_the_week_times_the_weeks_of_a_year(self, demand):
        assert_allclose(levels(demand)["year_use_pcs"], np.array([0.5, 0.1, 2, 0]) * 365.25 / 7, rtol=1e-9)

    def test_every_shelf_is_reached_and_named_by_what_may_lie_there(self, demand):
        found = levels(demand, base=(9, -1, 0, -1), keep=["auto", "auto", "never", "auto"],
                       supply=["steady", "scarce", "steady", "steady"])
        assert found["shelf_rule"].tolist() == ["by_the_job", "when_seen", "not_stocked", "not_stocked"]
        assert levels(demand, base=(0, 0, 0, 0), join=(0, 0, 0, 0), lots=(1, 2, 3, 1))["shelf_rule"].tolist() == [
            "one_or_two", "one_or_two", "by_the_job", "one_or_two"]

    def test_never_keeps_none_and_always_keeps_one(self, demand):
        found = levels(demand, keep=["never", "auto", "auto", "always"])
        columns = ["reorder_point_pcs", "join_point_pcs", "order_up_to_pcs"]
        assert tuple(found.iloc[0][columns]) == (-1, -1, 0)
        assert tuple(found.iloc[3][columns]) == (0, 0, 1)


class TestFinalBuy:
    def test_the_aim_is_the_critical_share_of_the_demand_to_the_horizon(self):
        # over: 0.02 x 730 / 7 = 2.09; under: 70 x 45 / 7 = 450: the 99.5 % quantile
        pmf = poisson.pmf(np.arange(60), 8.0)[None]
        one = stock_rules.Costs(np.array([0.02]), np.array([70.0]), np.array([4.0]))
        aim = final_buy.aims(pmf, 730.0, np.array([False]), one, np.array([5.0]))
        assert aim[0] == poisson.ppf(450 / (450 + 0.02 * 730 / 7), 8.0)

    def test_a_part_that_has_ended_loses_its_price_when_left_over(self):
        pmf = np.repeat(poisson.pmf(np.arange(60), 8.0)[None], 2, axis=0)
        two = stock_rules.Costs(np.full(2, 0.02), np.full(2, 70.0), np.full(2, 4.0))
        aim = final_buy.aims(pmf, 730.0, np.array([False, True]), two, np.full(2, 300.0))
        assert aim[1] < aim[0]

    def test_horizons_follow_supply_and_the_parts_own_orders(self):
        found = final_buy.horizons(
            positions(supply=["steady", "scarce", "scarce", "ended"], longest_gap_days=[10, np.nan, 200, 200])
        )
        assert_allclose(found, [np.nan, 730, 365, 1825])

    def rules(self, demand, **columns):
        where = positions(**({"supply": ["scarce", "ended", "scarce", "steady"]} | columns))
        points = np.array([1, 0, 2, 1])
        base = stock_rules.levels(where, demand, written((1, 0, 0, 0)), (points, points, points), np.ones(4, int))
        return base, final_buy.with_aims(base, pd.Series([9, 0, 30, 5]), where)

    def test_what_is_made_in_runs_is_bought_whenever_it_is_seen(self, demand):
        _, found = self.rules(demand, is_at_will=False)
        assert found["order_up_to_pcs"].tolist()[:3] == [8, 0, 30]
        assert found["reorder_point_pcs"].tolist()[:3] == [7, -1, 29]

    def test_what_can_be_ordered_waits_for_its_reorder_point(self, demand):
        base, found = self.rules(demand)
        assert found["order_up_to_pcs"][2] == 30
        assert found["reorder_point_pcs"][2] == base["reorder_point_pcs"][2] < 29

    def test_steady_parts_keep_their_rule(self, demand):
        base, found = self.rules(demand)
        assert found.loc[3, ["reorder_point_pcs", "order_up_to_pcs"]].equals(
            base.loc[3, ["reorder_point_pcs", "order_up_to_pcs"]]
        )
        assert np.isnan(found.loc[3, "horizon_days"]) and found.loc[0, "horizon_days"] == 730

    def test_the_owner_has_the_last_word(self, demand):
        _, found = self.rules(demand, keep=["never", "always", "auto", "auto"])
        assert found["order_up_to_pcs"].tolist()[:2] == [0, 1]
