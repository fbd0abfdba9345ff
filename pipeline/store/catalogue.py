"""The rules of ``schema.sql`` as DuckDB's catalogue gives them back."""

from dataclasses import dataclass
from functools import cache

import duckdb

from pipeline.store import build

OWN = ("store_version", "loads", "load_files", "records", "set_aside_rows", "shop_keys")
# Columns the program fills; never asked of a file.
FILLED = ("row_hash", "recorded_in", "extra")
REGISTERS = {"families": "family", "vendors": "vendor", "assemblies": "assembly"}
REQUIRED = ("parts", "jobs", "job_parts")


@dataclass(frozen=True)
class Column:
    """One column: its name, DuckDB type, meaning and unit, and whether a value is required."""

    name: str
    type: str
    meaning: str
    is_required: bool


@dataclass(frozen=True)
class Table:
    """One table: columns, identity, CHECK rules (text, columns) and references (column, table, column)."""

    name: str
    meaning: str
    columns: tuple
    identity: tuple
    checks: tuple
    references: tuple

    @property
    def file_columns(self):
        """Columns a file may bear, in order (list of Column)."""
        return [column for column in self.columns if column.name not in FILLED]

    @property
    def has_row_identity(self):
        """True where a row is all its values."""
        return self.identity == ("row_hash",)

    @property
    def unlocks(self):
        """What the owner gains by giving this file (str, may be empty)."""
        return self.meaning.partition("Unlocks: ")[2]


@cache
def tables():
    """Return every table of the shop folder, parents before children.

    Returns
    -------
    dict of str to Table
    """
    with duckdb.connect() as connection:
        build.build(connection)
        return {name: table for name, table in _all(connection).items() if name not in OWN}


@cache
def every_table():
    """Return all table names of the store, parents before children (tuple of str)."""
    with duckdb.connect() as connection:
        build.build(connection)
        return tuple(_all(connection))


def _all(connection):
    constraints = connection.execute(
        "select table_name, constraint_type, expression, constraint_column_names, referenced_table,"
        " referenced_column_names from duckdb_constraints() order by constraint_index"
    ).fetchall()
    meanings = dict(connection.execute("select table_name, comment from duckdb_tables() where not internal").fetchall())
    found = {name: _table(connection, name, meanings[name], [row[1:] for row in constraints if row[0] == name])
             for name in meanings}
    return _parents_first(found)


def _table(connection, name, meaning, rules):
    required = {columns[0] for kind, _, columns, _, _ in rules if kind == "NOT NULL"}
    columns = tuple(Column(column, kind, comment or "", column in required) for column, kind, comment in
                    connection.execute("select column_name, data_type, comment from duckdb_columns()"
                                       " where table_name = ? order by column_index", [name]).fetchall())
    keys = {kind: tuple(found) for kind, _, found, _, _ in rules if kind in ("PRIMARY KEY", "UNIQUE")}
    return Table(
        name, meaning or "", columns, keys.get("PRIMARY KEY") or keys.get("UNIQUE") or (),
        tuple((text, tuple(found)) for kind, text, found, _, _ in rules if kind == "CHECK"),
        tuple((found[0], parent, parent_column[0]) for kind, _, found, parent, parent_column in rules
              if kind == "FOREIGN KEY"),
    )


def _parents_first(found):
    done = {}
    while len(done) < len(found):
        for name, table in found.items():
            if name not in done and {parent for _, parent, _ in table.references} - {name} <= done.keys():
                done[name] = table
    return done
