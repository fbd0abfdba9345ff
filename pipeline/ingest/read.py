"""Read a shop folder's files as text, each row with its line."""

import difflib
import hashlib
import json
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from pipeline.errors import RecordsError
from pipeline.ingest import csv_text, records
from pipeline.store import catalogue, validate

WANTED = "Wanted a shop folder with parts.csv, jobs.csv and job_parts.csv."


@dataclass
class RawTable:
    """One file as it was typed.

    Attributes
    ----------
    name, file : str
        Table of the contract and file name.
    frame : pandas.DataFrame
        ``file_line`` (int), the contract's columns the file bears (text, untrimmed) and ``extra`` (JSON text of
        the other columns, None where they are empty).
    columns : set of str
        The contract's columns the file bears.
    records : list of pandas.DataFrame
        Remarks made while reading.
    refused : pandas.DataFrame
        Rows that cannot be read: columns of :data:`pipeline.store.validate.OFFENCE_COLUMNS`.
    extras : tuple of str
        The other columns.
    """

    name: str
    file: str
    frame: pd.DataFrame
    columns: set
    records: list = field(default_factory=list)
    refused: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=validate.OFFENCE_COLUMNS))
    extras: tuple = ()


def read_folder(folder):
    """Read every file of the contract that a folder holds.

    Parameters
    ----------
    folder : str or pathlib.Path

    Returns
    -------
    tables : dict of str to RawTable
        Parents before children.
    notes : pandas.DataFrame
        Remarks on files that are not of the contract.

    Raises
    ------
    RecordsError
        If there is no such folder, or a file cannot be read as text or lacks a required column.
    """
    found = _files(folder)
    tables = {name: _read_csv(name, found.pop(f"{name}.csv"))
              for name in catalogue.tables() if f"{name}.csv" in found}
    if "shop.toml" in found and "shop" not in tables:
        tables["shop"] = _read_toml(found.pop("shop.toml"))
    notes = [records.of_file(path.name, path.name, "unknown_file", "not a file this release reads; left alone")
             for path in found.values() if path.suffix.lower() in (".csv", ".toml", ".xlsx")]
    return tables, records.gathered(notes)


def digest(folder):
    """Return a checksum (hex str) over the names and bytes of a folder's records."""
    whole = hashlib.sha256()
    for name, path in _files(folder).items():
        if path.suffix.lower() in (".csv", ".toml"):
            whole.update(name.encode() + b"\0" + hashlib.sha256(_bytes(path)).digest())
    return whole.hexdigest()


def _files(folder):
    """Files of a folder by their names in lower case."""
    folder = Path(folder)
    if not folder.is_dir():
        what = "this is a file, not a folder" if folder.exists() else "no such folder"
        raise RecordsError(f"{folder}: {what}. {WANTED}")
    found = {}
    for path in sorted(folder.iterdir()):
        if path.is_file() and found.setdefault(path.name.lower(), path) != path:
            raise RecordsError(f"{folder}: {found[path.name.lower()].name} and {path.name} are the same file to some "
                               "systems. Keep one of the two and load again; nothing was loaded.")
    return dict(sorted(found.items()))


def _bytes(path):
    try:
        return path.read_bytes()
    except OSError as error:
        raise RecordsError(f"{path}: cannot be read ({error.strerror}). Nothing was loaded.") from None


def _read_csv(name, path):
    known = [column.name for column in catalogue.tables()[name].file_columns]
    rows, lines = csv_text.rows_of(csv_text.decode(_bytes(path), path.name), path.name, known)
    return _as_table(name, path.name, rows[0], rows[1:], lines[1:])


def _as_table(name, file, header, rows, lines):
    table = catalogue.tables()[name]
    known = [column.name for column in table.file_columns]
    width = len(header)
    columns = dict(zip(_named(table, file, header), _columns(rows, width), strict=True))
    extra = _extra({column: cells for column, cells in columns.items() if column not in known}, rows, width)
    frame = pd.DataFrame({"file_line": pd.Series(lines, dtype="int64"),
                          **{c: pd.Series(columns[c], dtype=object) for c in known if c in columns}, "extra": extra})
    # A blank header above nothing is a spare separator, not a column.
    extras = tuple(column for n, column in enumerate(columns) if column not in known
                   and (header[n].strip() or any(cell.strip() for cell in columns[column])))
    remarks = [records.of_file(file, column, "extra_column", _about_extra(column, known, columns)) for column in extras]
    short = [line for line, row in zip(lines, rows, strict=True) if len(row) < width]
    remarks.append(records.listed(file, short, None, [None] * len(short), "fewer_cells",
                                  "fewer cells than the header names; the rest is taken as empty", "noted"))
    return RawTable(name, file, frame, set(columns) & set(known), remarks, _too_wide(rows, lines, width), extras)


def _named(table, file, header):
    """The header's column names; a blank one is named by its place."""
    names = [cell.strip().lower() or f"column {n}" for n, cell in enumerate(header, start=1)]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise RecordsError(f"{file}: the header names {', '.join(twice)} twice. Wanted each column once; "
                           "nothing was loaded.")
    # A job may name its machine instead of its family.
    instead = {"family"} if table.name == "jobs" and "machine" in names else set()
    absent = [c.name for c in table.file_columns if c.is_required and c.name not in {*names, *instead}]
    if absent:
        raise RecordsError(f"{file}: the header lacks {', '.join(absent)}; found {', '.join(names)}. "
                           "Add the column and load again; nothing was loaded.")
    return names


def _columns(rows, width):
    if not rows:
        return [()] * width
    blank = [""] * width
    return zip(*(row if len(row) == width else (row + blank)[:width] for row in rows), strict=True)


def _extra(columns, rows, width):
    """Cells beyond the contract as JSON, None where there are none; surplus cells stand under an empty name."""
    found = [{} for _ in rows]
    for column, cells in columns.items():
        for kept, cell in zip(found, cells, strict=True):
            if cell.strip():
                kept[column] = cell
    for kept, row in zip(found, rows, strict=True):
        if len(row) > width and any(cell.strip() for cell in row[width:]):
            kept[""] = row[width:]
    return pd.Series([json.dumps(kept, ensure_ascii=False) if kept else None for kept in found], dtype=object)


def _about_extra(column, known, given):
    near = difflib.get_close_matches(column.replace(" ", "_"), [name for name in known if name not in given], n=1)
    return f"kept, not used; did you mean the column {near[0]}?" if near else "kept, not used"


def _too_wide(rows, lines, width):
    found = [(line, None, " | ".join(row[width:]), "more_cells",
              f"this row has {len(row)} cells, the header {width}; quotes go around a value with a separator in it")
             for line, row in zip(lines, rows, strict=True) if len(row) > width and any(c.strip() for c in row[width:])]
    return pd.DataFrame(found, columns=validate.OFFENCE_COLUMNS)


def _read_toml(path):
    text = csv_text.decode(_bytes(path), path.name)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RecordsError(f"{path.name}: {error}. Wanted lines such as `labour_rate = 60`; nothing was loaded."
                           ) from None
    starts = [line.partition("=")[0].strip(" \t[]\"'") for line in text.splitlines()]
    # A key written in another way stands behind the last line, each on a number of its own.
    lines = [starts.index(key) + 1 if key in starts else len(starts) + n for n, key in enumerate(values, start=1)]
    return _as_table("shop", path.name, ["key", "value"], [[key, str(value)] for key, value in values.items()], lines)
