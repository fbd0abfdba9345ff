"""The list of set-aside rows, repairs and remarks."""

import csv

import pandas as pd
import pytest

from pipeline.ingest import records


def test_entries_take_one_word_for_all_or_one_each():
    found = records.listed("a.csv", [2, 5], "part", ["x", "y"], "rule", ["s", "t"], "noted")
    assert found.values.tolist() == [["a.csv", 2, "part", "x", "rule", "s", "noted"],
                                     ["a.csv", 5, "part", "y", "rule", "t", "noted"]]
    found = records.listed(["a", "b"], [pd.NA, 3], None, ["x", None], "rule", "same", "noted")
    assert found["file"].tolist() == ["a", "b"] and found["suggestion"].tolist() == ["same", "same"]
    assert found["line"].isna().tolist() == [True, False] and found["column"].isna().all()


def test_an_entry_of_a_whole_file_has_no_line():
    found = records.of_file("a.csv", "x", "rule", "why")
    assert found["line"].isna().all() and found["outcome"].tolist() == ["noted"]


def test_gathered_entries_stand_in_order_whatever_their_kinds():
    found = records.gathered(
        [
            records.listed("b", [9], "c", ["v"], "r", "s", "noted"),
            records.gathered([]),
            records.of_file("b", "v", "r", "s"),
            records.listed("a", [2, 1], "c", "v", "r", "s", "noted"),
        ]
    )
    assert [(e.file, None if pd.isna(e.line) else e.line) for e in found.itertuples()] == [
        ("a", 1), ("a", 2), ("b", None), ("b", 9)]
    assert list(records.gathered([]).columns) == records.COLUMNS and str(found["line"].dtype) == "Int64"


def test_the_list_takes_its_name_when_all_went_well(tmp_path):
    with records.list_in(tmp_path / "out") as write:
        write(records.listed("a", [2, pd.NA], "c", ['say "x", y', None], "r", "two\nlines", "noted"))
        assert not records.place(tmp_path / "out").exists()
    with open(records.place(tmp_path / "out"), encoding="utf-8", newline="") as text:
        assert list(csv.reader(text)) == [records.COLUMNS, ["a", "2", "c", 'say "x", y', "r", "two\nlines", "noted"],
                                          ["a", "", "c", "", "r", "two\nlines", "noted"]]


def test_the_list_of_before_stays_when_it_did_not(tmp_path):
    records.place(tmp_path).parent.mkdir()
    records.place(tmp_path).write_text("before", encoding="utf-8")
    with pytest.raises(ZeroDivisionError):
        with records.list_in(tmp_path) as write:
            write(records.gathered([]))
            raise ZeroDivisionError
    assert [path.name for path in (tmp_path / "tables").iterdir()] == ["records.csv"]
    assert records.place(tmp_path).read_text(encoding="utf-8") == "before"
