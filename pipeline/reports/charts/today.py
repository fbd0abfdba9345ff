"""Charts of the day."""

import altair as alt

from pipeline.reports import theme
from pipeline.reports.charts import axes

KINDS = {"job waits for parts": theme.PLUM, "promised day passed": theme.BLUE, "delivery late": theme.AMBER}


def days_waiting(attention):
    """Days that jobs and deliveries are past their day.

    Parameters
    ----------
    attention : pandas.DataFrame
        Rows of what waits with known ``days``; columns ``what``, ``where``, ``days``, ``what_to_do``.

    Returns
    -------
    altair.Chart
        One row per job or delivery and kind, in the order of ``attention``.
    """
    shown = attention.assign(label=attention["where"] + ": " + attention["what"])
    return (
        alt.Chart(shown)
        .mark_bar(height=13)
        .encode(
            axes.rows(shown, "label"),
            alt.X("days:Q", title="days past the day it was due", axis=axes.whole_numbers()),
            alt.Color("what:N", **axes.named_colours(KINDS)),
            tooltip=["where", "what", "days", "what_to_do"],
        )
        .properties(height=axes.step(), title="How long jobs and deliveries have waited")
    )
