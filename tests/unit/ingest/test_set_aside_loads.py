"""The workbook of rows set aside, written by a load and loaded again."""

import json

import openpyxl
import pytest

from pipeline.ingest import read, set_aside_book, sheet_style, shop_folder, workbook_text
from pipeline.store import catalogue
from tests.support import small_shop


def test_the_demo_s_rows_set_aside_come_back_as_typed(demo_shop):
    store, summary = demo_shop.store, demo_shop.summary
    (path,) = (demo_shop.out / "tables").glob("set_aside_*.xlsx")
    kept = small_shop.rows(store, "select holds, line, cells from set_aside_rows order by holds, line")
    sheets = workbook_text.sheets_of(path.read_bytes(), path.name)
    found = []
    for name in set(sheets) & set(catalogue.tables()):
        header, rows = set_aside_book.as_typed(sheets[name].header, sheets[name].rows)
        lines = [int(row[sheets[name].header.index("set_aside_line")]) for row in sheets[name].rows]
        found += [(name, line, dict(zip(header, row, strict=True))) for line, row in zip(lines, rows, strict=True)]
    as_dicts = [(name, line, {column: cell or "" for column, cell in json.loads(cells).items()})
                for name, line, cells in kept]
    assert sorted(found, key=lambda row: row[:2]) == as_dicts
    assert len(found) == summary.files["rows_set_aside"].sum() > 9


def test_the_reader_of_folders_knows_the_sheet_that_explains():
    assert {set_aside_book.ABOUT_SHEET} < set(read.OWN_SHEETS)


MENDS = {"qty_pcs": "2", "used_on": "2025-01-15", "part": "lamp"}


def test_rows_mended_in_the_workbook_load_and_none_is_left(tmp_path):
    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,lamp,none,2025-01-10", "J2,lmap,3,30/02/2025",
                                 "J9,lamp,1,2025-01-10")
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert summary.files["rows_set_aside"].sum() == 3
    (path,) = (tmp_path / "shop-out" / "tables").glob("set_aside_*.xlsx")
    book = openpyxl.load_workbook(path)
    sheet = book["job_parts"]
    head = {cell.value: n for n, cell in enumerate(sheet[1], start=1)}
    for line in (2, 3):
        for column, text in MENDS.items():
            cell = sheet.cell(line, head[column])
            if cell.fill.fgColor.rgb[-6:] == sheet_style.MARK:
                cell.value = text
    sheet.delete_rows(4)
    book.save(tmp_path / "mended.xlsx")
    shop_folder.load(tmp_path / "mended.xlsx", store, tmp_path / "again")
    newest = "load_no = (select max(load_no) from loads)"
    assert small_shop.rows(store, f"select cells from set_aside_rows where {newest}") == []
    assert small_shop.rows(store, "select job, qty_pcs, cast(used_on as varchar) from job_parts where part = 'lamp'"
                                  " order by all") == [("J1", 2, "2025-01-10"), ("J2", 3, "2025-01-15"),
                                                       ("J3", 12, "2025-04-05")]
    assert list((tmp_path / "again" / "tables").glob("*.xlsx")) == []


def test_a_workbook_loaded_as_it_was_changes_nothing(tmp_path):
    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,lamp,none,2025-01-10", "J9,lamp,1,2025-01-10")
    store, _ = small_shop.load(tmp_path / "shop", files)
    before = small_shop.records(store)
    waited = small_shop.rows(store, "select holds, cells from set_aside_rows order by all")
    (path,) = (tmp_path / "shop-out" / "tables").glob("set_aside_*.xlsx")
    shop_folder.load(path, store, tmp_path / "again")
    newest = "load_no = (select max(load_no) from loads)"
    assert small_shop.records(store) == before
    assert small_shop.rows(store, f"select holds, cells from set_aside_rows where {newest} order by all") == waited


@pytest.mark.parametrize("more", ["", ",", ",,x"])
def test_a_row_with_cells_beyond_its_header_goes_on_waiting_until_it_is_mended(tmp_path, more):
    files = small_shop.LEAST | {"parts": f"part,description\nfli-coil,C\nsleeve,S\nlamp,L\nrelay,Relay, 6 V{more}\n"}
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert [entry["rule"] for entry in small_shop.entries(summary)] == ["more_cells"]
    (path,) = (tmp_path / "shop-out" / "tables").glob("set_aside_*.xlsx")
    again = shop_folder.load(path, store, tmp_path / "again")
    assert [entry["rule"] for entry in small_shop.entries(again)] == ["more_cells"]
    assert small_shop.rows(store, "select count(*) from parts where part = 'relay'") == [(0,)]
    newest = "load_no = (select max(load_no) from loads)"
    ((cells,),) = small_shop.rows(store, f"select cells from set_aside_rows where {newest}")
    assert json.loads(cells)[""][0] == " 6 V"


WAITING = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,lamp,none,2025-01-10")


@pytest.mark.parametrize("left", [0, 5], ids=["empty", "damaged"])
def test_a_workbook_thrown_away_or_damaged_is_written_again_by_the_same_load(tmp_path, left):
    store = small_shop.loaded_before(tmp_path / "shop", WAITING)
    (path,) = (tmp_path / "shop-out" / "tables").glob("set_aside_*.xlsx")
    before = path.read_bytes()
    path.unlink()
    if left:
        path.write_bytes(before[:left])
    _, summary = small_shop.load(tmp_path / "shop")
    found = path.with_name("set_aside_2.xlsx") if left else path
    assert summary.is_unchanged and any(f"1 row waits in {found}" in line for line in summary.lines())
    mended = small_shop.mended(found, tmp_path / "m.xlsx", [("job_parts", 2, "qty_pcs", "2")])
    shop_folder.load(mended, store, tmp_path / "out")
    assert small_shop.rows(store, "select qty_pcs from job_parts where part = 'lamp' and job = 'J1'") == [(2,)]
    assert small_shop.rows(store, "select count(*) from set_aside_rows where load_no = 2") == [(0,)]


def test_a_workbook_that_is_there_is_named_and_not_written_beside(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", WAITING)
    (path,) = (tmp_path / "shop-out" / "tables").glob("set_aside_*.xlsx")
    typed = small_shop.mended(path, path, [("job_parts", 2, "qty_pcs", "2")]).read_bytes()
    _, summary = small_shop.load(tmp_path / "shop")
    assert any(f"1 row waits in {path}" in line for line in summary.lines())
    assert list(path.parent.glob("set_aside_*.xlsx")) == [path] and path.read_bytes() == typed
    # Another place has none; there it is written.
    again = shop_folder.load(tmp_path / "shop", store, tmp_path / "other")
    assert any(str(tmp_path / "other" / "tables" / "set_aside_1.xlsx") in line for line in again.lines())


def test_check_says_where_rows_wait_or_that_a_load_writes_their_workbook(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", WAITING)
    (path,) = (tmp_path / "shop-out" / "tables").glob("set_aside_*.xlsx")
    small_shop.write(tmp_path / "more", {"counts": "part,counted_on,qty_pcs\nlamp,2025-01-01,3\n"})
    found = shop_folder.check(tmp_path / "more", tmp_path / "shop-out", store)
    assert f"Rows set aside earlier wait in {path}." in found.lines()
    path.unlink()
    found = shop_folder.check(tmp_path / "more", tmp_path / "shop-out", store)
    (line,) = [line for line in found.lines() if "their workbook is not in" in line]
    assert line.endswith("the next `load` writes it there.")
