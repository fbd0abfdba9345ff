"""Axes that keep the order of the rows, name whole numbers only, and fix colours and shapes by name."""

import altair as alt
import pandas as pd
import pytest

from pipeline.reports import chart_rendering, theme
from pipeline.reports.charts import axes

BACKWARDS = pd.DataFrame({"part": ["zinc", "lead", "brass"], "pcs": [1, 2, 3]})


@pytest.fixture(autouse=True)
def our_look():
    chart_rendering.enable()


def labels(chart):
    import re

    return re.findall(r">([a-z]+)</text>", chart_rendering.still(chart.to_dict()))


def test_rows_come_in_the_order_of_the_frame():
    chart = alt.Chart(BACKWARDS).mark_bar().encode(axes.rows(BACKWARDS, "part"), alt.X("pcs:Q", title=None))
    assert labels(chart) == ["zinc", "lead", "brass"]


def test_columns_come_in_the_order_of_the_frame():
    chart = (
        alt.Chart(BACKWARDS)
        .mark_rect()
        .encode(axes.columns(BACKWARDS, "part"), alt.Color("pcs:Q", legend=None))
    )
    assert labels(chart) == ["zinc", "lead", "brass"]


def test_layers_that_sort_differently_still_follow_the_frame():
    bars = alt.Chart(BACKWARDS).mark_bar().encode(axes.rows(BACKWARDS, "part"), alt.X("pcs:Q", title=None))
    shuffled = BACKWARDS.sort_values("pcs", ascending=False)
    ticks = alt.Chart(shuffled).mark_tick().encode(axes.rows(BACKWARDS, "part"), alt.X("pcs:Q"))
    assert labels(bars + ticks) == ["zinc", "lead", "brass"]


def test_a_name_seen_twice_gets_one_row():
    twice = pd.concat([BACKWARDS, BACKWARDS.iloc[:1]])
    assert axes.rows(twice, "part").to_dict()["scale"]["domain"] == ["zinc", "lead", "brass"]


def test_a_title_is_shown_only_where_given():
    assert axes.rows(BACKWARDS, "part").to_dict()["title"] is None
    assert axes.columns(BACKWARDS, "part", "kind of part").to_dict()["title"] == "kind of part"


def test_two_words_of_a_column_stand_on_two_lines():
    assert "split(datum.label" in axes.columns(BACKWARDS, "part").to_dict()["axis"]["labelExpr"]


@pytest.mark.parametrize("most", [1, 2, 3, 7, 40])
def test_only_whole_numbers_are_named_and_each_once(most):
    import re

    frame = pd.DataFrame({"part": ["a"], "pcs": [most]})
    chart = (
        alt.Chart(frame)
        .mark_bar()
        .encode(axes.rows(frame, "part"), alt.X("pcs:Q", title=None, axis=axes.whole_numbers()))
    )
    named = re.findall(r">([\d,.]+)</text>", chart_rendering.still(chart.to_dict()))
    assert len(named) == len(set(named)) and not any("." in one for one in named)
    assert named[0] == "0"


def test_further_looks_of_the_axis_are_kept():
    assert axes.whole_numbers(grid=True).to_dict()["grid"] is True


def test_colours_by_name_carry_their_legend_in_the_same_order():
    found = axes.named_colours({"here": theme.MAIN, "there": theme.BESIDE}, "where")
    scale, legend = found["scale"].to_dict(), found["legend"].to_dict()
    assert scale == {"domain": ["here", "there"], "range": [theme.MAIN, theme.BESIDE]}
    assert legend["title"] == "where" and legend["columns"] == 2


def test_shapes_by_name():
    assert axes.named_shapes({"here": "circle"}).to_dict() == {"domain": ["here"], "range": ["circle"]}


def test_a_step_is_the_height_of_a_row():
    assert axes.step().to_dict() == {"step": theme.ROW_HEIGHT}
