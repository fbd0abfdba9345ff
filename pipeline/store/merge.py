"""Make the accepted rows part of the store.

DuckDB refuses to change a row that others refer to, so the store is laid anew within one transaction:
what it held and what came in are merged beside it, every table is dropped, built again from
``schema.sql`` and filled; any failure, or a cut, leaves it as it was.
"""

from pipeline.store import build, catalogue

LOG = ("loads", "load_files", "records", "set_aside_rows")


def merge(connection, given_columns):
    """Merge the accepted rows of this load with what the store holds.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        In a transaction; with temporary tables ``accepted_<table>`` for each table in
        ``given_columns``, and ``new_<table>`` for the load's own log tables.
    given_columns : dict of str to set of str
        Columns each file bore: a column it lacks keeps the value the store has.
    """
    kept = [name for name in catalogue.every_table() if name not in catalogue.BUILT]
    for name in kept:
        connection.execute(f"create or replace temp table merged_{name} as {_merged(name, given_columns)}")
    for name in reversed(catalogue.every_table()):
        connection.execute(f"drop table main.{name}")
    build.build(connection)
    for name in kept:
        connection.execute(f"insert into main.{name} by name from merged_{name}")
        connection.execute(f"drop table merged_{name}")


def vanished(connection, name):
    """Return how many rows of earlier loads this load's file does not bear (int); they are kept."""
    table = catalogue.tables()[name]
    written = " where recorded_in = 'folder'" if table.has_row_identity else ""
    return connection.execute(f"select count(*) from (from main.{name}{written}) as old where not exists"
                              f" (from accepted_{name} as new where {_same(table)})").fetchall()[0][0]


def add_records(connection, entries):
    """Put further remarks (pandas.DataFrame, columns of ``records`` without load_no) beside the newest load's."""
    connection.register("found_rows", entries)
    connection.execute("insert into records by name"
                       " select (select max(load_no) from loads) as load_no, * from found_rows")
    connection.unregister("found_rows")


def _merged(name, given_columns):
    if name in LOG:
        return f"from main.{name} union all by name from new_{name}"
    if name not in given_columns:
        return f"from main.{name}"
    return _merged_rows(catalogue.tables()[name], given_columns[name])


def _merged_rows(table, given):
    if table.has_row_identity:
        return (f"from main.{table.name} union all by name select * from accepted_{table.name} as new"
                f" where not exists (from main.{table.name} as old where {_same(table)})")
    kept = given | set(table.identity)
    cells = ", ".join(f'{"new" if column.name in kept else "old"}."{column.name}"' for column in table.columns)
    return (f"select {cells} from accepted_{table.name} as new left join main.{table.name} as old on {_same(table)}"
            f" union all by name select * from main.{table.name} as old"
            f" where not exists (from accepted_{table.name} as new where {_same(table)})")


def _same(table):
    return " and ".join(f'old."{column}" is not distinct from new."{column}"' for column in table.identity)
