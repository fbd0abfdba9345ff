"""Workbooks for tests: from a shop folder, from rows, and with what a spreadsheet program alone would write."""

import csv
import datetime
import io
import re
import zipfile

import openpyxl

from pipeline.ingest import workbook_text
from pipeline.ingest.cell_text import text_of


def from_folder(folder, path):
    """Write a shop folder's CSV files as one workbook, numbers and days typed as a person would have them."""
    files = {file.stem: file for file in sorted(folder.glob("*.csv"))}
    return write(path, {name: rows_of(file) for name, file in files.items()})


def rows_of(file):
    """Return the rows of a CSV file (list of list of str), by the plain csv module."""
    with open(file, encoding="utf-8-sig", newline="") as text:
        return list(csv.reader(text))


def write(path, sheets):
    """Write sheets (title to rows of text) into a workbook; return its path."""
    path.write_bytes(saved(book(sheets, typed)))
    return path


def book(sheets, cell=lambda value: value):
    """Return a workbook of sheets (title to rows), each value as ``cell`` gives it."""
    made = openpyxl.Workbook()
    made.remove(made.active)
    for title, rows in sheets.items():
        sheet = made.create_sheet(title)
        for line, row in enumerate(rows, start=1):
            for column, value in enumerate(row, start=1):
                put(sheet, line, column, cell(value))
    return made


def put(sheet, line, column, value):
    """Put a value into a cell; text stays text whatever it begins with."""
    if value is not None and value != "":
        cell = sheet.cell(line, column, value)
        cell.data_type = "s" if isinstance(value, str) else cell.data_type


def typed(text):
    """Return a text as number or day where the cell would give the same text back, else the text."""
    kinds = (int, float, datetime.datetime.fromisoformat)
    for kind in kinds:
        try:
            value = kind(text)
        except ValueError:
            continue
        if text_of(value) == text and (kind is not datetime.datetime.fromisoformat or value.year > 1900):
            return value
    return text


def saved(made):
    """Return the bytes of a workbook."""
    stream = io.BytesIO()
    made.save(stream)
    return stream.getvalue()


def raw(**sheets):
    """Return the bytes of a workbook of sheets (title to rows)."""
    return saved(book(sheets))


def changed(raw, part, change):
    """Return a workbook's bytes with the text of one part changed; None drops the part."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as before, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as after:
        assert part in before.namelist()
        for name in before.namelist():
            content = before.read(name)
            if name == part:
                content = change(content.decode("utf-8"))
                if content is None:
                    continue
            after.writestr(name, content)
    return stream.getvalue()


def with_formulas(raw, number=1, **cells):
    """Return a workbook with formulas in a sheet, saved with the value last reckoned.

    ``C2=("A2*2", "12")`` is a number, ``("A2", "text", "str")`` a text, ``("A2", None)`` was never reckoned.
    """
    for place, (formula, value, *kind) in cells.items():
        cell = f'<c r="{place}"{f""" t="{kind[0]}" """ if kind else ""}><f>{formula}</f>' + (
            "" if value is None else f"<v>{value}</v>") + "</c>"
        raw = changed(raw, f"xl/worksheets/sheet{number}.xml", lambda text, place=place, cell=cell: _placed(
            text, place, cell))
    return raw


def _placed(text, place, cell):
    found, count = re.subn(rf'<c r="{place}"[^>]*?(/>|>.*?</c>)', lambda _: cell, text)
    assert count == 1, f"put a value into {place} first, for the formula to replace"
    return found


def read(raw, file="shop.xlsx"):
    """Return the sheets of a workbook's bytes, as the reader gives them."""
    return workbook_text.sheets_of(raw, file)


def offences(sheet):
    """Return line, column, value and rule of the cells refused in a sheet (list of tuples)."""
    return list(sheet.refused[["line", "column", "value", "rule"]].astype(object).itertuples(index=False, name=None))


def remarks(sheet):
    """Return rule and words of a sheet's remarks (dict)."""
    return {entry.rule: (entry.value, entry.suggestion) for found in sheet.remarks for entry in found.itertuples()}
