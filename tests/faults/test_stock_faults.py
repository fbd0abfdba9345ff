"""Odd records in front of the order plan: each gets a stated answer, none a crash, none a price of nothing."""

import pandas as pd
import pytest

from pipeline.decisions import attention, job_ready, order_plan
from pipeline.errors import InvalidParameter
from tests.support import hand_shop

BASE = {
    "shop": "key value\ntoday 2026-01-10",
    "families": "family name\nem EM",
    "parts": "part description\ncoil Coil\nlamp Lamp",
    "jobs": "job family scope booked_on started_on delivered_on\n"
    + "\n".join(f"D{n} em thorough 2025-{n:02d}-01 2025-{n:02d}-03 2025-{n:02d}-25" for n in range(1, 13)),
    "job_parts": "job part qty_pcs used_on\n"
    + "\n".join(f"D{n} lamp 10 2025-{n:02d}-05\nD{n} coil 1 2025-{n:02d}-05" for n in range(1, 13)),
    "vendors": "vendor freight_flat lead_time_days order_hours\nnorth 9 6 0.4",
    "offers": "vendor part pack_price\nnorth coil 18\nnorth lamp 0.3",
    "counts": "part counted_on qty_pcs\ncoil 2026-01-01 0\nlamp 2026-01-01 0",
}


def plan_of(with_ready=False, **tables):
    """Plan and attention, readiness if asked, of the shop with some of its tables replaced, or left out where None."""
    kept = {name: text for name, text in (BASE | tables).items() if text is not None}
    with hand_shop.store(**kept) as connection:
        plan = order_plan.make(connection)
        if with_ready:
            assert len(job_ready.readiness(plan).table) == 1
        attention.table(plan, connection)
    return plan


def line(part="coil", **tables):
    return order_plan.table(plan_of(**tables)).set_index("part").loc[part]


def test_a_price_of_zero_is_no_price():
    row = line(offers="vendor part pack_price\nnorth coil 0\nnorth lamp 0.3")
    assert row["order_pcs"] > 0 and pd.isna(row["unit_price"]) and pd.isna(row["line_amount"])
    assert "No price known" in row["why"]


def test_a_part_without_an_offer_is_still_wanted():
    row = line(offers="vendor part pack_price\nnorth lamp 0.3")
    assert row["order_pcs"] > 0 and pd.isna(row["vendor"]) and pd.isna(row["packs"])


def test_offers_of_rejects_only_are_no_offers():
    row = line(offers="vendor part pack_price reject_share\nnorth coil 18 1\nnorth lamp 0.3 0")
    assert pd.isna(row["vendor"])


def test_no_vendor_at_all():
    row = line(vendors=None, offers=None)
    assert row["order_pcs"] > 0 and pd.isna(row["vendor"])
    assert "offers.csv would price it" in row["why"]


def test_a_vendor_that_says_nothing_of_itself():
    row = line(vendors="vendor\nnorth")
    assert row["vendor"] == "north" and row["line_amount"] > 0


def test_a_count_older_than_a_year_is_used_and_doubted():
    row = line(counts="part counted_on qty_pcs\ncoil 2024-06-01 30\nlamp 2026-01-01 0")
    assert row["on_hand_pcs"] == 30 - 12
    assert "Doubt: last counted 19 months ago." in row["why"]


def test_a_count_in_the_future_is_taken_as_it_stands():
    assert line(counts="part counted_on qty_pcs\ncoil 2026-06-01 3")["on_hand_pcs"] == 3


def test_more_taken_than_was_there_counts_as_none():
    row = line(counts="part counted_on qty_pcs\ncoil 2025-06-01 2\nlamp 2026-01-01 0")
    assert row["on_hand_pcs"] == 2 - 7
    assert "taken as 0" in row["why"]
    assert row["order_pcs"] > row["reorder_point_pcs"] + row["committed_pcs"]


def test_a_free_threshold_below_the_minimum():
    plan = plan_of(
        vendors="vendor freight_flat freight_free_over minimum_order lead_time_days order_hours\nnorth 9 20 60 6 0.4",
        counts="part counted_on qty_pcs\ncoil 2026-01-01 0\nlamp 2026-01-01 40",
    )
    basket = plan.baskets.iloc[0]
    assert basket["goods_amount"] >= 60 and basket["freight_amount"] == 0


def test_a_part_received_before_it_was_ordered_says_nothing_of_the_lead_time():
    plan = plan_of(
        orders="order_no vendor ordered_on\nP1 north 2025-06-10",
        order_lines="order_no part qty_pcs unit_price received_on\nP1 coil 1 18 2025-06-01",
    )
    assert plan.facts.lead_times.frame["receipts"].tolist() == [0]


def test_more_received_than_ordered_leaves_nothing_on_order():
    row = line(
        orders="order_no vendor ordered_on\nP1 north 2025-12-10",
        order_lines="order_no part qty_pcs unit_price received_on\nP1 coil 2 18 -",
        receipts="order_no part received_on received_pcs\nP1 coil 2026-01-05 3",
    )
    assert (row["on_hand_pcs"], row["on_order_pcs"]) == (3, 0)


@pytest.mark.parametrize("key", ["holding_rate_share", "bay_cost_per_day", "labour_cost", "cash_limit_amount"])
def test_settings_of_zero_still_give_a_plan(key):
    row = line(shop=BASE["shop"] + f"\n{key} 0")
    assert row["order_up_to_pcs"] >= 0 and row["why"]


def test_a_cash_limit_nobody_can_keep_leaves_only_what_jobs_ask_for():
    tight = plan_of(True, shop=BASE["shop"] + "\ncash_limit_amount 1")
    assert tight.lines["order_up_to_pcs"].sum() < plan_of().lines["order_up_to_pcs"].sum()


def test_an_enormous_need_is_planned_to_the_piece():
    row = line(
        jobs=BASE["jobs"] + "\nR1 em thorough 2025-12-20 2026-01-05 -",
        findings="job assembly part qty_pcs condition\nR1 harness lamp 4000 missing",
        part="lamp",
    )
    assert row["committed_pcs"] >= 4000 and row["order_pcs"] >= 4000


def test_a_need_for_a_part_no_job_ever_took_is_bought_for_that_job():
    row = line(
        "board",
        parts=BASE["parts"] + "\nboard Board",
        counts=BASE["counts"] + "\nboard 2026-01-01 0",
        offers=BASE["offers"] + "\nnorth board 120",
        jobs=BASE["jobs"] + "\nR1 em thorough 2025-12-20 2026-01-05 -",
        findings="job assembly part qty_pcs condition\nR1 power board 1 failed",
    )
    assert (row["committed_pcs"], row["order_pcs"], row["order_up_to_pcs"]) == (1, 1, 0)


@pytest.mark.parametrize(
    ("pack_pcs", "pack_price"), [(100_000, 99999999999999), (100_000, 18), (10_000, 99999999999999)]
)
def test_a_pack_out_of_all_measure_is_refused_by_the_name_of_its_part(pack_pcs, pack_price):
    with pytest.raises(InvalidParameter, match=rf"part coil: packs of {pack_pcs:,} pieces.* Check its pack_pcs and"):
        plan_of(offers=f"vendor part pack_pcs pack_price\nnorth coil {pack_pcs} {pack_price}\nnorth lamp 1 0.3")


@pytest.mark.parametrize("received_on", ["-", "2025-12-20"])
def test_an_order_line_of_a_hundred_thousand_at_an_absurd_price_is_planned_around(received_on):
    plan = plan_of(
        orders="order_no vendor ordered_on\nP1 north 2025-12-10",
        order_lines=f"order_no part qty_pcs unit_price received_on\nP1 coil 100000 99999999 {received_on}",
    )
    rows = order_plan.table(plan).set_index("part")
    assert rows.loc["coil", "on_order_pcs"] == (100_000 if received_on == "-" else 0)
    assert rows.loc["lamp", "order_pcs"] > 0 and rows.loc["lamp", "vendor"] == "north"


def test_an_absurd_price_beside_others_leaves_them_as_they_are():
    findings = {
        "jobs": BASE["jobs"] + "\nR1 em thorough 2025-12-20 2026-01-05 -",
        "findings": "job assembly part qty_pcs condition\nR1 power coil 2 failed",
    }
    usual, absurd = (plan_of(offers=f"vendor part pack_price\nnorth coil {price}\nnorth lamp 0.3", **findings)
                     for price in (18, 99999999))
    rows = order_plan.table(absurd).set_index("part")
    assert rows.loc["coil", "order_pcs"] == 2 and rows.loc["coil", "line_amount"] == 2 * 99999999
    assert rows.loc["lamp", "packs"] == order_plan.table(usual).set_index("part").loc["lamp", "packs"]


def test_a_minimum_nobody_reaches_is_said_in_the_line():
    row = line(vendors="vendor freight_flat minimum_order lead_time_days order_hours\nnorth 9 90000 6 0.4")
    assert row["order_pcs"] > 0 and pd.isna(row["packs"]) and pd.isna(row["line_amount"])
    assert "Not ordered: north takes no order below 90000 and all that is of use from it comes to" in row["why"]


def test_unknown_freight_is_said_in_the_line():
    row = line(vendors="vendor lead_time_days\nnorth 6")
    assert "Freight of north is unknown: none is reckoned." in row["why"]
