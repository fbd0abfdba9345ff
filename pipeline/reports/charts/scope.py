"""Charts that put a thorough rebuild beside fixing only what is broken."""

import altair as alt
import pandas as pd

from pipeline.reports import theme
from pipeline.reports.charts import axes

_PURSES = {"the shop, inside the warranty": "shop_cost", "the machine's owner, over five years": "owner_cost"}


def costs_side_by_side(options, currency):
    """What each option costs, call-backs counted, for two purses: expected (bar) and 10-90 % (line).

    Parameters
    ----------
    options : pandas.DataFrame
        Rows of ``scope_options`` for one subject, with ``option_name``.
    currency : str
        Currency code of the shop.

    Returns
    -------
    altair.VConcatChart
        One panel per purse, one row per option in the order of ``options``.
    """
    panels = [_one_purse(options, purse, stem, currency) for purse, stem in _PURSES.items()]
    return alt.vconcat(*panels, spacing=14).resolve_scale(x="shared").properties(title=alt.Title(
        "What each option really costs, call-backs counted", subtitle="bar: expected; line: 8 times in 10"))


def _one_purse(options, purse, stem, currency):
    colours = {name: theme.OPTION_COLOURS[option] for name, option in
               zip(options["option_name"], options["option"], strict=True)}
    base = alt.Chart(options).encode(axes.rows(options, "option_name"))
    bars = base.mark_bar(height=16).encode(
        alt.X(f"{stem}_amount:Q", title=f"cost, {currency}"),
        alt.Color("option_name:N", legend=None,
                  scale=alt.Scale(domain=list(colours), range=list(colours.values()))),
        tooltip=["option_name", *(alt.Tooltip(f"{stem}_{part}amount", format=",.0f")
                                  for part in ("", "low_", "high_"))])
    ranges = base.mark_rule(color=theme.INK, strokeWidth=2).encode(
        alt.X(f"{stem}_low_amount:Q"), alt.X2(f"{stem}_high_amount"))
    ends = [base.mark_tick(color=theme.INK, height=9, thickness=2).encode(alt.X(f"{stem}_{end}_amount:Q"))
            for end in ("low", "high")]
    return alt.layer(bars, ranges, *ends).properties(height=alt.Step(28), title=alt.Title(
        purse, fontSize=12, fontWeight="normal", offset=4))


def break_even_lines(lines):
    """Failures that replacing now avoids, beside the number at which it pays.

    Parameters
    ----------
    lines : pandas.DataFrame
        Rows of ``scope_lines`` with ``part_name``; both numbers of failures known and above 0.

    Returns
    -------
    altair.LayerChart
        One row per line in the order of ``lines``; the scale is logarithmic.
    """
    shown = lines.assign(pays=(lines["failures_avoided"] >= lines["break_even_failures"]).map(
        {True: "pays to replace now", False: "does not pay yet"}))
    colours = {"pays to replace now": theme.MAIN, "does not pay yet": theme.BESIDE}
    base = alt.Chart(shown).encode(axes.rows(shown, "part_name"))
    links = base.mark_rule(strokeWidth=2, opacity=0.5).encode(
        alt.X("failures_avoided:Q", scale=alt.Scale(type="log"), title="failures per machine, logarithmic"),
        alt.X2("break_even_failures"), alt.Color("pays:N", **axes.named_colours(colours)))
    limits = base.mark_tick(color=theme.INK, height=15, thickness=3).encode(alt.X("break_even_failures:Q"))
    avoided = base.mark_point(size=75).encode(
        alt.X("failures_avoided:Q"), alt.Color("pays:N"),
        tooltip=["part_name", "assembly", alt.Tooltip("failures_avoided", format=".2g"),
                 alt.Tooltip("break_even_failures", format=".2g"), "why"])
    return (links + limits + avoided).properties(height=axes.step(), title=alt.Title(
        "Replace now, or wait until it fails?",
        subtitle="dot: failures avoided by a new piece; black tick: the number at which replacing now pays"))


def hours_outlook(outlook):
    """Bench hours a job takes: median, mean and the figure that 80 % of jobs stay under.

    Parameters
    ----------
    outlook : pandas.DataFrame
        Rows of ``job_hours_outlook`` with ``job_type``.

    Returns
    -------
    altair.Chart
        One row per kind of job in the order of ``outlook``.
    """
    looks = {"median": (theme.LAGOON, "circle", "median_hours"), "mean": (theme.MAIN, "square", "mean_hours"),
             "8 jobs in 10 stay under": (theme.BESIDE, "triangle-right", "q80_hours")}
    long = pd.concat([outlook[["job_type", "jobs_seen"]].assign(figure=figure, hours=outlook[column])
                      for figure, (_, _,
                                   column) in looks.items()], ignore_index=True).dropna(subset=["hours"])
    return alt.Chart(long).mark_point(size=85).encode(
        axes.rows(outlook, "job_type"), alt.X("hours:Q", title="hours per job", scale=alt.Scale(zero=True)),
        alt.Color("figure:N", **axes.named_colours({figure: look[0] for figure, look in looks.items()})),
        alt.Shape("figure:N", scale=axes.named_shapes({figure: look[1] for figure, look in looks.items()})),
        tooltip=["job_type", "figure", alt.Tooltip("hours", format=".1f"), "jobs_seen"],
    ).properties(height=alt.Step(26), title=alt.Title(
        "Hours a job takes", subtitle="quote from the mean, not the median: medians do not add up over jobs"))
