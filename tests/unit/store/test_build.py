"""Building a store from schema.sql, and migrations."""

import duckdb
import pytest

from pipeline.errors import StoreError
from pipeline.store import build, connect
from tests.support import small_shop

pytestmark = pytest.mark.usefixtures("remarks")


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


# The log tables as the first edition had them; all other tables were as they are, but for a rule on stock moves.
FIRST_EDITION = """
    create table load_files (
        load_no integer not null references loads (load_no), file varchar not null, rows_in bigint not null,
        rows_loaded bigint not null, rows_set_aside bigint not null, primary key (load_no, file),
        check (rows_in = rows_loaded + rows_set_aside));
    create table set_aside_rows (
        load_no integer not null references loads (load_no), file varchar not null, line bigint not null,
        cells varchar not null);
    create table stock_moves (
        row_hash varchar primary key, part varchar not null references parts (part), moved_on date not null,
        qty_pcs bigint not null check (qty_pcs <> 0), kind varchar not null, unit_cost decimal(18, 4),
        amount decimal(18, 4), grade varchar, owner varchar, note varchar, recorded_in varchar not null, extra varchar);
    insert into loads values (1, timestamp '2025-05-01 08:00:00', 'shop', 'a'),
        (2, timestamp '2025-05-02 08:00:00', 'b', 'b');
    insert into load_files values (1, 'parts.csv', 2, 2, 0), (1, 'JOBS.Csv', 2, 1, 1), (1, 'job_parts.csv', 3, 1, 2),
        (1, 'shop.toml', 1, 1, 0), (1, 'aliases.csv', 1, 0, 1), (2, 'aliases.csv', 1, 0, 1);
    insert into records values
        (1, 'JOBS.Csv', 3, 'scope', 'wild', 'allowed_values', 'wanted one of fix_only', 'set_aside'),
        (1, 'job_parts.csv', 3, null, '5', 'more_cells', 'this row has 5 cells, the header 4', 'set_aside'),
        (1, 'job_parts.csv', 4, 'part', 'bulb', 'unknown_part', 'wanted a part', 'set_aside'),
        (1, 'job_parts.csv', 4, 'qty_pcs', ' 2', 'blanks', 'blanks dropped', 'repaired'),
        (1, 'aliases.csv', 2, 'part', 'lampe', 'unknown_part', 'wanted a part', 'set_aside'),
        (2, 'aliases.csv', 2, 'part', 'lampa', 'unknown_part', 'wanted a part', 'set_aside');
    insert into set_aside_rows values
        (1, 'JOBS.Csv', 3, '{"job": "J2", "family": "em", "scope": "wild"}'),
        (1, 'job_parts.csv', 3, '{"job": "J1", "part": "lamp", "qty_pcs": "1", "used_on": "", "": ["5"]}'),
        (1, 'job_parts.csv', 4, '{"job": "j1", "part": "bulb", "qty_pcs": " 2", "used_on": ""}'),
        (1, 'aliases.csv', 2, '{"alias": "bulb", "part": "lampe"}'),
        (2, 'aliases.csv', 2, '{"alias": "bulb", "part": "lampa"}');
    insert into shop (key, value) values ('bays', '3');
    insert into families (family, name) values ('em', 'em');
    insert into parts (part, description) values ('lamp', 'Lamp'), ('coil', 'Coil');
    insert into jobs (job, family, scope) values ('J1', 'em', 'fix_only');
    insert into job_parts (row_hash, job, part, qty_pcs, recorded_in) values ('h', 'J1', 'coil', 1, 'notebook');
    insert into stock_moves (row_hash, part, moved_on, qty_pcs, kind, recorded_in)
        values ('i', 'lamp', date '2025-01-01', 5, 'sold', 'folder'),
        ('j', 'lamp', date '2025-01-01', 9, 'opening', 'folder');
    update store_version set version = 1, built_by = 'Sparebench 0.1.0';
"""


@pytest.fixture
def first_edition(tmp_path):
    """A store as the first edition wrote it, after a load of a folder and one of a single file."""
    with duckdb.connect(str(tmp_path / "old.duckdb")) as connection:
        build.build(connection)
        for name in ("load_files", "set_aside_rows", "mended_rows", "stock_moves"):
            connection.execute(f"drop table {name}")
        connection.execute(FIRST_EDITION)
    return tmp_path / "old.duckdb"


def test_a_store_of_the_first_edition_keeps_every_row_that_was_set_aside(first_edition):
    with connect.open_write(first_edition) as connection:
        assert build.version(connection) == build.SCHEMA_VERSION
        assert connection.execute("select distinct file, holds from load_files order by 1").fetchall() == [
            ("JOBS.Csv", "jobs"), ("aliases.csv", "aliases"), ("job_parts.csv", "job_parts"), ("parts.csv", "parts"),
            ("shop.toml", "shop")]
        kept = connection.execute("select holds, line, cells, mended is not null from set_aside_rows"
                                  " where load_no = 1 order by 1, 2").fetchall()
        assert [row[:2] + row[3:] for row in kept] == [
            ("aliases", 2, True), ("job_parts", 3, False), ("job_parts", 4, True), ("jobs", 3, True)]
        assert kept[1][2] == '{"job": "J1", "part": "lamp", "qty_pcs": "1", "used_on": "", "": ["5"]}'


def test_rows_of_the_first_edition_wait_as_their_files_newest_load_left_them(first_edition):
    with connect.open_write(first_edition) as connection:
        assert connection.execute("select holds, line, cells->>'$.part' from set_aside_rows where load_no = 2"
                                  " order by 1, 2").fetchall() == [
            ("aliases", 2, "lampa"), ("job_parts", 3, "lamp"), ("job_parts", 4, "bulb"), ("jobs", 3, None)]
        assert connection.execute("select count(*), count(distinct file) from records where load_no = 2"
                                  " and outcome = 'set_aside'").fetchall() == [(4, 3)]


def test_a_store_of_the_first_edition_loads_and_tries_its_rows_again(first_edition, tmp_path):
    _, summary = small_shop.load(tmp_path / "more", {"aliases": "alias,part\nbulb,lamp\n"}, first_edition)
    assert small_shop.rows(first_edition, "select part, qty_pcs, recorded_in from job_parts order by 1") == [
        ("coil", 1, "notebook"), ("lamp", 2, "folder")]
    assert small_shop.rows(first_edition, "select kind from stock_moves") == [("opening",)]
    found = small_shop.set_aside(summary)
    assert found == [("JOBS.Csv", 3, "scope", "allowed_values"), ("job_parts.csv", 3, "", "more_cells"),
                     ("stock_moves (in the store)", found[2][1], "qty_pcs", "sign_of_kind")]
    assert small_shop.rows(first_edition, "select holds, cells->>'$.kind' from set_aside_rows where load_no = 3"
                                          " order by 1") == [
        ("job_parts", None), ("jobs", None), ("stock_moves", "sold")]
    with connect.open_read(first_edition) as connection:
        assert connection.execute("select version, built_by from store_version").fetchall() == [
            (build.SCHEMA_VERSION, "Sparebench 0.2.0")]
