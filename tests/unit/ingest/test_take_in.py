"""From raw tables to accepted rows and a log that adds up."""

import json

import pytest

from pipeline.ingest import read, records, take_in
from pipeline.store import catalogue, connect
from pipeline.store import read as store_read
from tests.support import small_shop


@pytest.fixture
def connection():
    """An empty store in memory."""
    with connect.open_memory() as opened:
        yield opened


def taken(connection, tmp_path, files):
    return take_in.take_in(connection, read.read_folder(small_shop.write(tmp_path, files))[0])


def test_every_table_has_its_accepted_rows_given_or_not(connection, tmp_path):
    taken(connection, tmp_path, small_shop.LEAST)
    counts = {name: store_read.rows(connection, f"select count(*) from accepted_{name}")[0][0]
              for name in catalogue.tables()}
    assert {name for name, count in counts.items() if count} == {"parts", "jobs", "job_parts", "families"}


def test_counts_come_from_three_places_and_add_up(connection, tmp_path):
    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,lamp,x,soon", "J1,none,0,", "J1,lamp,3,")
    found = taken(connection, tmp_path, files).counts().set_index("file").loc["job_parts.csv"]
    assert tuple(found) == (7, 5, 2)


def test_set_aside_rows_are_kept_whole_with_the_columns_of_no_contract(connection, tmp_path):
    files = small_shop.LEAST | {"job_parts": "job,part,qty_pcs,note\nJ1, lamp ,zero,«why»\nJ1,lamp,1,fine\n"}
    (rows,) = [rows for rows in taken(connection, tmp_path, files).set_aside if len(rows)]
    assert rows[["file", "line"]].values.tolist() == [["job_parts.csv", 2]]
    assert json.loads(rows["cells"].iloc[0]) == {"job": "J1", "part": " lamp ", "qty_pcs": "zero", "note": "«why»"}


def test_columns_given_name_extra_only_where_there_is_any(connection, tmp_path):
    files = small_shop.LEAST | {"parts": "part,description,bin\nfli-coil,C,1\nsleeve,S,\nlamp,L,\n"}
    given = taken(connection, tmp_path, files).given_columns()
    assert given["parts"] == {"part", "description", "extra"}
    assert given["job_parts"] == {"job", "part", "qty_pcs", "used_on"} and given["families"] == {"family", "name"}


def test_the_log_of_a_load_is_prepared_under_the_next_number(connection, tmp_path):
    connection.execute("insert into loads values (41, now()::timestamp, 'f', 'd')")
    found = taken(connection, tmp_path / "own shop", small_shop.with_rows(small_shop.LEAST, "parts", "x,"))
    take_in.prepare_log(connection, tmp_path / "own shop", "abc", found, records.gathered([]))
    assert store_read.rows(connection, "select load_no, folder, digest from new_loads") == [(42, "own shop", "abc")]
    assert store_read.rows(connection, "select load_no, file, rows_set_aside from new_load_files order by file") == [
        (42, "job_parts.csv", 0), (42, "jobs.csv", 0), (42, "parts.csv", 1)]
    assert store_read.rows(connection, "select file, line, rule from new_records where outcome = 'set_aside'") == [
        ("parts.csv", 5, "required")]
    assert store_read.rows(connection, "select load_no, line, cells from new_set_aside_rows") == [
        (42, 5, '{"part": "x", "description": ""}')]


def test_nothing_of_the_store_is_changed_yet(connection, tmp_path):
    taken(connection, tmp_path, small_shop.WHOLE)
    assert all(store_read.is_empty(connection, name) for name in catalogue.every_table() if name not in catalogue.BUILT)
