"""The schema says its own units, types and rules; the documents of the contract are kept by it."""

import re

import pytest

from pipeline.store import build, catalogue, connect

COLUMNS = [(table.name, column) for table in catalogue.tables().values() for column in table.columns]
QUANTITY = re.compile(r"^(BIGINT|INTEGER|DOUBLE|DECIMAL)")
UNIT_IN_NAME = re.compile(r"_(pcs|hours|days|months|amount|price|share|plays)$|^(hours|share|plays|amount)$")
UNIT_IN_WORDS = re.compile(
    r"\b(pieces|hours|days|months|amount|cost per piece|games|count|weight .* in jobs|no unit|packs|share)\b"
)
# Numbers that measure nothing.
LABELS = {"line", "version", "year"}


@pytest.mark.parametrize(("table", "column"), COLUMNS, ids=[f"{table}.{column.name}" for table, column in COLUMNS])
def test_every_column_has_a_meaning_and_every_quantity_a_unit(table, column):
    assert len(column.meaning) >= 3
    if QUANTITY.match(column.type) and column.name not in LABELS:
        assert UNIT_IN_NAME.search(column.name) or UNIT_IN_WORDS.search(column.meaning), column.meaning


@pytest.mark.parametrize(("table", "column"), COLUMNS, ids=[f"{table}.{column.name}" for table, column in COLUMNS])
def test_a_suffix_and_a_type_go_together(table, column):
    for suffix, kind in (("_on", "DATE"), ("_pcs", "BIGINT"), ("_share", "DOUBLE"), ("_hours", "DOUBLE"),
                         ("_amount", "DECIMAL(18,4)"), ("_price", "DECIMAL(18,4)")):
        if column.name.endswith(suffix):
            assert column.type == kind
    assert column.type in ("VARCHAR", "DATE", "BIGINT", "INTEGER", "DOUBLE", "DECIMAL(18,4)")


def test_log_tables_are_commented_too_in_every_store_kept(tmp_path, remarks):
    with connect.open_write(tmp_path / "shop.duckdb") as connection:
        found = connection.execute(
            "select table_name, column_name, comment is null from duckdb_columns() where not internal and"
            " table_name not in (select view_name from duckdb_views())"
        ).fetchall()
    assert {table for table, *_ in found} == set(catalogue.every_table())
    assert [row for row in found if row[2]] == []


def test_settings_say_their_kind_and_meaning():
    with connect.open_memory() as connection:
        rows = connection.execute("select key, kind, default_value, meaning from shop_keys").fetchall()
    assert len(rows) == 19
    for key, kind, default, meaning in rows:
        assert meaning and (kind == "share") == key.endswith("_share")
        assert default is None or kind == "text" or float(default) >= 0


def test_statements_of_the_schema_are_tables_then_comments_and_settings(remarks):
    kinds = [" ".join(statement.split()[:2]) for statement in build.schema_statements()]
    assert set(kinds) == {"create table", "insert into", "comment on"}
    assert kinds == sorted(kinds, key=["create table", "insert into", "comment on"].index)


def test_every_reference_is_to_an_identifier():
    tables = catalogue.tables()
    for table in tables.values():
        for column, parent, parent_column in table.references:
            assert parent == "shop_keys" or tables[parent].declares == parent_column, (table.name, column)
