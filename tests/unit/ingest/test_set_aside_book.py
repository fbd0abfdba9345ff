"""Rows set aside, as a workbook that can be mended and loaded again."""

import json

import openpyxl
import pandas as pd
import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import row_mark, set_aside_book, set_aside_sheet, sheet_style, workbook_text

JOB_PARTS = ("job", "part", "qty_pcs", "used_on", "own")


def use(*cells, **more):
    return dict(zip(JOB_PARTS, cells, strict=True)) | more


def rows_of(*rows, holds="job_parts", file="job_parts.csv"):
    """Rows set aside, on lines 2, 3, 4 ..."""
    return pd.DataFrame({"holds": holds, "file": file, "line": range(2, len(rows) + 2), "load_no": 7,
                         "cells": [json.dumps(row) for row in rows]})


def faults(*found, file="job_parts.csv"):
    """Entries from tuples of line, column, value, suggestion."""
    frame = pd.DataFrame([(file, *one) for one in found], columns=["file", "line", "column", "value", "suggestion"])
    return frame.astype({"line": "Int64", "column": object, "value": object}).assign(rule="some rule",
                                                                                    outcome="set_aside")


class Written:
    """A workbook as written: opened as a whole, and read as records."""

    def __init__(self, path, rows, entries):
        set_aside_book.write(path, rows, entries, "0123")
        self.raw = path.read_bytes()
        self.book = openpyxl.load_workbook(path)
        self.sheets = workbook_text.sheets_of(self.raw, "back.xlsx")

    def marked(self, name):
        """Places of the cells that are filled as marked."""
        return {cell.coordinate for line in self.book[name].iter_rows(min_row=2) for cell in line
                if cell.fill.fill_type == "solid" and cell.fill.fgColor.rgb[-6:] == sheet_style.MARK}

    def typed(self, name):
        """The rows as they would be loaded, by column; cells beyond the header under an empty name."""
        header, rows = set_aside_book.as_typed(self.sheets[name].header, self.sheets[name].rows)
        return [dict(zip(header, row, strict=False)) | ({"": row[len(header):]} if len(row) > len(header) else {})
                for row in rows]

    def why(self, name):
        """The reasons told, a row each."""
        sheet = self.sheets[name]
        return [row[sheet.header.index("why_set_aside")] for row in sheet.rows]


@pytest.fixture
def written(tmp_path):
    return lambda rows, entries: Written(tmp_path / "back.xlsx", rows, entries)


TWO = (use("J1", "lamp", "none", "2025-01-10", ""), use("J1", "lmap", "2", "30/02/2025", "x"))
WRONG = ((2, "qty_pcs", "none", "wanted a whole number of pieces, as 12"),
         (3, "part", "lmap", "wanted a part listed in parts; did you mean lamp?"),
         (3, "used_on", "30/02/2025", "wanted a day as 2025-03-09"))


def test_rows_come_back_as_typed_with_the_faults_marked_and_told(written):
    book = written(rows_of(*TWO), faults(*WRONG))
    assert book.typed("job_parts") == list(TWO)
    assert book.marked("job_parts") == {"C2", "B3", "D3"}
    sheet = book.book["job_parts"]
    assert [sheet[place].comment.text for place in ("C2", "B3", "D3")] == [words for *_, words in WRONG]
    assert book.why("job_parts") == [
        "qty_pcs is 'none': wanted a whole number of pieces, as 12",
        "part is 'lmap': wanted a part listed in parts; did you mean lamp?\n"
        "used_on is '30/02/2025': wanted a day as 2025-03-09"]
    assert not any(cell.comment for cell in sheet["A"][1:])


def test_the_last_columns_tell_why_and_where_from(written):
    sheet = written(rows_of(*TWO), faults(*WRONG)).sheets["job_parts"]
    assert sheet.header == [*JOB_PARTS, *set_aside_book.SET_ASIDE_COLUMNS]
    assert [row[-4:-1] for row in sheet.rows] == [["2", "job_parts.csv", "7"], ["3", "job_parts.csv", "7"]]
    assert set_aside_book.SET_ASIDE_COLUMNS[:2] == ("why_set_aside", "set_aside_line")


def test_a_fault_of_the_whole_row_marks_the_row(written):
    found = [{"assembly": "a", "part": "x"}, {"assembly": "b", "part": "x"}]
    rows = rows_of(*found, holds="findings", file="findings.csv")
    book = written(rows, faults((3, None, None, "the same as line 2"), file="findings.csv"))
    assert book.marked("findings") == {"A3", "B3"}
    assert book.book["findings"]["A3"].comment.text == "the same as line 2"
    assert book.why("findings") == ["", "the same as line 2"]


def test_a_double_has_the_column_that_can_tell_it_apart(written):
    book = written(rows_of(*TWO), faults((3, None, None, "the same as line 2")))
    assert book.sheets["job_parts"].header[:6] == ["job", "part", "qty_pcs", "used_on", "line", "own"]
    assert book.marked("job_parts") == {"A3", "B3", "C3", "D3", "E3", "F3"}
    assert book.book["job_parts"]["A3"].comment.text == "the same as line 2"
    assert book.why("job_parts") == ["", "the same as line 2"]


def test_a_cell_that_is_empty_and_should_not_be_is_marked(written):
    book = written(rows_of(use("J1", "lamp", "", "", "")), faults((2, "qty_pcs", None, "a value is required here")))
    assert book.marked("job_parts") == {"C2"} and book.book["job_parts"]["C2"].value is None
    assert book.why("job_parts") == ["qty_pcs: a value is required here"]


def test_columns_stand_in_the_order_of_the_contract_and_none_appears_that_no_file_had(written):
    rows = rows_of({"qty_pcs": "1", "own": "x", "job": "J1", "part": "lamp"}, {"job": "J2", "part": "b", "batch": "7"})
    sheet = written(rows, faults()).sheets["job_parts"]
    assert sheet.header == ["job", "part", "qty_pcs", "batch", "own", *set_aside_book.SET_ASIDE_COLUMNS]


def test_a_column_that_lacks_a_required_value_is_there_to_be_filled(written):
    rows = rows_of({"job": "J1", "machine": "M9", "scope": "refresh"}, holds="jobs", file="jobs.csv")
    book = written(rows, faults((2, "family", None, "a value is required here"), file="jobs.csv"))
    assert book.sheets["jobs"].header[:4] == ["job", "family", "machine", "scope"]
    assert book.marked("jobs") == {"B2"}


def test_the_notebook_s_mark_goes_along(written):
    rows = rows_of({"job": "J1", "part": "x", "qty_pcs": "1", "recorded_in": "notebook"})
    assert written(rows, faults()).typed("job_parts")[0]["recorded_in"] == "notebook"


def test_one_sheet_for_each_table_in_the_order_of_the_contract_behind_one_that_explains(written, tmp_path):
    rows = pd.concat([rows_of(*TWO), rows_of({"part": "x"}, holds="counts", file="counts.csv"),
                      rows_of({"part": "y"}, holds="parts", file="parts.csv")])
    book = written(rows, faults(*WRONG))
    assert book.book.sheetnames == [set_aside_book.ABOUT_SHEET, "parts", "job_parts", "counts"]
    about = list(book.book[set_aside_book.ABOUT_SHEET].iter_rows(values_only=True))
    assert ("python3 -m pipeline load THIS_FILE --shop STORE", None, None) in about
    assert [row[:2] for row in about[-5:-2]] == [("parts", 1), ("job_parts", 2), ("counts", 1)]
    assert about[-1] == ("set aside by load", 7, "0123")
    assert set_aside_book.written_by(tmp_path / "back.xlsx") == (7, "0123")
    assert book.sheets[set_aside_book.ABOUT_SHEET].rows == []  # not of the contract: left unread


def test_rows_of_two_files_on_the_same_line_keep_their_own_faults(written):
    rows = pd.concat([rows_of(TWO[0]), rows_of(TWO[1], file="old.xlsx, sheet job_parts")])
    book = written(rows, faults((2, "qty_pcs", "none", "here")))
    assert book.marked("job_parts") == {"C2"} and book.why("job_parts") == ["qty_pcs is 'none': here", ""]
    assert [row[-3] for row in book.sheets["job_parts"].rows] == ["job_parts.csv", "old.xlsx, sheet job_parts"]


def test_a_row_that_was_in_the_store_before_has_its_own_number(written):
    rows = rows_of(TWO[0]).assign(line=-7, file="job_parts (in the store)")
    assert written(rows, faults()).sheets["job_parts"].rows[0][-4:-2] == ["-7", "job_parts (in the store)"]


@pytest.mark.parametrize("text", ["=1+1", "+49 30", "-3", "@home", "#N/A", "TRUE", "1-2", "007", " ", "two\r\nlines",
                                  "a\tb", "bell\x07", "_x0007_", "\ufffe", "Grüße 日本 🙂", "'quoted", "x" * 32_767])
def test_any_text_is_kept_as_text(written, text):
    book = written(rows_of(use("J1", text, "1", "", text)), faults())
    assert book.typed("job_parts") == [use("J1", text, "1", "", text)]
    cell = book.book["job_parts"]["B2"]
    assert (cell.data_type, cell.number_format) == ("s", "@")


def test_characters_a_worksheet_does_not_show_are_told(written):
    book = written(rows_of(use("J1", "bell\x07", "1", "", "")), faults())
    assert book.why("job_parts") == ["part holds U+0007, which a worksheet does not show; it is kept"]


@pytest.mark.parametrize("text", ["x" * 32_768, "long \x07" * 9_000, "_x0041_" * 18_000])
def test_a_text_longer_than_a_cell_goes_on_beside_and_comes_back_whole(written, text):
    book = written(rows_of(use("J1", "lamp", "1", "", text), TWO[1]), faults((2, "own", text, "far too long")))
    assert book.typed("job_parts") == [use("J1", "lamp", "1", "", text), TWO[1]]
    assert "own is longer than a cell can hold; it goes on in 'rest of own 2'" in book.why("job_parts")[0]
    assert len(book.why("job_parts")[0]) < 500


def test_cells_beyond_the_header_come_back_beyond_it(written):
    surplus = (2, None, " 6.3 V | ", "this row has 7 cells, the header 5")
    book = written(rows_of(use("J1", "lamp", "1", "", "") | {"": ["", " 6.3 V", ""]}, TWO[1]), faults(surplus))
    line = {"line": ""}  # what could tell two equal rows apart is offered wherever a fault names no column
    assert book.typed("job_parts") == [use("J1", "lamp", "1", "", "") | line | {"": ["", " 6.3 V"]}, TWO[1] | line]
    assert book.sheets["job_parts"].header[6:9] == [f"cell beyond the header {n}" for n in (1, 2, 3)]
    assert "I2" in book.marked("job_parts")


def test_own_columns_that_only_look_like_ours_stay(written):
    row = use("J1", "lamp", "1", "", "a") | {"rest of my life 2": "b", "cell beyond the header": "c"}
    assert written(rows_of(row), faults()).typed("job_parts") == [row]


def test_words_are_offered_in_the_columns_that_want_one(written):
    rows = rows_of({"job": "J1", "part": "x", "qty_pcs": "1", "source": "neww"}, {"job": "J2"})
    (rule,) = written(rows, faults()).book["job_parts"].data_validations.dataValidation
    assert (str(rule.sqref), rule.formula1) == ("D2:D3", '"new,salvage,made,customer"')


def test_headings_say_what_is_wanted_and_stay_in_sight(written):
    sheet = written(rows_of(*TWO), faults()).book["job_parts"]
    assert sheet.freeze_panes == "A2" and all(cell.font.b for cell in sheet[1])
    assert "Pieces; negative = back to the shelf." in sheet["C1"].comment.text
    assert sheet["E1"].comment is None  # a column of the owner's own
    assert sheet["F2"].alignment.wrap_text


def test_notes_end_where_programs_grow_slow_and_marks_do_not(written, monkeypatch):
    monkeypatch.setattr(set_aside_sheet, "NOTES", 2)
    rows = rows_of(*[TWO[0]] * 4)
    book = written(rows, faults(*((line, "qty_pcs", "none", "wanted a number") for line in range(2, 6))))
    assert book.marked("job_parts") == {"C2", "C3", "C4", "C5"}
    assert [bool(cell.comment) for cell in book.book["job_parts"]["C"][1:]] == [True, True, False, False]
    assert all("wanted a number" in reason for reason in book.why("job_parts"))


def test_the_same_rows_give_the_same_bytes(tmp_path):
    one, two = (Written(tmp_path / name, rows_of(*TWO), faults(*WRONG)).raw for name in ("one.xlsx", "two.xlsx"))
    assert one == two


def test_the_workbook_takes_its_name_when_the_load_ends_well(tmp_path):
    with set_aside_book.book_in(tmp_path) as write:
        final = write(7, rows_of(*TWO), faults(*WRONG), "0123")
        assert not final.exists()
    assert final == tmp_path / "tables" / "set_aside_7.xlsx"
    assert [path.name for path in final.parent.iterdir()] == ["set_aside_7.xlsx"]


def test_a_workbook_that_somebody_may_be_typing_into_is_never_written_over(tmp_path):
    for number in (7, 7, 8, 7):
        with set_aside_book.book_in(tmp_path) as write:
            write(number, rows_of(*TWO), faults(*WRONG), "0123")
    assert sorted(path.name for path in (tmp_path / "tables").iterdir()) == [
        f"set_aside_{number}.xlsx" for number in (10, 7, 8, 9)]


def test_no_workbook_is_written_where_the_load_fails_or_nothing_waits(tmp_path):
    with pytest.raises(ZeroDivisionError), set_aside_book.book_in(tmp_path) as write:
        write(7, rows_of(*TWO), faults(*WRONG), "0123")
        raise ZeroDivisionError
    with set_aside_book.book_in(tmp_path):
        pass
    assert list(tmp_path.rglob("*.*")) == []


def test_a_full_disk_is_said_before_anything_is_made_lasting(tmp_path, monkeypatch):
    def full(path, content):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(type(tmp_path), "write_bytes", full)
    with pytest.raises(RecordsError, match="the workbook of rows set aside cannot be written .No space left"):
        with set_aside_book.book_in(tmp_path) as write:
            write(7, rows_of(*TWO), faults(*WRONG), "0123")
            pytest.fail("the load would have been committed")


def test_each_row_bears_the_mark_of_store_and_cells_and_whether_another_row_was_in_its_way(written):
    entries = faults((2, "qty_pcs", "none", "wanted a number"), (3, None, None, "the same as line 2"))
    book = written(rows_of(*TWO), entries.assign(rule=["whole_number", "double"]))
    one, two = (row_mark.of_row(json.dumps(row)) for row in TWO)
    assert [row[-1] for row in book.sheets["job_parts"].rows] == [f"0123-{one}", f"0123-{two}-second"]
