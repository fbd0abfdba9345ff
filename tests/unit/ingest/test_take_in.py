"""From raw tables to accepted rows and a log that adds up."""

import json

import pytest

from pipeline.ingest import read, take_in
from pipeline.store import catalogue, connect
from pipeline.store import read as store_read
from tests.support import small_shop
from tests.support.small_shop import laid


@pytest.fixture
def connection():
    """An empty store in memory."""
    with connect.open_memory() as opened:
        yield opened


def taken(connection, folder, files, **terms):
    """What became of the files; the store itself is as before."""
    return take_in.take_in(connection, read.read(small_shop.write(folder, files)), **terms)


def counts(found):
    """Rows in, loaded and set aside by file."""
    return {file: tuple(rest) for file, *rest, _ in found.counts().itertuples(index=False)}


def aside(found):
    """Line, file and cells of the rows set aside, by table."""
    return {(row.holds, row.file, row.line): json.loads(row.cells)
            for rows in found.set_aside for row in rows.itertuples()}


def test_every_table_has_its_accepted_rows_given_or_not(connection, tmp_path):
    taken(connection, tmp_path, small_shop.LEAST)
    held = {name: store_read.rows(connection, f"select count(*) from accepted_{name}")[0][0]
            for name in catalogue.tables()}
    assert {name for name, count in held.items() if count} == {"parts", "jobs", "job_parts", "families"}


def test_counts_come_from_three_places_and_add_up(connection, tmp_path):
    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,lamp,x,soon", "J1,none,0,", "J1,lamp,3,")
    found = taken(connection, tmp_path, files)
    assert counts(found) == {"job_parts.csv": (7, 5, 2), "jobs.csv": (3, 3, 0), "parts.csv": (3, 3, 0)}
    assert found.counts()["holds"].tolist() == ["job_parts", "jobs", "parts"]


def test_set_aside_rows_are_kept_whole_with_the_columns_of_no_contract(connection, tmp_path):
    files = small_shop.LEAST | {"job_parts": "job,part,qty_pcs,note\nj1, lamp ,zero,«why»\nJ1,lamp,1,fine\n"}
    (row,) = [row for rows in taken(connection, tmp_path, files).set_aside for row in rows.itertuples()]
    assert (row.file, row.line, row.holds) == ("job_parts.csv", 2, "job_parts")
    assert json.loads(row.cells) == {"job": "j1", "part": " lamp ", "qty_pcs": "zero", "note": "«why»"}
    assert json.loads(row.mended) == {"job": "J1", "part": "lamp", "qty_pcs": "zero", "note": "«why»"}


def test_a_row_whose_cells_cannot_be_told_apart_has_no_mended_form(connection, tmp_path):
    files = small_shop.LEAST | {"job_parts": "job,part,qty_pcs\nJ1,lamp,1,5\nJ1,lamp,x\n"}
    (rows,) = [rows for rows in taken(connection, tmp_path, files).set_aside if len(rows)]
    assert rows["mended"].isna().tolist() == [True, False]


def test_a_column_that_no_file_bears_keeps_what_the_store_has(connection, tmp_path):
    laid(connection, tmp_path / "1", small_shop.LEAST | {
        "parts": "part,description,shelf,bin\nfli-coil,C,A1,7\nsleeve,S,,\nlamp,L,,\n"})
    laid(connection, tmp_path / "2", {"parts": small_shop.LEAST["parts"]})
    assert store_read.rows(connection, "select description, shelf, extra from parts where part = 'fli-coil'") == [
        ("Flipper coil", "A1", '{"bin": "7"}')]
    laid(connection, tmp_path / "3", {"parts": "part,description,shelf,bin\nfli-coil,C,,\n"})
    assert store_read.rows(connection, "select shelf, extra from parts where part = 'fli-coil'") == [(None, None)]


def test_the_log_of_a_load_is_prepared_under_the_next_number(connection, tmp_path):
    connection.execute("insert into loads values (41, now()::timestamp, 'f', 'd')")
    given = read.read(small_shop.write(tmp_path / "own shop", small_shop.with_rows(small_shop.LEAST, "parts", "x,")))
    take_in.prepare_log(connection, given, take_in.take_in(connection, given))
    assert store_read.rows(connection, "select load_no, folder, digest from new_loads") == [
        (42, "own shop", given.digest)]
    assert store_read.rows(connection, "select load_no, file, rows_set_aside, holds from new_load_files order by file"
                           ) == [(42, "job_parts.csv", 0, "job_parts"), (42, "jobs.csv", 0, "jobs"),
                                 (42, "parts.csv", 1, "parts")]
    assert store_read.rows(connection, "select file, line, rule from new_records where outcome = 'set_aside'") == [
        ("parts.csv", 5, "required")]
    assert store_read.rows(connection, "select load_no, line, holds, cells, mended from new_set_aside_rows") == [
        (42, 5, "parts", '{"part": "x", "description": ""}', '{"part": "x", "description": ""}')]


def test_nothing_of_the_store_is_changed_yet(connection, tmp_path):
    taken(connection, tmp_path, small_shop.WHOLE)
    assert all(store_read.is_empty(connection, name) for name in catalogue.every_table() if name not in catalogue.BUILT)


def test_an_empty_register_file_is_counted_as_empty_and_the_rows_imply_the_register(connection, tmp_path):
    found = laid(connection, tmp_path, small_shop.LEAST | {"families": "family,name\n"})
    assert counts(found)["families.csv"] == (0, 0, 0)
    assert store_read.rows(connection, "select family from families order by 1") == [("em",), ("ss",)]


@pytest.mark.parametrize("families", ["family,name\nss,Solid-state\n", "family,name\nss,Solid-state\nem,\n"])
def test_a_register_first_given_sets_aside_what_names_rows_it_does_not_list(connection, tmp_path, families):
    laid(connection, tmp_path / "1", small_shop.LEAST)
    found = laid(connection, tmp_path / "2", {"families": families})
    assert store_read.rows(connection, "select family, name from families") == [("ss", "Solid-state")]
    assert store_read.rows(connection, "select job from jobs") == [("J3",)]
    assert store_read.rows(connection, "select job from job_parts") == [("J3",)]
    held = aside(found)
    assert sorted((holds, cells["job"]) for (holds, _, line), cells in held.items() if line < 0) == [
        ("job_parts", "J1"), ("job_parts", "J2"), ("job_parts", "J2"), ("jobs", "J1"), ("jobs", "J2")]
    assert {file for holds, file, line in held if line < 0} == {"jobs (in the store)", "job_parts (in the store)"}
    entries = {entry.file: (entry.rule, entry.suggestion) for part in found.entries for entry in part.itertuples()
               if entry.outcome == "set_aside" and entry.line < 0}
    assert entries["jobs (in the store)"][0] in ("unknown_family", "family_set_aside")
    assert entries["job_parts (in the store)"] == (
        "job_set_aside", "its row in jobs (in the store) was itself set aside: mend that one first")
    assert {name: rest for name, *rest in found.earlier if any(rest)} == {"jobs": [0, 0, 2], "job_parts": [0, 0, 3]}


def test_a_register_once_listed_brings_them_back_with_all_their_values(connection, tmp_path):
    laid(connection, tmp_path / "1", small_shop.LEAST)
    before = {name: sorted(store_read.rows(connection, f"from {name}"), key=repr) for name in ("jobs", "job_parts")}
    laid(connection, tmp_path / "2", {"families": "family,name\nss,Solid-state\n"})
    found = laid(connection, tmp_path / "3", {"families": "family,name\nss,Solid-state\nem,Electromechanical\n"})
    assert before == {name: sorted(store_read.rows(connection, f"from {name}"), key=repr) for name in before}
    assert aside(found) == {}
    assert {name: rest for name, *rest in found.earlier if any(rest)} == {"jobs": [2, 0, 0], "job_parts": [3, 0, 0]}


def test_a_row_of_the_store_that_its_own_file_bears_waits_once(connection, tmp_path):
    laid(connection, tmp_path / "1", small_shop.LEAST)
    found = laid(connection, tmp_path / "2", small_shop.LEAST | {"families": "family,name\nss,Solid-state\n"})
    assert sorted((holds, file, line) for holds, file, line in aside(found)) == [
        ("job_parts", "job_parts.csv", 2), ("job_parts", "job_parts.csv", 3), ("job_parts", "job_parts.csv", 4),
        ("jobs", "jobs.csv", 2), ("jobs", "jobs.csv", 3)]
    said = {entry.suggestion for part in found.entries for entry in part.itertuples() if entry.rule == "job_set_aside"}
    assert said == {"its row in jobs.csv was itself set aside: mend that one first"}


def test_rows_that_once_were_in_the_store_are_numbered_apart_load_after_load(connection, tmp_path):
    laid(connection, tmp_path / "1", small_shop.LEAST | {
        "family_assemblies": "family,assembly,count\nem,flipper,2\nss,bumper,3\nss,flipper,4\n"})
    laid(connection, tmp_path / "2", {"families": "family,name\nss,Solid-state\n"})
    found = laid(connection, tmp_path / "3", {"assemblies": "assembly,name\nflipper,Flipper\n"})
    waiting = {line: cells for (holds, _, line), cells in aside(found).items() if holds == "family_assemblies"}
    assert sorted(cells["count"] for cells in waiting.values()) == ["2", "3"] and set(waiting) < {-1, -2, -3}
    said = {entry.line: entry.rule for part in found.entries for entry in part.itertuples()
            if entry.file == "family_assemblies (in the store)"}
    assert {waiting[line]["count"]: rule for line, rule in said.items()} == {
        "2": "unknown_family", "3": "unknown_assembly"}


def test_who_recorded_a_row_may_be_given_by_its_file_in_one_of_two_words(connection, tmp_path):
    counts_file = "part,counted_on,qty_pcs,recorded_in\nlamp,2025-01-01,1,notebook\nlamp,2025-01-02,2,\n" \
                  "lamp,2025-01-03,3,folder\nlamp,2025-01-04,4,bench\n"
    found = laid(connection, tmp_path / "1", small_shop.LEAST | {"counts": counts_file})
    assert store_read.rows(connection, "select qty_pcs, recorded_in from counts order by 1") == [
        (1, "notebook"), (2, "folder"), (3, "folder")]
    assert small_shop.said(found) == [("counts.csv", 5, "recorded_in", "allowed_values")]
    assert small_shop.waits(connection)["counts", "counts.csv", 5]["recorded_in"] == "bench"
    # Once marked, no load without the mark takes it away, nor does one that replaces the store drop the row.
    laid(connection, tmp_path / "2", small_shop.LEAST | {"counts": "part,counted_on,qty_pcs\nlamp,2025-01-01,1\n"})
    laid(connection, tmp_path / "3", small_shop.LEAST, is_replacing=True)
    assert store_read.rows(connection, "select qty_pcs, recorded_in from counts") == [(1, "notebook")]


def test_who_recorded_a_row_is_no_column_of_rows_with_a_key(connection, tmp_path):
    files = small_shop.LEAST | {"parts": "part,description,recorded_in\nlamp,L,notebook\nfli-coil,C,\nsleeve,S,\n"}
    laid(connection, tmp_path, files)
    assert store_read.rows(connection, "select extra from parts where part = 'lamp'") == [
        ('{"recorded_in": "notebook"}',)]
