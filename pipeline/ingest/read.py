"""Read a shop folder's CSV files as text, each row with its line."""

import csv
import hashlib
import json
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from pipeline.errors import RecordsError
from pipeline.ingest import records
from pipeline.store import catalogue

SEPARATORS = ",;\t"


@dataclass
class RawTable:
    """One file as it was typed.

    Attributes
    ----------
    name, file : str
        Table of the contract and file name.
    frame : pandas.DataFrame
        ``file_line`` (int), the contract's columns the file bears (text, untrimmed) and ``extra`` (JSON text).
    columns : set of str
        The contract's columns the file bears.
    records : list of pandas.DataFrame
        Remarks made while reading.
    """

    name: str
    file: str
    frame: pd.DataFrame
    columns: set
    records: list = field(default_factory=list)


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
    folder = Path(folder)
    if not folder.is_dir():
        raise RecordsError(f"{folder}: no such folder. Wanted a shop folder with parts.csv, jobs.csv and job_parts.csv.")
    found = {path.name.lower(): path for path in sorted(folder.iterdir()) if path.is_file()}
    tables = {}
    for name in catalogue.tables():
        if path := found.pop(f"{name}.csv", None):
            tables[name] = _read_csv(name, path)
    if (path := found.pop("shop.toml", None)) and "shop" not in tables:
        tables["shop"] = _read_toml(path)
    strangers = [records.of_file(path.name, path.name, "unknown_file", "not a file of the shop folder; left alone")
                 for path in found.values() if path.suffix.lower() == ".csv"]
    return tables, records.gathered(strangers)


def digest(folder):
    """Return a checksum (hex str) over the names and bytes of a folder's records."""
    whole = hashlib.sha256()
    for path in sorted(Path(folder).iterdir(), key=lambda path: path.name.lower()):
        if path.is_file() and path.suffix.lower() in (".csv", ".toml"):
            whole.update(path.name.lower().encode() + b"\0" + hashlib.sha256(path.read_bytes()).digest())
    return whole.hexdigest()


def _read_csv(name, path):
    text = _text(path)
    header_end = text.find("\n") if "\n" in text else len(text)
    separator = max(SEPARATORS, key=text[:header_end].count)
    try:
        rows, lines = _rows(text, separator)
    except csv.Error as error:
        raise RecordsError(f"{path.name}: cannot be read as CSV ({error}). Save it anew as CSV, UTF-8.") from None
    if not rows:
        raise RecordsError(f"{path.name} is empty; wanted a header row. Remove the file or give it a header.")
    return _as_table(name, path.name, [cell.strip().lower() for cell in rows[0]], rows[1:], lines[1:])


def _text(path):
    raw = path.read_bytes()
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as error:
        line = raw[:error.start].count(b"\n") + 1
        raise RecordsError(f"{path.name} line {line}: a character is not UTF-8. Save the file as CSV, UTF-8, and load again.") from None
    if "\0" in text:
        raise RecordsError(f"{path.name}: this is no text file. Save it as CSV, UTF-8.")
    return text


def _rows(text, separator):
    rows, lines, at = [], [], 1
    reader = csv.reader(text.splitlines(keepends=True), delimiter=separator, strict=True)
    for row in reader:
        if any(cell.strip() for cell in row):
            rows.append(row)
            lines.append(at)
        at = reader.line_num + 1
    return rows, lines


def _as_table(name, file, header, rows, lines):
    table = catalogue.tables()[name]
    known = [column.name for column in table.file_columns]
    _refuse_bad_header(table, file, header)
    width = len(header)
    cells = [row + [""] * (width - len(row)) if len(row) < width else row for row in rows]
    wide = [(line, row) for line, row in zip(lines, rows, strict=True) if len(row) > width]
    columns = dict(zip(header, zip(*(row[:width] for row in cells), strict=True) if cells else [()] * width, strict=True))
    extra = [column for column in header if column and column not in known]
    frame = pd.DataFrame({"file_line": lines, **{c: pd.Series(columns[c], dtype=object) for c in known if c in columns}})
    frame["extra"] = _extra(columns, extra, cells, width)
    remarks = [records.of_file(file, ", ".join(extra), "extra_column", "kept, not used")] if extra else []
    if wide:
        remarks.append(records.listed(file, [line for line, _ in wide], None, [" | ".join(row[width:]) for _, row in wide],
                                      "more_cells", "more cells than the header names; the rest is kept as it is", "noted"))
    return RawTable(name, file, frame, set(columns) & set(known), remarks)


def _refuse_bad_header(table, file, header):
    twice = sorted({column for column in header if column and header.count(column) > 1})
    if twice:
        raise RecordsError(f"{file}: the header names {', '.join(twice)} twice. Wanted each column once.")
    # A job may name its machine instead of its family.
    instead = {"family"} if table.name == "jobs" and "machine" in header else set()
    absent = [c.name for c in table.file_columns if c.is_required and c.name not in header and c.name not in instead]
    if absent:
        raise RecordsError(f"{file}: the header lacks {', '.join(absent)}; found {', '.join(header)}. "
                           "Add the column and load again; nothing was loaded.")


def _extra(columns, extra, cells, width):
    if not extra and all(len(row) <= width for row in cells):
        return None
    named = [dict(zip(extra, values, strict=True)) for values in zip(*(columns[c] for c in extra), strict=True)] or [{}] * len(cells)
    over = [{"": row[width:]} if len(row) > width else {} for row in cells]
    whole = [{k: v for k, v in (a | b).items() if v} for a, b in zip(named, over, strict=True)]
    return [json.dumps(one, ensure_ascii=False) if one else None for one in whole]


def _read_toml(path):
    try:
        values = tomllib.loads(_text(path))
    except tomllib.TOMLDecodeError as error:
        raise RecordsError(f"{path.name}: {error}. Wanted lines such as `labour_rate = 60`.") from None
    rows = [[key, str(value)] for key, value in values.items()]
    return _as_table("shop", path.name, ["key", "value"], rows, list(range(1, len(rows) + 1)))
