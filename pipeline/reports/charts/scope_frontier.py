"""The picture of the choice: what each scope of work costs in all against how often the machine comes back."""

import altair as alt

from pipeline.reports import theme
from pipeline.reports.charts import axes

# The recommended scope often stands close to fixing only: its name goes to the other side.
_PLACES = (
    (("fix_only", "thorough"), {"align": "left", "dx": 10, "dy": -9}),
    (("recommended",), {"align": "right", "dx": -10, "dy": 13}),
)


def frontier(frontier, options, quiet_share, currency):
    """Whole cost against the chance of a call-back: the line of best scopes, and the three options.

    Parameters
    ----------
    frontier : pandas.DataFrame
        Rows of ``scope_frontier`` for one subject with ``callback_share``.
    options : pandas.DataFrame
        One row per option: ``option_name``, ``option``, ``callback_share``, ``total_amount``.
    quiet_share : float
        Chance of no call-back that was asked for.
    currency : str
        Currency code of the shop.

    Returns
    -------
    altair.LayerChart
    """
    named = zip(options["option_name"], options["option"], strict=True)
    colours = axes.named_colours({name: theme.OPTION_COLOURS[option] for name, option in named})
    x = alt.X("callback_share:Q", title="chance of a call-back inside the warranty", axis=alt.Axis(format=".1%"),
              scale=alt.Scale(zero=False, padding=24))
    y = alt.Y("total_amount:Q", title=f"work now and call-backs over five years, {currency}",
              scale=alt.Scale(zero=False, padding=24))
    tips = [alt.Tooltip("callback_share:Q", format=".1%"),
            *(alt.Tooltip(f"{name}_amount:Q", format=",.0f") for name in ("now", "later", "total"))]
    line = alt.Chart(frontier).mark_line(color=theme.QUIET_INK, interpolate="step-after", strokeWidth=1.5).encode(x, y)
    dots = alt.Chart(frontier).mark_point(color=theme.QUIET_INK, size=18).encode(x, y, tooltip=tips)
    asked = alt.Chart(frontier.head(1).assign(asked=1 - quiet_share)).mark_rule(
        color=theme.WARNING, strokeDash=[4, 4], strokeWidth=1.5).encode(alt.X("asked:Q"))
    marks = alt.Chart(options).mark_point(size=130).encode(
        x, y, alt.Color("option_name:N", **colours), alt.Shape("option_name:N", legend=None),
        tooltip=["option_name", *tips])
    named = [(options[options["option"].isin(names)], place) for names, place in _PLACES]
    words = [alt.Chart(rows).mark_text(**place).encode(x, y, alt.Text("option_name:N")) for rows, place in named]
    told = "dots: scopes that nothing cheaper makes as quiet; dashed: the most call-backs asked for"
    title = alt.Title("Between fixing only and thorough", subtitle=told)
    return alt.layer(line, asked, dots, marks, *words).properties(height=300, title=title)
