"""Make the accepted rows part of the store, all of them or none.

DuckDB refuses to change a row that others refer to, so the store is laid anew in one transaction:
what it held and what came in are merged beside it, every table is dropped, built again from
``schema.sql`` and filled; any failure, or a cut, leaves it as it was.
"""

from pipeline.store import build, catalogue


def merge(connection, given_columns):
    """Merge the accepted rows of this load with what the store holds, in one transaction.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With temporary tables ``accepted_<table>`` for each table in ``given_columns``, and
        ``new_<table>`` for the load's own log tables.
    given_columns : dict of str to set of str
        Columns each file bore: a column it lacks keeps the value the store has.
    """
    connection.execute("begin")
    try:
        for name in catalogue.every_table():
            connection.execute(f"create or replace temp table merged_{name} as {_merged(name, given_columns)}")
        for name in reversed(catalogue.every_table()):
            connection.execute(f"drop table main.{name}")
        build.build(connection)
        for name in catalogue.every_table():
            if name not in ("store_version", "shop_keys"):
                connection.execute(f"insert into main.{name} by name from merged_{name}")
            connection.execute(f"drop table merged_{name}")
        connection.execute("commit")
    except BaseException:
        connection.execute("rollback")
        raise


def _merged(name, given_columns):
    if name in catalogue.tables():
        return _merged_rows(catalogue.tables()[name], given_columns[name]) if name in given_columns else f"from main.{name}"
    return f"from main.{name} union all by name from new_{name}" if name in LOG else f"from main.{name}"


LOG = ("loads", "load_files", "records", "set_aside_rows")


def _merged_rows(table, given):
    same = " and ".join(f'old."{column}" is not distinct from new."{column}"' for column in table.identity)
    if table.has_row_identity:
        return (f"from main.{table.name} union all by name select * from accepted_{table.name} as new"
                f" where not exists (from main.{table.name} as old where {same})")
    kept = given | set(table.identity) | {"extra"}
    cells = ", ".join(f'{"new" if column.name in kept else "old"}."{column.name}"' for column in table.columns)
    return (f"select {cells} from accepted_{table.name} as new left join main.{table.name} as old on {same}"
            f" union all by name select * from main.{table.name} as old"
            f" where not exists (from accepted_{table.name} as new where {same})")
