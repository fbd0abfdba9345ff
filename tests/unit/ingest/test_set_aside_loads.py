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
