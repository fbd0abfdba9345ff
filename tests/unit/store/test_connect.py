"""Opening, changing and closing the store; troubles with the file stand in tests/faults."""

import duckdb
import pytest

from pipeline.errors import StoreError
from pipeline.store import build, catalogue, connect, read


@pytest.fixture
def store(tmp_path):
    """The path of an empty store."""
    connect.open_write(tmp_path / "new" / "shop.duckdb").close()
    return tmp_path / "new" / "shop.duckdb"


def test_a_new_store_is_built_with_its_folder_and_opens_for_reading(store):
    with connect.open_read(store) as connection:
        assert build.version(connection) == build.SCHEMA_VERSION
        assert read.is_empty(connection, "parts")
        with pytest.raises(duckdb.Error):
            connection.execute("insert into families values ('em', 'EM', null, null)")


def test_opening_for_writing_again_builds_nothing_anew(store):
    with connect.open_write(store) as connection:
        connection.execute("insert into families values ('em', 'EM', null, null)")
    with connect.open_write(store) as connection:
        assert read.rows(connection, "select family from families") == [("em",)]


def test_a_sum_over_a_step_beside_an_empty_table_keeps_its_rows(store):
    # 4 - 1 = 3 pieces; with DuckDB 2.0.1 as it comes, the row is lost.
    with connect.open_memory() as memory, connect.open_read(store) as opened:
        for connection in (memory, opened):
            connection.execute("create temp table used as from (values ('J1', 4), ('J1', -1)) as v (job, pcs);"
                               "create temp table jobs_seen as from (values ('J1'), ('J2')) as v (job);"
                               "create temp table keys as from (values ('w'), ('v')) as v (key)")
            assert read.rows(connection, """
                with seen as materialized (
                    select jobs_seen.job from jobs_seen cross join keys left join shop on shop.key = keys.key
                    where keys.key = 'w')
                select job, sum(pcs) from used inner join seen using (job) group by job having sum(pcs) > 0
                """) == [("J1", 3)]


def test_views_belong_to_the_release_and_not_to_the_file(store):
    with duckdb.connect(str(store)) as plain:
        assert plain.execute("select count(*) from duckdb_views() where not internal").fetchall() == [(0,)]


def test_no_extension_is_ever_fetched(store):
    with connect.open_read(store) as connection:
        for setting in connect.OFFLINE:
            assert read.rows(connection, f"select current_setting('{setting}')::varchar") == [("false",)]


def test_a_change_is_kept_whole_or_not_at_all(store):
    with connect.change(store) as connection:
        connection.execute("insert into families values ('em', 'EM', null, null)")
    with pytest.raises(ZeroDivisionError):
        with connect.change(store) as connection:
            connection.execute("insert into families values ('ss', 'SS', null, null)")
            raise ZeroDivisionError
    with connect.open_read(store) as connection:
        assert read.rows(connection, "select family from families") == [("em",)]


def test_a_change_that_fails_takes_a_new_file_away_and_leaves_an_old_one(store, tmp_path):
    new = tmp_path / "other.duckdb"
    for path in (new, store):
        with pytest.raises(StoreError, match="The shop is as it was"):
            with connect.change(path) as connection:
                connection.execute("select no_such_thing")
    assert store.exists() and not list(tmp_path.glob("other*"))


def test_a_transaction_the_database_gave_up_is_not_rolled_back_twice():
    with duckdb.connect() as connection:
        with pytest.raises(duckdb.Error, match="Conversion"):
            with connect.transaction(connection):
                connection.execute("select 'x'::int")
        with connect.transaction(connection):
            connection.execute("create table t (a int)")


def test_copy_in_brings_every_row_along(tmp_path):
    odd = tmp_path / "it's a shop.duckdb"
    with connect.change(odd) as connection:
        connection.execute("insert into families values ('em', 'EM', 'note', null)")
        connection.execute("insert into shop values ('bays', '3', null)")
    with connect.open_memory() as memory:
        connect.copy_in(memory, odd)
        assert read.rows(memory, "from families") == [("em", "EM", "note", None)]
        assert read.rows(memory, "select key, value from shop") == [("bays", "3")]
        assert {name for name in catalogue.every_table() if not read.is_empty(memory, name)} == {
            "families", "shop", "shop_keys", "store_version"}


def test_two_windows_may_read_at_once(store):
    with connect.open_read(store) as one, connect.open_read(store) as other:
        assert read.is_empty(one, "parts") and read.is_empty(other, "parts")


def test_a_store_open_in_this_window_for_reading_is_not_written_beside(store, monkeypatch):
    monkeypatch.setattr(connect, "PAUSE_SECONDS", 0)
    with connect.open_read(store):
        with pytest.raises(StoreError, match="open in another window"):
            connect.open_write(store)
