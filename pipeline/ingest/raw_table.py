"""One file or sheet as it was typed: its header judged, its rows as text with their lines."""

import difflib
import json
from dataclasses import dataclass, field

import pandas as pd

from pipeline.errors import RecordsError
from pipeline.ingest import records
from pipeline.store import catalogue, validate


@dataclass(frozen=True)
class Link:
    """Which row set aside one of a workbook stands for: load, file and line, and the marks of store and cells then.

    ``is_second`` is True where only a row beside it was in its way: its double, or another with its key.
    """

    load: int
    file: str
    line: int
    store: str
    row: str
    is_second: bool = False

    @property
    def place(self):
        """Load, file and line as one text (str, JSON)."""
        return json.dumps([self.load, self.file, self.line], ensure_ascii=False)


@dataclass
class RawTable:
    """One file as it was typed.

    Attributes
    ----------
    name, file : str
        Table of the contract; name of the file or sheet.
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
    typed : pandas.DataFrame or None
        The frame as it was before corrections, where there were any.
    waiting : set of int
        Lines of rows that wait since an earlier load and are tried again.
    origins : dict of int to (str, int)
        File and line of rows that stand in no file of this load, by ``file_line``.
    is_given : bool
        True where this load's folder bears the file.
    links : dict of int to Link
        In a workbook of rows set aside, by ``file_line``: which row each one stands for.
    beside : set of int
        Lines of rows that wait and that this load's own file does not bear.
    lent : set of str
        Columns that those rows alone bear.
    corrected : set of int
        Lines that a correction changed.
    mends : list of pipeline.ingest.replaced.Mend
        What the owner made of rows, in this workbook.
    formers : list of pipeline.ingest.replaced.Former
        What earlier mends of the same rows brought into the store.
    """

    name: str
    file: str
    frame: pd.DataFrame
    columns: set
    records: list = field(default_factory=list)
    refused: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=validate.OFFENCE_COLUMNS))
    extras: tuple = ()
    typed: pd.DataFrame | None = None
    waiting: set = field(default_factory=set)
    origins: dict = field(default_factory=dict)
    is_given: bool = True
    links: dict = field(default_factory=dict)
    beside: set = field(default_factory=set)
    lent: set = field(default_factory=set)
    corrected: set = field(default_factory=set)
    mends: list = field(default_factory=list)
    formers: list = field(default_factory=list)

    @property
    def as_typed(self):
        """The frame with every cell as it stands in the file (pandas.DataFrame)."""
        return self.frame if self.typed is None else self.typed


def known_columns(table):
    """Return the columns a file may bear (list of str): the contract's, and the mark of the notebook's rows."""
    return [column.name for column in table.file_columns] + ["recorded_in"] * table.has_row_identity


def as_table(name, file, header, rows, lines):
    """Return a :class:`RawTable`.

    Parameters
    ----------
    name, file : str
        Table of the contract; name of the file or sheet.
    header : list of str
    rows : list of list of str
    lines : list of int
        The line each row starts on.

    Raises
    ------
    RecordsError
        If a required column is absent, or one stands twice.
    """
    table = catalogue.tables()[name]
    known, width = known_columns(table), len(header)
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


def as_json(frame):
    """Return each row of a raw frame as a JSON object, column to text, the other columns among them.

    Parameters
    ----------
    frame : pandas.DataFrame
        As ``RawTable.frame``.

    Returns
    -------
    pandas.Series of str
    """
    def whole(row):
        others = row["extra"] if isinstance(row["extra"], str) else ""
        cells = {name: cell for name, cell in row.items() if name not in ("file_line", "extra")}
        return json.dumps(cells | json.loads(others or "{}"), ensure_ascii=False)

    cells = [whole(row) for row in frame.to_dict("records")]
    return pd.Series(cells, frame.index, dtype=object)


def from_json(name, cells):
    """Return the frame that :func:`as_json` was made from, lines 1, 2, 3 ...

    Parameters
    ----------
    name : str
        Table of the contract.
    cells : sequence of str

    Returns
    -------
    pandas.DataFrame
        Contract columns that any row bears, and ``extra``.
    """
    known = known_columns(catalogue.tables()[name])
    rows = [json.loads(text) for text in cells]
    columns = {c: pd.Series([row.get(c) or "" for row in rows], dtype=object)
               for c in known if any(c in row for row in rows)}
    others = [{c: cell for c, cell in row.items() if c not in known} for row in rows]
    extra = pd.Series([json.dumps(other, ensure_ascii=False) if other else None for other in others], dtype=object)
    return pd.DataFrame({"file_line": pd.Series(range(1, len(rows) + 1), dtype="int64"), **columns, "extra": extra})


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
