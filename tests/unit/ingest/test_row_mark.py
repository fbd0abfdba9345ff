"""Marks by which a row set aside, and the store it is of, are known again."""

import datetime

import pytest

from pipeline.ingest import row_mark
from pipeline.store import connect


def test_the_essence_of_a_row_is_what_its_cells_say():
    assert row_mark.essence('{"a": " 1 ", "b": ""}') == row_mark.essence('{"c": null, "a": "1"}')
    assert row_mark.essence('{"a": "1", "": [" x", ""]}') != row_mark.essence('{"a": "1"}')
    assert row_mark.essence('{"a": "1"}') != row_mark.essence('{"b": "1"}')


@pytest.mark.parametrize("other", ['{"b": "1"}', '{"a": "2"}', '{"a": "1", "b": "1"}', "{}"])
def test_rows_that_say_something_else_bear_another_mark(other):
    assert row_mark.of_row('{"a": "1"}') == row_mark.of_row('{"b": "", "a": " 1"}') != row_mark.of_row(other)


def loaded(connection, number, day=1, folder="shop", digest="d"):
    connection.execute("insert into loads values ($1, $2, $3, $4)",
                       [number, datetime.datetime(2025, 1, day), folder, digest])


@pytest.mark.parametrize("last", [{"day": 2}, {"folder": "other"}, {"digest": "e"}])
def test_stores_share_a_mark_until_their_loads_differ(last):
    with connect.open_memory() as one, connect.open_memory() as two:
        for store in (one, two):
            loaded(store, 1)
            loaded(store, 2)
        loaded(one, 3)
        loaded(two, 3, **last)
        assert row_mark.of_store(one, 2) == row_mark.of_store(two, 2) != row_mark.of_store(one, 1)
        assert row_mark.of_store(one, 3) != row_mark.of_store(two, 3)
        assert row_mark.of_store(one, 4) is None
