"""The plan on a small shop written by hand: netting, hard constraints, and what absent files leave open."""

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions import order_plan
from tests.support import hand_shop

CONTRACT = [
    "part",
    "shelf_rule",
    "on_hand_pcs",
    "on_order_pcs",
    "committed_pcs",
    "reorder_point_pcs",
    "order_up_to_pcs",
    "order_pcs",
    "vendor",
    "vendor_part",
    "packs",
    "pack_pcs",
    "unit_price",
    "line_amount",
    "why",
]
JOBS = [(f"D{n}", f"2025-{n:02d}-01", f"2025-{n:02d}-03", f"2025-{n:02d}-25") for n in range(1, 13)]
BASE = {
    "shop": "key value\ntoday 2026-01-10\nlabour_cost 30\nbay_cost_per_day 10\nholding_rate_share 0.2",
    "families": "family name\nem EM",
    "parts": """part description supply keep unit_cost
        sleeve Sleeve - - -
        lamp Lamp - - -
        coil Coil - - -
        decal Decal scarce - 4
        board Board - never 90
        idle Idle - - 3""",
    "jobs": "job family scope booked_on started_on delivered_on planned_start_on\n"
    + "\n".join(f"{job} em thorough {booked} {begun} {done} -" for job, booked, begun, done in JOBS)
    + "\nB1 em thorough 2026-01-02 - - 2026-01-12\nR1 em thorough 2025-12-01 2026-01-05 - -",
    "job_parts": "job part qty_pcs used_on\n"
    + "\n".join(
        f"{job} sleeve 6 {begun}\n{job} lamp 30 {begun}\n{job} decal {1 + n % 2} {begun}"
        + (f"\n{job} coil 1 {begun}" if n % 3 == 0 else "")
        for n, (job, _, begun, _) in enumerate(JOBS)
    ),
    "findings": "job assembly part qty_pcs condition\nR1 flip coil 2 failed\nR1 flip board 1 failed",
    "vendors": "vendor freight_flat freight_free_over minimum_order order_hours lead_time_days\n"
    "north 9 100 0 0.4 6\nsouth 12 - 20 0.5 12",
    "offers": """vendor part vendor_part pack_pcs pack_price from_packs available
        north sleeve N1 1 1.0 1 -
        north sleeve N1 1 0.8 20 -
        south lamp S7 10 2.5 1 -
        north coil N2 1 18 1 -
        south coil S2 1 17 1 -
        south decal S9 1 5 1 run
        north board N8 1 95 1 -""",
    "counts": "part counted_on qty_pcs\nsleeve 2026-01-05 4\nlamp 2026-01-05 12\ncoil 2026-01-05 1\n"
    "board 2026-01-05 0\ndecal 2026-01-05 2\nidle 2026-01-05 9",
}


def plan_of(without=(), **tables):
    kept = {name: text for name, text in (BASE | tables).items() if name not in without}
    with hand_shop.store(**kept) as connection:
        return order_plan.make(connection)


def table_of(without=(), **tables):
    return order_plan.table(plan_of(without, **tables)).set_index("part")


@pytest.fixture(scope="module")
def plan():
    return plan_of()


@pytest.fixture(scope="module")
def table(plan):
    return order_plan.table(plan).set_index("part")


def test_every_part_has_a_row_and_the_columns_are_the_contract(plan):
    made = order_plan.table(plan)
    assert list(made.columns) == CONTRACT
    assert sorted(made["part"]) == ["board", "coil", "decal", "idle", "lamp", "sleeve"]
    assert {str(made[name].dtype) for name in order_plan.WHOLE} == {"Int64"}


def test_what_is_ordered_comes_first(plan):
    ordered = (order_plan.table(plan)["order_pcs"] > 0).tolist()
    assert ordered == sorted(ordered, reverse=True)


def test_the_arithmetic_of_a_line_can_be_checked_by_hand(plan):
    lines = plan.lines[plan.lines["supply"] == "steady"].set_index("part")
    position = lines["on_hand_pcs"] + lines["on_order_pcs"] - lines["committed_pcs"]
    is_due = position <= lines["reorder_point_pcs"]
    lots = np.ceil((lines["join_point_pcs"] + 1 - position) / lines["lot_pcs"]) * lines["lot_pcs"]
    assert is_due.sum() >= 3 and (lines["short_pcs"][is_due] == lots[is_due]).all()
    assert (position + lots <= lines["order_up_to_pcs"])[is_due].all()
    bought = lines["order_pcs"] + plan.second_lines.groupby("part")["order_pcs"].sum().reindex(lines.index).fillna(0)
    assert (bought[is_due] >= lots[is_due]).all()
    assert (lines["order_pcs"][~is_due & ~lines["is_forward"]] == 0).all()


def test_a_part_that_will_be_due_soon_joins_an_order_that_goes_out_anyhow(plan):
    lines = plan.lines.set_index("part")
    joined = lines[lines["is_joined"].astype(bool)]
    assert (joined["position_pcs"] > joined["reorder_point_pcs"]).all()
    assert (joined["position_pcs"] <= joined["join_point_pcs"]).all()
    assert joined["vendor"].isin(plan.baskets["vendor"]).all()
    assert joined["why"].str.contains("Joins today's order to").all()


def test_packs_prices_and_amounts_agree(table):
    ordered = table[table["order_pcs"] > 0]
    assert (ordered["packs"] * ordered["pack_pcs"] == ordered["order_pcs"]).all()
    np.testing.assert_allclose((ordered["unit_price"] * ordered["order_pcs"]).astype(float), ordered["line_amount"])
    assert (ordered["unit_price"] > 0).all()
    assert table.loc["lamp", "order_pcs"] % 10 == 0


def test_a_written_need_is_reserved_to_the_piece(table):
    row = table.loc["board"]  # the owner keeps none; the running job needs one
    assert (row["committed_pcs"], row["reorder_point_pcs"], row["order_up_to_pcs"], row["order_pcs"]) == (1, -1, 0, 1)
    assert (row["shelf_rule"], row["vendor"]) == ("not_stocked", "north")
    assert row["why"].startswith("1 booked job needs 1, 0 on the shelf. Kept by the owner's word at none")


def test_a_booked_job_without_findings_reserves_what_such_jobs_take(table):
    assert 4 <= table.loc["sleeve", "committed_pcs"] <= 8  # twelve of twelve jobs took six
    assert f"{table.loc['sleeve', 'committed_pcs']} kept for booked work" in table.loc["sleeve", "why"]


def test_findings_replace_expectation_for_their_job():
    without = table_of(findings="job assembly part qty_pcs condition\nB1 flip coil 2 failed\nB1 flip sleeve 1 good")
    both = table_of(without=["findings"])
    assert without.loc["sleeve", "committed_pcs"] < both.loc["sleeve", "committed_pcs"]


def test_the_shop_buys_when_a_run_is_seen_and_orders_nothing_blindly(table):
    row = table.loc["decal"]
    assert (row["shelf_rule"], row["order_pcs"]) == ("when_seen", 0)
    assert "when one is seen, buy" in row["why"] and "2 years" in row["why"]


def test_a_part_nobody_uses_is_left_alone(table):
    row = table.loc["idle"]
    assert (row["reorder_point_pcs"], row["order_up_to_pcs"], row["order_pcs"], row["shelf_rule"]) == (
        -1,
        0,
        0,
        "not_stocked",
    )


def test_a_job_short_of_a_part_pays_for_the_faster_vendor(table):
    # coils are cheaper from the south but twelve days away, and a running job waits for two
    assert table.loc["coil", "vendor"] == "north"
    patient = table_of(without=["findings"], counts=BASE["counts"].replace("coil 2026-01-05 1", "coil 2026-01-05 40"))
    assert patient.loc["coil", "vendor"] == "south"


def test_what_is_on_its_way_is_not_ordered_again(table):
    coming = table_of(
        orders="order_no vendor ordered_on\nP1 south 2026-01-08",
        order_lines="order_no part qty_pcs unit_price received_on\nP1 lamp 900 0.25 -",
    )
    assert coming.loc["lamp", "on_order_pcs"] == 900
    assert coming.loc["lamp", "order_pcs"] == 0 < table.loc["lamp", "order_pcs"]


def test_the_vendors_minimum_is_kept(plan):
    goods = plan.baskets.set_index("vendor")["goods_amount"]
    assert goods["south"] >= 20


def test_baskets_add_up_to_the_lines(plan):
    lines = plan.lines[plan.lines["order_pcs"] > 0].groupby("vendor")["line_amount"].sum()
    made = plan.baskets.set_index("vendor")
    np.testing.assert_allclose(made["goods_amount"], lines.reindex(made.index))
    np.testing.assert_allclose(made["total_amount"], made["goods_amount"] + made["freight_amount"])


def test_a_cash_limit_lowers_the_levels_and_is_said(table):
    limited = plan_of(shop=BASE["shop"] + "\ncash_limit_amount 25")
    lower = order_plan.table(limited).set_index("part")
    assert lower.loc["coil", "order_up_to_pcs"] <= table.loc["coil", "order_up_to_pcs"]
    assert lower["order_up_to_pcs"].sum() < table["order_up_to_pcs"].sum()
    assert "cash limit of 25" in limited.notes[1]


def test_the_method_is_named_with_what_a_fuller_one_would_add(plan):
    assert plan.notes[0] == order_plan.METHOD
    assert "worth a week of holding it" in order_plan.METHOD and "is not counted" in order_plan.METHOD
    assert "all vendors at once, in one exact program" in order_plan.METHOD
    assert "split over two offers at most" in order_plan.METHOD


def test_the_same_store_gives_the_same_plan(plan, table):
    pd.testing.assert_frame_equal(order_plan.table(plan_of()).set_index("part"), table)


@pytest.fixture(scope="module")
def split():
    """A running job needs 13 of a part the owner keeps none of: a pack of ten and three single ones."""
    return plan_of(
        findings="job assembly part qty_pcs condition\nR1 flip board 13 failed",
        offers=BASE["offers"].replace(
            "north board N8 1 95 1 -", "north board N8 10 20 1 -\nnorth board N9 1 3 1 -"))


class TestSplit:
    def test_the_lines_stay_one_a_part_and_the_second_stands_apart(self, split):
        assert split.lines["part"].is_unique and len(split.lines) == 6
        second = split.second_lines.query("part == 'board'")
        assert second[["part", "order_pcs", "vendor_part"]].to_numpy().tolist() == [["board", 3, "N9"]]
        assert (split.order_lines["part"] == "board").sum() == 2

    def test_the_table_has_both_and_the_shelf_once(self, split):
        rows = order_plan.table(split).query("part == 'board'").set_index("vendor_part")
        assert list(order_plan.table(split).columns) == CONTRACT
        assert rows["order_pcs"].to_dict() == {"N8": 10, "N9": 3}
        assert rows["line_amount"].to_dict() == {"N8": 20, "N9": 9}
        assert pd.isna(rows.loc["N9", order_plan.LEVELS]).all() and rows.loc["N8", "committed_pcs"] == 13
        assert rows.loc["N9", "why"].startswith("Second line for the same need. Split: 10 from north")

    def test_the_basket_counts_both(self, split):
        north = split.baskets.set_index("vendor").loc["north"]
        ours = split.order_lines[split.order_lines["vendor"] == "north"]
        assert north["lines"] == len(ours) and north["goods_amount"] == pytest.approx(ours["line_amount"].sum())


class TestWithout:
    def test_offers_the_quantity_stands_and_the_price_is_missing(self):
        made = table_of(without=["offers"])
        row = made.loc["sleeve"]
        assert row["order_pcs"] > 0
        assert pd.isna(row["unit_price"]) and pd.isna(row["line_amount"]) and pd.isna(row["packs"])
        assert "offers.csv would price it" in row["why"]

    def test_offers_the_last_price_paid_stands_in(self):
        made = table_of(
            without=["offers"],
            orders="order_no vendor ordered_on\nP1 north 2025-06-01",
            order_lines="order_no part qty_pcs unit_price received_on\nP1 sleeve 5 0.9 2025-06-09",
        )
        assert made.loc["sleeve", ["vendor", "unit_price"]].tolist() == ["north", 0.9]
        assert "priced as last paid to north" in made.loc["sleeve", "why"]

    def test_counts_no_quantity_is_invented(self):
        made = table_of(without=["counts"])
        assert made["on_hand_pcs"].isna().all() and made["order_pcs"].isna().all() and made["line_amount"].isna().all()
        assert made["order_up_to_pcs"].notna().all()
        assert made["why"].str.contains("counts.csv would tell").all()

    def test_vendors_and_offers_lead_times_are_assumed_and_it_is_said(self):
        made = plan_of(without=["vendors", "offers"])
        assert made.baskets.empty
        assert any("14 days are assumed" in note for note in made.notes)

    def test_all_but_three_files_the_levels_are_there(self):
        names = ("sleeve", "lamp", "coil", "decal", "board", "idle")
        made = plan_of(
            without=["counts", "vendors", "offers", "findings", "shop"],
            parts="part description\n" + "\n".join(f"{part} x" for part in names),
        )
        rows = order_plan.table(made).set_index("part")
        assert rows.loc["sleeve", "order_up_to_pcs"] > 0
        assert any("No price of any part is known" in note for note in made.notes)

    def test_anything_the_table_is_empty_but_whole(self):
        with hand_shop.store() as connection:
            made = order_plan.make(connection)
        assert list(order_plan.table(made).columns) == CONTRACT
        assert made.baskets.empty and len(order_plan.table(made)) == 0
