"""One shop, one currency."""

import pandas as pd
import pytest

from pipeline.ingest import currency
from pipeline.ingest.currency import Currency
from pipeline.ingest.raw_table import RawTable
from pipeline.store import connect

EUR, USD = Currency("EUR", True), Currency("USD", False)


def column(*texts):
    return pd.Series(list(texts), dtype=object)


@pytest.mark.parametrize(("text", "bare"), [
    ("EUR 12.50", "12.50"), ("12,50 €", "12,50"), ("€12", "12"), ("-€12", "-12"), ("€-12", "-12"), ("eur1", "1"),
    ("USD 12", "USD 12"), ("$12", "$12"), ("12", "12"), ("", ""), ("EUR", "EUR"), ("12 pcs", "12 pcs"),
    ("EUR 12 EUR", "EUR 12 EUR")])
def test_the_shops_own_word_is_dropped_and_no_other(text, bare):
    assert currency.without_own(column(text), EUR).tolist() == [bare]


@pytest.mark.parametrize(
    ("text", "is_other"),
    [
        ("USD 12", True),
        ("12 gbp", True),
        ("$12", True),
        ("12 ¥", True),
        ("EUR 12", False),
        ("€1", False),
        ("12 pcs", False),
        ("net 12", False),
        ("12", False),
        ("", False),
    ],
)
def test_only_a_real_currency_is_another_currency(text, is_other):
    assert len(currency.names_other(column(text), EUR)) == is_other


def test_a_dollar_sign_is_every_dollar_and_a_pound_sign_every_pound():
    for code in ("USD", "CAD", "AUD", "NZD", "MXN"):
        assert Currency(code, True).is_own("$")
    assert Currency("GBP", True).is_own("£") and not EUR.is_own("$")


def test_signs_stand_for_codes_that_exist():
    assert set().union(*currency.SIGNS.values()) <= currency.CODES
    assert all(len(code) == 3 and code.isupper() for code in currency.CODES) and len(currency.CODES) > 140


def test_the_words_say_whether_the_currency_was_given():
    assert EUR.wanted == "this shop's amounts are in EUR; write the amount in EUR, as 12.50"
    assert "USD (the default; give `currency` in shop.csv if it is another)" in USD.wanted


def shop_file(*rows):
    frame = pd.DataFrame(rows, columns=["key", "value"], dtype=object)
    return RawTable("shop", "shop.csv", frame.assign(file_line=range(2, 2 + len(rows)), extra=None), {"key", "value"})


def test_the_folders_own_shop_file_goes_before_the_store_and_the_store_before_the_default():
    with connect.open_memory() as connection:
        assert currency.of_shop(connection, {}) == Currency("USD", False, None)
        assert currency.of_shop(connection, {"shop": shop_file((" Currency ", " chf "))}) == Currency("CHF", True, None)
        assert currency.of_shop(connection, {"shop": shop_file(("currency", ""))}) == Currency("USD", False, None)
        connection.execute("insert into shop values ('currency', 'SEK', null)")
        connection.execute("insert into loads values (1, now()::timestamp, 'f', 'd')")
        assert currency.of_shop(connection, {}) == Currency("SEK", True, "SEK")
        assert currency.of_shop(connection, {"shop": shop_file(("currency", "EUR"))}) == Currency("EUR", True, "SEK")


def test_a_currency_column_is_read_line_by_line():
    frame = pd.DataFrame({"file_line": [2, 3, 4, 5], "extra": [
        '{"currency": "USD"}', '{"currency": " eur "}', None, '{"note": "x"}']})
    raw = RawTable("job_costs", "job_costs.csv", frame, set(), extras=("currency", "note"))
    assert currency.other_in_column(raw, EUR).to_dict() == {2: "USD"}
    raw.extras = ("note",)
    assert currency.other_in_column(raw, EUR).empty
