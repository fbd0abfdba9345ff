"""Numbers as people write them."""

import pandas as pd
import pytest

from pipeline.ingest import numbers
from pipeline.store import catalogue

AMOUNT = next(c for c in catalogue.tables()["job_costs"].columns if c.name == "amount")


def column(*texts):
    return pd.Series(list(texts), dtype=object)


@pytest.mark.parametrize(("text", "read"), [
    ("12,50", "12.50"), ("-1,5", "-1.5"), ("0,125", "0.125"), (",5", ".5"), ("1,23456", "1.23456"), ("1,234", "1,234"),
    ("1.234,50", "1.234,50"), ("1,234.50", "1,234.50"), ("1,2,3", "1,2,3"), ("a,b", "a,b"), ("", ""), ("7", "7")])
def test_a_decimal_comma_that_cannot_be_thousands(text, read):
    assert numbers.with_point(column(text)).tolist() == [read]


@pytest.mark.parametrize(("text", "kept"), [
    ("1.23456", "1.2346"), ("1.00005", "1.0001"), ("-1.00005", "-1.0001"), ("0.00004", "0.0000"), ("1.2345", "1.2345"),
    ("1.23450", "1.23450"), ("1.5e-5", "0.0000"), ("1e3", "1e3"), ("12345678901234.56789", "12345678901234.56789"),
    ("1,23456", "1,23456"), ("many", "many"), ("", "")])
def test_amounts_are_rounded_half_up_to_four_decimals_where_they_have_more(text, kept):
    if text == "12345678901234.56789":  # fourteen digits before the point still fit
        kept = "12345678901234.5679"
    assert numbers.rounded(column(text), AMOUNT).tolist() == [kept]


def test_an_amount_too_large_for_its_column_is_left_to_the_rules():
    assert numbers.rounded(column("123456789012345.67891"), AMOUNT).tolist() == ["123456789012345.67891"]


def test_a_point_among_decimal_commas_is_a_question_only_where_three_digits_follow():
    before = column("12,50", "1.500", "2.5", "1.5000", "0.500", "12.345")
    found = numbers.two_readings(before, numbers.with_point(before))
    assert sorted(found.index) == [1, 5]
    assert "could be 1.500 or 1500" in found[1] and "could be 12.345 or 12345" in found[5]


def test_without_decimal_commas_a_point_is_a_point():
    before = column("1.500", "2.5")
    assert numbers.two_readings(before, before).empty
