"""Words and tables of the page on the records."""

import pandas as pd
import pytest

from pipeline.decisions import records_weight
from pipeline.reports.topics import health_words
from pipeline.reports.topics.health_words import KINDS, WHOLE_ROWS, found, kinds_told, line_told, listed, short
from pipeline.store import connect, read


def rows(count):
    return pd.DataFrame({"line": range(1000, 1000 + count), "value": "x", "decisions": 1, "amount": 2.0})


def test_a_short_table_is_whole_and_a_long_one_says_that_it_scrolls():
    short_one, long_one = listed(rows(WHOLE_ROWS), "Rows", "EUR"), listed(rows(1500), "Rows", "EUR")
    assert short_one.is_whole and short_one.caption == "Rows"
    assert not long_one.is_whole and long_one.caption == "Rows: 1,500 rows, scroll for the rest"


def test_a_list_no_page_can_hold_is_cut_and_says_so():
    table = listed(rows(2500), "Rows", "EUR")
    assert len(table.frame) == 2000 and table.caption == "Rows: the first 2,000 of 2,500 rows, scroll for the rest"


def test_line_numbers_carry_no_comma():
    table = listed(pd.DataFrame({"line": [1214.0, -2, None]}), "Rows", "EUR")
    assert table.frame["line"].tolist() == ["1214", "in the store", "—"]
    assert "1,214" not in table._repr_html_() and ">1214</" in table._repr_html_()


@pytest.mark.parametrize(("line", "words"), [(7, "7"), (20001.0, "20001"), (-1, "in the store"), (pd.NA, "—")])
def test_a_line_is_told_as_it_is_numbered(line, words):
    assert line_told(line) == words


def test_money_names_its_currency():
    assert "amount, EUR" in listed(rows(1), "Rows", "EUR")._repr_html_()


def test_a_heading_given_goes_before_the_usual_one():
    assert "gained, EUR" in listed(rows(1), "Rows", "EUR", {"amount": "gained, EUR"})._repr_html_()


def test_a_value_of_a_thousand_letters_fits_its_column():
    assert short("a" * 1000).endswith("…") and len(short("a" * 1000)) == 48
    assert short(None) is None and short(float("nan")) is None and short("") == ""


def test_what_was_found_is_told_with_lines_and_a_short_value():
    frame = pd.DataFrame({"lines": [[5], [1, 2, 3, 4, 5, 6]], "column": ["qty_pcs", None], "value": ["y" * 99, None]})
    told = found(frame)
    assert told["lines"].tolist() == ["5", "1, 2, 3, 4 and 2 more"]
    assert told["description"].iloc[0].startswith("qty_pcs is 'yyy") and len(told["description"].iloc[0]) < 70
    assert told["description"].iloc[1] == "the whole row"


def test_every_kind_of_decision_of_the_store_has_words():
    with connect.open_memory() as empty:
        kinds = set(read.query(empty, "select distinct kind from informed_kinds")["kind"])
    assert kinds == set(KINDS)
    assert all(len(words) == 4 and all(words) for words in KINDS.values())


def test_kinds_are_told_with_their_nouns():
    kinds = pd.DataFrame({"kind": ["order", "need", "lead_time"], "decisions": [1200, 1, 2]})
    assert kinds_told(kinds) == "1,200 order lines, 1 part waited for, 2 lead times"


def test_the_words_are_of_kinds_that_are_weighed():
    assert {"part", "job"} <= set(records_weight.NAMES) and "choice" in health_words.KINDS
