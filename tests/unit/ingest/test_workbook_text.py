"""A workbook's sheets as text."""

import datetime
import warnings

import openpyxl
import pytest
from openpyxl.chart import BarChart, Reference

from pipeline.ingest import csv_text, workbook_text
from pipeline.store import catalogue
from pipeline.store.validate import OFFENCE_COLUMNS
from tests.support import small_shop, workbooks

PARTS = [["part", "description"], ["lamp", "Lamp"], ["coil", "Coil"]]
USE = [["job", "part", "qty_pcs", "used_on", "own"], ["J1", "lamp", 2, None, None], ["J1", "coil", 1, None, None],
       ["J2", "lamp", 4, None, None]]


def only(raw, name="parts"):
    """The one sheet of a workbook's bytes."""
    return workbooks.read(raw)[name]


def test_a_sheet_is_its_header_its_rows_and_their_numbers():
    sheet = only(workbooks.raw(parts=PARTS))
    assert (sheet.title, sheet.file) == ("parts", "shop.xlsx, sheet parts")
    assert sheet.header == ["part", "description"]
    assert sheet.rows == [["lamp", "Lamp"], ["coil", "Coil"]] and sheet.lines == [2, 3]
    assert list(sheet.refused.columns) == OFFENCE_COLUMNS and len(sheet.refused) == 0 and sheet.remarks == []


def test_a_folder_reads_alike_as_csv_and_as_workbook(tmp_path):
    folder = small_shop.write(tmp_path / "shop", small_shop.WHOLE)
    sheets = workbooks.read(workbooks.from_folder(folder, tmp_path / "shop.xlsx").read_bytes())
    assert set(sheets) == set(small_shop.WHOLE)
    for name, text in small_shop.WHOLE.items():
        rows, lines = csv_text.rows_of(text, name, ["part"])
        assert ([sheets[name].header, *sheets[name].rows], sheets[name].lines) == (rows, lines[1:]), name
        assert sheets[name].remarks == [] and len(sheets[name].refused) == 0


@pytest.mark.slow  # a folder with a row of every file is read both ways above
def test_the_demo_reads_alike_as_csv_and_as_workbook(tmp_path, root):
    folder = root / "data" / "demo"
    sheets = workbooks.read(workbooks.from_folder(folder, tmp_path / "shop.xlsx").read_bytes())
    for name, sheet in sheets.items():
        text = csv_text.decode((folder / f"{name}.csv").read_bytes(), name)
        rows, lines = csv_text.rows_of(text, name, [column.name for column in catalogue.tables()[name].file_columns])
        assert [sheet.header, *sheet.rows] == [row + [""] * (len(sheet.header) - len(row)) for row in rows], name
        assert len(sheet.lines) == len(lines) - 1


def test_titles_and_their_order_are_the_workbook_s():
    sheets = workbooks.read(workbooks.raw(**{" Jobs ": [["job"]], "PARTS": PARTS, "My notes": [["anything"]]}))
    assert list(sheets) == ["jobs", "parts", "my notes"]
    assert [sheet.file for sheet in sheets.values()] == ["shop.xlsx, sheet Jobs", "shop.xlsx, sheet PARTS",
                                                         "shop.xlsx, sheet My notes"]


def test_sheets_of_no_contract_are_there_unread():
    sheets = workbooks.read(workbooks.raw(parts=PARTS, dashboard=[["=1+"], [" "]], corrections=[["file"], ["a"]]))
    assert (sheets["dashboard"].header, sheets["dashboard"].rows) == ([], [])
    assert sheets["corrections"].rows == [["a"]]


def test_blank_rows_and_columns_are_left_out_and_row_numbers_are_the_sheet_s():
    sheet = only(workbooks.raw(parts=[[], ["part", None, "description"], [], ["lamp", "  ", "Lamp"], [" ", " "],
                                      ["coil", None, None, "stray"]]))
    assert sheet.header == ["part", "description", "column 4"]
    assert sheet.rows == [["lamp", "Lamp", ""], ["coil", "", "stray"]] and sheet.lines == [4, 6]


def test_a_stray_cell_far_out_costs_one_column():
    book = workbooks.book({"parts": PARTS})
    book["parts"].cell(900_000, 16_384, "stray")
    sheet = only(workbooks.saved(book))
    assert sheet.header == ["part", "description", "column 16384"]
    assert (sheet.rows[-1], sheet.lines[-1]) == (["", "", "stray"], 900_000)


def test_numbers_formatted_as_digits_are_read_as_shown():
    book = workbooks.book({"parts": [["part", "description", "shelf"], [7, "Lamp", 7], [12345, "Coil", 0.5]]})
    for cell in (book["parts"]["A2"], book["parts"]["A3"], book["parts"]["C3"]):
        cell.number_format = "0000"
    assert only(workbooks.saved(book)).rows == [["0007", "Lamp", "7"], ["12345", "Coil", "0.5"]]


def test_percent_days_times_and_truth_values():
    book = workbooks.book({"jobs": [["a", "b", "c", "d"], [0.25, datetime.datetime(2025, 3, 9), True,
                                                           datetime.datetime(2025, 3, 9, 8, 5)]]})
    book["jobs"]["A2"].number_format = "0 %"
    assert only(workbooks.saved(book), "jobs").rows == [["0.25", "2025-03-09", "TRUE", "2025-03-09 08:05:00"]]


def test_the_other_epoch_gives_the_same_day():
    book = workbooks.book({"jobs": [["job", "booked_on"], ["J1", datetime.datetime(2025, 3, 9)]]})
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    assert only(workbooks.saved(book), "jobs").rows == [["J1", "2025-03-09"]]


def test_formulas_are_taken_at_the_value_last_reckoned_with_one_remark_a_column():
    raw = workbooks.with_formulas(workbooks.raw(job_parts=USE), C2=("1+1", "2"), C4=("2*2", "4"),
                                  B3=('"co"&amp;"il"', "coil", "str"), B4=('IF(1,"","x")', "", "str"))
    sheet = only(raw, "job_parts")
    assert [row[:3] for row in sheet.rows] == [["J1", "lamp", "2"], ["J1", "coil", "1"], ["J2", "", "4"]]
    assert len(sheet.refused) == 0
    assert [tuple(entry)[3:6] for remark in sheet.remarks for entry in remark.itertuples(index=False)] == [
        ("part", "formula_value", "2 cells by formula; taken at the value last reckoned"),
        ("qty_pcs", "formula_value", "2 cells by formula; taken at the value last reckoned")]


def test_formulas_without_a_value_and_errors_are_refused_and_told_apart():
    raw = workbooks.with_formulas(workbooks.raw(job_parts=USE), C2=("1+1", None), C3=("1/0", "#DIV/0!", "e"))
    sheet = only(workbooks.with_formulas(raw, C4=("B9", "12")), "job_parts")
    assert workbooks.offences(sheet) == [(2, "qty_pcs", "=1+1", "formula"), (3, "qty_pcs", "#DIV/0!", "formula_error")]
    assert "write the value itself" in sheet.refused["suggestion"][0]
    assert sheet.rows[0][2] == "=1+1" and sheet.rows[2][2] == "12"
    assert workbooks.remarks(sheet)["formula_value"][1].startswith("1 cell by formula")


def test_an_error_pasted_as_a_value_is_refused():
    book = workbooks.book({"job_parts": USE})
    book["job_parts"]["C3"] = "#N/A"
    assert workbooks.offences(only(workbooks.saved(book), "job_parts")) == [(3, "qty_pcs", "#N/A", "formula_error")]


def test_a_formula_in_an_own_column_refuses_nothing():
    filled = [USE[0], *([*row[:4], "x"] for row in USE[1:])]
    raw = workbooks.with_formulas(workbooks.raw(job_parts=filled), E2=("C2*2", None), E3=("1/0", "#DIV/0!", "e"),
                                  E4=("C4*2", "8"))
    sheet = only(raw, "job_parts")
    assert [row[4] for row in sheet.rows] == ["=C2*2", "#DIV/0!", "8"] and len(sheet.refused) == 0
    assert workbooks.remarks(sheet) == {
        "formula_text": ("own", "2 cells by formula without a value, or in error; kept as text"),
        "formula_value": ("own", "1 cell by formula; taken at the value last reckoned")}


def test_every_column_of_the_corrections_counts():
    raw = workbooks.with_formulas(workbooks.raw(corrections=[["file", "whatever"], ["parts", "x"]]), B2=("A2", None))
    assert workbooks.offences(only(raw, "corrections")) == [(2, "whatever", "=A2", "formula")]


def merged(*ranges, rows=USE, **cells):
    book = workbooks.book({"job_parts": rows})
    for area in ranges:
        book["job_parts"].merge_cells(area)
    return only(workbooks.saved(book), "job_parts")


def test_rows_that_share_a_merged_cell_are_refused_each_with_its_cell():
    sheet = merged("A2:A3")
    assert workbooks.offences(sheet) == [(2, "job", "J1", "merged_cells"), (3, "job", None, "merged_cells")]
    assert "cells A2:A3 are merged, so it is not told whose value 'J1' is" in sheet.refused["suggestion"][0]
    assert sheet.rows[1] == ["", "coil", "1", "", ""]


def test_cells_merged_along_a_row_refuse_the_row():
    assert workbooks.offences(merged("B4:C4")) == [(4, "part", "lamp", "merged_cells"),
                                                   (4, "qty_pcs", None, "merged_cells")]


def test_a_merge_that_covers_empty_rows_alone_is_a_matter_of_looks():
    rows = [USE[0], USE[1], [], USE[2]]
    sheet = merged("A2:A3", "C2:C3", rows=rows)
    assert sheet.lines == [2, 4] and len(sheet.refused) == 0


def test_a_note_in_merged_cells_beside_the_table_refuses_nothing():
    rows = [USE[0], [*USE[1], "a long note"], USE[2]]
    sheet = merged("F2:H3", rows=rows)
    assert len(sheet.refused) == 0 and sheet.header[-1] == "column 6"


@pytest.mark.parametrize("state", ["hidden", "veryHidden"])
def test_a_hidden_sheet_is_read_with_a_remark(state):
    book = workbooks.book({"parts": PARTS, "jobs": [["job"], ["J1"]]})
    book["parts"].sheet_state = state
    sheets = workbooks.read(workbooks.saved(book))
    assert len(sheets["parts"].rows) == 2 and sheets["jobs"].remarks == []
    assert workbooks.remarks(sheets["parts"])["hidden_sheet"][1] == "a hidden sheet; read like the others"


def test_hidden_rows_and_columns_are_read_and_counted():
    book = workbooks.book({"job_parts": USE})
    sheet = book["job_parts"]
    for line in (1, 3, 4, 90):  # the header and an empty row are not records
        sheet.row_dimensions[line].hidden = True
    sheet.column_dimensions.group("B", "C", hidden=True)
    sheet.column_dimensions["Z"].hidden = True
    found = only(workbooks.saved(book), "job_parts")
    assert len(found.rows) == 3
    assert workbooks.remarks(found) == {"hidden_rows": ("2 hidden rows", "read like the others"),
                                        "hidden_columns": ("2 hidden columns", "read like the others")}


def test_a_sheet_without_a_cell_is_passed_over_with_a_remark():
    book = workbooks.book({"parts": PARTS, "jobs": []})
    book["jobs"]["C3"].number_format = "@"  # looks, no value
    sheet = workbooks.read(workbooks.saved(book))["jobs"]
    assert (sheet.header, sheet.rows, sheet.lines) == ([], [], [])
    assert workbooks.remarks(sheet) == {"empty_sheet": ("shop.xlsx, sheet jobs", "an empty sheet; passed over")}


def test_charts_on_a_sheet_of_their_own_are_left_out():
    book = workbooks.book({"parts": PARTS})
    chart = BarChart()
    chart.add_data(Reference(book["parts"], min_col=1, max_col=1, min_row=2, max_row=3))
    book.create_chartsheet("jobs").add_chart(chart)
    assert list(workbooks.read(workbooks.saved(book))) == ["parts"]


def test_what_the_library_warns_of_is_not_shown():
    raw = workbooks.changed(workbooks.raw(parts=PARTS), "xl/worksheets/sheet1.xml", lambda text: text.replace(
        "</worksheet>", '<extLst><ext uri="{CCE6A557-97BC-4b89-ADB6-D9C93CAAB3DF}"/></extLst></worksheet>'))
    with warnings.catch_warnings(record=True) as seen:
        warnings.simplefilter("always")
        assert only(raw).rows == [["lamp", "Lamp"], ["coil", "Coil"]]
    assert seen == []


def test_macros_and_links_to_other_files_are_left_alone():
    book = workbooks.book({"parts": PARTS})
    raw = workbooks.changed(workbooks.saved(book), "[Content_Types].xml", lambda text: text.replace(
        "openxmlformats-officedocument.spreadsheetml.sheet.main", "ms-excel.sheet.macroEnabled.main").replace(
        "application/vnd.ms-excel", "application/vnd.ms-excel"))
    assert only(raw).rows == [["lamp", "Lamp"], ["coil", "Coil"]]
    linked = workbooks.with_formulas(workbooks.raw(job_parts=USE), C2=("[1]prices!$A$1", "7"))
    assert only(linked, "job_parts").rows[0][2] == "7"


def test_a_text_stays_text_and_its_escapes_are_read():
    rows = [["part", "description"], ["1-2", "=SUM(A1)"], ["007", "two_x000D_\nlines"], ["1e3", "'quoted"]]
    assert only(workbooks.raw(parts=rows)).rows == [["1-2", "=SUM(A1)"], ["007", "two\r\nlines"], ["1e3", "'quoted"]]


def test_the_corrections_are_of_the_contract():
    assert workbook_text.CORRECTIONS == "corrections" and "corrections" not in catalogue.tables()
