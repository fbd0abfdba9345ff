"""Bad cells of a shop folder in front of the order plan, through the load: a stated answer, never a silent guess.

Each case is a folder of its own; what it must show stands in the list of records, in the plan's line or in both.
"""

import pandas as pd
import pytest

from pipeline.decisions import order_plan, pick_list
from pipeline.errors import RecordsError
from pipeline.store import connect
from tests.support import small_shop

MONTHS = range(1, 13)
FILES = {
    "shop": "key,value\ntoday,2026-01-10\n",
    "families": "family,name\nem,EM\n",
    "parts": "part,description\ncoil,Coil\nlamp,Lamp\n",
    "jobs": "job,family,scope,booked_on,started_on,delivered_on,invoiced_amount\n" + "".join(
        f"D{n},em,thorough,2025-{n:02d}-01,2025-{n:02d}-03,2025-{n:02d}-25,900\n" for n in MONTHS),
    "job_parts": "job,part,qty_pcs,used_on\n" + "".join(
        f"D{n},lamp,10,2025-{n:02d}-05\nD{n},coil,1,2025-{n:02d}-05\n" for n in MONTHS),
    "job_hours": "job,hours\n" + "".join(f"D{n},12\n" for n in MONTHS),
    "vendors": "vendor,freight_flat,freight_free_over,minimum_order,lead_time_days,order_hours\nnorth,9,,,6,0.4\n",
    "offers": "vendor,part,pack_pcs,pack_price\nnorth,coil,1,18\nnorth,lamp,1,0.3\n",
    "counts": "part,counted_on,qty_pcs\ncoil,2026-01-01,0\nlamp,2026-01-01,0\n",
}
RUNNING = {"jobs": FILES["jobs"] + "R1,em,thorough,2025-12-20,2026-01-05,,\n"}


class Answer:
    """What a shop folder was answered: what is said of its rows, the plan's lines by part, its baskets and picks."""

    def __init__(self, tmp_path, **changed):
        kept = {name: text for name, text in (FILES | changed).items() if text is not None}
        store, summary = small_shop.load(tmp_path / "shop", kept)
        self.rows = [(row.outcome, row.file, row.column, row.rule, row.suggestion)
                     for row in summary.records.itertuples() if row.outcome in ("set_aside", "noted")]
        with connect.open_read(store) as connection:
            plan = order_plan.make(connection)
            self.picks = pick_list.table(pick_list.make(plan, connection)).set_index("part")
        self.table, self.baskets = order_plan.table(plan).set_index("part"), plan.baskets
        self.coil, self.lamp = self.table.loc["coil"], self.table.loc["lamp"]

    def says(self, *entry):
        return [row for row in self.rows if row[: len(entry)] == entry]


def is_wanted_unpriced(line):
    """The line keeps what is wanted, names no vendor and puts no amount on it."""
    return line["order_pcs"] > 0 and line[["vendor", "packs", "unit_price", "line_amount"]].isna().all()


def offers(*rows):
    return "vendor,part,pack_pcs,pack_price\n" + "".join(f"{row}\n" for row in (*rows, "north,lamp,1,0.3"))


def test_the_folder_itself_has_nothing_to_remark_on(tmp_path):
    answer = Answer(tmp_path)
    assert answer.rows == []
    assert answer.coil["vendor"] == "north" and answer.coil["line_amount"] == 18 * answer.coil["order_pcs"]


class TestPriceOfZero:
    def test_alone_it_is_no_price_and_whom_to_ask_is_said(self, tmp_path):
        answer = Answer(tmp_path, offers=offers("north,coil,1,0"))
        assert is_wanted_unpriced(answer.coil)
        assert "No price known: the rule reckons with the middle of its class" in answer.coil["why"]
        assert "An offer at 0 is no price and left out: ask north." in answer.coil["why"]
        assert answer.says("noted", "offers.csv", "pack_price", "offer_at_no_price")
        assert answer.lamp["vendor"] == "north" and "offer at 0" not in answer.lamp["why"]

    def test_beside_another_offer_it_never_wins(self, tmp_path):
        answer = Answer(tmp_path, offers=offers("north,coil,1,0", "south,coil,1,20"),
                        vendors=FILES["vendors"] + "south,5,,,9,0.3\n")
        assert (answer.coil["vendor"], answer.coil["unit_price"]) == ("south", 20)
        assert "An offer at 0 is no price and left out: ask north." in answer.coil["why"]

    def test_a_break_at_zero_leaves_the_price_of_few(self, tmp_path):
        breaks = "vendor,part,pack_pcs,pack_price,from_packs\nnorth,coil,1,18,1\nnorth,coil,1,0,5\nnorth,lamp,1,0.3,1\n"
        answer = Answer(tmp_path, offers=breaks)
        assert answer.coil["order_pcs"] > 5 and answer.coil["unit_price"] == 18
        assert "left out: ask north" in answer.coil["why"]

    def test_where_it_was_bought_before_the_price_last_paid_stands_in(self, tmp_path):
        answer = Answer(tmp_path, offers=offers("north,coil,1,0"),
                        orders="order_no,vendor,ordered_on\nP1,north,2025-05-01\n",
                        order_lines="order_no,part,qty_pcs,unit_price,received_on\nP1,coil,3,17,2025-05-06\n")
        assert answer.coil["unit_price"] == 17
        assert "No offer with a price: priced as last paid to north. An offer at 0" in answer.coil["why"]


@pytest.mark.parametrize("row, column, rule", [
    ("north,coil,0,18", "pack_pcs", "range"),
    ("north,coil,-5,18", "pack_pcs", "range"),
    ("north,coil,1,", "pack_price", "required"),
    ("north,coil,1,-18", "pack_price", "range"),
    (",coil,1,18", "vendor", "required"),
    ("nrth,coil,1,18", "vendor", "unknown_vendor"),
])
def test_an_offer_that_cannot_be_is_set_aside_and_the_part_stays_wanted(tmp_path, row, column, rule):
    answer = Answer(tmp_path, offers=offers(row))
    (aside,) = answer.says("set_aside")
    assert aside[1:4] == ("offers.csv", column, rule) and aside[4]
    assert answer.says("noted", "parts.csv", "unit_cost", "part_without_price")
    assert is_wanted_unpriced(answer.coil)
    assert "No price known, and nobody offers it today" in answer.coil["why"]
    assert answer.lamp["vendor"] == "north"


def test_a_part_nobody_offers_is_wanted_without_vendor_or_amount(tmp_path):
    answer = Answer(tmp_path, offers=offers())
    assert is_wanted_unpriced(answer.coil)
    assert "No price known, and nobody offers it today: the rule reckons with the middle of its class" in (
        answer.coil["why"])


def test_a_class_without_any_price_is_not_said_to_have_a_middle(tmp_path):
    answer = Answer(tmp_path, offers=offers(), parts="part,description,wear_class\ncoil,Coil,coil\nlamp,Lamp,lamp\n")
    assert "reckons with the middle of all known prices, as none of its class is known" in answer.coil["why"]


def test_without_offers_the_missing_file_is_named(tmp_path):
    answer = Answer(tmp_path, offers=None)
    assert is_wanted_unpriced(answer.coil) and is_wanted_unpriced(answer.lamp)
    assert "reckons with 1 a piece, as no price is known at all; offers.csv would price it" in answer.coil["why"]
    assert answer.baskets.empty


def test_offers_of_vendors_nobody_wrote_down_are_bought_at_unknown_freight(tmp_path):
    answer = Answer(tmp_path, vendors=None)
    assert answer.says("noted", "vendors.csv")[0][3] == "file_absent"
    assert "Freight of north is unknown: none is reckoned." in answer.coil["why"]
    assert pd.isna(answer.baskets.loc[0, "freight_amount"]) and pd.isna(answer.baskets.loc[0, "total_amount"])


def test_offers_without_a_column_of_vendors_are_refused_in_words(tmp_path):
    with pytest.raises(RecordsError, match="vendor"):
        Answer(tmp_path, offers="part,pack_pcs,pack_price\ncoil,1,18\n")


def test_a_count_older_than_a_year_is_brought_up_to_date_by_use_and_doubted(tmp_path):
    answer = Answer(tmp_path, counts="part,counted_on,qty_pcs\ncoil,2024-06-01,30\nlamp,2026-01-01,0\n")
    assert answer.coil["on_hand_pcs"] == 30 - 12
    assert answer.coil["why"].endswith("Doubt: last counted 19 months ago.")
    assert "Doubt" not in answer.lamp["why"]


def test_freight_free_below_the_minimum_is_noted_and_never_charged(tmp_path):
    vendors = FILES["vendors"].replace("north,9,,,", "north,9,20,60,")
    counts = FILES["counts"].replace("lamp,2026-01-01,0", "lamp,2026-01-01,90")
    answer = Answer(tmp_path, vendors=vendors, counts=counts)
    (noted,) = answer.says("noted", "vendors.csv")
    assert noted[2:4] == ("freight_free_over", "free_freight_below_minimum") and "are the two swapped?" in noted[4]
    (basket,) = answer.baskets.to_dict("records")
    assert basket["goods_amount"] >= 60 and basket["freight_amount"] == 0
    assert basket["total_amount"] == basket["goods_amount"]


class TestCircularInterchange:
    """A job is short of parts whose rules of standing in run in a circle; one of them lies there."""

    def answer(self, tmp_path, rules, counts, needs):
        return Answer(tmp_path, **RUNNING, interchange="part,can_replace,condition\n" + rules,
                      parts=FILES["parts"] + "bulb,Bulb\ncap,Cap\n", counts=FILES["counts"] + counts,
                      findings="job,assembly,part,qty_pcs,condition\n" + needs)

    def test_two_that_replace_each_other_are_offered_once_and_own_need_goes_first(self, tmp_path):
        answer = self.answer(tmp_path, "bulb,lamp,dimmer\nlamp,bulb,\n", "bulb,2026-01-01,20\n",
                             "R1,head,lamp,12,failed\nR1,head,bulb,15,failed\n")
        assert answer.picks.loc["bulb", ["on_shelf_pcs", "short_pcs"]].tolist() == [15, 0]
        assert answer.picks.loc["lamp", ["short_pcs", "substitute", "condition"]].tolist() == [
            12, "bulb (5 of 12)", "dimmer"]
        assert "1 booked job needs 12, 0 on the shelf" in answer.lamp["why"] and answer.lamp["order_pcs"] >= 12

    def test_a_circle_of_three_ends_where_it_began(self, tmp_path):
        answer = self.answer(tmp_path, "bulb,lamp,dimmer\nlamp,cap,\ncap,bulb,filed\n",
                             "bulb,2026-01-01,0\ncap,2026-01-01,20\n", "R1,head,lamp,12,failed\n")
        assert answer.picks.loc["lamp", ["substitute", "condition"]].tolist() == ["cap", "dimmer; filed"]

    def test_with_none_of_them_there_each_stays_short_and_is_ordered_for_itself(self, tmp_path):
        answer = self.answer(tmp_path, "bulb,lamp,\nlamp,bulb,\n", "bulb,2026-01-01,0\n",
                             "R1,head,lamp,12,failed\nR1,head,bulb,15,failed\n")
        assert answer.picks["short_pcs"].tolist() == [15, 12] and answer.picks["substitute"].isna().all()
        assert is_wanted_unpriced(answer.table.loc["bulb"]) and answer.table.loc["bulb", "order_pcs"] == 15

    def test_a_part_that_replaces_itself_is_noted_and_offers_nothing(self, tmp_path):
        answer = self.answer(tmp_path, "lamp,lamp,\n", "bulb,2026-01-01,20\n", "R1,head,lamp,12,failed\n")
        assert answer.says("noted", "interchange.csv", "can_replace", "part_replaces_itself")
        assert pd.isna(answer.picks.loc["lamp", "substitute"])
