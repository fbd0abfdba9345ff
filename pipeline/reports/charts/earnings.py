"""Charts of what jobs earned."""

import altair as alt
import pandas as pd

from pipeline.reports import theme
from pipeline.reports.charts import axes

_SHARES = {"parts": "parts_amount", "own hours": "labour_amount", "overhead": "overhead_amount",
           "other": "other_amount",
           "call-backs": "callback_amount"}


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
    title = f"margin per clock hour, {currency}"
    scopes = theme.SCOPE_COLOURS
    jobs = alt.Chart(margins).mark_point(size=45, opacity=0.7).encode(
        axes.rows(medians, "family_name"), alt.X("margin_per_hour:Q", title=title),
        alt.YOffset("scope_name:N", sort=None, scale=alt.Scale(domain=list(scopes))),
        alt.Color("scope_name:N", **axes.named_colours(scopes)),
        alt.Shape("scope_name:N",
                  scale=alt.Scale(domain=list(scopes), range=list(theme.SCOPE_SHAPES.values()))),
        tooltip=["job", "family_name", "scope_name", alt.Tooltip("margin_per_hour", format=",.2f"),
                 alt.Tooltip("margin_amount", format=",.0f"), alt.Tooltip("hours", format=".1f")])
    middles = alt.Chart(medians).mark_tick(color=theme.INK, thickness=3, height=40).encode(
        axes.rows(medians, "family_name"), alt.X("median_per_hour:Q"),
        tooltip=["family_name", "median_per_hour"])
    return (jobs + middles).properties(height=alt.Step(48, **{"for": "position"}), title=alt.Title(
        "What a job earned per hour", subtitle="one mark per job; black tick: median of the family"))


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
    kinds = {**_SHARES, "margin": "margin_amount"}
    looks = dict(zip(kinds, (theme.AMBER, theme.BLUE, theme.LAGOON, theme.STONE, theme.PLUM, theme.INK),
                     strict=True))
    long = pd.concat([totals[["scope_name"]].assign(kind=kind, amount=totals[column].astype(float),
                                                    layer=layer)
                      for layer, (kind, column) in enumerate(kinds.items())], ignore_index=True)
    return alt.Chart(long.dropna(subset=["amount"])).mark_bar(height=20).encode(
        axes.rows(totals, "scope_name"), alt.X("amount:Q", title=f"per job on average, {currency}",
                                               stack="zero"),
        alt.Color("kind:N", **axes.named_colours(looks)), alt.Order("layer:Q"),
        tooltip=["scope_name", "kind", alt.Tooltip("amount", format=",.0f")],
    ).properties(height=alt.Step(34), title="Where the invoiced money went")


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
    shown = variances.assign(side=(variances["variance_amount"].astype(float) > 0).map(
        {True: "took from the margin", False: "added to the margin"}))
    colours = {"took from the margin": theme.BESIDE, "added to the margin": theme.MAIN}
    return alt.Chart(shown).mark_bar(height=14).encode(
        axes.rows(shown, "label"), alt.X("variance_amount:Q", title=f"difference in margin, {currency}"),
        alt.Color("side:N", **axes.named_colours(colours)),
        tooltip=["label", alt.Tooltip("quoted_amount", format=",.2f"),
                 alt.Tooltip("actual_amount", format=",.2f"),
                 alt.Tooltip("variance_amount", format=",.2f"), "reason"],
    ).properties(height=axes.step(), title="Largest variances, quoted to actual")
