"""Building a store from schema.sql, and migrations."""

import duckdb
import pytest

from pipeline.errors import StoreError
from pipeline.store import build


@pytest.fixture
def built():
    """A store just built."""
    with duckdb.connect() as connection:
        build.build(connection)
        yield connection


def test_every_table_and_column_of_the_schema_carries_its_remark(built):
    assert built.execute("select table_name from duckdb_tables() where comment is null").fetchall() == []
    assert built.execute("select table_name, column_name from duckdb_columns() where comment is null"
                         " and not internal").fetchall() == []


def test_a_remark_is_the_comment_word_for_word(built):
    comment = "select comment from duckdb_columns() where table_name = 'orders' and column_name = 'discount'"
    assert built.execute(comment).fetchall() == [("amount taken off the whole order",)]


def test_version_of_an_empty_file_is_none_and_of_a_built_one_the_newest(built):
    with duckdb.connect() as empty:
        assert build.version(empty) == 0
    assert build.version(built) == build.SCHEMA_VERSION


def test_migrations_run_in_order_and_once(built, tmp_path):
    at = build.SCHEMA_VERSION
    (tmp_path / f"{at + 2:04d}_second.sql").write_text(
        "insert into loads values (2, now()::timestamp, 'b', '') -- ; no end\n;", encoding="utf-8")
    (tmp_path / f"{at + 1:04d}_first.sql").write_text(
        "-- why; with a semicolon\ncreate table tool (name varchar);\ninsert into tool values ('file');\n"
        "insert into loads values (1, now()::timestamp, 'a', '');\n",
        encoding="utf-8",
    )
    assert build.migrate(built, tmp_path, at + 2) == [at + 1, at + 2]
    assert build.version(built) == at + 2
    assert built.execute("select load_no, folder from loads order by 1").fetchall() == [(1, "a"), (2, "b")]
    assert built.execute("from tool").fetchall() == [("file",)]
    assert build.migrate(built, tmp_path, at + 2) == []


def test_a_migration_that_fails_is_undone_whole(built, tmp_path):
    at = build.SCHEMA_VERSION
    (tmp_path / f"{at + 1:04d}_first.sql").write_text(
        "insert into loads values (1, now()::timestamp, 'a', ''); select no_such_column from loads", encoding="utf-8")
    with pytest.raises(duckdb.Error):
        build.migrate(built, tmp_path, at + 1)
    assert build.version(built) == at
    assert built.execute("select count(*) from loads").fetchall() == [(0,)]


def test_a_missing_migration_and_a_newer_store_are_said(built, tmp_path):
    at = build.SCHEMA_VERSION
    with pytest.raises(StoreError, match=f"wanted a file {at + 1:04d}_"):
        build.migrate(built, tmp_path, at + 1)
    with pytest.raises(StoreError, match="Use the release that wrote it"):
        build.migrate(built, tmp_path, at - 1)


def test_the_schema_says_its_own_edition():
    statements = [
        statement for statement in build.schema_statements() if statement.startswith("insert into store_version")
    ]
    assert len(statements) == 1 and f"values ({build.SCHEMA_VERSION}, " in statements[0]
