"""Charts of the records themselves."""

import altair as alt

from pipeline.reports import theme
from pipeline.reports.charts import axes, marks

_COUNTS = {
    "rows that wait": ("rows_waiting", theme.PLUM, "square"),
    "rows set aside in its files": ("rows_set_aside", theme.STONE, "diamond"),
    "cells repaired": ("cells_repaired", theme.BLUE, "circle"),
}


def weeks_recorded(weeks, gaps):
    """Weeks in which something of each kind was written down, and the stretches without that are too long.

    Parameters
    ----------
    weeks : pandas.DataFrame
        Columns ``kind`` (in words), ``week_on`` (first day), ``records``.
    gaps : pandas.DataFrame
        Columns ``kind``, ``from_on``, ``to_on``, ``gap_days``, ``jobs``; may hold no row.

    Returns
    -------
    altair.LayerChart
        One row per kind in the order of ``weeks``.
    """
    ticks = alt.Chart(weeks).mark_tick(color=theme.MAIN, thickness=2, height=16).encode(
        axes.rows(weeks, "kind"),
        alt.X("week_on:T", title="week in which something was written down"),
        tooltip=["kind", "week_on", "records"],
    )
    stretches = alt.Chart(gaps).mark_bar(color=theme.WARNING, opacity=0.75, height=8).encode(
        axes.rows(weeks, "kind"), alt.X("from_on:T"), alt.X2("to_on"),
        tooltip=["kind", "from_on", "to_on", "gap_days", "jobs"],
    )
    told = "tick: a week with records; bar: a stretch without that its rhythm does not explain"
    layers = alt.layer(ticks, stretches) if len(gaps) else alt.layer(ticks)
    title = alt.Title("When was something written down?", subtitle=told)
    return layers.properties(height=alt.Step(26), width=theme.CHART_WIDTH, title=title)


def jobs_recorded(months):
    """Jobs delivered each month, with and without a record of parts.

    Parameters
    ----------
    months : pandas.DataFrame
        Columns ``month_on`` (first day), ``record`` (in words), ``jobs``.

    Returns
    -------
    altair.Chart
        One bar per month.
    """
    colours = {
        "parts recorded": theme.MAIN,
        "really used none": theme.LAGOON,
        "no parts recorded": theme.BESIDE,
    }
    return (
        alt.Chart(months)
        .mark_bar()
        .encode(
            alt.X("month_on:T", title="month of delivery", timeUnit="yearmonth"),
            alt.Y("jobs:Q", title="jobs delivered", axis=axes.whole_numbers(grid=True)),
            alt.Color("record:N", **axes.named_colours(colours)),
            tooltip=["month_on", "record", "jobs"],
        )
        .properties(height=170, width=theme.CHART_WIDTH, title="Do delivered jobs say which parts they used?")
    )


def loads(trend):
    """What each load found, and what waited when it was done.

    Parameters
    ----------
    trend : pandas.DataFrame
        One row per load: ``load`` (in words), ``rows_in``, ``rows_set_aside``, ``rows_waiting``, ``cells_repaired``.

    Returns
    -------
    altair.HConcatChart
        One row per load in the order of ``trend``: rows found on the left, the rest on a scale of its own on the right.
    """
    rows = alt.Chart(trend).mark_bar(height=12).encode(
        axes.rows(trend, "load"), alt.X("rows_in:Q", title="rows in its files", axis=axes.whole_numbers(tickCount=3)),
        tooltip=["load", "rows_in"],
    ).properties(width=190, height=axes.step())
    counts = marks.named_points(trend, "load", _COUNTS, "count", title="rows, or cells",
                                axis=axes.whole_numbers(tickCount=5))
    counts = counts.encode(alt.Y("load:N", axis=None, sort=None, scale=alt.Scale(domain=axes.names(trend, "load"))))
    return alt.hconcat(rows, counts.properties(width=300, height=axes.step()), spacing=24).properties(
        title="What each load found, and what it left waiting")
