"""Rows mended or corrected once more: what the earlier mend brought into the store gives way to the newer."""

from dataclasses import dataclass

import pandas as pd

from pipeline.ingest import raw_table, records
from pipeline.ingest.raw_table import as_json
from pipeline.ingest.row_mark import essence
from pipeline.store import catalogue, read, standing, validate

_COLUMNS = ["holds", "cells", "mended", "brought_by", "place", "made"]
NO_MENDS = pd.DataFrame({column: [] for column in _COLUMNS}, dtype=object)


@dataclass(frozen=True)
class Mend:
    """What an owner made of a row: its line in this load, the row as typed and as mended (JSON), who brought it."""

    line: int
    cells: str
    mended: str
    brought_by: str
    place: str | None = None


@dataclass(frozen=True)
class Former:
    """An earlier mend: its number in ``mended_rows``, what it brought (JSON, None: nothing), the lines it is of now."""

    number: int
    made: str | None
    lines: frozenset


def earlier(connection, name, brought_by):
    """Return the mends of one table, the oldest first (pandas.DataFrame: number, cells, mended, place, made)."""
    found = read.query(connection, "select rowid as number, cells, mended, place, made from mended_rows"
                                   " where holds = $1 and brought_by = $2 order by load_no, rowid", [name, brought_by])
    return found.astype(object).where(found.notna(), None)


def meet(connection, tables):
    """Find in files the rows that corrections changed when they were loaded before.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    tables : dict of str to RawTable
        This load's own files, corrected; ``mends`` and ``formers`` are added to.
    """
    is_first = read.is_empty(connection, "mended_rows")
    for name, table in tables.items():
        typed = table.as_typed
        if table.corrected:
            is_corrected = typed["file_line"].isin(table.corrected).to_numpy()
            pairs = zip(typed.loc[is_corrected, "file_line"], as_json(typed[is_corrected]),
                        as_json(table.frame[is_corrected]), strict=True)
            table.mends += [Mend(line, cells, mended, "corrections") for line, cells, mended in pairs]
        found = () if is_first else earlier(connection, name, "corrections")
        if len(found):
            wanted = found["cells"].map(essence)
            typed = typed[_may_be(typed, wanted)]
            at = {}
            for line, cells in zip(typed["file_line"], as_json(typed), strict=True):
                at.setdefault(essence(cells), set()).add(line)
            table.formers += [Former(number, made, frozenset(at[said])) for number, made, said
                              in zip(found["number"], found["made"], wanted, strict=True) if said in at]


def _may_be(typed, wanted):
    """Rows whose first column says what one of the rows looked for says there: few of a long file."""
    column = next((column for column in typed if column != "file_line"), None)
    return typed[column].fillna("").str.strip().isin({dict(said).get(column, "") for said in wanted})


def settle(connection, known, raw, frame, bad_lines):
    """Take from the store what earlier mends brought in where newer ones stand for the same rows.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With ``given_<table>`` and ``standing_<table>``; the latter loses rows.
    known : pipeline.ingest.identifiers.Known
    raw : RawTable
    frame : pandas.DataFrame
        Its rows as read.
    bad_lines : set of int
        Its lines that are set aside.

    Returns
    -------
    mends : pandas.DataFrame
        Rows for ``mended_rows``, without load_no.
    over : list of int
        Numbers of those there that count no longer.
    told : pandas.DataFrame
        A remark for each row that gave way.
    """
    if not (raw.mends or raw.formers):
        return NO_MENDS, [], records.gathered([])
    is_mended = frame["file_line"].isin({mend.line for mend in raw.mends}).to_numpy()
    read_as = dict(zip(frame.loc[is_mended, "file_line"], as_json(frame[is_mended]), strict=True))
    new_lines = _not_standing(connection, raw.name)
    kept = {}
    for former in raw.formers:
        for line in former.lines:
            kept.setdefault(line, former.made)
    mends = []
    for mend in raw.mends:
        is_in = mend.line not in bad_lines
        made = (read_as[mend.line] if mend.line in new_lines else None) if is_in else kept.get(mend.line)
        mends.append((raw.name, mend.cells, mend.mended, mend.brought_by, mend.place, made))
    gone = [former for former in raw.formers if former.lines - bad_lines]
    told = [_give_way(connection, known, raw, former, bad_lines) for former in gone if former.made]
    return pd.DataFrame(mends, columns=_COLUMNS), [former.number for former in gone], records.gathered(told)


def _not_standing(connection, name):
    """Lines of the file's rows that the store does not hold yet (set of int)."""
    table = catalogue.tables()[name]
    return {line for (line,) in read.rows(
        connection, f"select file_line from ({validate.typed_rows(table)}) as new"
                    f" where not exists (from standing_{name} as old where {validate.same(table)})")}


def _give_way(connection, known, raw, former, bad_lines):
    table = catalogue.tables()[raw.name]
    frame = raw_table.from_json(raw.name, [former.made])
    columns = [column for column in table.file_columns if column.name in frame]
    frame = frame.assign(**{column.name: known.unaliased(table, column, known.spelled(table, column,
                                                                                      frame[column.name]))
                            for column in columns})
    validate.stage(connection, raw.name, frame, into="former")
    needed = known.shown(raw.name, standing.needed(connection).get(raw.name))
    words = standing.drop_former(connection, raw.name, needed)
    lines = [min(former.lines - bad_lines)] * len(words)
    return records.listed(raw.file, lines, None, words, "replaced",
                          "in the store by an earlier mend or correction of this row; what it says now takes its place",
                          "noted")


def last_of(mends, place, typed):
    """Return the newest mend of one row of a workbook (namedtuple of :func:`earlier`), None where there is none.

    Parameters
    ----------
    mends : pandas.DataFrame
        As :func:`earlier`.
    place : str
        Load, file and line of the row, JSON.
    typed : str or None
        The row as it was set aside then, JSON; it decides where a mend does not know its place.
    """
    rows = list(mends.itertuples(index=False))
    of_place = [row for row in rows if row.place == place]
    if not of_place and typed is not None:
        of_place = [row for row in rows if row.place is None and essence(row.cells) == essence(typed)]
        of_place = of_place if len(of_place) == 1 else []
    if not of_place:
        return None
    last, met = of_place[-1], set()
    while last.number not in met:
        met.add(last.number)
        last = next((row for row in reversed(rows) if row.number not in met
                     and essence(row.cells) == essence(last.mended)), last)
    return last
