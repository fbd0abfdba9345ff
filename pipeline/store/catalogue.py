"""The rules of ``schema.sql`` as DuckDB's catalogue gives them back."""

import re
from dataclasses import dataclass
from functools import cache

import duckdb

from pipeline.store import build

OWN = ("store_version", "loads", "load_files", "records", "set_aside_rows", "mended_rows", "shop_keys")
# Tables that building a store fills.
BUILT = ("store_version", "shop_keys")
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

    @property
    def is_money(self):
        """True where amounts are kept exactly."""
        return self.type.startswith("DECIMAL")

    @property
    def is_number(self):
        """True where a value may have decimals."""
        return self.is_money or self.type == "DOUBLE"


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
    def declares(self):
        """The column whose identifiers this table declares (str), None where it declares none."""
        return self.identity[0] if len(self.identity) == 1 and not self.has_row_identity else None

    @property
    def unlocks(self):
        """What the owner gains by giving this file (str, may be empty)."""
        return self.meaning.partition("Unlocks: ")[2]

    def words(self, column):
        """Return the words a column may hold (list of str), empty where it is free."""
        return next((re.findall(r"'([^']*)'", text) for text, columns in self.checks
                     if columns == (column,) and " IN (" in text), [])


@cache
def tables():
    """Return every table of the shop folder, parents before children.

    Returns
    -------
    dict of str to Table
    """
    return {name: table for name, table in _whole().items() if name not in OWN}


def every_table():
    """Return all table names of the store, parents before children (tuple of str)."""
    return tuple(_whole())


def shop_keys():
    """Return the settings an owner may give (tuple of str)."""
    return _read_back()[1]


def _whole():
    """Every table in the order of ``schema.sql``, which names a parent before its children."""
    return _read_back()[0]


@cache
def _read_back():
    with duckdb.connect() as connection:
        build.build(connection, has_remarks=False)
        rules = _by_table(connection, "select table_name, constraint_type, expression, constraint_column_names,"
                                      " referenced_table, referenced_column_names from duckdb_constraints()"
                                      " order by constraint_index")
        columns = _by_table(connection, "select table_name, column_name, data_type from duckdb_columns()"
                                        " where not internal order by column_index")
        names = connection.execute("select table_name from duckdb_tables() where not internal order by table_oid")
        tables = {name: _table(name, columns[name], rules.get(name, [])) for (name,) in names.fetchall()}
        keys = connection.execute("select key from shop_keys order by rowid").fetchall()
    return tables, tuple(key for (key,) in keys)


def _by_table(connection, sql):
    found = {}
    for name, *cells in connection.execute(sql).fetchall():
        found.setdefault(name, []).append(cells)
    return found


def _table(name, columns, rules):
    said = build.remarks()
    required = {columns[0] for kind, _, columns, _, _ in rules if kind == "NOT NULL"}
    keys = {kind: tuple(found) for kind, _, found, _, _ in rules if kind in ("PRIMARY KEY", "UNIQUE")}
    return Table(
        name, said[name, None],
        tuple(Column(column, kind, said[name, column], column in required) for column, kind in columns),
        keys.get("PRIMARY KEY") or keys.get("UNIQUE") or (),
        tuple((text, tuple(found)) for kind, text, found, _, _ in rules if kind == "CHECK"),
        tuple((found[0], parent, parent_column[0]) for kind, _, found, parent, parent_column in rules
              if kind == "FOREIGN KEY"),
    )
