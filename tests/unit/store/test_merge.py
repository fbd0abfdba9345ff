"""What joining a file's rows with the store's keeps, changes and adds, and what laying the store anew leaves alone."""

import pytest

from pipeline.store import catalogue, connect, merge, read

TABLES = catalogue.tables()


@pytest.fixture
def shop():
    """A store in memory with a part that others refer to; its rows all stand, no file has given any."""
    with connect.open_memory() as connection:
        yield filled(connection)


@pytest.fixture
def kept(tmp_path):
    """The same in a file, remarks and all."""
    with connect.open_write(tmp_path / "shop.duckdb") as connection:
        yield filled(connection)


def filled(connection):
    connection.execute("insert into families values ('em', 'EM', null, null)")
    connection.execute("insert into parts (part, description, shelf, extra)"
                       " values ('coil', 'Coil', 'A1', '{\"colour\": \"red\"}'), ('lamp', 'Lamp', 'B2', null)")
    connection.execute("insert into jobs (job, family, scope) values ('J1', 'em', 'fix_only')")
    connection.execute("insert into job_parts (row_hash, job, part, qty_pcs, recorded_in)"
                       " values ('h1', 'J1', 'coil', 1, 'folder'), ('h2', 'J1', 'lamp', 2, 'notebook')")
    for name in merge.LOG:
        connection.execute(f"create temp table new_{name} as from {name} limit 0")
    for name in TABLES:
        connection.execute(f"create temp table standing_{name} as from main.{name}")
        connection.execute(f"create temp table given_{name} as from main.{name} limit 0")
    return connection


def given(connection, name, sql):
    connection.execute(f"insert into given_{name} by name {sql}")


def laid(connection, **columns):
    """Join every table, each with the columns its file bore, and lay the store anew."""
    for name in TABLES:
        merge.join(connection, name, columns.get(name, set()))
    with connect.transaction(connection):
        merge.merge(connection)


def test_a_known_key_is_updated_and_columns_the_file_lacks_stay(shop):
    given(shop, "parts", "select 'coil' as part, 'New coil' as description union all select 'bat', 'Bat'")
    laid(shop, parts={"part", "description"})
    assert read.rows(shop, "select part, description, shelf, extra from parts order by part") == [
        ("bat", "Bat", None, None), ("coil", "New coil", "A1", '{"colour": "red"}'), ("lamp", "Lamp", "B2", None)]
    assert read.rows(shop, "select count(*) from job_parts") == [(2,)]


def test_a_column_the_file_bears_empty_becomes_unknown(shop):
    given(shop, "parts", "select 'coil' as part, 'Coil' as description")
    laid(shop, parts={"part", "description", "shelf", "extra"})
    assert read.rows(shop, "select shelf, extra from parts where part = 'coil'") == [(None, None)]


def test_keyless_rows_are_added_once_and_the_notebooks_stay(shop):
    given(shop, "job_parts",
          "select 'h1' as row_hash, 'J1' as job, 'coil' as part, 1 as qty_pcs, 'folder' as recorded_in"
          " union all select 'h2', 'J1', 'lamp', 2, 'folder' union all select 'h3', 'J1', 'coil', 5, 'folder'")
    laid(shop, job_parts={"job", "part", "qty_pcs"})
    assert read.rows(shop, "select row_hash, recorded_in from job_parts order by 1") == [
        ("h1", "folder"), ("h2", "notebook"), ("h3", "folder")]


def test_the_notebooks_mark_that_a_file_brings_is_taken_over(shop):
    given(shop, "job_parts", "select 'h1' as row_hash, 'J1' as job, 'coil' as part, 1 as qty_pcs,"
                             " 'notebook' as recorded_in union all select 'h9', 'J1', 'lamp', 9, 'notebook'")
    laid(shop, job_parts={"job", "part", "qty_pcs", "recorded_in"})
    assert read.rows(shop, "select row_hash, recorded_in from job_parts order by 1") == [
        ("h1", "notebook"), ("h2", "notebook"), ("h9", "notebook")]


def test_extra_cells_of_a_row_known_by_all_its_values_follow_the_file_that_bears_some(shop):
    row = "select 'h1' as row_hash, 'J1' as job, 'coil' as part, 1 as qty_pcs, 'folder' as recorded_in,"
    given(shop, "job_parts", row + " '{\"bin\": \"7\"}' as extra")
    laid(shop, job_parts={"job", "part", "qty_pcs", "extra"})
    assert read.rows(shop, "select extra from job_parts where row_hash = 'h1'") == [('{"bin": "7"}',)]
    shop.execute("create or replace temp table standing_job_parts as from main.job_parts")
    shop.execute("update given_job_parts set extra = null")
    merge.join(shop, "job_parts", {"job", "part", "qty_pcs"})
    assert read.rows(shop, "select extra from accepted_job_parts where row_hash = 'h1'") == [('{"bin": "7"}',)]


def test_rows_are_one_where_empty_cells_of_their_key_are(shop):
    shop.execute("insert into standing_vendors (vendor) values ('north')")
    offer = "select 'north' as vendor, 'coil' as part, null as quoted_on, "
    shop.execute(f"insert into standing_offers by name {offer} 4 as pack_price")
    given(shop, "offers", f"{offer} 5 as pack_price")
    laid(shop, offers={"vendor", "part", "pack_price"})
    assert read.rows(shop, "select pack_price::int from offers") == [(5,)]


@pytest.mark.usefixtures("remarks")
def test_the_schema_survives_with_rules_and_comments(kept):
    before = schema(kept)
    assert len(before[0]) > 200 and len(before[1]) > 100
    assert all(column[before[2].index("comment")] for column in before[0])
    laid(kept)
    assert schema(kept) == before
    assert read.rows(kept, "select count(*) from shop_keys") == [(19,)]
    assert read.rows(kept, "select count(*) from store_version") == [(1,)]


def test_a_store_just_built_is_filled_as_it_stands(tmp_path):
    with connect.open_write(tmp_path / "shop.duckdb") as connection:
        tables = read.rows(connection, "select table_oid from duckdb_tables() order by 1")
        for name in merge.LOG:
            connection.execute(f"create temp table new_{name} as from {name} limit 0")
        for name in TABLES:
            connection.execute(f"create temp table accepted_{name} as from main.{name}")
        connection.execute("insert into accepted_families values ('em', 'EM', null, null)")
        merge.merge(connection)
        assert read.rows(connection, "select table_oid from duckdb_tables() where not temporary order by 1") == tables
        assert read.rows(connection, "select family from families") == [("em",)]


def schema(connection):
    """Columns, constraints and the names of what is told of a column, of the lasting tables."""
    lasting = "table_name in (select table_name from duckdb_tables() where not temporary)"
    told = [read.rows(connection, f"select * exclude (table_oid) from {what}() where database_name = 'shop' and"
                                  f" {lasting} order by all") for what in ("duckdb_columns", "duckdb_constraints")]
    connection.execute("select * exclude (table_oid) from duckdb_columns()")
    return [*told, [column[0] for column in connection.description]]


def test_views_answer_after_a_merge_on_the_same_connection(shop):
    laid(shop)
    assert read.rows(shop, "select sum(qty_pcs) from tidy_job_parts") == [(3,)]


def test_a_sum_that_does_not_add_up_is_refused_by_the_schema(shop):
    shop.execute("insert into new_loads values (1, now()::timestamp, 'f', 'd')")
    shop.execute("insert into new_load_files values (1, 'parts.csv', 3, 1, 1, 'parts')")
    with pytest.raises(Exception, match="CHECK constraint failed"):
        laid(shop)
    assert read.rows(shop, "select count(*) from parts") == [(2,)]


def test_the_log_of_earlier_loads_stays_beside_the_new_one(shop):
    shop.execute("insert into loads values (1, now()::timestamp, 'f', 'd')")
    shop.execute("insert into set_aside_rows values (1, 'parts.csv', 7, '{}', 'parts', null)")
    shop.execute("insert into mended_rows values (1, 'parts', '{}', '{\"part\": \"a\"}', 'workbook', null, null)")
    shop.execute("insert into new_loads values (2, now()::timestamp, 'f', 'e')")
    shop.execute("insert into new_set_aside_rows values (2, 'parts.csv', 8, '{}', 'parts', '{}')")
    laid(shop)
    assert read.rows(shop, "select load_no, line from set_aside_rows order by 1") == [(1, 7), (2, 8)]
    assert read.rows(shop, "select load_no from loads order by 1") == [(1,), (2,)]
    assert read.rows(shop, "select count(*) from mended_rows") == [(1,)]


def test_remarks_found_later_join_the_newest_load(shop):
    import pandas as pd
    for number in (1, 2):
        shop.execute(f"insert into loads values ({number}, now()::timestamp, 'f', 'd')")
    entry = {"file": "jobs.csv", "line": pd.NA, "column": "job", "value": "J1", "rule": "r", "suggestion": "s",
             "outcome": "noted"}
    merge.add_records(shop, pd.DataFrame([entry]).astype({"line": "Int64"}))
    assert read.rows(shop, "select load_no, line, value from records") == [(2, None, "J1")]
