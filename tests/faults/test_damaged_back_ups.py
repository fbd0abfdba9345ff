"""What is given for a back-up and is none, or not whole: one sentence, the present store as it was."""

import zipfile
from pathlib import Path

import pytest

from pipeline.errors import RecordsError, StoreError
from pipeline.ingest import back_up, export
from tests.support import kept_shop
from tests.support.kept_shop import MADE_AT, refused


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return kept_shop.make(tmp_path_factory.mktemp("made"))


@pytest.fixture
def shop(tmp_path, made):
    """A store and its back-up, in a folder of their own."""
    return kept_shop.copied(made, tmp_path / "place")


def rewritten(file, change):
    with zipfile.ZipFile(file) as old:
        members = {info.filename: old.read(info) for info in old.infolist()}
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in change(members).items():
            new.writestr(name, content)


@pytest.mark.parametrize(("damage", "words"), [
    (lambda file: file.unlink(), "there is no such file"),
    (lambda file: file.write_bytes(b""), "is no back-up, or only a part of one"),
    (lambda file: file.write_bytes(b"Dear customer"), "is no back-up, or only a part of one"),
    (lambda file: file.write_bytes(file.read_bytes()[:-400]), "is no back-up, or only a part of one"),
    (lambda file: file.write_bytes(file.read_bytes()[:500]), "is no back-up, or only a part of one"),
    (lambda file: rewritten(file, lambda m: {"letter.txt": b"x"}), "its manifest.json is missing or is not ours"),
    (lambda file: rewritten(file, lambda m: m | {"manifest.json": b"{"}), "its manifest.json is missing or is not"),
    (lambda file: rewritten(file, lambda m: {n: c for n, c in m.items() if n != "shop.duckdb"}), "shop.duckdb is miss"),
    (lambda file: rewritten(file, lambda m: {n: c for n, c in m.items() if "wear" not in n}), "wear.csv is missing"),
    (lambda file: rewritten(file, lambda m: m | {"shop.duckdb": m["shop.duckdb"][:-1] + b"?"}), "shop.duckdb is not"),
    (lambda file: rewritten(file, lambda m: m | {"shop-folder/parts.csv": b"part\n"}), "parts.csv is not as it was"),
    (lambda file: rewritten(file, lambda m: m | {"../../evil.txt": b"x"}), "../../evil.txt is missing or does not"),
    (lambda file: rewritten(file, lambda m: m | {"/etc/evil.txt": b"x"}), "/etc/evil.txt is missing or does not"),
], ids=range(13))
def test_a_back_up_that_is_not_whole_or_not_ours_is_refused(shop, damage, words):
    damage(Path(shop[1]))
    found = refused(shop, "restore", RecordsError)
    assert str(shop[1]) in found and words in found and "othing was changed" in found
    assert not list(Path(shop[1]).parent.parent.rglob("evil*"))


def test_a_shop_folder_or_store_given_for_a_back_up(shop):
    for wrong, words in ((shop[0].parent, "there is no such file"), (shop[0], "is no back-up, or only a part of one")):
        with pytest.raises(RecordsError, match=words):
            back_up.restore(wrong, shop[0].with_name("other.duckdb"))
    assert not shop[0].with_name("other.duckdb").exists()


def test_a_folder_given_for_the_store(shop):
    with pytest.raises(StoreError, match="is a folder. Name the store with --shop FILE"):
        back_up.restore(shop[1], shop[0].parent)


def test_a_file_in_the_way_of_the_stores_folder(shop):
    for verb in (lambda: back_up.restore(shop[1], Path(shop[1]) / "shop.duckdb"),
                 lambda: back_up.back_up(shop[0], Path(shop[1]) / "new.zip", MADE_AT),
                 lambda: export.export(shop[0], Path(shop[1]) / "out", True)):
        with pytest.raises(StoreError, match="cannot be written"):
            verb()
