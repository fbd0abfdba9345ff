"""A store that is busy, foreign, newer or out of room, and loads that are cut: one sentence, the shop as it was."""

import os
import shutil
import signal
import subprocess
import sys
import time

import duckdb
import pytest

from pipeline.errors import RecordsError, StoreError
from pipeline.ingest import bench, shop_folder, take_in
from pipeline.store import build, connect, merge
from tests.support import small_shop


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """A store of the least folder, loaded once; to be copied."""
    return small_shop.loaded_before(tmp_path_factory.mktemp("loaded") / "shop", small_shop.LEAST)


@pytest.fixture
def shop(tmp_path, loaded):
    """A loaded store and a folder that holds one row more."""
    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,lamp,5,2025-01-11")
    return small_shop.write(tmp_path / "shop", files), shutil.copy(loaded, tmp_path / "shop.duckdb")


def python(code, *words, **options):
    """Start a Python that runs the code; its standard output is read line by line."""
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, words)], stdout=subprocess.PIPE, text=True, **options
    )


HOLD = """
import sys, duckdb
with duckdb.connect(sys.argv[1], read_only=sys.argv[2] == "read"):
    print("open", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def held(shop, monkeypatch):
    """A way to have another process hold the store; it lets go at the end."""
    monkeypatch.setattr(connect, "PAUSE_SECONDS", 0.01)
    holders = []

    def hold(how):
        holders.append(python(HOLD, shop[1], how, stdin=subprocess.PIPE))
        assert holders[-1].stdout.readline() == "open\n"
        return holders[-1]

    yield hold
    for holder in holders:
        holder.communicate("")


@pytest.mark.parametrize("how", ["write", "read"])
def test_a_store_open_elsewhere_is_left_alone_and_the_process_named(shop, held, how):
    folder, store = shop
    before = store.read_bytes()
    holder = held(how)
    for attempt in (lambda: small_shop.load(folder), lambda: bench.record_count(store, "lamp", 3, "2025-05-01")):
        with pytest.raises(StoreError) as error:
            attempt()
        assert "the shop is open in another window" in str(error.value) and "Close it there" in str(error.value)
        if sys.platform.startswith("linux"):
            assert f"process {holder.pid}" in str(error.value)
    assert store.read_bytes() == before and not list(folder.parent.rglob("records.csv*"))


def test_a_store_being_written_elsewhere_cannot_be_read_or_checked_against(shop, held):
    folder, store = shop
    held("write")
    for attempt in (lambda: connect.open_read(store), lambda: shop_folder.check(folder, folder.parent / "out", store)):
        with pytest.raises(StoreError, match="the shop is open in another window"):
            attempt()


def test_a_store_that_is_let_go_in_time_is_waited_for(shop, monkeypatch):
    folder, store = shop
    holder = python(HOLD, store, "write", stdin=subprocess.PIPE)
    assert holder.stdout.readline() == "open\n"
    monkeypatch.setattr(time, "sleep", lambda seconds: holder.communicate(""))
    small_shop.load(folder)
    assert small_shop.rows(store, "select count(*) from job_parts") == [(5,)]


def test_a_path_with_lock_in_its_name_is_not_taken_for_a_locked_store(tmp_path):
    odd = tmp_path / "clock lock.duckdb"
    odd.write_text("no store, and no lock either", encoding="utf-8")
    with pytest.raises(StoreError, match="cannot be opened as a shop's store"):
        connect.open_read(odd)


@pytest.mark.parametrize("raw", [b"", b"hello", b"\0" * 5000, os.urandom(9000)])
def test_a_file_that_is_no_store_is_refused_unchanged(tmp_path, raw):
    store = tmp_path / "odd.duckdb"
    store.write_bytes(raw)
    with pytest.raises(StoreError) as error:
        connect.open_read(store)
    assert str(store) in str(error.value) and "\n" not in str(error.value)
    assert store.read_bytes() == raw


def test_a_load_into_a_file_that_is_no_store_is_refused_unchanged(shop, tmp_path):
    odd = tmp_path / "letter.duckdb"
    odd.write_bytes(b"Dear customer" * 999)
    with pytest.raises(StoreError, match="letter.duckdb cannot be opened as a shop's store"):
        small_shop.load(shop[0], shop_file=odd)
    assert odd.read_bytes() == b"Dear customer" * 999


def test_another_programs_database_is_refused_unchanged(shop, tmp_path):
    other = tmp_path / "other.duckdb"
    with duckdb.connect(str(other)) as connection:
        connection.execute("create table invoices (number integer); insert into invoices values (7)")
    before = other.read_bytes()
    for attempt in (lambda: connect.open_read(other), lambda: small_shop.load(shop[0], shop_file=other)):
        with pytest.raises(StoreError, match="not a shop's store: it holds invoices"):
            attempt()
    assert other.read_bytes() == before


def test_an_empty_database_holds_no_shop_yet_but_takes_one(shop, tmp_path):
    empty = tmp_path / "empty.duckdb"
    duckdb.connect(str(empty)).close()
    with pytest.raises(StoreError, match="holds no shop yet"):
        connect.open_read(empty)
    small_shop.load(shop[0], shop_file=empty)
    assert small_shop.rows(empty, "select count(*) from parts") == [(3,)]


def test_a_store_made_by_a_newer_release_is_refused_unchanged(shop):
    folder, store = shop
    with duckdb.connect(str(store)) as connection:
        connection.execute("update store_version set version = ?", [build.SCHEMA_VERSION + 1])
    before = store.read_bytes()
    for attempt in (lambda: connect.open_read(store), lambda: small_shop.load(folder)):
        with pytest.raises(StoreError) as error:
            attempt()
        assert f"edition {build.SCHEMA_VERSION + 1}" in str(error.value) and "Use the release that wrote it" in str(
            error.value
        )
    assert store.read_bytes() == before


def test_an_older_store_says_how_to_bring_it_up_to_date(shop):
    _, store = shop
    with duckdb.connect(str(store)) as connection:
        connection.execute("update store_version set version = ?", [build.SCHEMA_VERSION - 1])
    with pytest.raises(StoreError, match="Run `python3 -m pipeline load FOLDER` once"):
        connect.open_read(store)


def test_a_folder_as_store_or_a_file_as_its_folder(shop, tmp_path):
    folder, _ = shop
    with pytest.raises(StoreError, match="cannot be opened as a shop's store"):
        small_shop.load(folder, shop_file=tmp_path)
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(StoreError, match="Choose another place with --shop FILE"):
        small_shop.load(folder, shop_file=tmp_path / "file" / "s.duckdb")
    with pytest.raises(StoreError, match="no store at"):
        connect.open_read(tmp_path / "nowhere.duckdb")
    with pytest.raises(StoreError, match="no store at"):
        bench.record_use(tmp_path / "nowhere.duckdb", "J1", "lamp", 1, "2025-05-01")
    assert not (tmp_path / "nowhere.duckdb").exists()


@pytest.mark.parametrize("place", ["before", "in the middle", "after"])
@pytest.mark.parametrize("trouble", [RuntimeError("a slip of ours"), KeyboardInterrupt(), MemoryError()])
def test_a_merge_that_fails_leaves_the_store_as_it_was(shop, monkeypatch, place, trouble):
    folder, store = shop
    before = small_shop.contents(store)
    whole, built = merge.merge, build.build

    def failing(*words):
        raise trouble

    if place == "after":
        monkeypatch.setattr(merge, "merge", lambda *words: (whole(*words), failing()))
    elif place == "before":
        monkeypatch.setattr(take_in, "prepare_log", failing)
    else:
        monkeypatch.setattr(merge.build, "build", lambda connection: (built(connection), failing()))
    with pytest.raises(type(trouble)):
        small_shop.load(folder)
    monkeypatch.undo()
    assert small_shop.contents(store) == before
    assert not list(folder.parent.rglob("records.csv*"))
    small_shop.load(folder)
    assert small_shop.rows(store, "select count(*) from job_parts") == [(5,)]


def test_a_first_load_that_fails_leaves_no_store_behind(shop, tmp_path, monkeypatch):
    def failing(*words):
        raise KeyboardInterrupt

    monkeypatch.setattr(merge, "merge", failing)
    with pytest.raises(KeyboardInterrupt):
        small_shop.load(shop[0], shop_file=tmp_path / "new.duckdb")
    assert not list(tmp_path.glob("new.duckdb*"))


def test_what_duckdb_refuses_is_said_in_words(shop, monkeypatch):
    folder, store = shop
    before = small_shop.contents(store)
    monkeypatch.setattr(merge, "merge", lambda connection: connection.execute("insert into parts values (1)"))
    with pytest.raises(StoreError, match="could not be written .* The shop is as it was"):
        small_shop.load(folder)
    assert small_shop.contents(store) == before


def test_a_full_disk_for_the_list_loads_nothing(shop, monkeypatch):
    folder, store = shop
    before = small_shop.contents(store)

    def full(*words, **more):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pandas.DataFrame.to_csv", full)
    with pytest.raises(RecordsError, match="No space left on device.*Nothing was loaded; make room"):
        small_shop.load(folder)
    assert small_shop.contents(store) == before


def test_a_list_open_in_another_program_is_said_and_the_rows_are_in(shop, monkeypatch):
    folder, store = shop

    def in_use(*words):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("os.replace", in_use)
    with pytest.raises(RecordsError, match="is it open in another program.*are taken in; their list is in"):
        small_shop.load(folder)
    assert small_shop.rows(store, "select count(*) from job_parts") == [(5,)]


FULL = """
import resource, sys
from pipeline.errors import StoreError
from pipeline.ingest import shop_folder
most = int(sys.argv[3])
resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
try:
    shop_folder.load(sys.argv[1], sys.argv[2], sys.argv[1] + "-out")
except StoreError as error:
    print(error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on the size of a file")
def test_a_disk_that_fills_up_under_the_store_leaves_it_as_it_was(shop):
    folder, store = shop
    many = "".join(f"J1,lamp,1,{n}\n" for n in range(1, 60_000))
    small_shop.write(folder, {"job_parts": "job,part,qty_pcs,line\n" + many})
    before = small_shop.contents(store)
    answer = python(FULL, folder, store, store.stat().st_size + 300_000).communicate()[0]
    assert "could not be written" in answer and "The shop is as it was" in answer and "the disk has room" in answer
    assert small_shop.contents(store) == before
    new = store.with_name("new.duckdb")
    answer = python(FULL, folder, new, 300_000).communicate()[0]
    assert "The shop is as it was" in answer and not list(store.parent.glob("new.duckdb*"))


CUT = """
import sys
from pipeline.ingest import shop_folder
from pipeline.store import merge
whole = merge.merge
def slow(connection):
    whole(connection)
    print("merged", flush=True)
    connection.execute("select count(*) from range(400000000) a where hash(a.range) % 7 = 3").fetchall()
merge.merge = slow
shop_folder.load(sys.argv[1], sys.argv[2], sys.argv[1] + "-out")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows knows no SIGINT for a child alone")
@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGKILL], ids=["Ctrl-C", "killed"])
def test_a_load_cut_in_the_middle_leaves_the_store_as_it_was(shop, sign):
    folder, store = shop
    before = small_shop.contents(store)
    loading = python(CUT, folder, store, stderr=subprocess.PIPE)
    assert loading.stdout.readline() == "merged\n"
    loading.send_signal(sign)
    _, said = loading.communicate()
    assert loading.returncode != 0
    if sign == signal.SIGINT:
        assert said.splitlines()[-1].startswith("KeyboardInterrupt")
    assert small_shop.contents(store) == before
    small_shop.load(folder)
    assert small_shop.rows(store, "select count(*) from job_parts") == [(5,)]
