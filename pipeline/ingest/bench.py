"""What is written down at the bench: one taking, count or delivery at a time, by the rules a file obeys.

Each call opens the store, works and closes it again, so that no window keeps it locked. The rows are
marked as the notebook's; no load drops them. Deliveries are in :mod:`pipeline.ingest.deliveries`.
"""

import datetime

import pandas as pd

from pipeline.errors import RecordsError
from pipeline.ingest import take_in
from pipeline.ingest.identifiers import Known
from pipeline.ingest.raw_table import RawTable
from pipeline.store import append, catalogue, connect, validate
from pipeline.store import read as store_read


def record_use(shop_file, job, part, qty_pcs, used_on, assembly=None, source=None, reason=None):
    """Record that pieces were taken for a job, or put back.

    Parameters
    ----------
    shop_file : str or pathlib.Path
        The store; it must exist.
    job, part : str
        Identifiers; an alias of a part is resolved.
    qty_pcs : int
        Pieces; negative = back to the shelf.
    used_on : datetime.date or str
        Day, as 2025-03-09.
    assembly, source, reason : str, optional
        As in ``job_parts``.

    Returns
    -------
    str
        What was recorded. The same taking again is a second one, told apart by its ``line``.

    Raises
    ------
    RecordsError
        If a value breaks a rule; the message says which and what is near. Nothing is recorded.
    StoreError
        If there is no store, or it is open elsewhere.
    """
    row = {"job": job, "part": part, "qty_pcs": qty_pcs, "used_on": used_on, "line": None, "assembly": assembly,
           "source": source, "reason": reason}
    with connect.change(connect.require(shop_file)) as connection:
        mends = stage_row(connection, "job_parts", row)
        if (line := append.next_line(connection, "job_parts")) is not None:
            stage_row(connection, "job_parts", row | {"line": line})
        kept = keep_row(connection, "job_parts")[0]
    way = "for" if kept["qty_pcs"] > 0 else "put back from"
    again = f"; the same was recorded before, this one is its line {line}" if line else ""
    taken = f"{pieces_words(abs(kept['qty_pcs']))} of {kept['part']} {way} job {kept['job']}{_on(kept['used_on'])}"
    return f"Recorded: {taken}{again}{mends}."


def record_count(shop_file, part, qty_pcs, counted_on, shelf=None):
    """Record how many pieces of a part were found on the shelf.

    Parameters
    ----------
    shop_file : str or pathlib.Path
        The store; it must exist.
    part : str
        Identifier or alias.
    qty_pcs : int
        Pieces, zero or more.
    counted_on : datetime.date or str
        Day, as 2025-03-09.
    shelf : str, optional
        Where.

    Returns
    -------
    str
        What was recorded. The same count again changes nothing, and the message says so.

    Raises
    ------
    RecordsError, StoreError
        As :func:`record_use`.
    """
    row = {"part": part, "qty_pcs": qty_pcs, "counted_on": counted_on, "shelf": shelf}
    with connect.change(connect.require(shop_file)) as connection:
        mends = stage_row(connection, "counts", row)
        kept, is_new = keep_row(connection, "counts")
    known = "" if is_new else "; the same count was there before, nothing changed"
    found = f"{pieces_words(kept['qty_pcs'])} of {kept['part']}"
    return f"Recorded: {found} counted{_on(kept['counted_on'])}{known}{mends}."


def stage_row(connection, name, row):
    """Stage one row by the rules of its file.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        The store, in a transaction.
    name : str
        A table whose rows are all their values.
    row : dict of str to object
        Every column of its file.

    Returns
    -------
    str
        What was mended, in brackets; empty for nothing.

    Raises
    ------
    RecordsError
        If a value breaks a rule. Nothing is recorded.
    """
    cells = {column: pd.Series([_text(value)], dtype=object) for column, value in row.items()}
    frame = pd.DataFrame({"file_line": [1], **cells, "extra": pd.Series([None], dtype=object)})
    for parent in {parent for _, parent, _ in catalogue.tables()[name].references}:
        connection.execute(f"create or replace temp table accepted_{parent} as from main.{parent}")
    raw = RawTable(name, "the notebook", frame.assign(recorded_in="notebook"), set(row))
    _, mends, bad = take_in.set_aside(take_in.Judge(connection, Known(connection, {})), raw)
    if len(bad):
        found = bad["value"].map(lambda value: f"'{value}'" if isinstance(value, str) else "empty")
        told = bad["column"] + " is " + found + "; " + bad["suggestion"]
        raise RecordsError(f"{'. '.join(told)}. Nothing was recorded.".replace("?.", "?"))
    mended = [f"{entry.column} '{entry.value}': {entry.suggestion}" for mend in mends for entry in mend.itertuples()
              if entry.rule not in ("blanks", "spelling")]
    return f" ({'; '.join(mended)})" if mended else ""


def keep_row(connection, name):
    """Append the staged row.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With one row of ``name`` staged (:func:`stage_row`).
    name : str

    Returns
    -------
    kept : dict of str to object
        The row as it is in the store.
    is_new : bool
        False where the store held it before.
    """
    validate.accept(connection, name)
    is_new = bool(append.append(connection, name))
    columns = [column.name for column in catalogue.tables()[name].file_columns]
    cells = store_read.rows(connection, f"select {', '.join(columns)} from accepted_{name}")[0]
    return dict(zip(columns, cells, strict=True)), is_new


def _text(value):
    if isinstance(value, datetime.datetime):
        value = value.date()
    return "" if value is None else str(value)


def pieces_words(number):
    """Return a number of pieces in words (str)."""
    return "1 piece" if number == 1 else f"{number:,} pieces"


def _on(day):
    return f" on {day}" if day else ""
