"""Rows of the store, judged again beside what came in since; those set aside earlier are tried again with them."""

from dataclasses import dataclass

import pandas as pd

from pipeline.ingest import raw_table
from pipeline.ingest import waiting as waiting_rows
from pipeline.store import catalogue, read, validate

IN_STORE = "{} (in the store)"
_NOTHING = pd.DataFrame(columns=validate.OFFENCE_COLUMNS)


@dataclass(frozen=True)
class OnceStored:
    """Rows of one table that once were in the store and wait.

    Attributes
    ----------
    rows : pandas.DataFrame
        ``file_line`` (below 0), text columns, ``extra``.
    refused : pandas.DataFrame
        What was said of those whose cells cannot be told: columns of
        :data:`pipeline.store.validate.OFFENCE_COLUMNS`.
    """

    rows: pd.DataFrame
    refused: pd.DataFrame

    @property
    def lines(self):
        """Their lines (set of int)."""
        return set(self.rows["file_line"])


def waiting(connection, waits):
    """Return the rows that once were in the store and wait: no file says otherwise unless it bears them.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    waits : pandas.DataFrame
        As :func:`pipeline.ingest.waiting.rows`.

    Returns
    -------
    dict of str to OnceStored
        By table.
    """
    of_store = waits[waits["line"] < 0]
    return {name: _once_stored(connection, name, rows) for name, rows in of_store.groupby("holds")}


def _once_stored(connection, name, rows):
    is_readable = rows["mended"].notna()
    frame = raw_table.from_json(name, rows["mended"].where(is_readable, rows["cells"]))
    unread = rows[~is_readable]
    origins = {line: (file, line) for file, line in zip(unread["file"], unread["line"], strict=True)}
    return OnceStored(frame.assign(file_line=rows["line"].to_numpy()), waiting_rows.said_before(connection, origins))


def judge(connection, known, name, once=None):
    """Leave the good rows of a stored table, and of those that wait, as ``standing_<name>``.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With the accepted rows of the table's parents.
    known : pipeline.ingest.identifiers.Known
    name : str
    once : OnceStored, optional
        The rows of the table that wait.

    Returns
    -------
    gone : pandas.DataFrame
        The others as text, with their ``file_line``; they are kept as ``put_by_<name>``, too.
    offences : pandas.DataFrame
        As :func:`pipeline.store.validate.offences` returns them.
    """
    table = catalogue.tables()[name]
    if once is None and read.is_empty(connection, name):
        return validate.none_standing(connection, name), _NOTHING
    waits = None if once is None else once.rows.assign(**{
        column.name: known.unaliased(table, column, known.spelled(table, column, once.rows[column.name]))
        for column in table.file_columns if column.name in once.rows})
    validate.stage_standing(connection, name, known.respelled(connection, table), waits)
    offences = validate.offences(connection, name, _NOTHING if once is None else once.refused)
    gone = validate.put_by(connection, name)
    validate.accept(connection, name, into="standing")
    return gone, offences


def whole(name, rows, once=None):
    """Return rows of the store as they are set aside.

    Parameters
    ----------
    name : str
    rows : pandas.DataFrame
        As :func:`judge` returns them.
    once : OnceStored, optional
        The rows among them that waited before.

    Returns
    -------
    pandas.DataFrame
        Columns file, line, holds, cells, mended.
    """
    if rows.empty:
        return pd.DataFrame(columns=["file", "line", "holds", "cells", "mended"])
    frame = rows if catalogue.tables()[name].has_row_identity else rows.drop(columns="recorded_in")
    frame = frame.astype(object).where(frame.notna(), "")
    cells = raw_table.as_json(frame.loc[:, [c for c in frame if (frame[c] != "").any() or c == "extra"]]).to_numpy()
    is_unread = rows["file_line"].isin(() if once is None else once.refused["line"]).to_numpy()
    return pd.DataFrame({"file": IN_STORE.format(name), "line": rows["file_line"].to_numpy(), "holds": name,
                         "cells": cells, "mended": pd.Series(cells, dtype=object).where(~is_unread, None)})
