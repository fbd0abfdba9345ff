"""One basket per vendor: freight, thresholds, minimums, and what comes forward."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import baskets, offer_book
from pipeline.store import read
from tests.support import hand_shop

OFFERS = """vendor part pack_pcs pack_price
north due 1 10
north soon 1 4
north later 1 25
north bag 10 3
south other 1 6"""
PARTS = ["due", "soon", "later", "bag", "other", "unpriced"]


def shop(north="10 100 0"):
    """Terms and offers; north's freight_flat, freight_free_over and minimum_order."""
    with hand_shop.store(
        parts="part description\n" + "\n".join(f"{part} x" for part in PARTS),
        vendors=f"vendor freight_flat freight_free_over minimum_order\nnorth {north}\nsouth 5 - 0",
        offers=OFFERS,
    ) as connection:
        terms = read.frame(connection, "vendor_terms").assign(freight_share=0.0)
        return terms, offer_book.open_book(connection, terms, 0.0)


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
            "week_use_pcs": [1, 1, 0.5, 1, 1, 0.0],
            "position_pcs": [0.0, 4, 8, 8, 9, 0],
            "reorder_point_pcs": [2, 2, 3, 3, 1, -1],
            "order_up_to_pcs": [4, 10, 12, 30, 12, 0],
            "holding_per_week": [0.04, 0.016, 0.1, 0.0012, 0.02, 0.01],
            "year_use_pcs": [52, 52, 26, 52, 52, 0.0],
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
    # 80 of goods; 6 pieces of "soon" at 4 bring it to 104; held 2 weeks: 6 x 0.016 x 2 = 0.19 against 10
    terms, book = shop()
    found, made = baskets.fill(lines(8), terms, book)
    row = found.set_index("part").loc["soon"]
    assert (row["order_pcs"], row["line_amount"], row["is_forward"]) == (6, 24, True)
    assert row["note"].startswith("brought forward: makes freight from north free, saves 10.00 for 0.19 of holding")
    assert "due in about 2 weeks" in row["note"]
    assert_allclose(made[["goods_amount", "freight_amount", "brought_forward_amount"]], [[104, 0, 24]])


def test_the_soonest_due_comes_first():
    # 74 of goods: "soon" (24) alone is not enough, the bag (due in 5 weeks) follows
    terms, book = shop()
    found, _ = baskets.fill(lines(8, line_amount=[74.0, 0, 0, 0, 0, 0]), terms, book)
    assert set(found.loc[found["is_forward"], "part"]) == {"soon", "bag"}
    assert found.set_index("part").loc["bag", "packs"] == 3  # room for 22: whole packs of ten


def test_nothing_comes_forward_when_holding_it_costs_more_than_freight():
    terms, book = shop()
    dear = lines(8, holding_per_week=[0.04, 5.0, 5.0, 5.0, 5.0, 5.0])
    found, made = baskets.fill(dear, terms, book)
    assert not found["is_forward"].any()
    assert_allclose(made["freight_amount"], 10)


def test_nothing_comes_forward_when_the_threshold_cannot_be_reached():
    terms, book = shop("10 1000 0")
    found, _ = baskets.fill(lines(8), terms, book)
    assert not found["is_forward"].any()


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
    found, made = baskets.fill(lines(4, order_up_to_pcs=0), terms, book)
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
    assert found.loc[0, "order_pcs"] == 8
