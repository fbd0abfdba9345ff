"""Random small folders, sound and unsound: rows in = rows loaded + rows set aside; a second load changes nothing."""

import csv
import io
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from tests.support import small_shop

LOADS = settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
# Any text a file may hold; not the NUL of binary files nor halves of characters.
ANY = st.text(st.characters(blacklist_characters="\0", blacklist_categories=["Cs"]), max_size=8)
IDS = st.sampled_from(["a", "A", " a", "b", "B-1", "b 1", "ß", "SS", "", "'; --", "=1+1", "né"])
DAYS = st.sampled_from(["", "2025-01-31", "31/01/2025", "01/02/2025", "2025-02-30", "soon", "1 Feb 2025"])
PIECES = st.sampled_from(["1", "2", "-1", "0", "", "1.0", "1,5", "few", "1e9", "9" * 30])
AMOUNTS = st.sampled_from(["", "1", "1.5", "1,5", "1.23456", "1.500", "EUR 2", "$3", "-4", "nan", "1e400", "12,345"])
NUMBERS = st.sampled_from(["", "1", "0.5", "0,5", "x", "-1", "inf", "1e-400"])


def rows(*cells):
    return st.lists(st.tuples(*[cell | ANY for cell in cells]), max_size=5)


FOLDERS = st.fixed_dictionaries(
    {
        "parts": rows(IDS, st.just("words"), st.sampled_from(["coil", "Opto-Pair", "", "odd"]), AMOUNTS),
        "jobs": rows(IDS, IDS, st.sampled_from(["fix_only", "Thorough", "all"]), DAYS, DAYS, IDS),
        "job_parts": rows(IDS, IDS, PIECES, DAYS, st.sampled_from(["", "1", "2"]), IDS),
    },
    optional={
        "families": rows(IDS, st.just("words")),
        "aliases": rows(IDS, IDS),
        "machines": rows(IDS, IDS, st.sampled_from(["", "1972", "72"])),
        "shop": rows(
            st.sampled_from(["currency", "bays", "labour_rate", "LABOUR_RATE", "x"]),
            st.sampled_from(["EUR", "usd", "2", "2,5", ""]),
        ),
        "counts": rows(IDS, DAYS, PIECES),
        "job_costs": rows(
            IDS, st.sampled_from(["freight", "Tax", "tip"]), AMOUNTS, DAYS, st.sampled_from(["", "EUR", "usd"])
        ),
        "job_hours": rows(IDS, NUMBERS, DAYS),
        "vendors": rows(IDS, AMOUNTS, NUMBERS),
        "offers": rows(IDS, IDS, PIECES, AMOUNTS, DAYS),
    },
)
HEADERS = {
    "parts": "part,description,wear_class,unit_cost", "jobs": "job,family,scope,booked_on,delivered_on,machine",
    "job_parts": "job,part,qty_pcs,used_on,line,assembly", "families": "family,name", "aliases": "alias,part",
    "machines": "machine,family,year", "shop": "key,value", "counts": "part,counted_on,qty_pcs",
    "job_costs": "job,kind,amount,paid_on,currency", "job_hours": "job,hours,worked_on",
    "vendors": "vendor,freight_flat,lead_time_days", "offers": "vendor,part,pack_pcs,pack_price,quoted_on",
}


def text(name, cells):
    made = io.StringIO()
    writer = csv.writer(made, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerow(HEADERS[name].split(","))
    writer.writerows(cells)
    return made.getvalue()


def files_of(folder):
    return {name: text(name, cells) for name, cells in folder.items()}


@LOADS
@given(FOLDERS)
@example({"parts": [("a", "w", "", "")], "jobs": [("a", "a", "fix_only", "", "", "")],
          "job_parts": [("a", "a", "1", "", "", ""), ("a", "a", "1", "", "", "")], "aliases": [("", "a"), ("A", "a")]})
@example({"parts": [("ß", "w", "", ""), ("SS", "w", "", "")], "jobs": [], "job_parts": [], "families": [("\x1f", "x")]})
def test_every_row_is_loaded_or_set_aside_and_a_second_load_changes_nothing(folder):
    _adds_up_and_is_settled(folder)


@pytest.mark.slow
@settings(LOADS, max_examples=300)
@given(FOLDERS)
def test_the_same_for_many_more_folders(folder):
    _adds_up_and_is_settled(folder)


def _adds_up_and_is_settled(folder):
    with tempfile.TemporaryDirectory() as made:
        shop = Path(made) / "shop"
        store, summary = small_shop.load(shop, files_of(folder))
        told = summary.files.set_index("file")
        for name in folder:
            row = told.loc[f"{name}.csv"]
            assert (
                row["rows_in"]
                == small_shop.data_rows(shop / f"{name}.csv")
                == row["rows_loaded"] + row["rows_set_aside"]
            )
            kept = small_shop.rows(store, f"select count(*) from set_aside_rows where file = '{name}.csv'")
            assert kept == [(row["rows_set_aside"],)]
            if name != "families":  # to those of the file no implied one is added, but none is lost
                assert small_shop.rows(store, f"select count(*) from {name}") == [(row["rows_loaded"],)]
        bad_lines = {(file, line) for file, line, *_ in small_shop.set_aside(summary)}
        assert len(bad_lines) == told["rows_set_aside"].sum()
        before = small_shop.contents(store)
        assert small_shop.load(shop)[1].is_unchanged
        assert small_shop.contents(store) == before


@settings(LOADS, max_examples=5)
@given(FOLDERS, st.randoms(use_true_random=False))
def test_rows_in_another_order_and_loads_of_parts_of_a_file_give_the_same_takings(folder, random):
    """What is a good row, and which identifiers name it, depends on no order; only spellings shown may."""
    with tempfile.TemporaryDirectory() as made:
        whole, _ = small_shop.load(Path(made) / "whole", files_of(folder))
        cut = random.randint(0, len(folder["job_parts"]))
        first = folder | {"job_parts": folder["job_parts"][:cut]}
        pieces = Path(made) / "pieces.duckdb"
        small_shop.load(Path(made) / "first", files_of(first), pieces)
        small_shop.load(Path(made) / "second", files_of(folder), pieces)
        assert small_shop.records(pieces) == small_shop.records(whole)
