"""Levels of each part: costs, the owner's word, supply, reservations and the cash limit."""

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


def reserved(committed=(0, 0, 0, 0)):
    return pd.DataFrame({"committed_pcs": np.array(committed), "known_pcs": 0, "known_jobs": 0})


def levels(demand, committed=(0, 0, 0, 0), packs=(1, 1, 1, 1), rates=None, **columns):
    return stock_rules.levels(
        positions(**columns), demand, reserved(committed), rates or costs(), demand.coming[0], np.array(packs)
    )


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


class TestLevels:
    def test_single_pieces_follow_the_exact_rule(self, demand):
        found = levels(demand)
        exact = order_up_to.best(demand.week_pmf[:3], demand.coming[0][:3], 0.02, 70.0, 4.0)
        assert_array_equal(found["reorder_point_pcs"][:3], exact.reorder_point_pcs)
        assert_array_equal(found["order_up_to_pcs"][:3], exact.order_up_to_pcs)

    def test_packs_follow_the_exact_rule_for_packs(self, demand):
        found = levels(demand, packs=(10, 1, 25, 1))
        rows = [0, 2]
        exact = reorder_point.best_in_packs(demand.week_pmf[rows], demand.coming[0][rows], 0.02, 70.0, 4.0, [10, 25])
        assert_array_equal(found["reorder_point_pcs"].to_numpy()[rows], exact.reorder_point_pcs)
        gap = (found["order_up_to_pcs"] - found["reorder_point_pcs"]).to_numpy()[rows]
        assert_array_equal(gap, exact.order_pcs)
        assert_array_equal(gap % [10, 25], 0)

    def test_a_part_nobody_uses_is_not_stocked(self, demand):
        last = levels(demand).iloc[3]
        assert (last["reorder_point_pcs"], last["order_up_to_pcs"], last["shelf_rule"]) == (-1, 0, "not_stocked")

    def test_what_is_reserved_comes_off_both_levels(self, demand):
        free, less = levels(demand), levels(demand, committed=(2, 0, 3, 0))
        assert_array_equal(free["order_up_to_pcs"] - less["order_up_to_pcs"], [2, 0, 3, 0])
        assert_array_equal(free["reorder_point_pcs"] - less["reorder_point_pcs"], [2, 0, 3, 0])

    def test_a_reserved_need_is_never_left_uncovered(self, demand):
        found = levels(demand, committed=(99, 99, 99, 99))
        assert_array_equal(found["reorder_point_pcs"], -1)
        assert_array_equal(found["order_up_to_pcs"], 0)

    def test_yearly_use_is_the_week_times_the_weeks_of_a_year(self, demand):
        assert_allclose(levels(demand)["year_use_pcs"], np.array([0.5, 0.1, 2, 0]) * 365.25 / 7, rtol=1e-9)

    def test_the_shelf_is_named_by_the_level(self, demand):
        for holding in (0.0005, 0.05, 2.0, 60.0):
            for _, row in levels(demand, rates=costs(holding=holding)).iterrows():
                top = row["order_up_to_pcs"]
                assert row["shelf_rule"] == ("not_stocked" if top == 0 else "one_or_two" if top <= 2 else "by_the_job")

    def test_every_shelf_is_reached(self, demand):
        cheap = levels(
            demand,
            rates=costs(holding=0.0005),
            keep=["auto", "auto", "never", "auto"],
            supply=["steady", "scarce", "steady", "ended"],
        )
        assert cheap["shelf_rule"].tolist() == ["by_the_job", "when_seen", "not_stocked", "when_seen"]
        dear = levels(demand, rates=costs(holding=20.0))
        assert dear.loc[0, "shelf_rule"] == "one_or_two"

    def test_never_keeps_none_and_always_keeps_one(self, demand):
        found = levels(demand, keep=["never", "auto", "auto", "always"])
        assert tuple(found.iloc[0][["reorder_point_pcs", "order_up_to_pcs"]]) == (-1, 0)
        assert tuple(found.iloc[3][["reorder_point_pcs", "order_up_to_pcs"]]) == (0, 1)


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
        base = stock_rules.levels(where, demand, reserved((1, 0, 0, 0)), costs(), demand.coming[0], np.ones(4, int))
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


class TestCashLimit:
    def within(self, demand, limit, packs=(1, 1, 10, 1)):
        prices = np.array([2.0, 20.0, 5.0, 5.0])
        return stock_rules.within_cash(demand, demand.coming[0], costs(), np.array(packs), prices, limit)

    def test_no_limit_and_a_wide_one_change_nothing(self, demand):
        for limit in (None, 1e6):
            rates, times, amount = self.within(demand, limit)
            assert times == 1 and amount > 0
            assert_allclose(rates.holding, 0.02)

    def test_a_limit_that_binds_is_kept_and_nearly_used(self, demand):
        _, _, free = self.within(demand, None)
        rates, times, amount = self.within(demand, 0.6 * free)
        assert times > 1
        assert 0.4 * free < amount <= 0.6 * free
        assert_allclose(rates.holding, 0.02 * times)
        assert_allclose(rates.waiting, 70.0)

    def test_less_cash_never_holds_more(self, demand):
        amounts = [self.within(demand, limit)[2] for limit in (400, 120, 60, 30)]
        assert (np.diff(amounts) <= 1e-9).all()

    def test_the_amount_is_that_of_a_shelf_left_to_run(self, demand):
        _, _, amount = self.within(demand, None, packs=(1, 1, 1, 1))
        rng, n_weeks, value = np.random.default_rng(3), 60_000, 0.0
        rule = order_up_to.best(demand.week_pmf[:3], demand.coming[0][:3], 0.02, 70.0, 4.0)
        for part, price in enumerate((2.0, 20.0, 5.0)):
            taken = rng.poisson((0.5, 0.1, 2.0)[part], n_weeks)
            s, top, level, standing = rule.reorder_point_pcs[part], rule.order_up_to_pcs[part], 0, np.zeros(n_weeks)
            for week in range(n_weeks):
                level = top if level <= s else level
                standing[week] = level
                level -= taken[week]
            three_weeks = taken[:-2] + taken[1:-1] + taken[2:]
            value += price * np.maximum(standing[:-2] - three_weeks, 0).mean()
        assert_allclose(amount, value, rtol=0.02)
