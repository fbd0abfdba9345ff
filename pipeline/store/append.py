"""Add one accepted row to a table whose rows are all their values."""

from pipeline.store import catalogue

_EQUAL = "inner join staged_{} as staged on {}"


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
    same = _EQUAL.format(name, _same(name))
    return connection.execute(
        f"select max(coalesce(kept.line, 0)) + 1 from main.{name} as kept {same}").fetchall()[0][0]


def written_by(connection, name):
    """Return who wrote the row of the store that equals a staged one in every value.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With one row of ``name`` staged.
    name : str

    Returns
    -------
    str or None
        ``folder`` or ``notebook``; None where the store holds no such row.
    """
    found = connection.execute(f"select kept.recorded_in from main.{name} as kept {_EQUAL.format(name, _same(name))}")
    return next((who for (who,) in found.fetchall()), None)


def take_back(connection, name):
    """Delete the notebook's own row that equals a staged one in every value."""
    connection.execute(f"delete from main.{name} where recorded_in = 'notebook' and row_hash in (select kept.row_hash"
                       f" from main.{name} as kept {_EQUAL.format(name, _same(name))})")


def append(connection, name):
    """Insert the accepted row of a table where the store does not hold it yet; return how many were (int)."""
    count = connection.execute(f"insert into main.{name} by name from accepted_{name} where row_hash not in"
                               f" (select row_hash from main.{name})").fetchall()
    return count[0][0]


def _same(name):
    return " and ".join(f'kept."{column.name}" is not distinct from staged."typed {column.name}"'
                        for column in catalogue.tables()[name].file_columns if column.name != "line")
