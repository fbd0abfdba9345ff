"""The form for takings and counts, and what all tables and notes share, on a store of three files."""

import shutil

import pandas as pd
import pytest

from pipeline.reports import all_tables, notebook
from pipeline.reports import shop as shops
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics import missing
from pipeline.store import connect, read


@pytest.fixture
def record(small_store, tmp_path):
    copied = tmp_path / "shop.duckdb"
    shutil.copy(small_store, copied)
    return notebook.record(str(copied)), copied


def press(form, **values):
    names = (
        ["job", "part", "qty_pcs", "used_on"] if len(form.children) == 8 else ["part", "qty_pcs", "counted_on"]
    )
    for name, value in values.items():
        form.children[names.index(name)].value = value
    form.children[-2].click()
    return form.children[-1].value


def test_a_taking_goes_into_the_store_with_its_mark(record):
    page, path = record
    assert "2 pieces of SLV-01 for job J-005" in press(
        page.taken_form, job="J-005", part="slv-01", qty_pcs="2", used_on="2031-02-20"
    )
    with connect.open_read(path) as connection:
        rows = read.rows(
            connection, "select part, qty_pcs, source from job_parts where recorded_in = 'notebook'"
        )
    assert rows == [("SLV-01", 2, "new")]
    again = notebook.record(str(path))
    assert again.headline.startswith("Recorded here so far: 1 taking, 0 counts and 0 deliveries.")
    assert again.recorded.frame["part"].tolist() == ["SLV-01"]


def test_an_empty_bin_is_counted_as_zero(record):
    page, path = record
    assert "0 pieces of COI-02 counted" in press(
        page.count_form, part="COI-02", qty_pcs="0", counted_on="2031-02-19"
    )
    assert notebook.record(str(path)).recorded.frame[["record", "qty_pcs"]].values.tolist() == [["counted", 0]]


@pytest.mark.parametrize(
    ("form", "values", "words"),
    [
        ("count_form", {"part": "COI-02", "qty_pcs": ""}, "qty_pcs is empty"),
        ("count_form", {"part": "COI-02", "qty_pcs": "-1"}, "0 or more"),
        ("count_form", {"part": "COI-02", "qty_pcs": "lots"}, "whole number"),
        ("taken_form", {"job": "J-005", "part": "SLV-01", "qty_pcs": "0"}, "not 0"),
        ("taken_form", {"job": "J-777", "part": "SLV-01", "qty_pcs": "1"}, "wanted a job listed in jobs"),
        ("taken_form", {"job": "J-005", "part": "SLV-1", "qty_pcs": "1"}, "did you mean SLV-01"),
        (
            "taken_form",
            {"job": "J-005", "part": "SLV-01", "qty_pcs": "1", "used_on": "31.2.2031"},
            "wanted a day",
        ),
    ],
)
def test_what_breaks_a_rule_is_refused_in_words_and_nothing_is_kept(record, form, values, words):
    page, path = record
    said = press(getattr(page, form), **values)
    assert words in said and "Nothing was recorded" in said
    assert isinstance(notebook.record(str(path)).recorded, Note)


def test_open_jobs_are_suggested(record):
    page, _ = record
    assert set(page.taken_form.children[0].options) == {"J-005", "J-006"}


def test_records_are_a_table_of_the_contract(small_store):
    frame = all_tables.table(small_store, "records")
    assert list(frame) == ["file", "line", "column", "value", "rule", "suggestion", "outcome"]


def test_a_table_is_a_copy_of_what_was_computed_once(small_store):
    first = all_tables.table(small_store, "records")
    first["value"] = "changed"
    assert "changed" not in all_tables.table(small_store, "records")["value"].tolist()


def test_a_table_is_written_as_utf8_with_the_unknown_empty(small_store, tmp_path):
    path = all_tables.write(small_store, "records", tmp_path / "tables")
    text = path.read_bytes().decode("utf-8")
    assert text.startswith("file,line,column,") and "\r" not in text
    assert len(pd.read_csv(path)) == len(all_tables.table(small_store, "records"))


def test_a_note_without_a_missing_file_blames_nobody(small_store):
    shop = shops.of(small_store)
    assert missing.note(shop, "Use", "jobs.csv").text == "Use: the records hold nothing to show here yet."
    said = missing.note(shop, "Baskets", "offers.csv", "jobs.csv").text
    assert said.startswith("Baskets cannot be shown yet: offers.csv unlocks") and "jobs.csv" not in said


def test_rows_make_a_table_and_none_a_note():
    frame = pd.DataFrame({"part": ["A"]})
    assert isinstance(missing.or_note(frame, lambda rows: Table(rows, "x"), Note("none")), Table)
    assert missing.or_note(frame.iloc[:0], Table, Note("none")).text == "none"
