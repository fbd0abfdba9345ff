"""Make the accepted rows the store.

DuckDB refuses to change a row that others refer to, so the store is laid anew within one transaction:
what it shall hold is prepared beside it, every table is dropped, built again from ``schema.sql`` and
filled; any failure, or a cut, leaves it as it was.
"""

from pipeline.store import build, catalogue, validate

LOG = ("loads", "load_files", "records", "set_aside_rows", "mended_rows")


def join(connection, name, given_columns):
    """Join the good rows of a file with the good rows of the store into ``accepted_<name>``.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With temporary tables ``given_<name>`` and ``standing_<name>`` (:func:`pipeline.store.validate.accept`).
    name : str
    given_columns : set of str
        Columns the file bore: a column it lacks keeps the value the store has, where it has the row. The mark of the
        notebook stays.

    """
    table = catalogue.tables()[name]
    kept = given_columns | set(table.identity)
    if table.has_row_identity:
        kept |= {column.name for column in table.file_columns}
    cells = [f'coalesce(nullif(new.{column.name}, \'folder\'), old.{column.name}, \'folder\') as {column.name}'
             if column.name == "recorded_in" else f'new."{column.name}"' if column.name in kept else
             f'case when old.is_there then old."{column.name}" else new."{column.name}" end as "{column.name}"'
             for column in table.columns]
    connection.execute(
        f"create or replace temp table accepted_{name} as select {', '.join(cells)} from given_{name} as new"
        f" left join (select *, true as is_there from standing_{name}) as old on {validate.same(table)}"
        f" union all by name select * from standing_{name} as old"
        f" where not exists (from given_{name} as new where {validate.same(table)})")


def hold_none(connection, name):
    """Leave ``accepted_<name>`` empty, as for a table that nobody gave a row of."""
    connection.execute(f"create or replace temp table accepted_{name} as from main.{name} limit 0")


def merge(connection):
    """Lay the store anew.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        In a transaction; with temporary tables ``accepted_<table>``, what each table of the shop shall hold,
        and ``new_<table>``, the load's own rows of the log tables.
    """
    kept = [name for name in catalogue.every_table() if name not in catalogue.BUILT]
    for name in LOG:
        connection.execute(f"create or replace temp table accepted_{name} as"
                           f" from main.{name} union all by name from new_{name}")
    if _holds_rows(connection, kept):
        for name in reversed(catalogue.every_table()):
            connection.execute(f"drop table main.{name}")
        build.build(connection)
    for name in kept:
        connection.execute(f"insert into main.{name} by name from accepted_{name}")
        connection.execute(f"drop table accepted_{name}")


def add_records(connection, entries):
    """Put further remarks (pandas.DataFrame, columns of ``records`` without load_no) beside the newest load's."""
    connection.register("found_rows", entries)
    connection.execute("insert into records by name"
                       " select (select max(load_no) from loads) as load_no, * from found_rows")
    connection.unregister("found_rows")


def _holds_rows(connection, names):
    """Whether a store was not just built."""
    any_row = " or ".join(f"exists (from main.{name})" for name in names)
    return connection.execute(f"select {any_row}").fetchall()[0][0]
