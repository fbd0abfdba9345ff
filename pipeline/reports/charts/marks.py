"""Marks that several charts share: range bars, and figures told apart by colour and shape."""

import altair as alt
import pandas as pd

from pipeline.reports import theme
from pipeline.reports.charts import axes


def range_bars(chart, low, high, **looks):
    """Bars from the low to the high end of a range.

    Parameters
    ----------
    chart : altair.Chart
        With its rows encoded.
    low, high : str
        Columns of the two ends.
    **looks
        Properties of the horizontal axis, such as ``title``.

    Returns
    -------
    altair.Chart
        A layer.
    """
    bars = chart.mark_rule(color=theme.MAIN, strokeWidth=7, opacity=0.35, strokeCap="round")
    return bars.encode(alt.X(f"{low}:Q", **looks), alt.X2(high))


def long_form(frame, row, columns, value):
    """One row per row of a frame and named column, in the order of the names.

    Parameters
    ----------
    frame : pandas.DataFrame
        Rows in the order to show.
    row : str or list of str
        Columns to keep beside each figure.
    columns : dict of str to str
        Name of the figure to its column.
    value : str
        Name of the column the figures go into.

    Returns
    -------
    pandas.DataFrame
        Columns ``row``, ``figure``, ``value``, ``layer``; unknown figures left out.
    """
    kept = [row] if isinstance(row, str) else row
    parts = [
        frame[kept].assign(figure=figure, layer=layer, **{value: frame[column].astype(float)})
        for layer, (figure, column) in enumerate(columns.items())
    ]
    return pd.concat(parts, ignore_index=True).dropna(subset=[value])


def named_points(frame, row, looks, value, **axis):
    """One mark for each named figure of each row, told apart by colour and shape.

    Parameters
    ----------
    frame : pandas.DataFrame
        Rows in the order to show.
    row : str
        Column of row names.
    looks : dict of str to (str, str, str)
        Name of the figure to its column, colour and Vega shape.
    value : str
        What the figures are, with its unit in the name.
    **axis
        Properties of the horizontal axis, such as ``title``.

    Returns
    -------
    altair.Chart
        A layer with its legend.
    """
    long = long_form(frame, row, {name: look[0] for name, look in looks.items()}, value)
    return alt.Chart(long).mark_point(size=85).encode(
        axes.rows(frame, row),
        alt.X(f"{value}:Q", **axis),
        alt.Color("figure:N", **axes.named_colours({name: look[1] for name, look in looks.items()})),
        alt.Shape("figure:N", scale=axes.named_shapes({name: look[2] for name, look in looks.items()})),
        tooltip=[row, "figure", alt.Tooltip(value, format=".3g")],
    )


def stacked_bars(long, frame, row, colours, title, height):
    """Bars stacked from named amounts.

    Parameters
    ----------
    long : pandas.DataFrame
        As `long_form` returns it, with the figures in ``amount``.
    frame : pandas.DataFrame
        Rows in the order to show.
    row : str
        Column of row names.
    colours : dict of str to str
        Name of the figure to its colour.
    title : str
        Title of the horizontal axis, with its unit.
    height : int
        Thickness of a bar.

    Returns
    -------
    altair.Chart
        With its legend.
    """
    return alt.Chart(long).mark_bar(height=height).encode(
        axes.rows(frame, row),
        alt.X("amount:Q", title=title, stack="zero"),
        alt.Color("figure:N", **axes.named_colours(colours)),
        alt.Order("layer:Q"),
        tooltip=[row, "figure", alt.Tooltip("amount", format=",.2f")],
    )
