"""Charts of the records: gaps where they are, loads in order, units on every axis, no label over another."""

import datetime
import json
import re

import pandas as pd
import pytest

from pipeline.reports import chart_rendering, theme
from pipeline.reports.charts import health

KINDS = ["takings", "hours", "call-backs"]


@pytest.fixture(autouse=True)
def our_look():
    chart_rendering.enable()


@pytest.fixture
def weeks():
    days = pd.date_range("2030-01-07", periods=40, freq="7D")
    return pd.concat([pd.DataFrame({"kind": kind, "week_on": days[n::n + 1], "records": n + 1})
                      for n, kind in enumerate(KINDS)], ignore_index=True)


@pytest.fixture
def gaps():
    ends = {"from_on": [datetime.date(2030, 3, 1)], "to_on": [datetime.date(2030, 5, 1)]}
    return pd.DataFrame({"kind": ["hours"], **ends, "gap_days": [61], "jobs": [4]})


@pytest.fixture
def trend():
    return pd.DataFrame({"load": [f"load {n}, 2031-0{n}-01" for n in (1, 2, 3)], "rows_in": [8000, 8100, 900],
                         "rows_set_aside": [13, 5, 0], "rows_waiting": [13, 16, 2], "cells_repaired": [10, 1, 0]})


def drawn(chart):
    spec = chart.to_dict()
    assert "NaN" not in json.dumps(spec)
    return spec, chart_rendering.still(spec)


def texts(picture):
    return re.findall(r">([^<>]+)</text>", picture)


def marks_in(picture, kind):
    return len(re.findall(f'aria-roledescription="{kind}"', picture))


def test_weeks_are_drawn_by_kind_in_their_order_with_the_gap(weeks, gaps):
    spec, picture = drawn(health.weeks_recorded(weeks, gaps))
    assert [text for text in texts(picture) if text in KINDS] == KINDS
    assert marks_in(picture, "tick") == len(weeks) and marks_in(picture, "bar") == 1
    assert "bar: a stretch without" in chart_rendering.title_of(spec)


def test_without_a_gap_only_weeks_are_drawn(weeks, gaps):
    spec, picture = drawn(health.weeks_recorded(weeks, gaps.iloc[:0]))
    assert marks_in(picture, "tick") == len(weeks) and marks_in(picture, "bar") == 0
    assert len(spec["layer"]) == 1


def test_every_layer_of_weeks_keeps_the_same_order(weeks, gaps):
    spec, _ = drawn(health.weeks_recorded(weeks, gaps))
    assert [layer["encoding"]["y"]["scale"]["domain"] for layer in spec["layer"]] == [KINDS, KINDS]


def test_a_gap_is_told_from_a_week_by_more_than_its_colour(weeks, gaps):
    spec, _ = drawn(health.weeks_recorded(weeks, gaps))
    ticks, stretches = (layer["mark"] for layer in spec["layer"])
    assert (ticks["type"], stretches["type"]) == ("tick", "bar")
    assert (ticks["color"], stretches["color"]) == (theme.MAIN, theme.WARNING)


def test_jobs_are_drawn_by_month_and_record():
    months = pd.DataFrame({"month_on": pd.to_datetime(["2030-11-01", "2030-12-01", "2030-12-01"]),
                           "record": ["parts recorded", "no parts recorded", "really used none"], "jobs": [5, 2, 1]})
    _, picture = drawn(health.jobs_recorded(months))
    assert marks_in(picture, "bar") == 3
    assert "jobs delivered" in texts(picture) and "month of delivery" in texts(picture)


def test_loads_are_drawn_in_order_rows_apart_from_the_rest(trend):
    _, picture = drawn(health.loads(trend))
    shown = texts(picture)
    assert [text for text in shown if text.startswith("load ")] == trend["load"].tolist()  # named once, on the left
    assert "rows in its files" in shown and "rows, or cells" in shown
    assert marks_in(picture, "bar") == 3 and marks_in(picture, "point") == 9


def test_what_waits_what_was_set_aside_and_what_was_repaired_differ_in_shape(trend):
    spec, picture = drawn(health.loads(trend))
    shapes = json.dumps(spec)
    assert all(shape in shapes for shape in ("square", "diamond", "circle"))
    assert {"rows that wait", "rows set aside in its files", "cells repaired"} <= set(texts(picture))


def test_a_load_without_any_trouble_is_drawn_at_nothing(trend):
    spec, _ = drawn(health.loads(trend))
    counts = [row["count"] for rows in spec["datasets"].values() for row in rows if "count" in row]
    assert len(counts) == 9 and counts.count(0) == 2


@pytest.mark.parametrize("loads", [2, 20])
def test_labels_of_loads_do_not_lie_over_one_another(loads):
    names = [f"load {n}, 2031-01-01" for n in range(1, loads + 1)]
    trend = pd.DataFrame({"load": names, "rows_in": range(1, loads + 1), "rows_set_aside": 1, "rows_waiting": 2,
                          "cells_repaired": 3})
    _, picture = drawn(health.loads(trend))
    height = float(re.search(r'height="(\d+)"', picture)[1])
    assert height >= loads * theme.ROW_HEIGHT and float(re.search(r'width="(\d+)"', picture)[1]) < 900
