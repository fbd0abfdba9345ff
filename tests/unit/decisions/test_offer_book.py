"""Which vendor is cheapest, landed, for a quantity."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import offer_book
from pipeline.store import read
from tests.support import hand_shop

BASE = {
    "parts": "part description supply\ncoil Coil -\nlamp Lamp -\ndecal Decal scarce",
    "vendors": "vendor freight_flat\nnorth 10\nsouth 0",
}


def book_of(offers, **tables):
    text = "vendor part pack_pcs pack_price from_packs fit_hours reject_share available\n" + offers
    with hand_shop.store(**(BASE | {"offers": text} | tables)) as connection:
        return offer_book.open_book(connection, read.frame(connection, "vendor_terms"), 30.0)


def cheapest(book, part="coil", wanted=1, useful=0.0, waits=None):
    return offer_book.cheapest(
        book, pd.Series([wanted], index=[part]), pd.Series([float(useful)], index=[part]), waits
    ).loc[part]


def test_the_cheapest_piece_wins_and_is_priced_in_full():
    row = cheapest(book_of("north coil 1 9 1 - - -\nsouth coil 1 8 1 - - -"), wanted=3)
    assert (row["vendor"], row["packs"], row["order_pcs"], row["line_amount"]) == ("south", 3, 3, 24)
    assert (row["unit_price"], row["landed_price"]) == (8, 8)


def test_freight_is_part_of_the_price():
    # north charges freight, no past order: a tenth of the goods
    row = cheapest(book_of("north coil 1 8 1 - - -\nsouth coil 1 8.5 1 - - -"))
    assert row["vendor"] == "south"
    assert_allclose(cheapest(book_of("north coil 1 8 1 - - -"))["landed_price"], 8.8)


def test_freight_is_as_past_orders_had_it():
    # 30 of freight on 100 of goods
    past = {
        "orders": "order_no vendor ordered_on freight\nP1 north 2026-01-01 30",
        "order_lines": "order_no part qty_pcs unit_price\nP1 lamp 100 1",
    }
    assert_allclose(cheapest(book_of("north coil 1 8 1 - - -", **past))["landed_price"], 8 * 1.3)


def test_fitting_hours_are_part_of_the_price():
    row = cheapest(book_of("north coil 1 9 1 - - -\nsouth coil 1 5 1 0.25 - -"))
    assert row["vendor"] == "north"  # 9.90 against 5 + 0.25 x 30


def test_rejects_are_part_of_the_price():
    assert cheapest(book_of("north coil 1 8 1 - - -\nsouth coil 1 7.5 1 - 0.3 -"), wanted=10)["vendor"] == "north"


def test_a_break_is_reached_where_that_is_cheaper():
    row = cheapest(book_of("south coil 1 10 1 - - -\nsouth coil 1 7 5 - - -"), wanted=4)
    assert (row["packs"], row["line_amount"]) == (5, 35)


def test_what_a_large_pack_brings_beyond_use_counts_for_nothing():
    book = book_of("south lamp 1 1 1 - - -\nsouth lamp 100 20 1 - - -")
    assert cheapest(book, "lamp", wanted=5, useful=8)["pack_pcs"] == 1
    assert cheapest(book, "lamp", wanted=5, useful=80)["pack_pcs"] == 100


def test_waiting_can_outweigh_a_lower_price():
    book = book_of("north coil 1 7 1 - - -\nsouth coil 1 8 1 - - -")
    waits = pd.Series([50.0], index=pd.MultiIndex.from_tuples([("coil", "north")]))
    assert cheapest(book)["vendor"] == "north"
    row = cheapest(book, waits=waits)
    assert (row["vendor"], row["landed_price"]) == ("south", 8)  # the waiting is in the choice, never in the price


@pytest.mark.parametrize("offer", ["south coil 1 0 1 - - -", "south coil 1 8 1 - - no", "south coil 1 8 1 - 1 -"])
def test_price_zero_not_available_and_rejects_only_are_no_offers(offer):
    row = cheapest(book_of(offer + "\nsouth lamp 1 1 1 - - -"))
    assert pd.isna(row["vendor"]) and np.isnan(row["line_amount"])


def test_parts_made_in_runs_are_listed_but_not_ordered_at_will():
    book = book_of("south decal 1 8 1 - - run\nsouth coil 1 8 1 - - run\nnorth coil 1 9 1 - - yes")
    assert book.in_runs == {"decal"}
    assert cheapest(book)["vendor"] == "north"


class TestLastPaid:
    past = {
        "orders": "order_no vendor ordered_on\nP1 north 2026-01-01",
        "order_lines": "order_no part qty_pcs unit_price\nP1 coil 2 6\nP1 decal 2 3",
    }

    def test_a_part_nobody_offers_is_priced_as_last_paid(self):
        book = book_of("south lamp 1 1 1 - - -", **self.past)
        row = cheapest(book)
        assert (row["vendor"], row["unit_price"]) == ("north", 6)
        assert book.rows.set_index("part")["is_last_paid"].to_dict() == {"coil": True, "lamp": False}

    def test_not_where_an_offer_says_it_cannot_be_had(self):
        assert pd.isna(cheapest(book_of("south coil 1 8 1 - - no", **self.past))["vendor"])

    def test_not_where_supply_is_scarce(self):
        assert pd.isna(cheapest(book_of("south lamp 1 1 1 - - -", **self.past), "decal")["vendor"])


def test_given_packs_are_priced_at_the_break_they_reach():
    # north: a tenth of freight; half an hour of fitting at 30; a fifth rejected
    book = book_of("north coil 1 7 1 - - -\nnorth lamp 10 8 1 0.5 0.2 -\nnorth lamp 10 6 3 0.5 0.2 -")
    found = offer_book.bought(book, [1, 0, 1], [2, 5, 3])
    assert found["part"].tolist() == ["lamp", "coil", "lamp"]
    assert_allclose(found[["order_pcs", "line_amount", "unit_price"]], [[20, 16, 0.8], [5, 35, 7], [30, 18, 0.6]])
    assert_allclose(found["landed_price"], [0.8 * 1.1 / 0.8 + 15, 7.7, 0.6 * 1.1 / 0.8 + 15])


def test_what_is_bought_as_the_cheapest_has_the_same_price():
    book = book_of("south lamp 10 8 1 0.5 0.2 -\nsouth lamp 10 6 3 0.5 0.2 -")
    one = cheapest(book, "lamp", wanted=31)
    again = offer_book.bought(book, [0], [int(one["packs"])]).iloc[0]
    assert again[list(offer_book.CHOICE)].tolist() == one[list(offer_book.CHOICE)].tolist()


def test_many_parts_at_once_keep_their_order_and_gaps():
    book = book_of("north coil 1 7 1 - - -\nsouth lamp 10 4 1 - - -")
    wanted = pd.Series([12, 1, 2], index=["lamp", "decal", "coil"])
    found = offer_book.cheapest(book, wanted, wanted.astype(float))
    assert list(found.index) == ["lamp", "decal", "coil"]
    assert_allclose(found["order_pcs"], [20, np.nan, 2])


def test_a_shop_without_offers_has_an_empty_book():
    with hand_shop.store(**BASE) as connection:
        book = offer_book.open_book(connection, read.frame(connection, "vendor_terms"), 30.0)
    assert book.rows.empty
    assert pd.isna(cheapest(book)["vendor"])
