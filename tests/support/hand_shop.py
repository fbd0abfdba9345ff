"""A store in memory from rows written by hand, for tests that need a few exact figures."""

from contextlib import contextmanager

import pandas as pd

from pipeline.store import connect

_ORDER = (
    "shop",
    "families",
    "parts",
    "machines",
    "jobs",
    "job_parts",
    "interchange",
    "companions",
    "vendors",
    "offers",
    "orders",
    "order_lines",
    "receipts",
    "counts",
    "stock_moves",
    "assemblies",
    "family_assemblies",
    "assembly_parts",
    "job_hours",
    "job_costs",
    "findings",
    "quote_lines",
    "approvals",
    "payments",
    "callbacks",
    "photos",
    "wear",
)


@contextmanager
def store(**tables):
    """An open store holding ``tables``: name to a text whose first line names the columns.

    Cells are parted by blanks; ``-`` is an unknown cell.
    """
    with connect.open_memory() as connection:
        _fill(connection, tables)
        yield connection


def write(path, **tables):
    """Write the ``tables`` of :func:`store` into a store file; return its path."""
    with connect.change(path) as connection:
        _fill(connection, tables)
    return path


def _fill(connection, tables):
    for name in sorted(tables, key=_ORDER.index):
        header, *rows = (line.split() for line in tables[name].strip().splitlines())
        assert all(len(row) == len(header) for row in rows), f"{name}: a row does not fit {header}"
        _insert(connection, name, pd.DataFrame(rows, columns=header).replace({"-": None}))


def _insert(connection, table, frame):
    own = {
        column
        for (column,) in connection.execute(
            "select column_name from duckdb_columns() where table_name = ?", [table]
        ).fetchall()
    }
    frame = frame.assign(row_hash=[f"{table}-{n}" for n in range(len(frame))]) if "row_hash" in own else frame
    frame = frame.assign(recorded_in="folder") if "recorded_in" in own else frame
    connection.register("handed_in", frame)
    names = ", ".join(f'"{name}"' for name in frame.columns)
    connection.execute(f"insert into {table} ({names}) select {names} from handed_in")
    connection.unregister("handed_in")
