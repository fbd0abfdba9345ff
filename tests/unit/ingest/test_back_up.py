"""The whole shop in one file and back: what it holds, what is said, what is kept, what is brought up to date."""

import csv
import datetime
import io
import json
import shutil
import subprocess
import sys
import zipfile

import pytest

from pipeline.errors import RecordsError, StoreError
from pipeline.ingest import archive, back_up, bench, export
from pipeline.store import build, connect, copies
from tests.support import former_store, small_shop

MADE_AT = datetime.datetime(2026, 3, 9, 18, 5, 33)


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """The whole small shop with customers and a row that waits; to be copied."""
    files = small_shop.WHOLE | {"jobs": small_shop.WHOLE["jobs"].replace("scope,", "scope,customer_ref,")
                                .replace("fix_only,", "fix_only,Ada,").replace("thorough,", "thorough,,")
                                .replace("refresh,", "refresh,,")}
    files = small_shop.with_rows(files, "payments", "J1,soon,20,deposit")
    return small_shop.load(tmp_path_factory.mktemp("loaded") / "shop", files)[0]


@pytest.fixture
def store(tmp_path, loaded):
    return shutil.copy(loaded, tmp_path / "shop.duckdb")


@pytest.fixture(scope="module")
def kept(loaded, tmp_path_factory):
    """A back-up of the small shop, made once; only read."""
    file = tmp_path_factory.mktemp("kept") / "shop.zip"
    back_up.back_up(loaded, file, MADE_AT)
    return file


def test_it_holds_the_store_the_shop_folder_and_a_manifest(loaded, kept, tmp_path):
    with zipfile.ZipFile(kept) as found:
        manifest = json.loads(found.read("manifest.json"))
        found.extractall(tmp_path)
    assert (tmp_path / "shop.duckdb").read_bytes() == loaded.read_bytes()
    export.export(loaded, tmp_path / "export", True)
    assert ({path.name: path.read_bytes() for path in (tmp_path / "shop-folder").iterdir()}
            == {path.name: path.read_bytes() for path in (tmp_path / "export").iterdir()})
    assert {key: manifest[key] for key in ("kind", "edition", "release", "made_at")} == {
        "kind": "Sparebench back-up", "edition": build.SCHEMA_VERSION, "release": copies.release(),
        "made_at": "2026-03-09 18:05:33"}
    assert manifest["rows"] == {name: len(rows) for name, rows in small_shop.contents(loaded).items()}
    assert manifest["members"].keys() == {"shop.duckdb"} | {
        f"shop-folder/{path.name}" for path in (tmp_path / "shop-folder").iterdir()}


def test_its_csv_can_be_read_without_us_and_names_customers(kept):
    with zipfile.ZipFile(kept) as found:
        rows = list(csv.DictReader(io.StringIO(found.read("shop-folder/jobs.csv").decode("utf-8"))))
        assert "shop-folder/set_aside.xlsx" in found.namelist()
    assert [(row["job"], row["customer_ref"]) for row in rows] == [("J1", "Ada"), ("J2", ""), ("J3", "")]


def test_what_was_made_is_said(store, tmp_path):
    found = back_up.back_up(store, tmp_path / "b.zip", MADE_AT)
    assert found.size_bytes == (tmp_path / "b.zip").stat().st_size
    assert found.lines() == [
        f"{tmp_path / 'b.zip'}: 0.1 MB, read back and whole: the store (3 jobs, 3 parts, 4 takings of parts), and the"
        " same as a shop folder.",
        "It names customers. Keep it on another disk than the shop.",
    ]


def test_the_same_store_at_the_same_time_gives_the_same_bytes(store, kept, tmp_path):
    back_up.back_up(store, tmp_path / "b.zip", MADE_AT)
    assert (tmp_path / "b.zip").read_bytes() == kept.read_bytes()


def test_nothing_but_the_file_is_left_and_the_store_is_as_it_was(store, tmp_path):
    before = store.read_bytes()
    back_up.back_up(store, tmp_path / "deep" / "down" / "b.zip", MADE_AT)
    assert [path.name for path in (tmp_path / "deep" / "down").iterdir()] == ["b.zip"]
    assert store.read_bytes() == before
    bench.record_count(store, "lamp", 3, "2025-05-01")  # it is let go


def test_a_file_that_is_there_is_never_written_over(store, tmp_path):
    (tmp_path / "b.zip").write_text("mine", encoding="utf-8")
    with pytest.raises(RecordsError, match="b.zip is there; a back-up is never written over"):
        back_up.back_up(store, tmp_path / "b.zip", MADE_AT)
    assert (tmp_path / "b.zip").read_text(encoding="utf-8") == "mine"


def test_what_a_killed_back_up_left_is_written_anew(store, tmp_path):
    (tmp_path / "b.zip.unfinished").write_bytes(b"half")
    (tmp_path / "b.zip.parts.unfinished" / "shop-folder").mkdir(parents=True)
    (tmp_path / "b.zip.parts.unfinished" / "shop.duckdb").write_bytes(b"half")
    back_up.back_up(store, tmp_path / "b.zip", MADE_AT)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b.zip", "shop.duckdb"]


# Stands for a program that was killed with rows written and not yet put away in the file.
KILLED = """
import os, sys, duckdb
connection = duckdb.connect(sys.argv[1], config={"checkpoint_threshold": "1GB"})
connection.execute("insert into parts (part, description) values ('new', 'Recorded just before')")
os._exit(0)
"""


def test_rows_that_a_crash_left_beside_the_store_are_in_it(store, tmp_path):
    subprocess.run([sys.executable, "-c", KILLED, str(store)], check=True)
    assert copies.log_of(store).exists()
    found = back_up.back_up(store, tmp_path / "b.zip", MADE_AT)
    assert found.manifest["rows"]["parts"] == 4
    back_up.restore(tmp_path / "b.zip", tmp_path / "again.duckdb")
    assert small_shop.rows(tmp_path / "again.duckdb", "select count(*) from parts") == [(4,)]


def test_a_restored_store_is_the_store_with_all_it_remembers(loaded, kept, tmp_path):
    found = back_up.restore(kept, tmp_path / "new" / "shop.duckdb")
    assert small_shop.contents(tmp_path / "new" / "shop.duckdb") == small_shop.contents(loaded)
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["shop.duckdb"]
    assert found.kept is None and found.lines() == [
        f"{tmp_path / 'new' / 'shop.duckdb'}: the shop as backed up on 2026-03-09 18:05:33 (3 jobs, 3 parts, 4 takings"
        " of parts)."]


def test_the_present_store_is_kept_beside_and_that_is_said(loaded, kept, store, tmp_path):
    bench.record_use(store, "J1", "lamp", 1, "2025-01-15")
    present = small_shop.contents(store)
    found = back_up.restore(kept, store)
    assert found.lines()[1:] == [f"The store that was there is kept as {tmp_path / 'shop.before-restore-1.duckdb'}."]
    assert small_shop.contents(store) == small_shop.contents(loaded)
    assert small_shop.contents(tmp_path / "shop.before-restore-1.duckdb") == present
    assert back_up.restore(kept, store).kept == tmp_path / "shop.before-restore-2.duckdb"


def test_a_store_that_no_longer_opens_is_replaced_and_kept(kept, store, tmp_path):
    store.write_bytes(b"\xff" * 20_000)
    back_up.restore(kept, store)
    assert small_shop.rows(store, "select count(*) from jobs") == [(3,)]
    assert (tmp_path / "shop.before-restore-1.duckdb").read_bytes() == b"\xff" * 20_000


def test_a_restored_store_goes_on_as_any_other(kept, tmp_path):
    store = tmp_path / "shop.duckdb"
    back_up.restore(kept, store)
    bench.record_use(store, "J1", "lamp", 1, "2025-01-15")
    _, summary = small_shop.load(tmp_path / "shop", small_shop.WHOLE, store)
    assert not summary.files["rows_set_aside"].any()
    with connect.open_read(store) as connection:
        assert connection.execute("select count(*) from job_parts").fetchall() == [(5,)]


def test_a_store_of_a_former_edition_is_backed_up_as_it_is_and_restored_up_to_date(store, loaded, tmp_path):
    before = former_store.make(store).read_bytes()
    made = back_up.back_up(store, tmp_path / "b.zip", MADE_AT)
    assert made.manifest["edition"] == 1 and store.read_bytes() == before
    with zipfile.ZipFile(tmp_path / "b.zip") as found:
        assert found.read("shop.duckdb") == before
        assert found.namelist().count("shop-folder/job_parts.csv") == 1 and "migrated.duckdb" not in found.namelist()
    found = back_up.restore(tmp_path / "b.zip", store)
    assert found.lines()[1] == f"It was of edition 1; it was brought to {build.SCHEMA_VERSION}."
    assert small_shop.records(store) == small_shop.records(loaded)
    assert found.kept.read_bytes() == before


@pytest.mark.parametrize("change", [{"rows": {"parts": 3}}, {"edition": 1}])
def test_a_store_that_does_not_hold_what_the_manifest_says_is_refused(kept, store, tmp_path, change):
    before = store.read_bytes()
    with zipfile.ZipFile(kept) as found:
        manifest = json.loads(found.read(archive.MANIFEST)) | change
        found.extractall(tmp_path / "parts")
    archive.pack(tmp_path / "parts", manifest, tmp_path / "b.zip", MADE_AT)
    with pytest.raises(RecordsError, match="its store does not hold what its manifest.json says"):
        back_up.restore(tmp_path / "b.zip", store)
    assert store.read_bytes() == before and not list(tmp_path.glob("*.unfinished*"))


def test_a_back_up_of_a_newer_release_is_refused(kept, store, tmp_path):
    before = store.read_bytes()
    with zipfile.ZipFile(kept) as found:
        manifest = json.loads(found.read(archive.MANIFEST)) | {"edition": build.SCHEMA_VERSION + 1}
        found.extractall(tmp_path / "parts")
    archive.pack(tmp_path / "parts", manifest, tmp_path / "b.zip", MADE_AT)
    with pytest.raises(StoreError, match=f"of edition {build.SCHEMA_VERSION + 1};.*Use the release that wrote it. N"):
        back_up.restore(tmp_path / "b.zip", store)
    assert store.read_bytes() == before


def test_a_back_up_whose_store_does_not_open_says_what_still_can_be_done(store, tmp_path):
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "shop.duckdb").write_bytes(b"\0" * 9000)
    manifest = {"kind": archive.KIND, "edition": 2, "release": "x", "made_at": "x", "rows": {},
                "members": archive.signed(tmp_path / "parts", [tmp_path / "parts" / "shop.duckdb"])}
    archive.pack(tmp_path / "parts", manifest, tmp_path / "b.zip", MADE_AT)
    before = store.read_bytes()
    with pytest.raises(StoreError, match="its store does not open here. Unpack the file and load its shop-folder"):
        back_up.restore(tmp_path / "b.zip", store)
    assert store.read_bytes() == before and not list(tmp_path.glob("*.unfinished*"))


def test_the_shop_folder_within_is_a_way_back_of_its_own(loaded, kept, tmp_path):
    with zipfile.ZipFile(kept) as found:
        found.extractall(tmp_path)
    again, _ = small_shop.load(tmp_path / "shop-folder")
    assert small_shop.records(again) == small_shop.records(loaded)
