"""Rows that wait: set aside by an earlier load, tried again by each until they are in or their file says otherwise."""

import json

import pandas as pd

from pipeline.errors import RecordsError
from pipeline.ingest import raw_table, records
from pipeline.ingest.raw_table import RawTable
from pipeline.store import catalogue, read, validate

_NEWEST = "load_no = (select max(load_no) from loads)"
# The rule that a cell breaks by what stands beside it in its file.
DOUBT = "two_readings"
_STALE = ("{}: this workbook was written by load {}, and other rows of {} have been set aside since. Mend the rows in"
          " the workbook of the newest load, or mend their files and load those. Nothing was loaded.")


def rows(connection):
    """Return the rows that wait.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection

    Returns
    -------
    pandas.DataFrame
        Columns load_no, file, line, holds, cells, mended (JSON texts), in order of file and line.
    """
    return read.query(connection, "select load_no, file, line, holds, cells, mended from set_aside_rows"
                                  f" where {_NEWEST} order by holds, file, line")


def beside(connection, waits, given):
    """Return the rows that wait in tables whose file is not among those given; those of the store are left out.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    waits : pandas.DataFrame
        As :func:`rows`.
    given : collection of str
        Tables of the files at hand: what waited of them is superseded.

    Returns
    -------
    dict of str to RawTable
        Their lines are numbers of their own; ``origins`` tells file and line.
    """
    waits = waits[(waits["line"] >= 0) & ~waits["holds"].isin(list(given))]
    by_table = dict(list(waits.groupby("holds")))
    return {name: _as_table(connection, name, by_table[name].reset_index(drop=True))
            for name in catalogue.tables() if name in by_table}


def settle(connection, given, waits):
    """Tell which rows of a workbook of rows set aside were mended; the others go on waiting.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    given : pipeline.ingest.read.Given
        A workbook of rows set aside; ``waiting``, ``origins`` (of rows that once were in the store) and ``refused``
        of its tables are filled in.
    waits : pandas.DataFrame
        As :func:`rows`.

    Returns
    -------
    mends : pandas.DataFrame
        Columns holds, cells, mended: each row as it waited and as its owner mended it.
    let_go : list of pandas.DataFrame
        A remark for each table whose waiting rows the owner deleted from the workbook.

    Raises
    ------
    RecordsError
        If rows of its tables wait that did not when it was written: it cannot tell that they are to wait on.
    """
    mends, let_go = [], []
    load = max((load for table in given.tables.values() for load, *_ in table.links.values()), default=None)
    for name, table in given.tables.items():
        of_table = waits[waits["holds"] == name]
        by_origin = {(file, line): cells for file, line, cells in
                     of_table[["file", "line", "cells"]].itertuples(index=False)}
        told = _told_by(connection, load, name, by_origin)
        if load is not None and by_origin.keys() - set(told.values()):
            raise RecordsError(_STALE.format(table.file, load, name))
        by_essence = {essence(cells): origin for origin, cells in by_origin.items()}
        met = {}
        for line, cells in zip(table.frame["file_line"], raw_table.as_json(table.frame), strict=True):
            origin = told.get(table.links.get(line), by_essence.get(essence(cells)))
            if origin is None:
                continue
            met[line] = origin
            if essence(cells) == essence(by_origin[origin]):
                table.waiting.add(line)
            else:
                mends.append((name, by_origin[origin], cells))
        table.origins = {line: origin for line, origin in met.items() if origin[1] < 0}
        table.refused = _and(table.refused, _still_doubtful(connection, table, met, by_origin))
        if gone := len(by_origin.keys() - set(met.values())):
            rows_gone, wait = ("1 row", "it waits") if gone == 1 else (f"{gone:,} rows", "they wait")
            let_go.append(records.of_file(table.file, f"{rows_gone} that waited", "let_go",
                                          f"deleted from this workbook, so {wait} no longer"))
    return pd.DataFrame(mends, columns=["holds", "cells", "mended"]), let_go


def _told_by(connection, load, name, by_origin):
    """Where the rows that a load told wait now (dict of load, file and line to file and line).

    A row that was mended since, or told by a later load under another file and line, is followed to where it waits.
    """
    then = read.rows(connection, "select file, line, cells from set_aside_rows where holds = $1 and load_no = $2"
                                 " order by file, line", [name, load])
    mends = {}
    for cells, mended in read.rows(connection, "select cells, mended from mended_rows where holds = $1", [name]):
        mends.setdefault(essence(cells), set()).add(essence(mended))
    waiting = {}
    for origin, cells in by_origin.items():
        waiting.setdefault(essence(cells), []).append(origin)
    found = {}
    for file, line, cells in then:
        at = [origin for said in _followed(essence(cells), mends) for origin in waiting.get(said, ())]
        # Rows that are equal as typed are told apart: by their line, else in their order.
        left = [origin for origin in at if origin not in found.values()]
        if left:
            found[load, file, line] = (file, line) if (file, line) in left else left[0]
    return found


def _followed(said, mends):
    """A row as typed, and all that its owner made of it (set of frozenset)."""
    met, left = set(), [said]
    while left:
        if (one := left.pop()) not in met:
            met.add(one)
            left += mends.get(one, ())
    return met


def essence(cells):
    """Return what two rows must share to be the same row as typed (frozenset): cells with anything in them.

    Examples
    --------
    >>> essence('{"job": " J1", "part": ""}') == essence('{"part": "", "job": "J1", "note": " "}')
    True
    """
    said = {column: cell if isinstance(cell, str) else "\t".join(cell) for column, cell in json.loads(cells).items()
            if cell is not None}
    return frozenset((column, cell.strip()) for column, cell in said.items() if cell.strip())


def _as_table(connection, name, waits):
    is_readable = waits["mended"].notna()
    frame = raw_table.from_json(name, waits["mended"].where(is_readable, waits["cells"]))
    typed = raw_table.from_json(name, waits["cells"])
    lines = frame["file_line"].tolist()
    origins = {n: (file, int(line)) for n, file, line in zip(lines, waits["file"], waits["line"], strict=True)}
    columns = set(frame.columns) & set(raw_table.known_columns(catalogue.tables()[name]))
    others = dict.fromkeys(column for text in frame["extra"].dropna() for column in json.loads(text))
    said = said_before(connection, origins)
    is_kept = said["line"].isin(frame.loc[~is_readable, "file_line"]) | (said["rule"] == DOUBT)
    return RawTable(name, f"{name} (loaded earlier)", frame, columns, typed=typed, waiting=set(lines), origins=origins,
                    refused=said[is_kept], extras=tuple(others), is_given=False)


def said_before(connection, origins):
    """Return what was said of rows that wait, by their lines now.

    Where cells cannot be told apart, or a cell reads in two ways beside the others of its file, no later load sees
    that by itself: nothing but its file, or its owner, can mend it.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    origins : dict of int to (str, int)
        By line now, the file and line they wait under.

    Returns
    -------
    pandas.DataFrame
        Columns of :data:`pipeline.store.validate.OFFENCE_COLUMNS`.
    """
    said = read.query(connection, 'select file, line, "column", value, rule, suggestion from records'
                                  f" where {_NEWEST} and outcome = 'set_aside'")
    lines = {origin: line for line, origin in origins.items()}
    at = [lines.get(origin) for origin in zip(said["file"], said["line"], strict=True)]
    said = said.assign(line=pd.Series(at, dtype=object))
    return said.loc[said["line"].notna(), validate.OFFENCE_COLUMNS]


def _still_doubtful(connection, table, origins, by_origin):
    """What was said of cells that read in two ways, and stand in the workbook as they did in their file."""
    said = said_before(connection, origins)
    said = said[(said["rule"] == DOUBT) & said["column"].isin(table.columns)]
    now = table.frame.set_index("file_line")
    stands = [now.loc[line, column].strip() == (json.loads(by_origin[origins[line]]).get(column) or "").strip()
              for line, column in zip(said["line"], said["column"], strict=True)]
    return said[stands]


def _and(*offences):
    return pd.concat([part for part in offences if len(part)] or offences[:1], ignore_index=True)
