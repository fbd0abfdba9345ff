"""Build a store from ``schema.sql`` and bring an older one up to date by numbered migrations."""

import re
from functools import cache
from pathlib import Path

from pipeline.errors import StoreError

HERE = Path(__file__).parent
SCHEMA_VERSION = 3

_TABLE = re.compile(r"^create table (\w+) \(")
_COLUMN = re.compile(r"^    \"?(\w+)\"? [a-z].*?-- (.+)$")


def schema_statements():
    """Return the statements of ``schema.sql``: tables, then their comments.

    Returns
    -------
    list of str
        One statement each, in an order in which they run. The remark above a table and the remark
        behind a column become ``COMMENT ON`` statements, so that the catalogue carries them.
    """
    return _table_statements() + [
        f"comment on table {table} is {_quoted(said)}" if column is None else
        f'comment on column {table}."{column}" is {_quoted(said)}' for (table, column), said in remarks().items()]


@cache
def remarks():
    """Return what ``schema.sql`` says of its tables and columns.

    Returns
    -------
    dict of (str, str or None) to str
        By table and column; the column is None for the table itself.
    """
    said, above, table = {}, [], None
    for line in _schema().splitlines():
        if line.startswith("-- "):
            above.append(line[3:].strip())
        elif opened := _TABLE.match(line):
            table = opened[1]
            said[table, None] = " ".join(above)
        elif table and (column := _COLUMN.match(line)):
            said[table, column[1]] = column[2]
        if not line.startswith("-- "):
            above = []
        if line.startswith(");"):
            table = None
    return said


def build(connection, has_remarks=True):
    """Create every table of the shop in an empty store.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        A connection that may write; its transaction, if any, is the caller's.
    has_remarks : bool
        False where nobody will ever read them: they take three quarters of the time.
    """
    for statement in schema_statements() if has_remarks else _table_statements():
        connection.execute(statement)


def migrate(connection, folder=HERE / "migrations", target=SCHEMA_VERSION):
    """Apply the migrations a store has not seen yet, each in a transaction of its own.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        A connection that may write.
    folder : pathlib.Path
        Files ``NNNN_what_changes.sql``; NNNN is the version the store has afterwards.
    target : int
        The version wanted.

    Returns
    -------
    list of int
        The versions applied, in order.

    Raises
    ------
    StoreError
        If the store is newer than this release, or a migration is missing.
    """
    at = version(connection)
    if at > target:
        raise StoreError(newer(at, target))
    scripts = {int(path.name[:4]): path for path in sorted(Path(folder).glob("[0-9]*.sql"))}
    applied = list(range(at + 1, target + 1))
    for number in applied:
        if number not in scripts:
            raise StoreError(f"no migration leads to edition {number}; wanted a file {number:04d}_*.sql.")
        _apply(connection, scripts[number].read_text(encoding="utf-8"), number)
    return applied


def newer(at, known):
    """Return the words for a store that a newer release wrote (str)."""
    return f"the store is of edition {at}; this release knows editions up to {known}. Use the release that wrote it."


def version(connection):
    """Return the edition of an opened store (int), 0 where the file is empty."""
    found = connection.execute(
        "select count(*) from duckdb_tables() where table_name = 'store_version' and not internal"
    ).fetchall()[0][0]
    return connection.execute("select max(version) from store_version").fetchall()[0][0] if found else 0


def _apply(connection, script, number):
    connection.execute("begin")
    try:
        for statement in filter(None, (part.strip() for part in _without_remarks(script).split(";"))):
            connection.execute(statement)
        connection.execute("update store_version set version = ?", [number])
        connection.execute("commit")
    except BaseException:
        connection.execute("rollback")
        raise


@cache
def _schema():
    return (HERE / "schema.sql").read_text(encoding="utf-8")


def _table_statements():
    return [part.strip() for part in _without_remarks(_schema()).split(";") if part.strip()]


def _without_remarks(text):
    """Drop remarks; a semicolon inside one must not end a statement."""
    return "\n".join(line.split("--")[0].rstrip() for line in text.splitlines())


def _quoted(text):
    return "'" + text.replace("'", "''") + "'"
