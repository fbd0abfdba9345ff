"""A workbook of rows set aside of another store, or of this one before a restore: it mends nothing that waits here."""

import shutil

import pytest

from pipeline.ingest import shop_folder
from pipeline.store import connect, read
from tests.support import small_shop
from tests.support.small_shop import book, held, laid, mended, said, waits

HERE = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,lamp,none,2025-01-10", "J2,lmap,3,2025-02-28")
THERE = small_shop.with_rows(small_shop.LEAST, "job_parts", "J3,sleeve,many,2025-04-06", "J3,nix,9,2025-04-07")
MENDED = [("job_parts", 2, "qty_pcs", "7"), ("job_parts", 3, "part", "lamp")]


@pytest.fixture
def connection():
    """An empty store in memory."""
    with connect.open_memory() as opened:
        yield opened


@pytest.fixture
def strange(tmp_path):
    """The workbook of another store, with rows in the same places."""
    with connect.open_memory() as other:
        laid(other, tmp_path / "there", THERE)
        return book(other, tmp_path / "there.xlsx")


def pieces(connection):
    return read.rows(connection, "select job, part, qty_pcs from job_parts where qty_pcs in (7, 9) order by all")


@pytest.mark.parametrize("without", [(), [("job_parts", 3)]], ids=["both mended", "one deleted"])
def test_rows_mended_for_another_store_are_taken_as_rows_and_end_nothing_that_waits_here(
    connection, tmp_path, strange, without
):
    laid(connection, tmp_path / "here", HERE)
    before = waits(connection)
    found = laid(connection, mended(strange, tmp_path / "mended.xlsx", MENDED, without))
    assert waits(connection) == before
    assert read.rows(connection, "select count(*) from mended_rows") == [(0,)]
    assert pieces(connection) == [("J3", "lamp", 9)] * (not without) + [("J3", "sleeve", 7)]
    assert ("mended.xlsx, sheet job_parts", -1, "", "of_another_store") in said(found, "noted")
    assert "let_go" not in {rule for *_, rule in said(found, "noted")}
    n_rows = 1 if without else 2
    assert found.counts().values.tolist() == [["mended.xlsx, sheet job_parts", n_rows, n_rows, 0, "job_parts"]]
    assert [row for row in found.earlier if any(row[1:])] == [("job_parts", 0, 2, 0)]
    assert said(found) == [
        ("job_parts.csv", 6, "qty_pcs", "whole_number"), ("job_parts.csv", 7, "part", "unknown_part")]


def test_rows_of_another_store_not_mended_are_set_aside_here_beside_those_that_wait(connection, tmp_path, strange):
    laid(connection, tmp_path / "here", HERE)
    before = waits(connection)
    found = laid(connection, strange)
    left = {("job_parts", "there.xlsx, sheet job_parts", 2), ("job_parts", "there.xlsx, sheet job_parts", 3)}
    assert set(waits(connection)) == set(before) | left
    # Mended in the workbook that this store writes, they are in.
    own = book(connection, tmp_path / "own.xlsx")
    laid(connection, mended(own, tmp_path / "done.xlsx", [
        ("job_parts", 2, "qty_pcs", "1"), ("job_parts", 3, "part", "lamp"), ("job_parts", 4, "qty_pcs", "7"),
        ("job_parts", 5, "part", "lamp")]))
    assert waits(connection) == {} and len(found.entries) > 0
    assert read.rows(connection, "select sum(qty_pcs) from job_parts where job = 'J3'") == [(12 + 7 + 9,)]


def test_a_row_of_another_store_that_waits_here_as_well_goes_on_waiting_once(connection, tmp_path):
    with connect.open_memory() as other:
        laid(other, tmp_path / "here", HERE)
        small_shop.write(tmp_path / "more", {"counts": "part,counted_on,qty_pcs\nlamp,2025-01-01,3\n"})
        laid(other, tmp_path / "more")
        path = book(other, tmp_path / "there.xlsx")
    laid(connection, tmp_path / "here")
    before = list(waits(connection).values())
    laid(connection, path)
    assert sorted(map(repr, waits(connection).values())) == sorted(map(repr, before))


def test_a_column_that_only_rows_waiting_here_have_is_neither_lost_nor_emptied(connection, tmp_path):
    with connect.open_memory() as other:
        laid(other, tmp_path / "there", small_shop.with_rows(small_shop.LEAST, "parts", "lamp,"))
        path = book(other, tmp_path / "there.xlsx")
    here = small_shop.LEAST | {"parts": "part,description,shelf,wear_class\nfli-coil,C,A,\nsleeve,S,A,\nlamp,L,B7,\n"
                                        "relay,Relay,C3,?\n"}
    laid(connection, tmp_path / "here", here)
    laid(connection, mended(path, tmp_path / "m.xlsx", [("parts", 2, "description", "Bulb")]))
    assert read.rows(connection, "select description, shelf from parts where part = 'lamp'") == [("Bulb", "B7")]
    assert [(cells["part"], cells["shelf"]) for cells in waits(connection).values()] == [("relay", "C3")]
    laid(connection, mended(book(connection, tmp_path / "own.xlsx"), tmp_path / "own mended.xlsx",
                            [("parts", 2, "wear_class", "other")]))
    assert read.rows(connection, "select shelf, wear_class from parts where part = 'relay'") == [("C3", "other")]


def test_a_workbook_written_before_a_restore_mends_nothing_that_was_set_aside_since(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.LEAST)
    kept = shutil.copy(store, tmp_path / "kept.duckdb")
    small_shop.load(tmp_path / "shop", {"job_parts": HERE["job_parts"]}, store)
    (path,) = (tmp_path / "shop-out" / "tables").glob("set_aside_*.xlsx")
    shutil.copy(kept, store)
    small_shop.load(tmp_path / "shop", {"job_parts": THERE["job_parts"]}, store)
    newest = "load_no = (select max(load_no) from loads)"
    before = small_shop.rows(store, f"select file, line, cells from set_aside_rows where {newest} order by all")
    summary = shop_folder.load(mended(path, tmp_path / "mended.xlsx", MENDED), store, tmp_path / "out")
    assert small_shop.rows(store, f"select file, line, cells from set_aside_rows where {newest} order by all") == before
    assert any("from this one before it was restored" in line for line in summary.lines())


def test_a_back_up_put_back_knows_its_workbook(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", HERE)
    (path,) = (tmp_path / "shop-out" / "tables").glob("set_aside_*.xlsx")
    small_shop.load(tmp_path / "more", {"counts": "part,counted_on,qty_pcs\nlamp,2025-01-01,3\n"},
                    shutil.copy(store, tmp_path / "kept.duckdb"))
    summary = shop_folder.load(mended(path, tmp_path / "mended.xlsx", MENDED), tmp_path / "kept.duckdb",
                               tmp_path / "out")
    assert not summary.newly_set_aside and "another store" not in " ".join(summary.lines())
    newest = "load_no = (select max(load_no) from loads)"
    assert small_shop.rows(tmp_path / "kept.duckdb", f"select * from set_aside_rows where {newest}") == []


def test_a_double_that_waits_is_not_lost_by_the_way_out_and_in_again(tmp_path):
    from pipeline.ingest import export

    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,sleeve,2,2025-01-10", "J9,lamp,1,")
    files = small_shop.with_rows(files, "parts", "LAMP,Other lamp")
    store, _ = small_shop.load(tmp_path / "shop", files)
    export.export(store, tmp_path / "copy", True)
    anew, _ = small_shop.load(tmp_path / "copy")
    summary = shop_folder.load(tmp_path / "copy" / "set_aside.xlsx", anew, tmp_path / "out")
    assert sorted((rule, column) for _, _, column, rule in small_shop.set_aside(summary)) == [
        ("double", ""), ("same_key", "part"), ("unknown_job", "job")]
    assert small_shop.records(anew) == small_shop.records(store)
    (path,) = (tmp_path / "out" / "tables").glob("set_aside_*.xlsx")
    assert len(small_shop.rows(anew, "select * from set_aside_rows where load_no = 2")) == 3
    # A double mended there comes in beside its equal.
    done = mended(path, tmp_path / "m.xlsx", [("job_parts", 2, "line", "2")])
    shop_folder.load(done, anew, tmp_path / "out2")
    assert small_shop.rows(anew, "select sum(qty_pcs) from job_parts where job = 'J1'") == [(4,)]


def test_a_workbook_of_another_store_loaded_twice_is_taken_once(connection, tmp_path, strange):
    laid(connection, tmp_path / "here", small_shop.LEAST)
    done = mended(strange, tmp_path / "mended.xlsx", MENDED)
    laid(connection, done)
    before = held(connection)
    laid(connection, done)
    assert held(connection) == before and waits(connection) == {}
