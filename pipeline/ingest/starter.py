"""A blank shop folder, or a blank workbook, with an example row for each kind of record."""

import contextlib
import csv
import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path

from pipeline.errors import RecordsError
from pipeline.ingest import dates
from pipeline.store import catalogue
from pipeline.store.validate import DAY

FOLDER = Path(__file__).resolve().parents[2] / "data" / "starter"
MARK = "EXAMPLE-"
_NUMBER = re.compile(r"([+-]?\d*\.?\d+|[+-]?\d+\.)(%?)")
_DAY = re.compile(DAY)
WORKBOOK = "shop.xlsx"
README = "README.txt"
ABOUT_SHEET = "about_this_workbook"
_CORRECTIONS = {
    "file": "which of the files, as parts", "key": "identifier of the row", "line": "or its line in the file",
    "column": "which column", "expected_value": "what it says now; where it no longer does, nothing is changed",
    "new_value": "what it should say", "reason": "why, in your own words"}
_NOTE = """This folder holds one workshop's records: one file for each kind, the first line names the columns.

Three files are required: parts.csv, jobs.csv and job_parts.csv. Every other file unlocks something; leave it, or
delete it. Each file has an example row (in parts.csv two). Loading leaves example rows out; delete them when you like.

{rules}

Then run in the folder of the program: python3 -m pipeline load THIS_FOLDER   (Windows: py -m pipeline load ...)
`check` in place of `load` only tells what it would find.
"""
RULES = (
    "An empty cell means unknown. Zero means that you know it is zero.",
    "Columns that end in _pcs count single pieces, never packs.",
    "Days are written 2025-03-09. Hours have decimals: an hour and a half is 1.5.",
    "Amounts are in one currency, the shop's own; columns that end in _share go from 0 to 1 (a fifth is 0.2).",
    "Identifiers are yours to choose; capitals and blanks around them do not matter. A row refers to another by it.",
    "Columns may stand in any order, and you may add your own: they are kept and not used.",
    "A row that breaks a rule is set aside and listed with what is wanted; the others go in. Nothing is guessed.",
)


@dataclass(frozen=True)
class Blank:
    """What was made: the folder and the names of the files in it."""

    folder: Path
    files: tuple

    def lines(self):
        """Return the lines to print (list of str)."""
        what = self.folder / self.files[0] if len(self.files) == 1 else self.folder
        made = (f"{what}: a workbook with a sheet for each kind of record." if len(self.files) == 1 else
                f"{what}: {len(self.files) - 1} files, one for each kind of record, and {README}.")
        return [made, "Fill in parts, jobs and job_parts; the others are optional. Each shows an example row, which "
                      "loading leaves out.", f"Then: python3 -m pipeline load {what}"]


def tables():
    """Return every table that a folder may hold, the required ones first, corrections last.

    Returns
    -------
    dict of str to pipeline.store.catalogue.Table
    """
    known = catalogue.tables()
    columns = tuple(catalogue.Column(name, "VARCHAR", meaning, name in ("file", "column", "expected_value"))
                    for name, meaning in _CORRECTIONS.items())
    last = catalogue.Table("corrections", "Corrections. Unlocks: a wrong value put right without touching the file it "
                           "stands in.", columns, (), (), ())
    return ({name: known[name] for name in catalogue.REQUIRED}
            | {name: table for name, table in known.items() if name not in catalogue.REQUIRED}
            | {"corrections": last})


@cache
def examples():
    """Return the example rows of each table (dict of str to tuple of dict of column to text)."""
    found = {}
    for name in tables():
        with open(FOLDER / f"{name}.csv", encoding="utf-8", newline="") as text:
            found[name] = tuple(csv.DictReader(text))
    return found


def without_examples(name, header, rows, lines):
    """Leave out the rows of a file that are still the example's.

    Parameters
    ----------
    name : str
        Table, or ``corrections``.
    header : list of str
    rows : list of list of str
    lines : list of int
        The line each row starts on.

    Returns
    -------
    rows, lines : list
        The others. A row with any cell changed, or with one more, is the owner's; a cell that a spreadsheet program
        wrote in its own way (1.0, 20 %, 3/9/2025) is not changed.
    n_left_out : int
    """
    columns = [cell.strip().lower() for cell in header]
    shown = [_shown(columns, row) for row in examples().get(name, ())]
    shown = [cells for cells in shown if cells]
    kept = [n for n, row in enumerate(rows) if not any(_is_same(_filled(columns, row), cells) for cells in shown)]
    return [rows[n] for n in kept], [lines[n] for n in kept], len(rows) - len(kept)


def write_folder(folder):
    """Write a blank shop folder: a file for each kind of record, and a note on how to fill them in.

    Parameters
    ----------
    folder : str or pathlib.Path
        Made if missing.

    Returns
    -------
    Blank

    Raises
    ------
    RecordsError
        If the folder holds records already, or cannot be written to; it is then as it was.
    """
    note = _NOTE.format(rules="\n".join(f"- {rule}" for rule in RULES))
    files = {f"{name}.csv": (FOLDER / f"{name}.csv").read_bytes() for name in tables()} | {README: note.encode()}
    return _made(Path(folder), {name: lambda path, content=content: path.write_bytes(content)
                                for name, content in files.items()})


def write_workbook(folder):
    """Write a blank workbook ``shop.xlsx`` into a folder; arguments, result and errors as :func:`write_folder`."""
    from pipeline.ingest import starter_book

    return _made(Path(folder), {WORKBOOK: starter_book.write})


def _shown(columns, example):
    """What an example shows in a file of these columns; None where that could be anybody's row."""
    shown = {column: example[column] for column in columns if example.get(column)}
    is_whole = len(shown) == sum(map(bool, example.values()))
    return shown if is_whole or any(MARK in cell for cell in shown.values()) else None


def _filled(columns, row):
    """The cells of a row with anything in them, by column; a cell beyond the header has no column."""
    names = columns + [""] * (len(row) - len(columns))
    return {column: cell.strip() for column, cell in zip(names, row, strict=False) if cell.strip()}


def _is_same(row, example):
    return row.keys() == example.keys() and all(_is_alike(row[column], cell) for column, cell in example.items())


def _is_alike(cell, shown):
    """True where a cell says what the example's does, in whatever way a spreadsheet program writes it."""
    if cell.split() == shown.split():
        return True
    if _NUMBER.fullmatch(shown):
        return _number(cell) == Decimal(shown)
    return bool(_DAY.fullmatch(shown)) and shown in dates.readings(cell)


def _number(cell):
    found = _NUMBER.fullmatch(cell.replace(",", ".").replace(" ", ""))
    return Decimal(found[1]) / (100 if found[2] else 1) if found else None


def _made(folder, files):
    """Write the files (name to what writes it), all or none."""
    _refuse_filled(folder)
    new_folders = [place for place in (folder, *folder.parents) if not place.exists()]
    written = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, write in files.items():
            written.append(folder / name)
            write(folder / name)
    except BaseException as error:
        _take_back(written, new_folders)
        if not isinstance(error, OSError):
            raise
        raise RecordsError(f"{folder}: cannot be written ({error.strerror}). Make room, or choose another place; "
                           "nothing was made.") from None
    return Blank(folder, tuple(files))


def _take_back(files, folders):
    with contextlib.suppress(OSError):  # what cannot be taken away either is said by the error at hand
        for path in files:
            path.unlink(missing_ok=True)
        for place in folders:
            place.rmdir()


def _refuse_filled(folder):
    if folder.exists() and not folder.is_dir():
        raise RecordsError(f"{folder}: this is a file, not a folder. Choose another name; nothing was made.")
    of_ours = {f"{name}.csv" for name in tables()} | {WORKBOOK, "shop.toml", README.lower()}
    found = sorted(path.name for path in folder.iterdir() if path.name.lower() in of_ours) if folder.is_dir() else []
    if found:
        more = f" and {len(found) - 1} more" if len(found) > 1 else ""
        raise RecordsError(f"{folder}: {found[0]}{more} is here already. Choose a new folder; nothing was changed.")
