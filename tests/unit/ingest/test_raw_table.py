"""One file or sheet as typed: header, rows, JSON and back."""

import json

import pandas as pd
import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import raw_table
from pipeline.store import catalogue


def table(name, header, *rows):
    return raw_table.as_table(name, f"{name}.csv", header.split(","), [row.split(",") for row in rows],
                              list(range(2, 2 + len(rows))))


def said(raw):
    return {entry.value: entry.suggestion for found in raw.records for entry in found.itertuples()}


def test_a_header_asks_about_names_that_are_near():
    assert said(table("job_parts", "job,part,qty_pcs,used on,colour")) == {
        "used on": "kept, not used; did you mean the column used_on?", "colour": "kept, not used"}


def test_a_header_with_a_machine_may_lack_the_family():
    table("jobs", "job,machine,scope")
    with pytest.raises(RecordsError, match="lacks scope"):
        table("jobs", "job,machine")
    with pytest.raises(RecordsError, match="lacks family"):
        table("jobs", "job,scope")


def test_a_header_is_read_without_capitals_and_blanks_and_names_no_column_twice():
    assert table("parts", " PART ,Description").columns == {"part", "description"}
    with pytest.raises(RecordsError, match="parts.csv: the header names part twice. .*nothing was loaded"):
        table("parts", "part,description,Part")


def test_who_recorded_a_row_may_be_given_where_the_notebook_writes():
    assert table("counts", "part,counted_on,qty_pcs,recorded_in").columns >= {"recorded_in"}
    assert "recorded_in" in raw_table.known_columns(catalogue.tables()["job_parts"])
    jobs = table("jobs", "job,family,scope,recorded_in", "J1,em,refresh,notebook")
    assert jobs.extras == ("recorded_in",) and "recorded_in" not in jobs.columns


def test_short_rows_are_filled_up_and_remarked_and_long_ones_refused():
    raw = table("parts", "part,description,shelf", "a,A", "b,B,1, more ,cells", "c,C,2,,")
    assert raw.frame["shelf"].tolist() == ["", "1", "2"]
    assert [entry.line for found in raw.records for entry in found.itertuples() if entry.rule == "fewer_cells"] == [2]
    assert raw.refused[["line", "value", "rule"]].values.tolist() == [[3, " more  | cells", "more_cells"]]
    assert json.loads(raw.frame["extra"][1]) == {"": [" more ", "cells"]}
    assert raw.frame["extra"][2] is None  # surplus cells with nothing in them are no fault


def test_a_row_as_json_and_back_is_the_same_row():
    header = "part,description,colour,unit_cost"
    raw = table("parts", header, " a ,«Ä»,red,", ",,,1,5,6", "b,=1+1,,2")
    cells = raw_table.as_json(raw.frame)
    assert json.loads(cells[0]) == {"part": " a ", "description": "«Ä»", "unit_cost": "", "colour": "red"}
    assert json.loads(cells[1])[""] == ["5", "6"]
    back = raw_table.from_json("parts", cells)
    pd.testing.assert_frame_equal(back.drop(columns="file_line"), raw.frame.drop(columns="file_line"),
                                  check_like=True)
    assert back["file_line"].tolist() == [1, 2, 3]


def test_rows_of_different_files_together_bear_the_columns_of_any():
    back = raw_table.from_json("counts", ['{"part": "a", "note": "x"}', '{"shelf": "B2", "recorded_in": "notebook"}',
                                          '{"part": null}'])
    assert back[["part", "shelf", "recorded_in"]].values.tolist() == [
        ["a", "", ""], ["", "B2", "notebook"], ["", "", ""]]
    assert back["extra"].tolist() == ['{"note": "x"}', None, None]


def test_what_a_file_says_is_told_apart_from_what_is_read_in_its_place():
    raw = table("parts", "part,description", "a,A")
    assert raw.as_typed is raw.frame
    raw.typed = raw.frame.copy()
    raw.frame.loc[0, "description"] = "B"
    assert raw.as_typed["description"].tolist() == ["A"]
