"""Laws every basket obeys, whatever is due, offered and asked."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.decisions import baskets, offer_book

SETTINGS = settings(max_examples=50)


@st.composite
def shops(draw):
    """A vendor with random terms, and parts of it that are due or not, with offers in packs and breaks."""
    seed, n_parts = draw(st.integers(0, 2**32 - 1)), draw(st.integers(1, 7))
    rng = np.random.default_rng(seed)
    parts = [f"p{k}" for k in range(n_parts)]
    terms = pd.DataFrame(
        {
            "vendor": ["north"],
            "freight_flat": [draw(st.sampled_from([0.0, 6.0, 15.0, np.nan]))],
            "freight_free_over": [draw(st.sampled_from([40.0, 90.0, np.nan]))],
            "minimum_order": [draw(st.sampled_from([0.0, 25.0, 60.0]))],
            "mean_freight_amount": [np.nan],
            "order_hours": [0.5],
        }
    )
    pack, price = rng.choice([1, 1, 5, 10], n_parts), rng.uniform(0.5, 12, n_parts).round(2)
    rows = pd.DataFrame(
        {
            "part": parts,
            "vendor": "north",
            "vendor_part": None,
            "pack_pcs": pack,
            "fit_hours": 0.0,
            "reject_share": 0.0,
            "freight_share": 0.0,
            "is_last_paid": False,
        }
    )
    prices = np.column_stack([price * pack, price * pack * rng.uniform(0.7, 1.0, n_parts)])
    book = offer_book.OfferBook(rows, np.tile([1.0, 5.0], (n_parts, 1)), prices, frozenset(), 0.0)
    return terms, book, _lines(rng, parts, book)


def _lines(rng, parts, book):
    n_parts = len(parts)
    s = rng.integers(0, 6, n_parts)
    top = s + rng.integers(1, 20, n_parts)
    position = rng.integers(0, 15, n_parts).astype(float)
    is_due = position <= s
    frame = pd.DataFrame(
        {
            "part": parts,
            "vendor": "north",
            "supply": "steady",
            "is_made_in_runs": False,
            "is_forward": False,
            "is_joined": False,
            "week_use_pcs": rng.uniform(0.05, 3, n_parts),
            "position_pcs": position,
            "reorder_point_pcs": s,
            "order_up_to_pcs": top,
            "holding_per_week": rng.uniform(0.001, 0.3, n_parts),
            "year_use_pcs": 50.0,
            "short_pcs": np.where(is_due, top - position, 0.0),
            "order_pcs": np.where(is_due, top - position, 0.0),
            "packs": np.nan,
            "pack_pcs": np.nan,
            "unit_price": np.nan,
            "line_amount": 0.0,
            "landed_price": np.nan,
            "vendor_part": None,
        }
    )
    return frame


@SETTINGS
@given(shops())
def test_what_is_due_stays_ordered_in_full(shop):
    terms, book, lines = shop
    found, made = baskets.fill(lines, terms, book)
    total = found.groupby("part")["order_pcs"].sum().reindex(lines["part"]).to_numpy()
    assert (total >= lines["short_pcs"]).all()
    is_due = found["short_pcs"] > 0
    is_out_of_reach = found["note"].str.startswith("not ordered: north takes no order below")
    assert (found.loc[is_due, "packs"].isna() == is_out_of_reach[is_due]).all()
    assert made.empty == (is_out_of_reach | ~is_due).all()


@SETTINGS
@given(shops())
def test_a_minimum_is_met_whenever_anything_is_ordered(shop):
    terms, book, lines = shop
    _, made = baskets.fill(lines, terms, book)
    assert (made["goods_amount"] >= terms["minimum_order"].iloc[0] - 1e-9).all()


@SETTINGS
@given(shops())
def test_freight_follows_the_terms(shop):
    terms, book, lines = shop
    _, made = baskets.fill(lines, terms, book)
    flat, free_over = terms.loc[0, ["freight_flat", "freight_free_over"]]
    for basket in made.itertuples(index=False):
        expected = 0.0 if basket.goods_amount >= free_over - 1e-6 else flat
        assert basket.freight_amount == pytest.approx(expected, nan_ok=True)
        assert basket.total_amount == pytest.approx(basket.goods_amount + expected, nan_ok=True)


@SETTINGS
@given(shops())
def test_nothing_is_brought_forward_that_costs_more_than_the_freight_it_saves(shop):
    terms, book, lines = shop
    found, made = baskets.fill(lines, terms.assign(minimum_order=0.0), book)
    early = found[found["is_forward"]]
    weeks = (early["position_pcs"] - early["reorder_point_pcs"]) / early["week_use_pcs"]
    holding = (early["holding_per_week"] * weeks * early["order_pcs"]).sum()
    assert holding <= terms["freight_flat"].fillna(0.0).iloc[0] + 1e-9
    if len(early):
        assert made["freight_amount"].tolist() == [0.0]
        assert early["note"].str.contains("makes freight from north free").all()


@SETTINGS
@given(shops())
def test_packs_stay_whole_and_amounts_add_up(shop):
    terms, book, lines = shop
    found, made = baskets.fill(lines, terms, book)
    ordered = found[found["order_pcs"] > 0]
    assert (ordered["packs"] * ordered["pack_pcs"] == ordered["order_pcs"]).all()
    assert made["goods_amount"].sum() == pytest.approx(ordered["line_amount"].sum())
    assert made["brought_forward_amount"].sum() == pytest.approx(
        ordered.loc[ordered["is_forward"], "line_amount"].sum()
    )
    assert made["lines"].sum() == len(ordered)


@SETTINGS
@given(shops())
def test_every_line_brought_forward_says_why(shop):
    terms, book, lines = shop
    found, _ = baskets.fill(lines, terms, book)
    assert found.loc[found["is_forward"], "note"].str.startswith("brought forward: ").all()
    assert (found.loc[~found["is_forward"] & ~found["short_pcs"].gt(0), "note"] == "").all()
