"""A shop with its back-up, and the verbs that give records back; a verb that fails must leave all as it was."""

import datetime
import shutil

import pytest

from pipeline.errors import RecordsError, StoreError
from pipeline.ingest import back_up, bench, export
from tests.support import small_shop

MADE_AT = datetime.datetime(2026, 3, 9, 18, 5, 33)
VERBS = {
    "export": lambda store, file: export.export(store, store.with_name("out"), True),
    "back-up": lambda store, file: back_up.back_up(store, store.with_name("new.zip"), MADE_AT),
    "restore": lambda store, file: back_up.restore(file, store),
}


def refused(shop, verb, kind=(RecordsError, StoreError)):
    """The one sentence or two with which a verb fails; every file is as it was, and no other is there."""
    place = shop[0].parent
    before = {path: path.read_bytes() for path in place.rglob("*") if path.is_file()}
    with pytest.raises(kind) as error:
        VERBS[verb](*shop)
    assert {path: path.read_bytes() for path in place.rglob("*") if path.is_file()} == before
    assert {path for path in place.rglob("*") if path.is_dir()} == {path.parent for path in before} - {place}
    assert "\n" not in str(error.value)
    return str(error.value)


def make(folder):
    """A store with a row that waits, its back-up, and what was recorded since (the paths of both); to be copied."""
    files = small_shop.with_rows(small_shop.WHOLE, "payments", "J1,soon,20,deposit")
    store, _ = small_shop.load(folder / "shop", files)
    back_up.back_up(store, store.with_name("b.zip"), MADE_AT)
    bench.record_use(store, "J1", "lamp", 1, "2025-01-15")
    return store, store.with_name("b.zip")


def copied(made, place):
    """Copies of store and back-up in a folder of their own, made for them."""
    place.mkdir()
    return shutil.copy(made[0], place / "shop.duckdb"), shutil.copy(made[1], place / "b.zip")
