"""Marks that charts share: the long form they are drawn from, ranges, points by name, stacked bars."""

import altair as alt
import pandas as pd
import pytest

from pipeline.reports import chart_rendering, theme
from pipeline.reports.charts import axes, marks

JOBS = pd.DataFrame(
    {"job": ["b", "a"], "seen": [3, 9], "low": [1.0, 2.0], "middle": [2.0, None], "high": [4.0, 8.0]}
)
LOOKS = {"least": ("low", theme.MAIN, "circle"), "most": ("high", theme.BESIDE, "cross")}


@pytest.fixture(autouse=True)
def our_look():
    chart_rendering.enable()


def test_long_form_keeps_rows_and_names_in_order():
    long = marks.long_form(JOBS, "job", {"least": "low", "most": "high"}, "hours")
    assert long[["job", "figure", "hours", "layer"]].values.tolist() == [
        ["b", "least", 1.0, 0],
        ["a", "least", 2.0, 0],
        ["b", "most", 4.0, 1],
        ["a", "most", 8.0, 1],
    ]


def test_long_form_leaves_the_unknown_out_and_never_makes_it_zero():
    long = marks.long_form(JOBS, "job", {"middle": "middle"}, "hours")
    assert long[["job", "hours"]].values.tolist() == [["b", 2.0]]


def test_long_form_keeps_what_else_is_asked_for():
    assert list(marks.long_form(JOBS, ["job", "seen"], {"least": "low"}, "hours")) == [
        "job", "seen", "figure", "layer", "hours",
    ]  # fmt: skip


def test_a_range_goes_from_low_to_high():
    base = alt.Chart(JOBS).encode(axes.rows(JOBS, "job"))
    spec = marks.range_bars(base, "low", "high", title="hours").to_dict()
    assert spec["encoding"]["x"]["field"] == "low" and spec["encoding"]["x2"]["field"] == "high"
    assert spec["encoding"]["x"]["title"] == "hours" and spec["encoding"]["y"]["scale"]["domain"] == ["b", "a"]


def test_points_differ_in_colour_and_in_shape():
    encoding = marks.named_points(JOBS, "job", LOOKS, "hours", title="hours").to_dict()["encoding"]
    assert encoding["color"]["scale"] == {"domain": ["least", "most"], "range": [theme.MAIN, theme.BESIDE]}
    assert encoding["shape"]["scale"] == {"domain": ["least", "most"], "range": ["circle", "cross"]}
    assert encoding["y"]["scale"]["domain"] == ["b", "a"] and encoding["x"]["title"] == "hours"


def test_an_unknown_figure_draws_no_point_but_keeps_its_row():
    spec = marks.named_points(JOBS, "job", {"middle": ("middle", theme.MAIN, "circle")}, "hours").to_dict()
    assert len(next(iter(spec["datasets"].values()))) == 1
    assert spec["encoding"]["y"]["scale"]["domain"] == ["b", "a"]


def test_bars_stack_in_the_order_of_their_names():
    colours = {"least": theme.MAIN, "most": theme.BESIDE}
    long = marks.long_form(JOBS, "job", {"least": "low", "most": "high"}, "amount")
    encoding = marks.stacked_bars(long, JOBS, "job", colours, "amount, EUR", 12).to_dict()["encoding"]
    assert encoding["order"]["field"] == "layer" and encoding["x"]["stack"] == "zero"
    assert encoding["x"]["title"] == "amount, EUR"


def test_a_stack_reaches_the_sum_of_its_parts():
    import re

    long = marks.long_form(JOBS, "job", {"least": "low", "most": "high"}, "amount")
    spec = marks.stacked_bars(long, JOBS, "job", {"least": theme.MAIN, "most": theme.BESIDE}, "x", 12).to_dict()
    widths = re.findall(r'aria-roledescription="bar" d="M([\d.]+),[\d.]+h([\d.]+)', chart_rendering.still(spec))
    ends = sorted(float(start) + float(width) for start, width in widths)
    assert ends[-1] / ends[0] == pytest.approx((2 + 8) / 1, rel=1e-6)  # a: 2 + 8 against b's first bar of 1
