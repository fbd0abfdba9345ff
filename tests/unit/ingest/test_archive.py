"""The file of a back-up: what is packed is what comes out, and anything else is told from it."""

import datetime
import hashlib
import io
import json
import zipfile

import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import archive

MADE_AT = datetime.datetime(2026, 3, 9, 18, 5, 34)
PARTS = {"shop.duckdb": b"store" * 5000, "shop-folder/parts.csv": "part\nné\n".encode(), "shop-folder/empty.csv": b""}


@pytest.fixture
def packed(tmp_path):
    """A small back-up: its file and its manifest."""
    for name, content in PARTS.items():
        path = tmp_path / "parts" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    members = archive.signed(tmp_path / "parts", [tmp_path / "parts" / name for name in PARTS])
    manifest = {"kind": archive.KIND, "edition": 2, "release": "Sparebench 0.2.0", "made_at": "2026-03-09 18:05:34",
                "rows": {"parts": 1}, "members": members}
    archive.pack(tmp_path / "parts", manifest, tmp_path / "b.zip", MADE_AT)
    return tmp_path / "b.zip", manifest


def rewritten(file, change):
    """Write a zip anew from (name, content) pairs, changed; warnings of names that stand twice are ours."""
    with zipfile.ZipFile(file) as old:
        members = change([(info.filename, old.read(info)) for info in old.infolist()])
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in members:
            new.writestr(name, content)
    return file


def refusal(file):
    with pytest.raises(RecordsError) as error, archive.opened(file) as (found, manifest):
        archive.refuse_damaged(found, manifest, file)
    return str(error.value)


def test_every_member_is_signed_with_its_size_and_sha_256(packed):
    # SHA-256 of the empty message: NIST, Cryptographic Algorithm Validation Program, SHA256ShortMsg, Len = 0 (memory).
    empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert packed[1]["members"]["shop-folder/empty.csv"] == {"bytes": 0, "sha256": empty}
    assert {name: said["bytes"] for name, said in packed[1]["members"].items()} == {n: len(c) for n, c in PARTS.items()}
    assert packed[1]["members"]["shop.duckdb"]["sha256"] == hashlib.sha256(PARTS["shop.duckdb"]).hexdigest()


def test_it_is_a_plain_zip_with_the_manifest_first(packed):
    with zipfile.ZipFile(packed[0]) as plain:
        assert plain.testzip() is None
        assert plain.namelist() == ["manifest.json", *PARTS]
        assert {name: plain.read(name) for name in PARTS} == PARTS
        assert json.loads(plain.read("manifest.json")) == packed[1]
        assert {info.date_time for info in plain.infolist()} == {(2026, 3, 9, 18, 5, 34)}
        assert {info.compress_type for info in plain.infolist()} == {zipfile.ZIP_DEFLATED}


def test_the_same_parts_give_the_same_bytes(packed, tmp_path):
    archive.pack(tmp_path / "parts", packed[1], tmp_path / "again.zip", MADE_AT)
    assert (tmp_path / "again.zip").read_bytes() == packed[0].read_bytes()


def test_what_was_packed_is_sound_and_the_store_comes_out(packed, tmp_path):
    with archive.opened(packed[0]) as (found, manifest):
        assert manifest == packed[1]
        archive.refuse_damaged(found, manifest, packed[0])
        archive.unpack_store(found, tmp_path / "out.duckdb")
    assert (tmp_path / "out.duckdb").read_bytes() == PARTS["shop.duckdb"]


def test_a_byte_changed_anywhere_is_found(packed):
    file, raw = packed[0], packed[0].read_bytes()
    # Past the end of the last member stand only the directory and its comment.
    for at in range(0, raw.rindex(b"PK\x01\x02"), 7):
        file.write_bytes(raw[:at] + bytes([raw[at] ^ 0x5A]) + raw[at + 1:])
        try:
            with archive.opened(file) as (found, manifest):
                archive.refuse_damaged(found, manifest, file)
                assert manifest == packed[1]
                assert {name: found.read(name) for name in PARTS} == PARTS  # a byte that says nothing, as a time
        except RecordsError as error:
            assert str(file) in str(error)


def test_a_file_cut_short_anywhere_is_found(packed):
    file, raw = packed[0], packed[0].read_bytes()
    for length in (0, 1, 30, len(raw) // 2, len(raw) - 23, len(raw) - 1):
        file.write_bytes(raw[:length])
        assert "no back-up, or only a part of one" in refusal(file)


@pytest.mark.parametrize("raw", [b"", b"hello", b"PK\x03\x04" * 50, b"PK\x05\x06" + b"\0" * 18])
def test_a_file_that_is_no_back_up(tmp_path, raw):
    (tmp_path / "b.zip").write_bytes(raw)
    assert "is no back-up" in refusal(tmp_path / "b.zip")


def test_a_file_that_is_not_there_and_a_folder(tmp_path):
    for place in (tmp_path / "nowhere.zip", tmp_path):
        assert "there is no such file" in refusal(place)


@pytest.mark.parametrize("text", ["", "[]", "null", "{}", '{"kind": "another"}', "[" * 100_000, "\ufeff{}",
                                  " " * (2 << 20), '{"kind": "Sparebench back-up", "edition": "2"}'])
def test_a_manifest_that_is_not_ours(packed, text):
    file = rewritten(packed[0], lambda members: [(archive.MANIFEST, text), *members[1:]])
    assert "its manifest.json is missing or is not ours" in refusal(file)


@pytest.mark.parametrize("change", [
    {"kind": "another"}, {"edition": "2"}, {"edition": True}, {"rows": [1]}, {"rows": {"parts": "1"}}, {"made_at": 7},
    {"members": []}, {"members": {}}, {"members": {"shop.duckdb": 5}}, {"members": {"shop.duckdb": {"bytes": 1}}},
    {"release": None},
])
def test_a_manifest_with_a_wrong_entry(packed, change):
    text = json.dumps(packed[1] | change)
    file = rewritten(packed[0], lambda members: [(archive.MANIFEST, text), *members[1:]])
    assert "its manifest.json is missing or is not ours" in refusal(file)


def test_a_manifest_that_is_missing(packed):
    assert "is missing or is not ours" in refusal(rewritten(packed[0], lambda members: members[1:]))


@pytest.mark.parametrize("at", [1, 2, 3])
def test_a_member_that_is_missing_or_changed_or_longer(packed, at):
    name, raw = list(PARTS)[at - 1], packed[0].read_bytes()
    rewritten(packed[0], lambda members: members[:at] + members[at + 1:])
    assert f"{name} is missing or does not belong there" in refusal(packed[0])
    for content in (b"x", PARTS[name] + b"\n", PARTS[name][::-1] + b"x"):
        packed[0].write_bytes(raw)
        rewritten(packed[0], lambda members, c=content: [*members[:at], (name, c), *members[at + 1:]])
        assert f"{name} is not as it was written. The back-up is damaged" in refusal(packed[0])


@pytest.mark.parametrize("name", ["../evil.txt", "/evil.txt", "shop-folder/../../evil", "notes.txt", "C:\\evil.txt"])
def test_a_member_that_nobody_of_us_put_there(packed, name):
    file = rewritten(packed[0], lambda members: [*members, (name, b"x")])
    assert f"{name} is missing or does not belong there" in refusal(file)


@pytest.mark.parametrize("name", ["../evil.txt", "/evil.txt", "a/../../evil", "./a", "a//b", "C:/evil.txt", "a\\b",
                                  ".."])
def test_a_manifest_that_names_a_place_outside(packed, name):
    signed = {"bytes": 1, "sha256": hashlib.sha256(b"x").hexdigest()}
    manifest = packed[1] | {"members": packed[1]["members"] | {name: signed}}
    file = rewritten(packed[0], lambda members: [(archive.MANIFEST, json.dumps(manifest)), *members[1:], (name, b"x")])
    assert f"{name} is not as it was written" in refusal(file)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_member_that_stands_twice(packed):
    assert "shop.duckdb is missing or does not belong" in refusal(rewritten(packed[0], lambda m: [*m, m[1]]))


def test_a_locked_member_is_not_as_it_was_written(packed):
    raw = bytearray(packed[0].read_bytes())
    at = raw.rindex(b"PK\x01\x02")
    raw[at + 8] |= 1  # the flag that says a password is needed, in the directory's last entry
    packed[0].write_bytes(bytes(raw))
    assert "shop-folder/empty.csv is not as it was written" in refusal(packed[0])


def test_a_member_that_claims_to_be_small_does_not_fill_the_memory(packed):
    # The directory says how large a member is; one that unpacks to more is read no further.
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr(archive.MANIFEST, b" " * (64 << 20))
    packed[0].write_bytes(bomb.getvalue())
    assert "is not ours" in refusal(packed[0])
