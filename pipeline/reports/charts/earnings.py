"""Charts of what jobs earned."""

import altair as alt

from pipeline.reports import theme
from pipeline.reports.charts import axes, marks

_MONEY = {
    "parts": ("parts_amount", theme.AMBER),
    "own hours": ("labour_amount", theme.BLUE),
    "overhead": ("overhead_amount", theme.LAGOON),
    "other": ("other_amount", theme.STONE),
    "call-backs": ("callback_amount", theme.PLUM),
    "margin": ("margin_amount", theme.INK),
}
_SIDES = {"took from the margin": theme.BESIDE, "added to the margin": theme.MAIN}


def margin_per_hour(margins, medians, currency):
    """Margin per clock hour of every job, with the median of its family.

    Parameters
    ----------
    margins : pandas.DataFrame
        Rows of ``job_margins`` with ``family_name``, ``scope_name`` and known ``margin_per_hour``.
    medians : pandas.DataFrame
        One row per family in the order to show: ``family_name``, ``median_per_hour``.
    currency : str
        Currency code of the shop.

    Returns
    -------
    altair.LayerChart
        One row per family, one mark per job; shape and colour give the scope.
    """
    families = axes.rows(medians, "family_name")
    jobs = alt.Chart(margins).mark_point(size=45, opacity=0.7).encode(
        families,
        alt.X("margin_per_hour:Q", title=f"margin per clock hour, {currency}"),
        alt.YOffset("scope_name:N", sort=None, scale=alt.Scale(domain=list(theme.SCOPE_COLOURS))),
        alt.Color("scope_name:N", **axes.named_colours(theme.SCOPE_COLOURS)),
        alt.Shape("scope_name:N", scale=axes.named_shapes(theme.SCOPE_SHAPES)),
        tooltip=["job", "family_name", "scope_name", *_figures(",.2f", "margin_per_hour", "margin_amount", "hours")],
    )
    middles = alt.Chart(medians).mark_tick(color=theme.INK, thickness=3, height=40).encode(
        families, alt.X("median_per_hour:Q"), tooltip=["family_name", *_figures(",.2f", "median_per_hour")]
    )
    title = alt.Title("What a job earned per hour", subtitle="one mark per job; black tick: median of the family")
    return (jobs + middles).properties(height=alt.Step(48, **{"for": "position"}), title=title)


def where_money_went(totals, currency):
    """What was invoiced, split into costs and margin, per job of each scope on average.

    Parameters
    ----------
    totals : pandas.DataFrame
        One row per scope in the order to show, with ``scope_name``, the cost columns of ``job_margins`` and
        ``margin_amount`` as means per job.
    currency : str
        Currency code of the shop.

    Returns
    -------
    altair.Chart
        One row per scope; a loss is drawn left of zero.
    """
    long = marks.long_form(totals, "scope_name", {name: look[0] for name, look in _MONEY.items()}, "amount")
    colours = {name: look[1] for name, look in _MONEY.items()}
    chart = marks.stacked_bars(long, totals, "scope_name", colours, f"per job on average, {currency}", 20)
    return chart.properties(height=alt.Step(34), title="Where the invoiced money went")


def largest_variances(variances, currency):
    """Variances from quoted to actual: what took from the margin to the right, what added to it to the left.

    Parameters
    ----------
    variances : pandas.DataFrame
        Rows of ``variances`` with ``label`` (job and kind in words).
    currency : str
        Currency code of the shop.

    Returns
    -------
    altair.Chart
        One row per variance in the order of ``variances``.
    """
    took, added = _SIDES
    is_taken = variances["variance_amount"].astype(float) > 0
    shown = variances.assign(side=is_taken.map({True: took, False: added}))
    bars = alt.Chart(shown).mark_bar(height=14).encode(
        axes.rows(shown, "label"),
        alt.X("variance_amount:Q", title=f"difference in margin, {currency}"),
        alt.Color("side:N", **axes.named_colours(_SIDES)),
        tooltip=["label", *_figures(",.2f", "quoted_amount", "actual_amount", "variance_amount"), "reason"],
    )
    return bars.properties(height=axes.step(), title="Largest variances, quoted to actual")


def _figures(form, *columns):
    return [alt.Tooltip(column, format=form) for column in columns]
