"""Charts of the records themselves."""

import altair as alt

from pipeline.reports import theme
from pipeline.reports.charts import axes


def remarks_by_file(remarks):
    """How many remarks the last load made about each file, by outcome.

    Parameters
    ----------
    remarks : pandas.DataFrame
        Columns ``file``, ``outcome`` (``set_aside``, ``repaired``, ``noted``), ``remarks``.

    Returns
    -------
    altair.Chart
        One row per file in the order of ``remarks``.
    """
    outcomes = remarks["outcome"].str.replace("_", " ")
    shown = remarks.assign(outcome=outcomes, layer=outcomes.map(list(theme.OUTCOME_COLOURS).index))
    return (
        alt.Chart(shown)
        .mark_bar(height=14)
        .encode(
            axes.rows(shown, "file"),
            alt.X("remarks:Q", title="remarks", axis=axes.whole_numbers()),
            alt.Color("outcome:N", **axes.named_colours(theme.OUTCOME_COLOURS)),
            alt.Order("layer:Q"),
            tooltip=["file", "outcome", "remarks"],
        )
        .properties(height=axes.step(), title="What the load remarked, by file")
    )


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
