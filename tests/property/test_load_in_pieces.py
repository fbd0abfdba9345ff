"""Any folder, loaded three times, in pieces, in any order, or bit by bit: the same store, and the same rows waiting."""

import decimal
import json
import tempfile
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from pipeline.ingest import waiting
from pipeline.store import catalogue, connect
from tests.support import any_folder, one_spelling, small_shop

LOADS = settings(max_examples=2, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
MANY = settings(LOADS, max_examples=300)
SERIES = one_spelling.FOLDERS.flatmap(lambda folder: st.tuples(st.just(folder), one_spelling.pieces(folder)))


def as_read(column, text):
    """A cell as its column reads it, so that the store's way to write it down does not matter."""
    try:
        if column.type == "DOUBLE":
            return repr(float(text))
        if column.is_money or column.type in ("BIGINT", "INTEGER"):
            return repr(decimal.Decimal(text).normalize())
    except (ValueError, decimal.InvalidOperation):
        pass
    return text.strip()


def rows_waiting(connection):
    """The rows that wait, as far as they could be mended and read, and how often each (Counter).

    A job's family is left out: where it was filled in from the machine, the store no longer knows that it was.
    """
    found = Counter()
    for row in waiting.rows(connection).itertuples():
        columns = {column.name: column for column in catalogue.tables()[row.holds].file_columns}
        cells = json.loads(row.mended if isinstance(row.mended, str) else row.cells)
        found[row.holds, frozenset(
            (name, as_read(columns[name], text) if name in columns else str(text)) for name, text in cells.items()
            if str(text or "").strip() and (row.holds, name) != ("jobs", "family") and name != "recorded_in")] += 1
    return found


def loaded(*folders):
    """The shop's tables, and the rows that wait, after a series of folders."""
    with tempfile.TemporaryDirectory() as made, connect.open_memory() as connection:
        for n, folder in enumerate(folders):
            taken = small_shop.laid(connection, Path(made) / str(n), any_folder.files_of(folder))
            counts = taken.counts()
            assert (counts["rows_in"] == counts["rows_loaded"] + counts["rows_set_aside"]).all()
        return small_shop.held(connection), rows_waiting(connection)


def same(folder, series):
    """The series of folders leads to the store that the folder as a whole leads to."""
    (whole, waits), (pieces, still) = loaded(folder), loaded(*series)
    for name in whole:
        assert whole[name] == pieces[name], name
    assert waits == still


DOUBT = {"parts": [("a", "w", "", "")], "jobs": [("a", "em", "fix_only", "", "", "")], "job_parts": [],
         "job_costs": [("a", "freight", "1.500", "", ""), ("a", "Tax", "1,5", "", "usd"), ("a", "Tax", "2", "", "EUR")]}
LISTED_LATER = {"parts": [("a", "w", "", "")], "job_parts": [("a", "a", "1", "", "", ""), ("b", "a", "1", "", "", "")],
                "jobs": [("a", "em", "fix_only", "", "", ""), ("b", "zz", "fix_only", "31/01/2025", "", "m")]}


@LOADS
@given(SERIES)
@example((DOUBT, [DOUBT, {"counts": []}]))
@example((LISTED_LATER | {"families": [("em", "w")], "vendors": [("n", "", "")]},
          [LISTED_LATER, {"families": [("em", "w")]}, {"vendors": [("n", "", "")]}]))
def test_pieces_in_any_order_give_the_store_of_the_whole(case):
    same(*case)


@settings(LOADS, max_examples=2)
@given(one_spelling.FOLDERS)
def test_the_folder_three_times_gives_the_store_of_once(folder):
    same(folder, [folder, folder, folder])


@LOADS
@given(one_spelling.FOLDERS.flatmap(one_spelling.twice))
def test_files_that_grow_give_the_store_of_their_last_state(series):
    same(series[-1], series)


@pytest.mark.slow
@MANY
@given(SERIES)
def test_pieces_of_many_more_folders(case):
    same(*case)


@pytest.mark.slow
@MANY
@given(one_spelling.FOLDERS.flatmap(lambda folder: st.tuples(one_spelling.twice(folder), one_spelling.pieces(folder))))
def test_pieces_that_grow_of_many_more_folders(case):
    """Some rows of the files without a key, then pieces, then the whole, which supersedes what waited."""
    (some, whole), places = case
    same(whole, [some, *[{name: whole[name] for name in piece} for piece in places], whole])
