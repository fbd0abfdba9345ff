"""A mend or a correction changed once more: the row it brought into the store gives way to the newer one."""

import pytest

from pipeline.store import connect, read
from tests.support import small_shop
from tests.support.small_shop import book, held, laid, mended, said, waits

BAD = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,lamp,none,2025-01-10", "j2,lmap,3,30/02/2025")
FIXES = [("job_parts", 2, "qty_pcs", "2"), ("job_parts", 3, "part", "lamp"), ("job_parts", 3, "used_on", "2025-02-28")]
CORRECTIONS = "file,key,line,column,expected_value,new_value,reason\n"


@pytest.fixture
def connection():
    """An empty store in memory."""
    with connect.open_memory() as opened:
        yield opened


def lamps(connection):
    return read.rows(connection, "select job, qty_pcs from job_parts where part = 'lamp' and job <> 'J3' order by all")


def replaced(taken):
    return [entry[:2] for entry in said(taken, "noted") if entry[3] == "replaced"]


def test_a_mend_changed_again_in_its_workbook_replaces_the_row_it_brought(connection, tmp_path):
    laid(connection, tmp_path / "shop", BAD)
    first = mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "m.xlsx", FIXES)
    laid(connection, first)
    second = mended(first, tmp_path / "m.xlsx", [("job_parts", 2, "qty_pcs", "5")])
    found = laid(connection, second)
    assert lamps(connection) == [("J1", 5), ("J2", 3)] and waits(connection) == {}
    assert replaced(found) == [("m.xlsx, sheet job_parts", 2)]
    words = [(e.value, e.suggestion) for part in found.entries for e in part.itertuples() if e.rule == "replaced"]
    assert words[0][0] == "job J1, part lamp, qty_pcs 2, used_on 2025-01-10" and "takes its place" in words[0][1]
    # The faulty row met again is read as mended last; a third change replaces the second.
    before = held(connection)
    laid(connection, tmp_path / "shop", {"jobs": BAD["jobs"] + "\n"})
    assert held(connection) == before and waits(connection) == {}
    laid(connection, mended(second, tmp_path / "m.xlsx", [("job_parts", 2, "qty_pcs", "6")]))
    assert lamps(connection) == [("J1", 6), ("J2", 3)]
    assert replaced(laid(connection, tmp_path / "m.xlsx")) == [] and lamps(connection) == [("J1", 6), ("J2", 3)]


def test_one_of_two_doubles_mended_and_changed_again_leaves_the_other(connection, tmp_path):
    laid(connection, tmp_path / "shop",
         small_shop.with_rows(small_shop.LEAST, "job_parts", *["J1,sleeve,2,2025-01-10"] * 2))
    first = mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "m.xlsx",
                   [("job_parts", 2, "line", "2"), ("job_parts", 3, "line", "3")])
    laid(connection, first)
    laid(connection, mended(first, tmp_path / "m.xlsx", [("job_parts", 3, "qty_pcs", "7")]))
    rows = "select line, qty_pcs from job_parts where job = 'J1' order by all nulls first"
    assert read.rows(connection, rows) == [(None, 2), (2, 2), (3, 7)]
    before = held(connection)
    laid(connection, tmp_path / "shop", {"jobs": BAD["jobs"] + "\n"})
    assert held(connection) == before and waits(connection) == {}


def test_a_mend_changed_for_the_worse_waits_and_the_row_stays_until_it_is_good(connection, tmp_path):
    laid(connection, tmp_path / "shop", BAD)
    first = mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "m.xlsx", FIXES)
    laid(connection, first)
    worse = mended(first, tmp_path / "m.xlsx", [("job_parts", 2, "qty_pcs", "five")])
    found = laid(connection, worse)
    assert lamps(connection) == [("J1", 2), ("J2", 3)] and replaced(found) == []
    assert [cells["qty_pcs"] for cells in waits(connection).values()] == ["five"]
    laid(connection, mended(worse, tmp_path / "m.xlsx", [("job_parts", 2, "qty_pcs", "5")]))
    assert lamps(connection) == [("J1", 5), ("J2", 3)] and waits(connection) == {}


def test_a_mend_that_said_what_another_row_says_takes_nothing_away_when_changed(connection, tmp_path):
    files = small_shop.with_rows(BAD, "job_parts", "J1,lamp,2,2025-01-10")
    laid(connection, tmp_path / "shop", files)
    first = mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "m.xlsx", FIXES)
    laid(connection, first)
    laid(connection, mended(first, tmp_path / "m.xlsx", [("job_parts", 2, "qty_pcs", "5")]))
    assert lamps(connection) == [("J1", 2), ("J1", 5), ("J2", 3)]


def test_a_row_with_a_key_mended_to_another_key_replaces_the_one_it_brought(connection, tmp_path):
    laid(connection, tmp_path / "shop", small_shop.with_rows(small_shop.LEAST, "parts", "relay,"))
    first = mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "m.xlsx", [("parts", 2, "description", "Relay")])
    laid(connection, first)
    laid(connection, mended(first, tmp_path / "m.xlsx", [("parts", 2, "part", "relay-6v")]))
    assert read.rows(connection, "select part from parts where part like 'relay%'") == [("relay-6v",)]


@pytest.mark.parametrize("way", ["line", "key"])
def test_a_correction_changed_after_its_load_replaces_the_row_it_made(connection, tmp_path, way):
    at = "parts,lamp,,description,Lamp" if way == "key" else "job_parts,,4,qty_pcs,3"
    question = {"key": "select description from parts where part = 'lamp'",
                "line": "select qty_pcs from job_parts where job = 'J2' and part = 'sleeve'"}[way]
    for n, value in enumerate(["8", "9", "8"]):
        laid(connection, tmp_path / str(n), small_shop.LEAST | {"corrections": f"{CORRECTIONS}{at},{value},recount\n"})
        assert read.rows(connection, question) == [(value if way == "key" else int(value),)]
    laid(connection, tmp_path / "without", small_shop.LEAST)
    assert read.rows(connection, question) == [("Lamp" if way == "key" else 3,)]


def test_a_correction_that_goes_bad_keeps_the_row_until_it_is_good_again(connection, tmp_path):
    for n, (value, kept, n_waits) in enumerate([("8", 8, 0), ("eight", 8, 1), ("9", 9, 0)]):
        found = laid(connection, tmp_path / str(n), small_shop.LEAST | {
            "corrections": f"{CORRECTIONS}job_parts,,4,qty_pcs,3,{value},\n"})
        assert read.rows(connection, "select qty_pcs from job_parts where job = 'J2' and part = 'sleeve'") == [(kept,)]
        assert len(waits(connection)) == n_waits
    assert replaced(found) == [("job_parts.csv", 4)]
    assert "vanished" not in {rule for *_, rule in said(found, "noted")}


def test_what_the_notebook_recorded_is_never_replaced(connection, tmp_path):
    laid(connection, tmp_path / "shop", BAD)
    first = mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "m.xlsx", FIXES)
    laid(connection, first)
    connection.execute("update job_parts set recorded_in = 'notebook' where part = 'lamp' and qty_pcs = 2")
    laid(connection, mended(first, tmp_path / "m.xlsx", [("job_parts", 2, "qty_pcs", "5")]))
    assert lamps(connection) == [("J1", 2), ("J1", 5), ("J2", 3)]
