"""Add one accepted row to a table whose rows are all their values."""

from pipeline.store import catalogue


def next_line(connection, name):
    """Return the number that tells a staged row from equal rows of the store.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With one row of ``name`` staged (:func:`pipeline.store.validate.stage`).
    name : str
        A table with a column ``line``.

    Returns
    -------
    int or None
        None where the store holds no row that is equal in all columns but ``line``.
    """
    same = " and ".join(f'kept."{column.name}" is not distinct from staged."typed {column.name}"'
                        for column in catalogue.tables()[name].file_columns if column.name != "line")
    return connection.execute(f"select max(coalesce(kept.line, 0)) + 1 from main.{name} as kept"
                              f" inner join staged_{name} as staged on {same}").fetchall()[0][0]


def append(connection, name):
    """Insert the accepted row of a table where the store does not hold it yet; return how many were (int)."""
    count = connection.execute(f"insert into main.{name} by name from accepted_{name} where row_hash not in"
                               f" (select row_hash from main.{name})").fetchall()
    return count[0][0]
