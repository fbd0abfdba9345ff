"""What must hold for any rows: a workbook gives back what was put into it, and reads as a CSV file would."""

import csv
import io
import json

import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest import csv_text, set_aside_book, workbook_text
from pipeline.store import catalogue
from tests.support import workbooks

CHARACTER = st.characters(codec="utf-8", exclude_characters="\0") | st.sampled_from("_x0D5F\x07\r\n=' ")
TEXT = st.text(CHARACTER, max_size=12)
COLUMNS = {name: [column.name for column in table.file_columns] for name, table in catalogue.tables().items()}
HEADER = st.sampled_from(["part", "description", "shelf", "keep", "own column"])


@st.composite
def set_aside_rows(draw):
    """Rows of one table, each as the JSON its file would give, in one order of columns."""
    name = draw(st.sampled_from(sorted(COLUMNS)))
    columns = draw(st.lists(st.sampled_from(COLUMNS[name]), unique=True, min_size=1))
    extras = draw(st.lists(st.sampled_from(["own", "column 9", "was"]), unique=True))
    rows = []
    for _ in range(draw(st.integers(1, 4))):
        row = {column: draw(TEXT) for column in columns}
        row |= {column: draw(TEXT.filter(str.strip)) for column in extras if draw(st.booleans())}
        if draw(st.booleans()):
            row[""] = [*draw(st.lists(TEXT, max_size=2)), draw(TEXT.filter(str.strip))]
        rows.append(row)
    return name, rows


@settings(max_examples=60)
@given(set_aside_rows())
def test_any_rows_set_aside_come_back_as_typed(tmp_path_factory, drawn):
    name, rows = drawn
    path = tmp_path_factory.mktemp("book") / "back.xlsx"
    frame = pd.DataFrame({"holds": name, "file": f"{name}.csv", "line": range(2, len(rows) + 2), "load_no": 3,
                          "cells": [json.dumps(row) for row in rows]})
    entries = pd.DataFrame({"file": f"{name}.csv", "line": [2], "column": [next(iter(rows[0]))], "value": ["x"],
                            "rule": ["allowed_values"], "suggestion": ["wanted another"]})
    set_aside_book.write(path, frame, entries, "0123")
    sheet = workbook_text.sheets_of(path.read_bytes(), "back.xlsx")[name]
    header, found = set_aside_book.as_typed(sheet.header, sheet.rows)
    assert sheet.lines == list(range(2, len(rows) + 2)) and len(sheet.refused) == 0
    for typed, row in zip(rows, found, strict=True):
        cells = dict(zip(header, row, strict=False)) | ({"": row[len(header):]} if len(row) > len(header) else {})
        assert {column: cell for column, cell in cells.items() if cell or column in typed} == typed


@settings(max_examples=60)
@given(st.lists(HEADER, unique=True, min_size=1), st.data())
def test_any_sheet_reads_as_the_csv_file_of_its_cells(header, data):
    # A carriage return alone ends a line in CSV and is a character in a worksheet.
    cell = TEXT.map(lambda text: text.replace("\r", ""))
    rows = data.draw(st.lists(st.lists(cell, min_size=len(header), max_size=len(header)), max_size=5))
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows([header, *rows])
    wanted, _ = csv_text.rows_of(text.getvalue(), "parts.csv", ["part", "description"])
    book = workbooks.book({"parts": [header, *rows]}, workbook_cell)
    sheet = workbooks.read(workbooks.saved(book))["parts"]
    assert [sheet.header, *sheet.rows] == wanted
    filled = [n for n, row in enumerate(rows, start=2) if any(cell.strip() for cell in row)]
    assert sheet.lines == filled


def workbook_cell(text):
    """A text as a spreadsheet program writes it."""
    from pipeline.ingest.cell_text import escaped

    return escaped(text)
