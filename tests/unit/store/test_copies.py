"""The store's file as a whole: copied, counted, put in place of another."""

import os
import shutil
import subprocess
import sys

import duckdb
import pytest

from pipeline.errors import StoreError
from pipeline.store import build, connect, copies
from tests.support import former_store, small_shop


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """A store of the least folder, loaded once; to be copied."""
    return small_shop.loaded_before(tmp_path_factory.mktemp("loaded") / "shop", small_shop.LEAST)


@pytest.fixture
def store(tmp_path, loaded):
    return shutil.copy(loaded, tmp_path / "shop.duckdb")


# Stands for a program that was killed with rows written and not yet put away in the file.
KILLED = """
import os, sys, duckdb
connection = duckdb.connect(sys.argv[1], config={"checkpoint_threshold": "1GB"})
connection.execute("insert into parts (part, description) values ('new', 'Recorded just before')")
os._exit(0)
"""


def test_a_copy_is_the_same_bytes_and_the_store_is_let_go(store, tmp_path):
    before = store.read_bytes()
    copies.take(store, tmp_path / "copy.duckdb")
    assert (tmp_path / "copy.duckdb").read_bytes() == before == store.read_bytes()
    connect.open_write(store).close()


def test_rows_a_crash_left_beside_the_file_are_in_the_copy(store, tmp_path):
    subprocess.run([sys.executable, "-c", KILLED, str(store)], check=True)
    assert copies.log_of(store).stat().st_size > 0
    copies.take(store, tmp_path / "copy.duckdb")
    assert not copies.log_of(store).exists()
    found = small_shop.rows(tmp_path / "copy.duckdb", "select description from parts where part = 'new'")
    assert found == [("Recorded just before",)]


def test_what_a_store_holds_is_counted_table_by_table(store):
    edition, rows = copies.holdings(store)
    assert edition == build.SCHEMA_VERSION
    assert (rows["parts"], rows["jobs"], rows["job_parts"], rows["offers"], rows["loads"]) == (3, 3, 4, 0, 1)
    assert all(count == len(small_shop.contents(store)[table]) for table, count in rows.items())


def test_an_older_store_is_read_and_copied_as_it_is(store, tmp_path):
    former_store.make(store)
    before = store.read_bytes()
    edition, rows = copies.holdings(store)
    assert edition == 1 and rows["parts"] == 3 and "mended_rows" not in rows
    copies.take(store, tmp_path / "copy.duckdb")
    assert (tmp_path / "copy.duckdb").read_bytes() == before == store.read_bytes()


def test_the_former_edition_of_these_tests_is_brought_up_to_date_without_loss(store, loaded):
    former_store.make(store)
    connect.open_write(store).close()
    assert small_shop.contents(store, but=("store_version",)) == small_shop.contents(loaded, but=("store_version",))


def test_a_newer_store_an_empty_one_and_a_stranger_are_not_copied(store, tmp_path):
    with duckdb.connect(str(store)) as connection:
        connection.execute("update store_version set version = ?", [build.SCHEMA_VERSION + 1])
    duckdb.connect(str(tmp_path / "empty.duckdb")).close()
    (tmp_path / "letter.duckdb").write_text("Dear customer", encoding="utf-8")
    for name, words in (("shop", "Use the release that wrote it"), ("empty", "holds no shop"),
                        ("letter", "cannot be opened as a shop's store"), ("nowhere", "no store at")):
        with pytest.raises(StoreError, match=words):
            copies.take(tmp_path / f"{name}.duckdb", tmp_path / "copy.duckdb")
    assert not (tmp_path / "copy.duckdb").exists()


def test_the_release_is_the_one_that_stands_in_a_new_store():
    with connect.open_memory() as connection:
        assert connection.execute("select built_by from store_version").fetchall() == [(copies.release(),)]
    assert copies.release().startswith("Sparebench ")


def test_a_store_takes_its_place_where_there_was_none(store, tmp_path):
    before = store.read_bytes()
    place = tmp_path / "bench.duckdb"
    assert copies.put_in_place(store, place) is None
    assert place.read_bytes() == before and not store.exists()


def test_the_former_store_is_kept_under_the_first_name_that_is_free(store, tmp_path):
    before = store.read_bytes()
    for n in (1, 2, 3):
        (tmp_path / "new").write_bytes(b"store %d" % n)
        kept = copies.put_in_place(tmp_path / "new", store)
        assert kept == tmp_path / f"shop.before-restore-{n}.duckdb"
        assert store.read_bytes() == b"store %d" % n
    assert (tmp_path / "shop.before-restore-1.duckdb").read_bytes() == before
    assert (tmp_path / "shop.before-restore-3.duckdb").read_bytes() == b"store 2"


def test_rows_beside_the_former_store_are_kept_with_it_not_given_to_the_new_one(store, tmp_path):
    subprocess.run([sys.executable, "-c", KILLED, str(store)], check=True)
    new = shutil.copy(store, tmp_path / "new")
    kept = copies.put_in_place(new, store)
    assert not copies.log_of(store).exists()
    assert small_shop.rows(kept, "select count(*) from parts") == [(4,)]
    assert small_shop.rows(store, "select count(*) from parts") == [(3,)]


def test_what_stands_beside_a_store_that_no_longer_opens_goes_with_it(store, tmp_path):
    store.write_bytes(b"damaged" * 999)
    copies.log_of(store).write_bytes(b"rows")
    (tmp_path / "new").write_bytes(b"sound")
    kept = copies.put_in_place(tmp_path / "new", store)
    assert kept.read_bytes() == b"damaged" * 999 and copies.log_of(kept).read_bytes() == b"rows"
    assert store.read_bytes() == b"sound" and not copies.log_of(store).exists()


@pytest.mark.parametrize("at", [1, 2])
@pytest.mark.parametrize("trouble", [PermissionError(13, "Permission denied"), KeyboardInterrupt()])
@pytest.mark.parametrize("is_done", [False, True], ids=["before the move", "after the move"])
def test_a_move_that_fails_puts_everything_back(store, tmp_path, monkeypatch, at, trouble, is_done):
    before, real, moves = store.read_bytes(), os.replace, []
    (tmp_path / "new").write_bytes(b"new")

    def failing(old, now):
        moves.append((old, now))
        if len(moves) != at:
            return real(old, now)
        if is_done:
            real(old, now)
        raise trouble

    monkeypatch.setattr(os, "replace", failing)
    with pytest.raises(StoreError if isinstance(trouble, OSError) else KeyboardInterrupt) as error:
        copies.put_in_place(tmp_path / "new", store)
    assert store.read_bytes() == before and (tmp_path / "new").read_bytes() == b"new"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["new", "shop.duckdb"]
    if isinstance(trouble, OSError):
        assert "cannot be replaced (Permission denied). The shop is as it was" in str(error.value)


def test_a_folder_in_place_of_the_store_is_refused(tmp_path):
    (tmp_path / "new").write_bytes(b"new")
    with pytest.raises(StoreError, match="is a folder"):
        copies.put_in_place(tmp_path / "new", tmp_path)
