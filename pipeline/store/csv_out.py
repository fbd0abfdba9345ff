"""The tables of the contract as CSV, exact to the last digit; whole tables at a time."""

import contextlib
import os
import re
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

import duckdb

from pipeline.errors import StoreError
from pipeline.store import catalogue, stop


@dataclass(frozen=True)
class Written:
    """One table written as CSV: its name, how many rows, and the columns beyond the contract."""

    table: str
    rows: int
    other_columns: tuple


def write_csv(connection, name, path, left_out=()):
    """Write a table of the contract as the file it came from, each value in the one spelling that reads back.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    name : str
        Table of the shop folder.
    path : str or pathlib.Path
        Written anew. UTF-8, comma, a header row; empty = unknown. Columns of the contract in the order of the
        schema, then the other columns the rows bear, then ``recorded_in`` where the notebook wrote any of them.
        Where a cell holds a line break every cell is quoted, so that its reader can tell it from an open quote.
    left_out : collection of str
        Columns of the contract that are not written.

    Returns
    -------
    Written

    Raises
    ------
    OSError
        If the file cannot be written: the disk is full, say.
    """
    # Opened once by ourselves: a folder that is not there is an error of the system, as a full disk is.
    open(path, "wb").close()
    with _explained(path):
        return _write(connection, catalogue.tables()[name], path, left_out)


def other_columns(connection, name):
    """Return the columns beyond the contract that a table's rows bear.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    name : str

    Returns
    -------
    tuple of str
        In an order that agrees with every row's own, where the rows agree; else as they first appear.
    """
    order = _order(catalogue.tables()[name])
    rows = [keys for keys, _ in _rows(connection, "select keys, min(place) as place from (select json_keys(extra) as"
                                      f" keys, row_number() over (order by {order}) as place from {name}"
                                      " where extra is not null) group by keys order by place")]
    earlier = {column: [] for row in rows for column in row}
    for row in rows:
        for one, next_one in pairwise(row):
            earlier[next_one].append(one)
    with contextlib.suppress(CycleError):
        return tuple(TopologicalSorter(earlier).static_order())
    return tuple(earlier)


def filled(connection, name, columns):
    """Return those of a table's columns that hold a value in any row (list of str)."""
    return [column for column in columns
            if _rows(connection, f"select 1 from {name} where {_name(column)} is not null limit 1")]


def _write(connection, table, path, left_out):
    others = other_columns(connection, table.name)
    cells = {column.name: _cell(column) for column in table.file_columns if column.name not in left_out}
    texts = {column.name: cells[column.name] for column in table.file_columns
             if column.type == "VARCHAR" and column.name in cells}
    texts |= {_beside_contract(column, table): _other_cell(column) for column in others}
    # Written in place: the name it would otherwise write under first is none that we would tidy up.
    kind = "format csv, header, delimiter ',', quote '\"', nullstr '', use_tmp_file false"
    if _has_line_break(connection, table.name, texts):
        kind += ", force_quote *"
    cells |= texts | ({"recorded_in": "recorded_in"} if _is_of_notebook(connection, table) else {})
    selected = ", ".join(f"{cell} as {_name(column)}" for column, cell in cells.items())
    count = _rows(connection, f"copy (select {selected} from {table.name} order by {_order(table)})"
                              f" to {_text(path)} ({kind})")[0][0]
    return Written(table.name, count, others)


def _cell(column):
    """SQL of the one spelling of a value: nothing rounded, no digit that says nothing."""
    name = _name(column.name)
    if column.type == "DATE":
        return f"strftime({name}, '%Y-%m-%d')"
    if column.is_money:
        return f"rtrim(rtrim(cast({name} as varchar), '0'), '.')"
    if column.type == "DOUBLE":
        return f"regexp_replace(cast({name} as varchar), '[.]0$', '')"
    return name if column.type == "VARCHAR" else f"cast({name} as varchar)"


def _other_cell(column):
    # A JSON pointer serves every name, whatever signs it holds.
    return f"json_extract_string(extra, {_text('/' + column.replace('~', '~0').replace('/', '~1'))})"


def _beside_contract(column, table):
    """Name of another column in the file; one that the contract or the program uses by now steps aside."""
    taken = {c.name for c in table.file_columns} | ({"recorded_in"} if table.has_row_identity else set())
    return f"{column} (extra)" if column in taken else column


def _is_of_notebook(connection, table):
    return table.has_row_identity and bool(
        _rows(connection, f"select 1 from {table.name} where recorded_in = 'notebook' limit 1"))


def _has_line_break(connection, name, texts):
    in_header = any(re.search(r"[\r\n]", column) for column in texts)
    found = " or ".join(f"contains({cell}, chr({sign}))" for cell in texts.values() for sign in (10, 13))
    return in_header or bool(_rows(connection, f"select 1 from {name} where {found} limit 1"))


def _order(table):
    """Rows in an order of their own, whatever order they came in: by identity, else by day, what they name, values."""
    columns = list(table.identity)
    if table.has_row_identity:
        days = [column.name for column in table.file_columns if column.type == "DATE"][:1]
        lines = [column.name for column in table.file_columns if column.name == "line"]
        columns = [*days, *(column for column, _, _ in table.references), *lines, *columns]
    # Of the table by name: a bare one would mean the text that is written.
    return ", ".join(f"{table.name}.{_name(column)} nulls last" for column in columns)


@contextlib.contextmanager
def _explained(path):
    try:
        with stop.as_ctrl_c():
            yield
    except duckdb.Error as error:
        if number := re.search(r'"errno":\s*"(\d+)"', str(error)):
            raise OSError(int(number[1]), os.strerror(int(number[1])), str(path)) from None
        raise StoreError(f"{path}: cannot be written ({str(error).splitlines()[0]}).") from None


def _rows(connection, sql):
    return connection.execute(sql).fetchall()


def _name(column):
    return '"' + column.replace('"', '""') + '"'


def _text(value):
    return "'" + str(value).replace("'", "''") + "'"
