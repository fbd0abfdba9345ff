"""Charts of what the machine families will use."""

import altair as alt

from pipeline.reports import theme
from pipeline.reports.charts import axes, marks

_ABOUT_A_PART = ["part_name", alt.Tooltip("expected_pcs", format=".1f"), "q10_pcs", "q90_pcs", "jobs_seen", "method"]


def use_by_family(families, currency, window):
    """Money in parts that each family will use: expected value and 10-90 % range.

    Parameters
    ----------
    families : pandas.DataFrame
        Rows of ``forecast_families`` for one window, with ``family_name``.
    currency : str
        Currency code of the shop.
    window : str
        The window in words, such as ``the next 91 days``.

    Returns
    -------
    altair.LayerChart
        One row per family in the order of ``families``.
    """
    base = alt.Chart(families).encode(axes.rows(families, "family_name"))
    axis = {"title": f"parts used, {currency}", "scale": alt.Scale(zero=True)}
    ranges = marks.range_bars(base, "q10_amount", "q90_amount", **axis)
    medians = base.mark_tick(color=theme.INK, height=16).encode(alt.X("q50_amount:Q"))
    tips = ["family_name", alt.Tooltip("expected_amount", format=",.0f"), "expected_jobs", "jobs_seen"]
    means = base.mark_point(color=theme.MAIN, size=90).encode(alt.X("expected_amount:Q"), tooltip=tips)
    told = "dot: expected; tick: as likely more as less; bar: 8 times in 10"
    title = alt.Title(f"Parts each family will use in {window}", subtitle=told)
    return (ranges + medians + means).properties(height=alt.Step(30), title=title)


def jobs_to_come(families, window):
    """Jobs on the books and still to be booked, with the range of both together.

    Parameters
    ----------
    families : pandas.DataFrame
        Rows of ``coming_jobs`` for one window, with ``family_name``.
    window : str
        The window in words.

    Returns
    -------
    altair.LayerChart
        One row per family in the order of ``families``.
    """
    looks = {"on the books": "known_jobs", "still to be booked": "unbooked_jobs"}
    long = marks.long_form(families, "family_name", looks, "amount")
    colours = dict(zip(looks, (theme.BLUE, theme.LAGOON), strict=True))
    bars = marks.stacked_bars(long, families, "family_name", colours, "jobs", 16)
    base = alt.Chart(families).encode(axes.rows(families, "family_name"))
    span = base.mark_rule(color=theme.INK, strokeWidth=2).encode(alt.X("low_jobs:Q"), alt.X2("high_jobs"),
                                                                 tooltip=["family_name", "low_jobs", "high_jobs"])
    ends = [base.mark_tick(color=theme.INK, height=12).encode(alt.X(f"{end}_jobs:Q")) for end in ("low", "high")]
    told = "bar: expected, part of a job counts as that part; line: all together, 8 times in 10"
    title = alt.Title(f"Jobs that will use their parts in {window}", subtitle=told)
    return alt.layer(bars, span, *ends).properties(height=alt.Step(30), title=title)


def use_by_reason(families, reasons):
    """Uses so far by main reason.

    Parameters
    ----------
    families : pandas.DataFrame
        With ``family_name`` and the columns of ``reasons``.
    reasons : dict of str to str
        Words for a reason to its column, five of them.

    Returns
    -------
    altair.Chart
        One row per family in the order of ``families``.
    """
    colours = dict(zip(reasons, (theme.PLUM, theme.BLUE, theme.LAGOON, theme.AMBER, theme.STONE), strict=True))
    present = {words: column for words, column in reasons.items() if families[column].sum() > 0}
    long = marks.long_form(families, "family_name", present, "amount")
    bars = marks.stacked_bars(long, families, "family_name", {words: colours[words] for words in present},
                              "uses (one job taking one part)", 18)
    title = alt.Title("Why parts were taken so far", subtitle="main reason of each use; call-backs left out")
    return bars.properties(height=alt.Step(30), title=title)


def use_by_part(parts, window, whose):
    """Pieces of each part that will be used, with 50 % and 80 % ranges.

    Parameters
    ----------
    parts : pandas.DataFrame
        Rows of ``forecast_parts``, or of ``forecast`` for one family, for one window, with ``part_name``.
    window, whose : str
        The window, and the family or families, in words.

    Returns
    -------
    altair.LayerChart
        One row per part in the order of ``parts``; a square-root scale, for parts go by the piece and the hundred.
    """
    base = alt.Chart(parts).encode(axes.rows(parts, "part_name"))
    wide = base.mark_rule(color=theme.MAIN, strokeWidth=2, opacity=0.6).encode(
        alt.X("q10_pcs:Q", title="pieces used, square-root scale", scale=alt.Scale(type="sqrt", zero=True)),
        alt.X2("q90_pcs"),
    )
    middle = base.mark_rule(color=theme.MAIN, strokeWidth=8, opacity=0.45)
    middle = middle.encode(alt.X("q25_pcs:Q"), alt.X2("q75_pcs"))
    expected = base.mark_point(color=theme.INK, size=45).encode(alt.X("expected_pcs:Q"), tooltip=_ABOUT_A_PART)
    told = "dot: expected; thick bar: 5 times in 10; thin line: 8 times in 10"
    title = alt.Title(f"Parts used most in {window}, {whose}", subtitle=told)
    return (wide + middle + expected).properties(height=axes.step(), title=title)


def use_map(forecast, window):
    """Expected pieces by part and family as shades with the number written in.

    Parameters
    ----------
    forecast : pandas.DataFrame
        Rows of ``forecast`` for one window, with ``part_name`` and ``family_name``.
    window : str
        The window in words.

    Returns
    -------
    altair.LayerChart
        Parts down, families across, each in the order of ``forecast``.
    """
    is_dark = alt.datum.expected_pcs > float(forecast["expected_pcs"].max()) / 2
    base = alt.Chart(forecast).encode(axes.rows(forecast, "part_name"), axes.columns(forecast, "family_name"))
    shade = alt.Scale(type="sqrt", range=list(theme.HEAT), domainMin=0)
    shades = base.mark_rect(stroke=theme.PAPER, strokeWidth=2).encode(
        alt.Color("expected_pcs:Q", legend=None, scale=shade), tooltip=["family_name", *_ABOUT_A_PART]
    )
    numbers = base.mark_text(fontSize=11).encode(
        alt.Text("expected_pcs:Q", format=".1f"),
        color=alt.condition(is_dark, alt.value(theme.PAPER), alt.value(theme.INK)),
    )
    told = "darker: more pieces; blank: never seen there"
    title = alt.Title(f"Expected pieces by part and family in {window}", subtitle=told)
    return (shades + numbers).properties(height=axes.step(), width=alt.Step(118), title=title)
