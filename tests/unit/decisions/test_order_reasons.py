"""Why each line is as it is, in words an owner can check against the figures beside them."""

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions import order_reasons

LINE = {
    "part": "coil",
    "keep": "auto",
    "supply": "steady",
    "doubt": None,
    "on_hand_pcs": 1.0,
    "free_pcs": 1.0,
    "on_order_pcs": 0,
    "known_pcs": 0,
    "known_jobs": 0,
    "committed_pcs": 0,
    "reorder_point_pcs": 3,
    "order_up_to_pcs": 6,
    "lot_pcs": 1,
    "order_pcs": 5.0,
    "position_pcs": 1.0,
    "vendor": "north",
    "packs": 5.0,
    "pack_pcs": 1.0,
    "landed_price": 8.5,
    "known_price": 8.0,
    "price_source": "offer",
    "price_from": "own",
    "no_price_from": np.nan,
    "horizon_days": np.nan,
    "longest_gap_days": np.nan,
    "is_made_in_runs": False,
    "is_last_paid": False,
    "is_second": False,
    "cheapest_vendor": "north",
    "note": "",
}


def why(missing=(), **changes):
    return order_reasons.explain(pd.DataFrame([LINE | changes]), set(missing))[0]


def test_a_plain_line_says_what_is_there_and_the_rule():
    assert why() == ("1 on the shelf, 0 on order. Reorder point 3, at most 6 free. "
                     "Cheapest landed from north: 8.50 a piece.")
    assert "Reorder point 3, in lots of 5, at most 6 free." in why(lot_pcs=5)


def test_booked_jobs_come_first():
    said = why(known_jobs=2, known_pcs=5, committed_pcs=5)
    assert said.startswith("2 booked jobs need 5, 1 on the shelf, 0 on order. Reorder point 3, at most 6 free.")


def test_one_job_needs_and_more_may_be_expected():
    assert why(known_jobs=1, known_pcs=5, committed_pcs=8).startswith(
        "1 booked job needs 5, 3 more kept for booked work, 1 on the shelf"
    )
    assert why(committed_pcs=2).startswith("2 kept for booked work, 1 on the shelf")


def test_a_vendor_chosen_for_the_whole_order_is_not_called_the_cheapest():
    assert why(cheapest_vendor="south").endswith(
        "From north: 8.50 a piece landed; with today's other orders cheaper than south.")
    assert why(cheapest_vendor=None).endswith("From north: 8.50 a piece landed.")  # brought forward: nothing compared


def test_a_second_line_says_what_it_belongs_to_and_no_shelf():
    said = why(is_second=True, note="split: 10 from south by the pack of 10 and 5 from north by the piece")
    assert said == ("Second line for the same need. Split: 10 from south by the pack of 10 and 5 from north by the "
                    "piece. Cheapest landed from north: 8.50 a piece.")


def test_packs_are_said_where_there_are_any():
    assert why(packs=3.0, pack_pcs=10.0).endswith("8.50 a piece, 3 packs of 10.")
    assert why(packs=1.0, pack_pcs=10.0).endswith("8.50 a piece, 1 pack of 10.")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"keep": "never"}, "Kept by the owner's word at none: bought for the job only."),
        ({"keep": "always"}, "Reorder point 3, at most 6 free by the owner's word."),
        ({"order_up_to_pcs": 0, "reorder_point_pcs": -1}, "Not worth stocking: bought when a job asks."),
        ({"reorder_point_pcs": -1, "order_up_to_pcs": 1}, "Ordered when booked work is short, at most 1 beyond it."),
        ({"horizon_days": 730.0, "reorder_point_pcs": 5}, "Aim at 6 free, enough for about 2 years to come."),
        ({"horizon_days": 730.0}, "Aim at 6 free, enough for about 2 years to come, bought at 3 or fewer."),
        (
            {"horizon_days": 182.0, "longest_gap_days": 100.0, "reorder_point_pcs": 5},
            "Aim at 6 free, enough for about 6 months (its longest gap between orders) to come.",
        ),
    ],
)
def test_the_rule_in_words(changes, said):
    assert said in why(**changes)


def test_what_is_made_in_runs_is_bought_when_seen():
    said = why(is_made_in_runs=True, order_pcs=0.0, vendor=None, packs=np.nan, horizon_days=730.0)
    assert "Made in runs, next run unknown: when one is seen, buy 5." in said
    assert "enough until the next" in why(is_made_in_runs=True, order_pcs=0.0, vendor=None, position_pcs=6.0)


def test_what_has_ended_is_looked_for_elsewhere():
    said = why(supply="ended", vendor=None, order_pcs=0.0, packs=np.nan, horizon_days=1825.0, price_source="remembered")
    assert said.endswith("No longer made and nobody offers it: look for salvage or a substitute.")


def test_no_offer_is_said_and_never_priced():
    unknown = {"vendor": None, "packs": np.nan, "known_price": np.nan, "price_from": "class"}
    said = why(**unknown)
    assert said.endswith("No price known, and nobody offers it today: the rule reckons with the middle of its class.")
    assert "0.00" not in said
    assert "class; offers.csv would price it" in why(["offers.csv"], **unknown)
    assert "reckons with the middle of all known prices, as none of its class is known." in why(
        **unknown | {"price_from": "shop"})
    assert "reckons with 1 a piece, as no price is known at all." in why(**unknown | {"price_from": "none"})


def test_an_offer_at_0_is_named_and_never_taken_for_no_offer():
    unknown = {"vendor": None, "packs": np.nan, "known_price": np.nan, "price_from": "class"}
    said = why(no_price_from="north", **unknown)
    assert "No price known: the rule" in said and "nobody offers" not in said
    assert said.endswith("An offer at 0 is no price and left out: ask north.")
    assert why(vendor="south", cheapest_vendor="south", no_price_from="north").endswith(
        "Cheapest landed from south: 8.50 a piece. An offer at 0 is no price and left out: ask north.")
    assert "No offer with a price: priced as last paid to north." in why(is_last_paid=True, no_price_from="north")
    assert "An offer at 0" not in why(no_price_from="north", order_pcs=0.0, packs=np.nan)


def test_a_price_without_an_offer_says_where_it_is_from():
    assert "Nobody offers it today; priced as remembered; offers.csv would name a vendor." in why(
        ["offers.csv"], vendor=None, packs=np.nan, price_source="remembered"
    )
    assert why(is_last_paid=True).endswith("No offer on record: priced as last paid to north.")


def test_doubts_are_said_last():
    assert why(doubt="last counted 18 months ago").endswith("Doubt: last counted 18 months ago.")
    assert why(on_hand_pcs=-2.0, free_pcs=0.0, doubt="more taken than was there: count it").endswith(
        "The records say -2, taken as 0: more taken than was there: count it."
    )


def test_an_unknown_shelf_is_said_with_the_file_that_would_tell():
    said = why(
        ["counts.csv", "orders.csv"], free_pcs=np.nan, on_hand_pcs=np.nan, order_pcs=np.nan, doubt="never counted"
    )
    assert said.startswith("How many are on the shelf is unknown. Reorder point")
    assert said.endswith("Count it first: never counted; counts.csv would tell.")


def test_a_line_brought_forward_says_so():
    assert "Brought forward: makes freight free." in why(note="brought forward: makes freight free")
