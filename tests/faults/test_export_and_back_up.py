"""Exports, back-ups and restores cut short: one sentence, nothing half-written, the shop as it was."""

import os
import shutil
import signal
import subprocess
import sys

import pytest

from pipeline.errors import StoreError
from pipeline.ingest import archive, back_up
from pipeline.store import build, connect, copies, csv_out
from tests.support import kept_shop, small_shop
from tests.support.kept_shop import MADE_AT, VERBS, refused

FULL_DISK = OSError(28, "No space left on device")


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return kept_shop.make(tmp_path_factory.mktemp("made"))


@pytest.fixture
def shop(tmp_path, made):
    """A store and its back-up, in a folder of their own."""
    return kept_shop.copied(made, tmp_path / "place")


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
        holders.append(subprocess.Popen([sys.executable, "-c", HOLD, str(shop[0]), how], stdin=subprocess.PIPE,
                                        stdout=subprocess.PIPE, text=True))
        assert holders[-1].stdout.readline() == "open\n"

    yield hold
    for holder in holders:
        holder.communicate("")


@pytest.mark.parametrize("verb", VERBS)
def test_a_store_that_is_written_to_elsewhere(shop, held, verb):
    held("write")
    words = refused(shop, verb, StoreError)
    assert "the shop is open in another window" in words and "Close it there and run this again" in words


def test_a_store_that_is_read_elsewhere_is_not_replaced_under_the_reader(shop, held):
    held("read")
    assert "the shop is open in another window" in refused(shop, "restore", StoreError)


@pytest.mark.parametrize("verb", ["export", "back-up"])
def test_a_store_that_is_read_elsewhere_can_be_read_here(shop, held, verb):
    held("read")
    VERBS[verb](*shop)


def raising(trouble, calls, at):
    """A stand-in that does what `calls` does until its `at`-th call, which ends in the trouble."""
    count = iter(range(1, 10_000))

    def stand_in(*words, **more):
        if next(count) == at:
            raise trouble
        return calls(*words, **more)

    return stand_in


@pytest.mark.parametrize(("trouble", "at"), [(FULL_DISK, 1), (FULL_DISK, 28), (KeyboardInterrupt(), 5),
                                             (MemoryError(), 5)], ids=["full", "full at last", "Ctrl-C", "memory"])
@pytest.mark.parametrize("verb", ["export", "back-up"])
def test_an_export_that_fails_at_any_file_leaves_nothing(shop, monkeypatch, verb, trouble, at):
    monkeypatch.setattr(csv_out, "write_csv", raising(trouble, csv_out.write_csv, at))
    words = refused(shop, verb, StoreError if trouble is FULL_DISK else type(trouble))
    if trouble is FULL_DISK:
        assert "cannot be written (No space left on device)." in words and "make room or choose another" in words


@pytest.mark.parametrize("verb", ["export", "back-up"])
def test_a_disk_full_for_the_rows_that_wait(shop, monkeypatch, verb):
    from pipeline.ingest import set_aside_book

    monkeypatch.setattr(set_aside_book, "write", raising(FULL_DISK, set_aside_book.write, 1))
    assert "No space left on device" in refused(shop, verb, StoreError)


STEPS = [("back-up", shutil, "copyfile"), ("back-up", archive, "signed"), ("back-up", archive, "pack"),
         ("back-up", os, "fsync"), ("back-up", archive, "opened"), ("back-up", os, "replace"),
         ("restore", archive, "opened"), ("restore", os, "fsync"), ("restore", copies, "holdings"),
         ("restore", connect, "open_write"), ("restore", os, "replace")]


@pytest.mark.parametrize("trouble", [FULL_DISK, KeyboardInterrupt()], ids=["full", "Ctrl-C"])
@pytest.mark.parametrize("step", STEPS, ids=lambda step: f"{step[0]} {step[2]}")
def test_a_step_that_fails_leaves_nothing_but_what_was_there(shop, monkeypatch, step, trouble):
    verb, *place = step
    monkeypatch.setattr(*place, raising(trouble, getattr(*place), 1))
    words = refused(shop, verb, StoreError if trouble is FULL_DISK else KeyboardInterrupt)
    assert trouble is not FULL_DISK or "No space left on device" in words
    monkeypatch.undo()
    VERBS[verb](*shop)


@pytest.mark.parametrize(("trouble", "at"), [(FULL_DISK, 1), (FULL_DISK, 29), (KeyboardInterrupt(), 15)])
def test_files_moved_into_a_folder_that_is_there_are_taken_back(shop, monkeypatch, trouble, at):
    small_shop.write(shop[0].with_name("out"), {"letter.txt": "mine"})
    monkeypatch.setattr(os, "replace", raising(trouble, os.replace, at))
    refused(shop, "export", StoreError if trouble is FULL_DISK else KeyboardInterrupt)
    assert [path.name for path in shop[0].with_name("out").iterdir()] == ["letter.txt"]
    monkeypatch.undo()
    VERBS["export"](*shop)


def test_a_back_up_that_does_not_read_back_is_not_kept(shop, monkeypatch):
    whole = archive.pack

    def wearing_out(folder, manifest, file, made_at):
        whole(folder, manifest, file, made_at)
        raw = bytearray(file.read_bytes())
        raw[len(raw) // 3] ^= 0xFF
        file.write_bytes(bytes(raw))

    monkeypatch.setattr(archive, "pack", wearing_out)
    assert "what was written does not read back. No back-up was made" in refused(shop, "back-up", StoreError)


@pytest.mark.skipif(sys.platform == "win32" or not hasattr(os, "geteuid") or os.geteuid() == 0,
                    reason="needs a user whom a folder can refuse")
@pytest.mark.parametrize("verb", ["export", "back-up"])
def test_a_folder_that_may_not_be_written_to(shop, verb):
    os.chmod(shop[0].parent, 0o500)
    try:
        assert "Permission denied" in refused(shop, verb, StoreError)
    finally:
        os.chmod(shop[0].parent, 0o700)


LITTLE_ROOM = """
import datetime, resource, sys
from pathlib import Path
from pipeline.errors import StoreError
from pipeline.ingest import archive, back_up, export
verb, store, file, step, most = sys.argv[1], Path(sys.argv[2]), sys.argv[3], sys.argv[4], int(sys.argv[5])
whole = getattr(archive, step)
def with_little_room(*words):
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    return whole(*words)
setattr(archive, step, with_little_room)
if verb == "export":
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
try:
    if verb == "export":
        export.export(store, store.with_name("out"), True)
    elif verb == "back-up":
        back_up.back_up(store, store.with_name("new.zip"), datetime.datetime.fromisoformat(sys.argv[6]))
    else:
        back_up.restore(file, store)
    print("done")
except StoreError as error:
    print(error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on the size of a file")
@pytest.mark.parametrize(("verb", "step", "most"), [
    ("export", "opened", 30), ("export", "opened", 5000), ("back-up", "pack", 100), ("back-up", "pack", 20_000),
    ("back-up", "pack", "all but the last byte"), ("restore", "unpack_store", 100_000)])
def test_a_disk_that_really_fills_up(shop, verb, step, most):
    store, file = shop
    before = {path: path.read_bytes() for path in store.parent.rglob("*") if path.is_file()}
    if most == "all but the last byte":
        most = back_up.back_up(store, store.parent.parent / "probe.zip", MADE_AT).size_bytes - 1
    words = [verb, str(store), str(file), step, str(most), str(MADE_AT)]
    ran = subprocess.run([sys.executable, "-W", "error", "-c", LITTLE_ROOM, *words], capture_output=True, text=True,
                         check=False)
    assert "cannot be written (File too large)." in ran.stdout and ran.stdout.count("\n") == 1, ran.stdout + ran.stderr
    assert ran.stderr == ""
    assert {path: path.read_bytes() for path in store.parent.rglob("*") if path.is_file()} == before


KILLED = """
import os, signal, sys, datetime
from pathlib import Path
from pipeline.ingest import archive, back_up, export
from pipeline.store import csv_out
verb, store, file = sys.argv[1], Path(sys.argv[2]), sys.argv[3]
def dies(*words):
    os.kill(os.getpid(), getattr(signal, sys.argv[4]))
    import time
    time.sleep(60)
if verb == "export":
    csv_out.filled = dies
    export.export(store, store.with_name("out"), True)
elif verb == "back-up":
    back_up._refuse_unlike = dies
    back_up.back_up(store, store.with_name("new.zip"), datetime.datetime(2026, 3, 9))
else:
    back_up._made_ready = dies  # unpacked; from the next step on Ctrl-C waits, see test_stopped
    back_up.restore(file, store)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows knows no SIGINT for a child alone")
@pytest.mark.parametrize("sign", ["SIGINT", "SIGKILL"], ids=["Ctrl-C", "killed"])
@pytest.mark.parametrize("verb", VERBS)
def test_a_program_that_is_stopped_in_the_middle(shop, verb, sign):
    store, file = shop
    names = {path.name for path in store.parent.iterdir()}
    before = small_shop.contents(store)
    ran = subprocess.run([sys.executable, "-c", KILLED, verb, str(store), str(file), sign], capture_output=True,
                         text=True, check=False)
    assert ran.returncode != 0 and small_shop.contents(store) == before
    left = {path.name for path in store.parent.iterdir()} - names
    if sign == "SIGINT":
        assert ran.stderr.splitlines()[-1].startswith("KeyboardInterrupt") and not left
    else:  # killed outright nothing can tidy up; what stays says of itself what it is
        assert ran.returncode == -signal.SIGKILL and left and all(name.endswith(".unfinished") for name in left)
    VERBS[verb](*shop)
    assert not [path for path in store.parent.iterdir() if path.name.endswith(".unfinished")]


@pytest.mark.parametrize("verb", ["export", "back-up"])
def test_a_store_of_a_newer_release(shop, verb):
    import duckdb

    with duckdb.connect(str(shop[0])) as connection:
        connection.execute("update store_version set version = ?", [build.SCHEMA_VERSION + 1])
    assert "Use the release that wrote it" in refused(shop, verb, StoreError)


@pytest.mark.parametrize("verb", ["export", "back-up"])
def test_a_store_that_is_not_there_or_is_none(shop, verb):
    shop[0].write_bytes(b"Dear customer" * 999)
    assert "cannot be opened as a shop's store" in refused(shop, verb, StoreError)
    shop[0].unlink()
    assert "no store at" in refused(shop, verb, StoreError)
