"""Rows of the store, judged again beside what came in since; those set aside earlier are tried again with them."""

import pandas as pd

from pipeline.ingest import raw_table
from pipeline.store import catalogue, read, validate

IN_STORE = "{} (in the store)"
_NOTHING = pd.DataFrame(columns=validate.OFFENCE_COLUMNS)


def waiting(waits, but=()):
    """Return the rows that once were in the store and wait: no file says otherwise unless it bears them.

    Parameters
    ----------
    waits : pandas.DataFrame
        As :func:`pipeline.ingest.waiting.rows`.
    but : collection of str
        Tables whose waiting rows are all at hand in another way.

    Returns
    -------
    dict of str to pandas.DataFrame
        By table: ``file_line`` (below 0), text columns, ``extra``.
    """
    of_store = waits[(waits["line"] < 0) & ~waits["holds"].isin(list(but))]
    return {name: raw_table.from_json(name, rows["mended"]).assign(file_line=rows["line"].to_numpy())
            for name, rows in of_store.groupby("holds")}


def judge(connection, known, name, waits=None):
    """Leave the good rows of a stored table, and of those that wait, as ``standing_<name>``.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With the accepted rows of the table's parents.
    known : pipeline.ingest.identifiers.Known
    name : str
    waits : pandas.DataFrame, optional
        As :func:`waiting` returns them.

    Returns
    -------
    gone : pandas.DataFrame
        The others as text, with their ``file_line``; they are kept as ``put_by_<name>``, too.
    offences : pandas.DataFrame
        As :func:`pipeline.store.validate.offences` returns them.
    """
    table = catalogue.tables()[name]
    if waits is None and read.is_empty(connection, name):
        return validate.none_standing(connection, name), _NOTHING
    if waits is not None:
        waits = waits.assign(**{column.name: known.spelled(table, column, waits[column.name])
                                for column in table.file_columns if column.name in waits})
    validate.stage_standing(connection, name, known.respelled(connection, table), waits)
    offences = validate.offences(connection, name, _NOTHING)
    gone = validate.put_by(connection, name)
    validate.accept(connection, name, into="standing")
    return gone, offences


def whole(name, rows):
    """Return rows of the store as they are set aside: file, line, holds, cells, mended (pandas.DataFrame)."""
    if rows.empty:
        return pd.DataFrame(columns=["file", "line", "holds", "cells", "mended"])
    frame = rows if catalogue.tables()[name].has_row_identity else rows.drop(columns="recorded_in")
    frame = frame.astype(object).where(frame.notna(), "")
    cells = raw_table.as_json(frame.loc[:, [c for c in frame if (frame[c] != "").any() or c == "extra"]]).to_numpy()
    return pd.DataFrame({"file": IN_STORE.format(name), "line": rows["file_line"].to_numpy(), "holds": name,
                         "cells": cells, "mended": cells})
