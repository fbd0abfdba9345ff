"""Charts of what changes against the year before."""

import altair as alt
import pandas as pd

from pipeline.reports import theme
from pipeline.reports.charts import axes, marks


def change_by_family(families, looks, currency, window_days):
    """The change of each family's money, split; the tick is the whole change.

    Parameters
    ----------
    families : pandas.DataFrame
        With ``family_name``, ``change_amount`` and the columns of ``looks``.
    looks : dict of str to str
        Words for each share of the change to its column, three of them.
    currency : str
        Currency code of the shop.
    window_days : int
        Length of the window.

    Returns
    -------
    altair.LayerChart
        One row per family in the order of ``families``.
    """
    colours = dict(zip(looks, (theme.BLUE, theme.AMBER, theme.LAGOON), strict=True))
    long = marks.long_form(families, "family_name", looks, "amount")
    title = f"more or less than a year before, {currency}"
    bars = marks.stacked_bars(long, families, "family_name", colours, title, 18)
    zero = alt.Chart(pd.DataFrame({"at": [0.0]})).mark_rule(color=theme.QUIET_INK, strokeWidth=1).encode(alt.X("at:Q"))
    whole = alt.Chart(families).mark_tick(color=theme.INK, thickness=3, height=26).encode(
        axes.rows(families, "family_name"), alt.X("change_amount:Q"),
        tooltip=["family_name", alt.Tooltip("before_amount", format=",.0f"),
                 alt.Tooltip("expected_amount", format=",.0f")])
    told = "right of the line: adds; left: takes away; black tick: all three together"
    head = alt.Title(f"What changes, next {window_days} days against a year before", subtitle=told)
    return (bars + zero + whole).properties(height=alt.Step(34), title=head)
