import datetime
from decimal import Decimal

import numpy as np
import pandas as pd
import pytest

from pipeline.reports import formats


@pytest.mark.parametrize(
    ("column", "unit"),
    [
        ("order_pcs", "pcs"),
        ("bench_hours", "hours"),
        ("q50_days", "days"),
        ("today_share", "share"),
        ("from_on", "on"),
        ("loaded_at", "at"),
        ("line_amount", "amount"),
        ("unit_price", "price"),
        ("margin_per_hour", "per_hour"),
        ("hours", "hours"),
        ("part", ""),
        ("why", ""),
        ("reason", ""),
        ("version", ""),
    ],
)
def test_unit_is_the_ending_of_the_name(column, unit):
    assert formats.unit_of(column) == unit


@pytest.mark.parametrize(
    ("column", "words"),
    [
        ("on_hand_pcs", "on hand, pcs"),
        ("q90_pcs", "90 %, pcs"),
        ("q50_amount", "median, EUR"),
        ("hours", "hours"),
        ("unit_price", "unit, EUR"),
        ("margin_per_hour", "margin, EUR per hour"),
        ("callback_share", "call-back"),
        ("later_cost_low_amount", "later cost low, EUR"),
        ("delivered_on", "delivered"),
        ("worst_part", "worst part"),
    ],
)
def test_heading_says_the_unit(column, words):
    assert formats.heading(column, "EUR") == words


@pytest.mark.parametrize("unknown", [None, "", float("nan"), np.nan, pd.NaT, pd.NA])
def test_unknown_is_a_dash_never_a_zero(unknown):
    assert formats.cell_text(unknown, "order_pcs") == "—"
    assert formats.is_unknown(unknown)


@pytest.mark.parametrize("known", [0, 0.0, False, Decimal(0), "0"])
def test_zero_is_known(known):
    assert not formats.is_unknown(known)
    assert formats.cell_text(known, "order_pcs") in ("0", "no")


@pytest.mark.parametrize(
    ("value", "column", "text"),
    [
        (1234567, "qty_pcs", "1,234,567"),
        (3.25, "expected_pcs", "3.2"),
        (3.0, "expected_pcs", "3"),
        (Decimal("1234.5000"), "line_amount", "1,234.50"),
        (-60, "variance_amount", "-60.00"),
        (0.784, "today_share", "78 %"),
        (12.345, "hours", "12.3"),
        (21.0, "q50_days", "21"),
        (1.18, "quote_bias", "1.18"),
        (0.0123, "break_even_failures", "0.012"),
        (datetime.date(2031, 3, 3), "from_on", "2031-03-03"),
        (pd.Timestamp("2031-03-03"), "from_on", "2031-03-03"),
        (datetime.datetime(2031, 3, 3, 14, 5), "loaded_at", "2031-03-03 14:05"),
        (True, "is_open", "yes"),
        (np.bool_(False), "is_open", "no"),
        ("set_aside", "outcome", "set aside"),
        ("SLV_01", "part", "SLV_01"),
        (float("inf"), "total_amount", "no limit"),
    ],
)
def test_cells_read_as_their_unit_wants(value, column, text):
    assert formats.cell_text(value, column) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1234.56, "EUR 1,235"),
        (99.994, "EUR 99.99"),
        (100, "EUR 100"),
        (-20, "EUR -20.00"),
        (None, "unknown"),
        (0, "EUR 0.00"),
        (Decimal("12.30"), "EUR 12.30"),
    ],
)
def test_money_in_a_sentence(value, text):
    assert formats.money(value, "EUR") == text


@pytest.mark.parametrize(("number", "text"), [(0, "0 families"), (1, "1 family"), (1000, "1,000 families")])
def test_counts_take_their_noun(number, text):
    assert formats.count_of(number, "family", "families") == text
