"""Idle stock and bins to count, on one shelf written by hand: each part shows one reason."""

import pandas as pd
import pytest

from pipeline.decisions import count_list, idle_stock, order_plan
from tests.support import hand_shop

DAYS = [f"2025-{n:02d}" for n in range(1, 13)]
PARTS = {  # part: supply, keep, unit_cost, pieces counted, day
    "busy": ("steady", "auto", 1, 30, "2026-01-02"), "still": ("steady", "auto", 8, 5, "2026-01-02"),
    "charm": ("steady", "always", 9, 3, "2026-01-02"), "shunned": ("steady", "never", 2, 4, "2026-01-02"),
    "priceless": ("steady", "auto", "-", 7, "2026-01-02"), "old_dear": ("steady", "auto", 60, 50, "2024-06-01"),
    "old_cheap": ("steady", "auto", 1, 2, "2024-06-01"), "short": ("steady", "auto", 5, 1, "2026-01-02"),
    "sold": ("steady", "auto", 3, 8, "2026-01-02"), "wanted": ("steady", "auto", 4, 6, "2026-01-02"),
    "packed": ("steady", "auto", 2, 90, "2025-03-01"), "never": ("steady", "auto", 2, None, None),
    "unused": ("steady", "auto", 2, None, None),
}
TABLES = {
    "shop": "key value\ntoday 2026-01-10",
    "families": "family name\nem EM",
    "parts": "part description wear_class supply keep unit_cost shelf\n" + "\n".join(
        f"{part} {part} other {supply} {keep} {cost} B1" for part, (supply, keep, cost, *_) in PARTS.items()),
    "jobs": "job family scope booked_on planned_start_on started_on delivered_on\n" + "\n".join(
        f"D{n} em thorough {day}-01 - {day}-03 {day}-25" for n, day in enumerate(DAYS, 1))
    + "\nB1 em thorough 2025-12-20 2026-02-01 - -",
    "job_parts": "job part qty_pcs used_on\n" + "\n".join(
        f"D{n} busy 2 {day}-05\nD{n} never 1 {day}-05" for n, day in enumerate(DAYS, 1))
    + "\nD12 short 4 2026-01-05\nD11 packed 40 2025-11-06\nD1 packed 4 2025-01-06",
    "counts": "part counted_on qty_pcs\n" + "\n".join(
        f"{part} {day} {pcs}" for part, (*_, pcs, day) in PARTS.items() if day),
    "stock_moves": "part moved_on qty_pcs kind\nsold 2025-06-01 -1 sold",
    "findings": "job assembly part qty_pcs condition\nB1 flip wanted 5 failed",
    "assemblies": "assembly name\nflip Flip",
    "family_assemblies": "family assembly count\nem flip 1",
    "assembly_parts": "assembly part qty_pcs\nflip packed 4",
}


@pytest.fixture(scope="module")
def made():
    with hand_shop.store(**TABLES) as connection:
        plan = order_plan.make(connection)
        idle = idle_stock.table(plan, connection)
        return plan, idle, count_list.table(plan, connection)


@pytest.fixture
def plan(made):
    return made[0].lines.set_index("part")


@pytest.fixture
def idle(made):
    return made[1].set_index("part")


@pytest.fixture
def counts(made):
    return made[2].set_index("part")


def test_the_tables_have_the_columns_of_the_contract(made):
    assert list(made[1]) == ["part", "on_hand_pcs", "likely_use_12m_pcs", "idle_pcs", "idle_amount"]
    assert list(made[2]) == ["part", "shelf", "book_pcs", "last_counted_on", "worth_amount", "why"]


class TestIdleStock:
    def test_what_no_job_will_take_is_idle_at_its_price(self, idle):
        assert idle.loc["still"].tolist() == [5, 0, 5, 40.0]

    def test_a_part_in_use_is_idle_only_beyond_a_year_s_likely_use(self, idle, plan):
        assert 15 < plan.loc["busy", "year_use_pcs"] < 40
        likely = 30 - (idle.loc["busy", "idle_pcs"] if "busy" in idle.index else 0)
        assert likely >= 20

    def test_what_a_job_has_written_down_is_not_idle(self, idle):
        assert idle.loc["wanted", ["likely_use_12m_pcs", "idle_pcs"]].tolist() == [5, 1]

    def test_the_last_piece_of_a_part_kept_by_the_owner_s_word_is_not_idle(self, idle):
        assert idle.loc["charm", "idle_pcs"] == 2 and idle.loc["shunned", "idle_pcs"] == 4

    def test_an_unknown_price_is_no_price_of_zero(self, idle):
        assert idle.loc["priceless", "idle_pcs"] == 7 and pd.isna(idle.loc["priceless", "idle_amount"])

    def test_parts_below_none_or_never_counted_are_not_judged(self, idle):
        assert not {"short", "never", "unused"} & set(idle.index)

    def test_the_dearest_comes_first(self, made):
        amounts = made[1]["idle_amount"].dropna()
        assert amounts.is_monotonic_decreasing and made[1]["part"].iloc[0] == "old_dear"


class TestCountList:
    def test_a_book_below_none_comes_first_with_its_likely_cause(self, made):
        first = made[2].iloc[0]
        assert (first["part"], first["book_pcs"], first["worth_amount"]) == ("short", -3, 15.0)
        assert first["why"].startswith("the book says -3: more taken than was there")

    def test_a_taking_of_more_than_a_machine_holds_since_the_count(self, counts):
        assert counts.loc["packed", "why"].startswith("job D11 took 40 of a machine's 4: a pack entered as a piece?")

    def test_a_dear_bin_not_counted_for_a_year_says_how_old_the_count_is(self, counts):
        assert counts.loc["old_dear", "why"] == "last counted 19 months ago"
        assert counts.loc["old_dear", ["book_pcs", "worth_amount"]].tolist() == [50, 3000.0]
        assert counts.loc["old_dear", "last_counted_on"] == pd.Timestamp("2024-06-01")

    def test_a_cheap_one_as_old_is_left_and_so_is_a_fresh_count(self, counts):
        assert not {"old_cheap", "still", "busy"} & set(counts.index)

    def test_a_part_in_use_that_nobody_counted_is_listed_and_one_out_of_use_is_not(self, counts):
        assert counts.loc["never", "why"] == "never counted" and "unused" not in counts.index
        assert pd.isna(counts.loc["never", "book_pcs"]) and pd.isna(counts.loc["never", "last_counted_on"])

    def test_every_line_says_where_and_why(self, counts):
        assert counts["why"].str.len().gt(0).all() and (counts["shelf"] == "B1").all()


class TestOwnersWord:
    def test_always_keeps_one_that_no_job_asks_for_and_says_whose_word_it_is(self, plan):
        levels = plan.loc["charm", ["shelf_rule", "reorder_point_pcs", "order_up_to_pcs"]].tolist()
        assert levels == ["one_or_two", 0, 1]
        assert "by the owner's word" in plan.loc["charm", "why"]

    def test_never_keeps_none_and_says_whose_word_it_is(self, plan):
        assert plan.loc["shunned", ["shelf_rule", "reorder_point_pcs", "order_up_to_pcs"]].tolist() == [
            "not_stocked", -1, 0]
        assert "kept by the owner's word at none" in plan.loc["shunned", "why"].lower()

    def test_without_a_word_of_the_owner_none_is_claimed(self, plan):
        assert not plan.loc[plan["keep"] == "auto", "why"].str.contains("owner's word").any()


@pytest.mark.parametrize(("supply", "keep", "level"), [
    ("scarce", "always", 1), ("ended", "always", 1), ("scarce", "never", 0), ("ended", "never", 0)])
def test_the_owner_s_word_holds_on_every_shelf(supply, keep, level):
    parts = f"part description supply keep\nlamp Lamp {supply} {keep}"
    tables = {name: TABLES[name] for name in ("shop", "families", "jobs")} | {
        "job_parts": "job part qty_pcs used_on\nD1 lamp 1 2025-01-05", "parts": parts}
    with hand_shop.store(**tables) as connection:
        line = order_plan.make(connection).lines.iloc[0]
    assert line["order_up_to_pcs"] >= level if keep == "always" else line["order_up_to_pcs"] == level
    assert "owner's word" in line["why"]
