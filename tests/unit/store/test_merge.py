"""What merging a folder's rows with the store's keeps, changes and adds."""

import pytest

from pipeline.store import catalogue, connect, merge, read

PARTS = [c.name for c in catalogue.tables()["parts"].columns]


@pytest.fixture
def shop():
    """A store in memory with a part that others refer to, and empty log tables of a load."""
    with connect.open_memory() as connection:
        connection.execute("insert into families values ('em', 'EM', null, null)")
        connection.execute("insert into parts (part, description, shelf, extra)"
                           " values ('coil', 'Coil', 'A1', '{\"colour\": \"red\"}'), ('lamp', 'Lamp', 'B2', null)")
        connection.execute("insert into jobs (job, family, scope) values ('J1', 'em', 'fix_only')")
        connection.execute("insert into job_parts (row_hash, job, part, qty_pcs, recorded_in)"
                           " values ('h1', 'J1', 'coil', 1, 'folder'), ('h2', 'J1', 'lamp', 2, 'notebook')")
        for name in merge.LOG:
            connection.execute(f"create temp table new_{name} as from {name} limit 0")
        yield connection


def accepted(connection, name, sql):
    connection.execute(f"create or replace temp table accepted_{name} as from main.{name} limit 0")
    connection.execute(f"insert into accepted_{name} by name {sql}")


def test_a_known_key_is_updated_and_columns_the_file_lacks_stay(shop):
    accepted(shop, "parts", "select 'coil' as part, 'New coil' as description union all select 'bat', 'Bat'")
    with connect.transaction(shop):
        merge.merge(shop, {"parts": {"part", "description"}})
    assert read.rows(shop, "select part, description, shelf, extra from parts order by part") == [
        ("bat", "Bat", None, None), ("coil", "New coil", "A1", '{"colour": "red"}'), ("lamp", "Lamp", "B2", None)]
    assert read.rows(shop, "select count(*) from job_parts") == [(2,)]


def test_a_column_the_file_bears_empty_becomes_unknown(shop):
    accepted(shop, "parts", "select 'coil' as part, 'Coil' as description")
    with connect.transaction(shop):
        merge.merge(shop, {"parts": {"part", "description", "shelf", "extra"}})
    assert read.rows(shop, "select shelf, extra from parts where part = 'coil'") == [(None, None)]


def test_keyless_rows_are_added_once_and_the_notebooks_stay(shop):
    accepted(
        shop,
        "job_parts",
        "select 'h1' as row_hash, 'J1' as job, 'coil' as part, 1 as qty_pcs, 'folder' as recorded_in"
        " union all select 'h2', 'J1', 'lamp', 2, 'folder' union all select 'h3', 'J1', 'coil', 5,"
        " 'folder'",
    )
    with connect.transaction(shop):
        merge.merge(shop, {"job_parts": {"job", "part", "qty_pcs"}})
    assert read.rows(shop, "select row_hash, recorded_in from job_parts order by 1") == [
        ("h1", "folder"), ("h2", "notebook"), ("h3", "folder")]


def test_the_schema_survives_with_rules_and_comments(shop):
    before = [read.rows(shop, f"select * exclude ({drop}) from {what}() order by all") for what, drop in (
        ("duckdb_columns", "table_oid"), ("duckdb_constraints", "table_oid"))]
    with connect.transaction(shop):
        merge.merge(shop, {})
    assert before == [read.rows(shop, f"select * exclude ({drop}) from {what}() order by all") for what, drop in (
        ("duckdb_columns", "table_oid"), ("duckdb_constraints", "table_oid"))]
    assert read.rows(shop, "select count(*) from shop_keys") == [(19,)]
    assert read.rows(shop, "select count(*) from store_version") == [(1,)]


def test_views_answer_after_a_merge_on_the_same_connection(shop):
    with connect.transaction(shop):
        merge.merge(shop, {})
    assert read.rows(shop, "select sum(qty_pcs) from tidy_job_parts") == [(3,)]


def test_a_sum_that_does_not_add_up_is_refused_by_the_schema(shop):
    shop.execute("insert into new_loads values (1, now()::timestamp, 'f', 'd')")
    shop.execute("insert into new_load_files values (1, 'parts.csv', 3, 1, 1)")
    with pytest.raises(Exception, match="CHECK constraint failed"):
        with connect.transaction(shop):
            merge.merge(shop, {})
    assert read.rows(shop, "select count(*) from parts") == [(2,)]


def test_remarks_found_later_join_the_newest_load(shop):
    import pandas as pd
    for number in (1, 2):
        shop.execute(f"insert into loads values ({number}, now()::timestamp, 'f', 'd')")
    entry = {"file": "jobs.csv", "line": pd.NA, "column": "job", "value": "J1", "rule": "r", "suggestion": "s",
             "outcome": "noted"}
    merge.add_records(shop, pd.DataFrame([entry]).astype({"line": "Int64"}))
    assert read.rows(shop, "select load_no, line, value from records") == [(2, None, "J1")]
