"""What to fetch, to count and to send, as the page of the day shows it."""

import pandas as pd
import pytest

from pipeline.reports import shop as shops
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.today import Today, TodaysWork

DAY = pd.Timestamp("2031-02-12")
PICKS = pd.DataFrame({
    "job": ["J-005", "J-005", "J-006"], "part": ["COI-02", "SLV-01", "OPT-07"], "need_pcs": [2, 2, 1],
    "on_shelf_pcs": pd.array([2, 0, None], dtype="Int64"), "shelf": ["B2", None, None],
    "short_pcs": pd.array([0, 2, None], dtype="Int64"), "coming_pcs": pd.array([0, 1, None], dtype="Int64"),
    "substitute": [None, "SLV-02 (1 of 2)", None], "substitute_shelf": [None, "C4", None],
    "condition": [None, "cut to length", None], "order_by_on": [pd.NaT, DAY, pd.NaT],
    "known_from": ["findings", "findings", "expected use"], "chance_share": [1.0, 0.9, 0.62],
    "with_part": [None, "COI-02", None]})
COUNTS = pd.DataFrame({"part": ["COI-02"], "shelf": ["B2"], "book_pcs": pd.array([-1], dtype="Int64"),
                       "last_counted_on": [pd.NaT], "worth_amount": [17.5], "why": ["the book says -1: count it"]})


@pytest.fixture
def page(small_store):
    def made(picks=PICKS, counts=COUNTS):
        return Today(shops.of(small_store), pd.DataFrame(), work=TodaysWork(picks, counts, ()))
    return made


def test_the_parts_to_fetch_say_where_they_lie_what_is_short_and_why_they_are_needed(page):
    shown = page().picks
    assert shown.frame["needed_by"].tolist() == ["findings", "comes with COI-02", "expected, 62%"]
    text = shown._repr_html_()
    for words in ("SLV-02 (1 of 2)", "cut to length", "2031-02-12", "B2", "C4"):
        assert words in text
    assert "nan" not in text.lower() and "NaT" not in text


def test_columns_for_stand_ins_are_there_only_where_one_stands_in(page):
    with_one, without = page().picks.frame, page(PICKS.assign(substitute=None)).picks.frame
    assert "substitute" in with_one and "description" not in with_one
    assert "substitute" not in without and without["description"].tolist() == ["coil", "coil sleeve", "opto pair"]


def test_bins_to_count_say_why(page):
    shown = page().counts
    assert isinstance(shown, Table)
    assert "the book says -1" in shown._repr_html_() and "worth, USD" in shown._repr_html_()


def test_nothing_to_fetch_or_to_count_is_said(page):
    quiet = page(PICKS.iloc[:0], COUNTS.iloc[:0])
    assert "nothing to fetch" in quiet.picks.text and "counts.csv unlocks" in quiet.counts.text


def test_the_methods_are_told(page):
    assert all(isinstance(note, Note) and len(note.text) > 80 for note in (page().pick_method, page().count_method))


def test_without_an_order_no_file_is_promised(page):
    assert page().order_files.text == "No order is due today, so there is no order file."
