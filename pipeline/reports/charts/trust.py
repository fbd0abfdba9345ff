"""Charts of how good the forecast was."""

import altair as alt
import numpy as np
import pandas as pd

from pipeline.reports import theme
from pipeline.reports.charts import axes, marks

BINS = 10


def error_by_family(families, calendar, currency, window_days):
    """Error in money of the forecast and of two plainer methods.

    Parameters
    ----------
    families : pandas.DataFrame
        With ``family_name``, ``forecast_money``, ``calendar_money``, ``drawn_money``.
    calendar : str
        Name of the best calendar method.
    currency : str
        Currency code of the shop.
    window_days : int
        Length of the windows.

    Returns
    -------
    altair.Chart
        One row per family in the order of ``families``.
    """
    # What comes last is drawn on top: the forecast must not hide behind a method that is about as good.
    looks = {f"best calendar method ({calendar})": ("calendar_money", theme.AMBER, "triangle-up"),
             "whole jobs drawn again": ("drawn_money", theme.LAGOON, "square"),
             "this forecast": ("forecast_money", theme.MAIN, "circle")}
    axis = {"title": f"error (CRPS) a window, {currency}", "scale": alt.Scale(zero=True)}
    points = marks.named_points(families, "family_name", looks, "error_amount", **axis)
    title = alt.Title(f"How far off forecasts of {window_days} days were", subtitle="further left is better")
    return points.properties(height=alt.Step(30), title=title)


def where_it_fell(transform_share, window_days):
    """Histogram of the randomised probability transform.

    Parameters
    ----------
    transform_share : array_like of float
        Where each observation fell in its distribution, 0 to 1.
    window_days : int
        Length of the windows.

    Returns
    -------
    altair.LayerChart
        Ten bars and the line of a forecast that is right.
    """
    counts, edges = np.histogram(np.asarray(transform_share, dtype=float), bins=BINS, range=(0, 1))
    bins = pd.DataFrame({"from_share": edges[:-1], "to_share": edges[1:], "series_share": counts / counts.sum(),
                         "from_zero": 0.0, "cases": counts})
    bars = alt.Chart(bins).mark_bar(color=theme.MAIN, opacity=0.75, stroke=theme.PAPER).encode(
        alt.X("from_share:Q", title="where it fell in the stated range, lowest to highest",
              axis=alt.Axis(format=".0%", values=[tenth / BINS for tenth in range(BINS + 1)])),
        alt.X2("to_share"), alt.Y("series_share:Q", title="share of cases", axis=alt.Axis(format=".0%", grid=True),
                              scale=alt.Scale(domain=[0, max(0.2, float(bins["series_share"].max()))])),
        alt.Y2("from_zero"),
        tooltip=["cases"])
    line = alt.Chart(pd.DataFrame({"at": [1 / BINS]})).mark_rule(color=theme.INK, strokeDash=[5, 4]).encode(
        alt.Y("at:Q"))
    told = [f"{counts.sum():,} cases of family, part and origin; dashed: a forecast that is right.",
            "High at the ends: ranges too narrow; high in the middle: too wide; high on the left: too much expected."]
    title = alt.Title(f"Where what came fell in forecasts of {window_days} days", subtitle=told)
    return (bars + line).properties(height=220, title=title)


def inside_bands(families, window_days):
    """Share of cases inside the middle 50, 80 and 90 %, with its interval.

    Parameters
    ----------
    families : pandas.DataFrame
        With ``family_name``, ``band_share``, ``inside_share``, ``low_share``, ``high_share``, ``n_series``,
        ``n_origins``.
    window_days : int
        Length of the windows.

    Returns
    -------
    altair.LayerChart
        A row per family and range; tick: what was stated.
    """
    label = [f"{name}: {100 * band:.0f} %" for name, band in families[["family_name", "band_share"]].itertuples(
        index=False)]
    rows = families.assign(row=label)
    base = alt.Chart(rows).encode(axes.rows(rows, "row"))
    axis = {"title": "share of cases inside", "axis": alt.Axis(format=".0%"), "scale": alt.Scale(domain=[0, 1])}
    stated = base.mark_tick(color=theme.INK, thickness=3, height=18).encode(alt.X("band_share:Q", **axis))
    tips = ["row", *(alt.Tooltip(name, format=".0%") for name in ("inside_share", "low_share", "high_share")),
            "n_series", "n_origins"]
    seen = base.mark_point(color=theme.AMBER, shape="diamond", size=80).encode(alt.X("inside_share:Q", **axis),
                                                                               tooltip=tips)
    known = rows.dropna(subset=["low_share"])
    bars = marks.range_bars(alt.Chart(known).encode(axes.rows(rows, "row")), "low_share", "high_share", **axis)
    told = "tick: stated; diamond: seen; bar: where the true share lies 9 times in 10"
    n_origins = int(rows["n_origins"].max())
    told = told if len(known) else f"tick: stated; diamond: seen, in {n_origins} windows only: little to go by"
    title = alt.Title(f"Were the ranges of {window_days} days right?", subtitle=told)
    return ((bars + stated + seen) if len(known) else (stated + seen)).properties(height=axes.step(), title=title)
