"""One basket per vendor: freight, thresholds, minimums, and what comes forward."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import baskets, offer_book
from pipeline.store import read
from tests.support import hand_shop

NOTHING_ELSE = {"order_up_to_pcs": [4, 0, 0, 0, 0, 0]}
OFFERS = """vendor part pack_pcs pack_price
north due 1 10
north soon 1 4
north later 1 25
north bag 10 3
south other 1 6"""
PARTS = ["due", "soon", "later", "bag", "other", "unpriced"]


def shop(north="10 100 0", south="5 - 0", offers=OFFERS, labour_cost=0.0):
    """Terms and offers; freight_flat, freight_free_over and minimum_order of each vendor; an hour's work an order."""
    with hand_shop.store(
        parts="part description\n" + "\n".join(f"{part} x" for part in PARTS),
        vendors="vendor freight_flat freight_free_over minimum_order order_hours\n"
        f"north {north} 1\nsouth {south} 1",
        offers=offers,
    ) as connection:
        terms = read.frame(connection, "vendor_terms").assign(freight_share=0.0)
        return terms, offer_book.open_book(connection, terms, labour_cost)


def lines(due_pcs=4, **columns):
    """Four parts of north: one due, one due in 2 weeks, one in 10, a bag in 5; one of south, not due."""
    frame = pd.DataFrame(
        {
            "part": PARTS,
            "vendor": ["north", "north", "north", "north", "south", None],
            "vendor_part": None,
            "supply": "steady",
            "is_made_in_runs": False,
            "is_forward": False,
            "is_joined": False,
            "week_use_pcs": [1, 1, 0.5, 1, 1, 0.0],
            "position_pcs": [0.0, 4, 8, 8, 9, 0],
            "reorder_point_pcs": [2, 2, 3, 3, 1, -1],
            "order_up_to_pcs": [4, 10, 12, 30, 12, 0],
            "holding_per_week": [0.08, 0.016, 0.1, 0.0012, 0.02, 0.01],
            "year_use_pcs": [52, 52, 26, 52, 52, 0.0],
            "short_pcs": [float(due_pcs), 0, 0, 0, 0, 0],
            "order_pcs": [float(due_pcs), 0, 0, 0, 0, 0],
            "packs": [float(due_pcs), *[np.nan] * 5],
            "pack_pcs": [1, 1, 1, 10, 1, np.nan],
            "unit_price": [10, 4, 25, 0.3, 6, np.nan],
            "line_amount": [10.0 * due_pcs, 0, 0, 0, 0, 0],
            "landed_price": [10, 4, 25, 0.3, 6, np.nan],
        }
    )
    return frame.assign(**columns)


def test_freight_is_charged_below_the_threshold_and_not_above():
    terms, _ = shop()
    assert_allclose(baskets.table(lines(4), terms)[["goods_amount", "freight_amount", "total_amount"]], [[40, 10, 50]])
    assert_allclose(
        baskets.table(lines(10), terms)[["goods_amount", "freight_amount", "total_amount"]], [[100, 0, 100]]
    )


def test_columns_are_those_of_the_table_and_only_ordered_vendors_have_a_row():
    terms, _ = shop()
    found = baskets.table(lines(), terms)
    assert list(found.columns) == [
        "vendor",
        "lines",
        "goods_amount",
        "freight_amount",
        "total_amount",
        "brought_forward_amount",
    ]
    assert found["vendor"].tolist() == ["north"]


def test_freight_nobody_wrote_down_is_unknown_not_free():
    terms, _ = shop("- - 0")
    found = baskets.table(lines(), terms)
    assert found["freight_amount"].isna().all() and found["total_amount"].isna().all()


def test_freight_of_past_orders_stands_in_for_terms_nobody_wrote_down():
    terms, _ = shop("- - 0")
    found = baskets.table(lines(), terms.assign(mean_freight_amount=[7.0, np.nan]))
    assert_allclose(found["freight_amount"], 7)


def test_the_next_due_part_comes_forward_when_holding_it_costs_less_than_freight():
    # 80 of goods; 5 pieces of "soon" at 4 bring it to 100; held 2 weeks: 5 x 0.016 x 2 = 0.16 against 10
    terms, book = shop()
    found, made = baskets.fill(lines(8), terms, book)
    row = found.set_index("part").loc["soon"]
    assert (row["order_pcs"], row["line_amount"], row["is_forward"]) == (5, 20, True)
    assert row["note"] == ("brought forward: makes freight from north free, saves 10.00 for 0.16 of having it early; "
                           "due in about 2 weeks")
    assert_allclose(made[["goods_amount", "freight_amount", "brought_forward_amount"]], [[100, 0, 20]])


def test_what_costs_least_to_have_early_comes_first():
    # 70 of goods: 6 of "soon" (24, 0.19 of holding) leave 6 to go, two bags (6, 20 x 0.0012 x 5 = 0.12) bring them;
    # one more of "due" instead (10, 0.16) costs more
    terms, book = shop()
    found, made = baskets.fill(lines(7), terms, book)
    assert made["goods_amount"][0] == 100
    assert set(found.loc[found["is_forward"], "part"]) == {"soon", "bag"}
    assert found.set_index("part").loc["bag", "packs"] == 2


def test_of_a_part_not_due_no_more_comes_than_it_has_room_for():
    terms, book = shop("10 125 0")
    found, _ = baskets.fill(lines(9, holding_per_week=[9.0, 9, 9, 0.0012, 9, 9]), terms, book)
    assert not found["is_forward"].any()  # 90 and three bags (9) are all: room for 22 in whole packs of ten
    terms, book = shop("10 99 0")
    found, _ = baskets.fill(lines(9, holding_per_week=[9.0, 9, 9, 0.0012, 9, 9]), terms, book)
    assert found.set_index("part").loc["bag", "packs"] == 3


def test_nothing_comes_forward_when_holding_it_costs_more_than_freight():
    terms, book = shop()
    dear = lines(8, holding_per_week=5.0)
    found, made = baskets.fill(dear, terms, book)
    assert not found["is_forward"].any()
    assert_allclose(made["freight_amount"], 10)


def test_nothing_comes_forward_when_the_threshold_cannot_be_reached():
    terms, book = shop("10 1000 0")
    found, made = baskets.fill(lines(8), terms, book)
    assert not found["is_forward"].any() and made["goods_amount"][0] == 80


def test_nothing_comes_forward_without_a_threshold_or_without_freight():
    for north in ("10 - 0", "0 100 0"):
        terms, book = shop(north)
        assert not baskets.fill(lines(8), terms, book)[0]["is_forward"].any()


@pytest.mark.parametrize(
    "change", [{"supply": "scarce"}, {"is_made_in_runs": True}, {"week_use_pcs": 0.0}, {"order_up_to_pcs": 0}]
)
def test_scarce_idle_and_full_parts_stay_where_they_are(change):
    terms, book = shop()
    assert not baskets.fill(lines(8, **change), terms, book)[0]["is_forward"].any()


def test_a_vendor_nothing_is_due_from_is_left_alone():
    terms, book = shop()
    found, made = baskets.fill(lines(0), terms, book)
    assert made.empty and not found["is_forward"].any()


def test_a_minimum_order_is_reached_by_bringing_forward():
    terms, book = shop("10 - 60")
    found, made = baskets.fill(lines(4), terms, book)
    assert made["goods_amount"][0] >= 60
    note = found.set_index("part").loc["soon", "note"]
    assert note.startswith("brought forward: north takes no order below 60")


def test_a_minimum_order_is_reached_by_more_packs_where_nothing_can_come_forward():
    terms, book = shop("10 - 95")
    found, made = baskets.fill(lines(4, **NOTHING_ELSE), terms, book)
    row = found.set_index("part").loc["due"]
    assert (row["order_pcs"], row["line_amount"]) == (10, 100)
    assert row["note"] == "raised: north takes no order below 95"
    assert_allclose(made["goods_amount"], 100)


def test_a_threshold_below_the_minimum_is_met_by_the_minimum():
    terms, book = shop("10 50 60")
    _, made = baskets.fill(lines(4), terms, book)
    assert made["goods_amount"][0] >= 60 and made["freight_amount"][0] == 0


def test_lines_keep_their_number_and_due_lines_their_pieces():
    terms, book = shop()
    before = lines(8)
    found, _ = baskets.fill(before, terms, book)
    assert list(found["part"]) == PARTS
    assert found.loc[0, "order_pcs"] >= 8


def two_vendors(rows, north="10 - 0", **changes):
    """Baskets of the part "due" alone, 4 pieces short, offered as written: vendor, pack, price, from_packs."""
    offers = "vendor part pack_pcs pack_price from_packs\n" + "\n".join(
        "{} due {} {} {}".format(*row.split()) for row in rows)
    columns = {name: changes.pop(name) for name in list(changes) if name in ("due_pcs", "holding_per_week")}
    waits = changes.pop("waits", None)
    terms, book = shop(north, offers=offers, **changes)
    found, made = baskets.fill(lines(**(NOTHING_ELSE | columns)), terms, book, waits)
    return found[found["part"] == "due"], made


def test_freight_decides_between_vendors():
    # 4 x 10 + 10 of freight against 4 x 11 + 5
    found, _ = two_vendors(["north 1 10 1", "south 1 11 1"])
    assert found["vendor"].tolist() == ["south"]
    assert two_vendors(["north 1 10 1", "south 1 12 1"])[0]["vendor"].tolist() == ["north"]


def test_own_time_decides_between_vendors():
    # one order of an hour at 9 beside another; "other" must come from the south in any case
    offers = "vendor part pack_pcs pack_price\nnorth due 1 10\nsouth due 1 11\nsouth other 1 6"
    for labour_cost, expected in ((0.0, "north"), (9.0, "south")):
        terms, book = shop("0 - 0", "0 - 0", offers, labour_cost)
        found, _ = baskets.fill(lines(short_pcs=[4.0, 0, 0, 0, 2, 0], order_pcs=[4.0, 0, 0, 0, 2, 0], **NOTHING_ELSE),
                                terms, book)
        assert found.loc[0, "vendor"] == expected


def test_waiting_decides_between_vendors():
    waits = pd.Series([60.0, 12.0], index=pd.MultiIndex.from_tuples([("due", "north"), ("due", "south")]))
    rows = ["north 1 10 1", "south 1 20 1"]
    assert two_vendors(rows)[0]["vendor"].tolist() == ["north"]
    found, made = two_vendors(rows, waits=waits)
    assert found["vendor"].tolist() == ["south"]
    assert made["total_amount"].tolist() == [85]  # waiting is weighed, never paid


def test_a_break_is_reached_where_the_whole_costs_less():
    found, _ = two_vendors(["north 1 10 1", "north 1 7 5"])
    assert found[["packs", "line_amount", "unit_price"]].to_numpy().tolist() == [[5, 35, 7]]


def test_a_part_is_split_over_two_offers_only_where_that_is_cheaper():
    # 13: a pack of ten at 20 and three at 3 are 29; two packs are 40, seven of them to lie for long; single ones are 39
    rows = ["north 10 20 1", "north 1 3 1"]
    found, made = two_vendors(rows, due_pcs=13, holding_per_week=2.0)
    assert found[["pack_pcs", "packs", "order_pcs", "is_second"]].to_numpy().tolist() == [
        [10, 1, 10, False], [1, 3, 3, True]]
    assert made[["lines", "goods_amount"]].to_numpy().tolist() == [[2, 29]]
    assert found["note"].str.contains("split: 10 from north by the pack of 10 and 3 from north by the piece").all()
    found, _ = two_vendors(rows, due_pcs=13, holding_per_week=0.001)
    assert found[["pack_pcs", "packs"]].to_numpy().tolist() == [[10, 2]]


def test_a_minimum_nobody_can_reach_is_said_and_nothing_is_ordered_there():
    # a year's use beyond the four: 56 at 10
    found, made = two_vendors(["north 1 10 1"], north="10 - 1000")
    row = found.iloc[0]
    assert made.empty and row["order_pcs"] == 4 and np.isnan(row["packs"])
    assert row["note"] == ("not ordered: north takes no order below 1000 and all that is of use from it comes to "
                           "560.00; ask north or wait for more")


def test_a_minimum_out_of_reach_sends_the_part_elsewhere():
    found, _ = two_vendors(["north 1 10 1", "south 1 30 1"], north="10 - 1000")
    assert found[["vendor", "order_pcs"]].to_numpy().tolist() == [["south", 4]]


def test_freight_nobody_wrote_down_is_said_in_the_line():
    found, _ = two_vendors(["north 1 10 1"], north="- - 0")
    assert found["note"].tolist() == ["freight of north is unknown: none is reckoned"]
    terms, book = shop("- - 0")
    found, made = baskets.fill(lines(4, **NOTHING_ELSE), terms.assign(mean_freight_amount=[7.0, np.nan]), book)
    assert found.loc[0, "note"] == "freight of north is not written down: 7.00 as past orders had it"
    assert made["freight_amount"].tolist() == [7]


def test_a_part_nobody_offers_keeps_its_pieces_without_a_price():
    terms, book = shop()
    found, made = baskets.fill(lines(0, short_pcs=[0.0, 0, 0, 0, 0, 3], order_pcs=[0.0, 0, 0, 0, 0, 3]), terms, book)
    assert made.empty and found.loc[5, "order_pcs"] == 3 and np.isnan(found.loc[5, "packs"])


def test_one_more_of_what_is_due_may_make_freight_free():
    found, made = two_vendors(["north 1 10 1"], "10 100 0", due_pcs=9)
    assert made[["goods_amount", "freight_amount"]].to_numpy().tolist() == [[100, 0]]
    # one piece held for the two weeks in which four become two
    assert found["note"].tolist() == ["raised: makes freight from north free, saves 10.00 for 0.16 of having it early"]


def test_a_program_cut_short_says_how_far_from_the_least_it_may_be(monkeypatch):
    terms, book = shop("10 - 0")
    monkeypatch.setattr(baskets, "WORTH_SAYING_AMOUNT", -1.0)
    found, _ = baskets.fill(lines(4, **NOTHING_ELSE), terms, book)
    assert found["note"].tolist() == [
        "too many ways to weigh them all: today's orders together could be cheaper by up to 0.00", *[""] * 5]


def test_the_same_orders_whatever_the_order_of_the_lines():
    terms, book = shop()
    found, _ = baskets.fill(lines(8), terms, book)
    turned, _ = baskets.fill(lines(8).iloc[::-1], terms, book)
    names = ["part", "vendor", "packs", "line_amount", "is_forward", "note"]
    pd.testing.assert_frame_equal(found[names], turned[names].iloc[::-1].reset_index(drop=True), check_dtype=False)
