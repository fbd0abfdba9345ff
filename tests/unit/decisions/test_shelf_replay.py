"""The cash limit kept by replaying the believed shop, and the rules of a whole shelf."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.decisions import order_plan, shelf_replay, shelf_rules, stock_rules
from tests.support import hand_shop

MONTHS = range(1, 13)
PRICES = {"sleeve": 1, "coil": 18, "board": 60, "lamp": 0.3, "glass": 150}
SHOP = {
    "shop": "key value\ntoday 2026-01-10\nlabour_cost 30\nbay_cost_per_day 10",
    "families": "family name\nem EM",
    "parts": "part description keep\n"
    + "\n".join(f"{part} x {'never' if part == 'glass' else '-'}" for part in PRICES),
    "jobs": "job family scope booked_on started_on delivered_on\n"
    + "\n".join(f"D{n} em thorough 2025-{n:02d}-01 2025-{n:02d}-08 2025-{n:02d}-25" for n in MONTHS),
    "job_parts": "job part qty_pcs used_on\n" + "\n".join(
        f"D{n} sleeve 6 2025-{n:02d}-08\nD{n} lamp {8 + n} 2025-{n:02d}-08"
        + (f"\nD{n} coil 1 2025-{n:02d}-08\nD{n} board 1 2025-{n:02d}-08" if n % 2 else "")
        + (f"\nD{n} glass 1 2025-{n:02d}-08" if n % 5 == 0 else "") for n in MONTHS),
    "vendors": "vendor freight_flat order_hours lead_time_days\nnorth 9 0.4 6",
    "offers": "vendor part pack_pcs pack_price\n" + "\n".join(
        f"north {part} {10 if part == 'lamp' else 1} {price * (10 if part == 'lamp' else 1)}"
        for part, price in PRICES.items()),
    "counts": "part counted_on qty_pcs\n" + "\n".join(f"{part} 2026-01-05 0" for part in PRICES),
}


@pytest.fixture(scope="module")
def made():
    with hand_shop.store(**SHOP) as connection:
        plan = order_plan.make(connection)
    return SimpleNamespace(plan=plan, shelf=plan.shelf, facts=plan.facts)


def test_a_limit_that_does_not_bind_changes_nothing(made):
    times, amount = shelf_replay.within_cash(made.shelf, made.facts, 1e6)
    assert times == 1 and amount > 0


def test_a_limit_that_binds_is_kept_and_nearly_used(made):
    _, free = shelf_replay.within_cash(made.shelf, made.facts, 1e6)
    times, amount = shelf_replay.within_cash(made.shelf, made.facts, 0.6 * free)
    assert times > 1 and 0.4 * free < amount <= 0.6 * free


def test_less_cash_never_holds_more(made):
    amounts = [shelf_replay.within_cash(made.shelf, made.facts, limit)[1] for limit in (200, 120, 60)]
    assert (np.diff(amounts) <= 1e-9).all()


def test_a_limit_nobody_can_keep_ends_at_the_dearest_place(made):
    assert shelf_replay.within_cash(made.shelf, made.facts, 0.0)[0] == shelf_replay.MOST_TIMES_DEARER


def test_parts_stand_for_their_neighbours_and_none_is_lost(made, monkeypatch):
    monkeypatch.setattr(shelf_replay, "SEARCH_PARTS", 2)
    some = shelf_replay._every_so_many(made.shelf)
    assert some.is_ahead.sum() == 2 and made.shelf.is_ahead.sum() == 4
    assert_allclose((some.price / made.shelf.price)[some.is_ahead].sum(), 4)
    monkeypatch.setattr(shelf_replay, "SEARCH_PARTS", 4)
    assert shelf_replay._every_so_many(made.shelf) is made.shelf


def test_what_no_rule_serves_is_not_needed_in_the_believed_shop(made):
    shop = shelf_replay.believed_shop(made.shelf, made.facts, 3, 1)
    glass = made.shelf.kinds.parts.index("glass")
    assert (shop.jobs.need_pcs[:, glass] == 0).all() and not made.shelf.is_ahead[glass]
    assert shop.jobs.need_pcs.sum() > 0 and shop.n_runs == 3


class TestRules:
    def test_equal_share_levels_cover_the_lead_time_with_the_common_chance(self, made):
        rule = shelf_rules.equal_share_rule(made.shelf, 0.95)
        bundles = (rule.reorder_point_pcs + 1) // made.shelf.needs.bundle_pcs
        reached = np.cumsum(made.shelf.lead_pmf, axis=1)
        ahead = np.flatnonzero(made.shelf.is_ahead)
        assert (reached[ahead, bundles[ahead]] >= 0.95).all()
        fewer = ahead[bundles[ahead] > 0]
        assert (reached[fewer, bundles[fewer] - 1] < 0.95).all()
        assert (rule.order_up_to_pcs - rule.reorder_point_pcs)[ahead].min() >= 1
        glass = made.shelf.kinds.parts.index("glass")
        assert (rule.reorder_point_pcs[glass], rule.order_up_to_pcs[glass]) == (-1, 0)

    def test_a_dearer_place_never_raises_a_point_or_a_lot(self, made):
        points, lots = [], []
        for times in (1.0, 20.0, 400.0):
            lot = made.shelf.lot_pcs(times)
            points.append(shelf_rules.todays_points(made.shelf, made.facts, times, lot)[1])
            lots.append(lot)
        assert (np.diff(lots, axis=0) <= 0).all()
        assert points[0].sum() > points[-1].sum()

    def test_the_points_of_a_long_run_are_those_of_a_day_with_no_job_on_the_books(self, made):
        # nobody is on the books of this shop: today's points with and without known jobs are the same
        base, must, may = shelf_rules.todays_points(made.shelf, made.facts, 5.0, made.shelf.lot_pcs(5.0))
        assert_array_equal(base, must)
        assert (may >= must).all()

    def test_slow_vendors_weigh_more_but_not_as_much_more_as_they_take_longer(self, made):
        slow = replace(made.shelf, lead_days=made.shelf.lead_days * np.where(np.arange(5) == 1, 4.0, 1.0)[:, None])
        lot = np.ones(5, dtype=np.int64)
        ratio = (made.shelf.least_gain(lot) / slow.least_gain(lot))[1]
        assert 1 < ratio < 4

    def test_holding_a_lot_a_week_is_told_in_jobs(self, made):
        lot = made.shelf.lot_pcs()
        wait = made.shelf.lead_days.mean(axis=1) + 3.5
        holding = made.shelf.costs.holding * lot
        assert_allclose(made.shelf.least_gain(lot, 3.0), 3 * holding / (10.0 * wait), rtol=1e-9)  # one vendor for all
        assert_allclose(made.shelf.costs.holding * stock_rules.WEEKS_PER_YEAR,
                        made.facts.settings.holding_rate_share * made.shelf.price)
