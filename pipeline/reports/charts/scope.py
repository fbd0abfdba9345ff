"""Charts that put a thorough rebuild beside fixing only what is broken."""

import altair as alt

from pipeline.reports import theme
from pipeline.reports.charts import axes, marks

_PURSES = {"the shop, inside the warranty": "shop_cost", "the machine's owner, over five years": "owner_cost"}
_PAYS = {"pays to replace now": theme.MAIN, "does not pay yet": theme.BESIDE}
_HOURS = {
    "median": ("median_hours", theme.LAGOON, "circle"),
    "mean": ("mean_hours", theme.MAIN, "square"),
    "8 jobs in 10 stay under": ("q80_hours", theme.BESIDE, "triangle-right"),
}


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
    told = "bar: expected; line: 8 machines in 10, one machine's luck included"
    title = alt.Title("What each option really costs, call-backs counted", subtitle=told)
    return alt.vconcat(*panels, spacing=14).resolve_scale(x="shared").properties(title=title)


def _one_purse(options, purse, stem, currency):
    low, high = f"{stem}_low_amount", f"{stem}_high_amount"
    named = zip(options["option_name"], options["option"], strict=True)
    colours = axes.named_colours({name: theme.OPTION_COLOURS[option] for name, option in named})
    base = alt.Chart(options).encode(axes.rows(options, "option_name"))
    tips = ["option_name", *(alt.Tooltip(column, format=",.0f") for column in (f"{stem}_amount", low, high))]
    bars = base.mark_bar(height=16).encode(
        alt.X(f"{stem}_amount:Q", title=f"cost, {currency}"),
        alt.Color("option_name:N", legend=None, scale=colours["scale"]),
        tooltip=tips,
    )
    ranges = base.mark_rule(color=theme.INK, strokeWidth=2).encode(alt.X(f"{low}:Q"), alt.X2(high))
    end = base.mark_tick(color=theme.INK, height=9, thickness=2)
    layers = alt.layer(bars, ranges, end.encode(alt.X(f"{low}:Q")), end.encode(alt.X(f"{high}:Q")))
    title = alt.Title(purse, fontSize=12, fontWeight="normal", offset=4)
    return layers.properties(height=alt.Step(28), title=title)


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
    pays, not_yet = _PAYS
    is_paying = lines["failures_avoided"] >= lines["break_even_failures"]
    shown = lines.assign(pays=is_paying.map({True: pays, False: not_yet}))
    base = alt.Chart(shown).encode(axes.rows(shown, "part_name"))
    links = base.mark_rule(strokeWidth=2, opacity=0.5).encode(
        alt.X("failures_avoided:Q", scale=alt.Scale(type="log"), title="failures per machine, logarithmic"),
        alt.X2("break_even_failures"),
        alt.Color("pays:N", **axes.named_colours(_PAYS)),
    )
    limits = base.mark_tick(color=theme.INK, height=15, thickness=3).encode(alt.X("break_even_failures:Q"))
    figures = [alt.Tooltip(column, format=".2g") for column in ("failures_avoided", "break_even_failures")]
    avoided = base.mark_point(size=75).encode(
        alt.X("failures_avoided:Q"), alt.Color("pays:N"), tooltip=["part_name", "assembly", *figures, "why"]
    )
    told = "dot: failures avoided by a new piece; black tick: the number at which replacing now pays"
    title = alt.Title("Replace now, or wait until it fails?", subtitle=told)
    return (links + limits + avoided).properties(height=axes.step(), title=title)


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
    axis = {"title": "hours per job", "scale": alt.Scale(zero=True)}
    points = marks.named_points(outlook, "job_type", _HOURS, "hours", **axis)
    told = "quote from the mean, not the median: medians do not add up over jobs"
    return points.properties(height=alt.Step(26), title=alt.Title("Hours a job takes", subtitle=told))
