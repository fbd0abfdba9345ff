"""Read what an owner hands over, a folder of CSV files or a workbook, as text, each row with its line."""

import hashlib
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from pipeline.errors import RecordsError
from pipeline.ingest import csv_text, records, set_aside_book, starter, workbook_text
from pipeline.ingest.raw_table import Link, as_table
from pipeline.store import catalogue

WANTED = "Wanted a shop folder with parts.csv, jobs.csv and job_parts.csv, or a workbook shop.xlsx."
WORKBOOK = "shop.xlsx"
CORRECTIONS = "corrections"
# Sheets that explain, and hold no records.
OWN_SHEETS = (set_aside_book.ABOUT_SHEET, starter.ABOUT_SHEET)


@dataclass
class Given:
    """What an owner handed over.

    Attributes
    ----------
    place : pathlib.Path
        The folder or workbook.
    digest : str
        Checksum over the names and bytes of its files, in hex.
    tables : dict of str to RawTable
        Parents before children.
    notes : list of pandas.DataFrame
        Remarks on files and sheets that are not of the contract.
    corrections : tuple or None
        File name, header, rows and lines of the corrections, where there are any.
    is_set_aside_book : bool
        True for a workbook of rows that an earlier load set aside.
    written_by : tuple of (int, str) or None
        Of such a workbook the load that wrote it, and the mark of the store then; None where it does not say.
    examples : int
        Rows left out, as they are the example rows of a blank folder.
    """

    place: Path
    digest: str
    tables: dict = field(default_factory=dict)
    notes: list = field(default_factory=list)
    corrections: tuple | None = None
    is_set_aside_book: bool = False
    written_by: tuple | None = None
    examples: int = 0

    def put(self, name, file, header, rows, lines):
        """Take in one file or sheet of the contract; return its table."""
        self.tables[name] = as_table(name, file, header, *self._without_examples(name, header, rows, lines))
        return self.tables[name]

    def put_corrections(self, file, header, rows, lines):
        """Take in the corrections."""
        self.corrections = (file, header, *self._without_examples(CORRECTIONS, header, rows, lines))

    def _without_examples(self, name, header, rows, lines):
        rows, lines, left_out = starter.without_examples(name, header, rows, lines)
        self.examples += left_out
        return rows, lines


def read(place):
    """Read every file of the contract that a folder or workbook holds.

    Parameters
    ----------
    place : str or pathlib.Path
        A folder of CSV files, a folder that holds ``shop.xlsx`` alone, or a workbook.

    Returns
    -------
    Given

    Raises
    ------
    RecordsError
        If there is no such place, or a file cannot be read or lacks a required column.
    """
    given = _read(Path(place))
    if given.examples:
        given.notes.append(records.of_file(given.place.name, f"{given.examples} example rows", "example_row",
                                           "left out, as they are only examples; delete them when you like"))
    return given


def _read(place):
    if place.is_file():
        return _of_workbook(place)
    files = _files(place)
    of_contract = [name for name in files if _table_of(name)]
    if WORKBOOK in files and not of_contract:
        return _of_workbook(files[WORKBOOK])
    if WORKBOOK in files:
        raise RecordsError(f"{place}: {files[of_contract[0]].name} and {files[WORKBOOK].name} are both here; wanted "
                           f"one of the two kinds. Move one away, or load the workbook by its own name: "
                           f"`load {files[WORKBOOK]}`. Nothing was loaded.")
    return _of_folder(place, files)


def _of_folder(place, files):
    texts = {name: path for name, path in files.items() if path.suffix.lower() in (".csv", ".toml")}
    given = Given(place, _digest(texts))
    for name in catalogue.tables():
        if f"{name}.csv" in files:
            _put_csv(given, name, files.pop(f"{name}.csv"))
    if "shop.toml" in files and "shop" not in given.tables:
        _put_toml(given, files.pop("shop.toml"))
    if f"{CORRECTIONS}.csv" in files:
        path = files.pop(f"{CORRECTIONS}.csv")
        given.put_corrections(path.name, *_rows(path, ["file", "column", "expected_value"]))
    given.notes += [records.of_file(path.name, path.name, "unknown_file", "not a file this release reads; left alone")
                    for path in files.values() if path.suffix.lower() in (".csv", ".toml", ".xlsx")]
    return given


def _of_workbook(path):
    given = Given(path, _digest({path.name: path}))
    sheets = workbook_text.sheets_of(_bytes(path), path.name)
    given.is_set_aside_book = set_aside_book.ABOUT_SHEET in sheets
    given.written_by = set_aside_book.written_by(path) if given.is_set_aside_book else None
    for name in [name for name in catalogue.tables() if name in sheets]:
        sheet = sheets.pop(name)
        given.notes += sheet.remarks
        if sheet.header:
            _put_sheet(given, name, sheet)
    if sheet := sheets.pop(CORRECTIONS, None):
        given.notes += sheet.remarks
        if sheet.header:
            given.put_corrections(sheet.file, sheet.header, sheet.rows, sheet.lines)
    given.notes += [records.of_file(sheet.file, sheet.title, "unknown_sheet", "not a sheet of the contract; left alone")
                    for name, sheet in sheets.items() if name not in OWN_SHEETS]
    return given


def _put_sheet(given, name, sheet):
    header, rows = sheet.header, sheet.rows
    if given.is_set_aside_book:
        header, rows = set_aside_book.as_typed(header, rows)
    table = given.put(name, sheet.file, header, rows, sheet.lines)
    if given.is_set_aside_book:
        table.links = _links(sheet)
    if len(sheet.refused):
        table.refused = pd.concat([part for part in (table.refused, sheet.refused) if len(part)], ignore_index=True)


def _links(sheet):
    """By line of a sheet of rows set aside, what tells which row each one stands for, where that still stands."""
    names = [cell.strip().lower() for cell in sheet.header]
    found = {}
    for line, row in zip(sheet.lines, sheet.rows, strict=True):
        cells = dict(zip(names, map(str.strip, row), strict=True))
        at, file, load, mark = (cells.get(column, "") for column in set_aside_book.SET_ASIDE_COLUMNS[1:])
        if load.isdecimal() and at.removeprefix("-").isdecimal():
            store, said, second = (*mark.split("-"), "", "", "")[:3]
            found[line] = Link(int(load), file, int(at), store, said, bool(second))
    return found


def _put_csv(given, name, path):
    known = [column.name for column in catalogue.tables()[name].file_columns]
    given.put(name, path.name, *_rows(path, known))


def _rows(path, known):
    rows, lines = csv_text.rows_of(csv_text.decode(_bytes(path), path.name), path.name, known)
    return rows[0], rows[1:], lines[1:]


def _put_toml(given, path):
    text = csv_text.decode(_bytes(path), path.name)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RecordsError(f"{path.name}: {error}. Wanted lines such as `labour_rate = 60`; nothing was loaded."
                           ) from None
    starts = [line.partition("=")[0].strip(" \t[]\"'") for line in text.splitlines()]
    # A key written in another way stands behind the last line, each on a number of its own.
    lines = [starts.index(key) + 1 if key in starts else len(starts) + n for n, key in enumerate(values, start=1)]
    given.put("shop", path.name, ["key", "value"], [[key, str(value)] for key, value in values.items()], lines)


def _files(folder):
    """Files of a folder by their names in lower case."""
    if not folder.is_dir():
        raise RecordsError(f"{folder}: no such folder. {WANTED}")
    found = {}
    for path in sorted(folder.iterdir()):
        if path.is_file() and found.setdefault(path.name.lower(), path) != path:
            raise RecordsError(f"{folder}: {found[path.name.lower()].name} and {path.name} are the same file to some "
                               "systems. Keep one of the two and load again; nothing was loaded.")
    return dict(sorted(found.items()))


def _table_of(file):
    return file == "shop.toml" or (file.endswith(".csv") and file.removesuffix(".csv") in catalogue.tables())


def _digest(files):
    whole = hashlib.sha256()
    for name, path in files.items():
        whole.update(name.encode() + b"\0" + hashlib.sha256(_bytes(path)).digest())
    return whole.hexdigest()


def _bytes(path):
    try:
        return path.read_bytes()
    except OSError as error:
        raise RecordsError(f"{path}: cannot be read ({error.strerror}). Nothing was loaded.") from None
