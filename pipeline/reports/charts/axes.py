"""Axes that keep the order in which rows arrive."""

import altair as alt

from pipeline.reports import theme


def rows(frame, column, title=None):
    """A vertical axis with one step per value, in row order.

    A layered chart silently drops a sort by another field, so the order is given as the scale's domain.

    Parameters
    ----------
    frame : pandas.DataFrame
        Rows in the order to show.
    column : str
        Column of names.
    title : str, optional
        Axis title.

    Returns
    -------
    altair.Y
        The encoding.
    """
    return alt.Y(f"{column}:N", title=title, sort=None, scale=alt.Scale(domain=names(frame, column)))


def columns(frame, column, title=None):
    """A horizontal axis with one step per value, in row order.

    Parameters
    ----------
    frame : pandas.DataFrame
        Rows in the order to show.
    column : str
        Column of names.
    title : str, optional
        Axis title.

    Returns
    -------
    altair.X
        The encoding.
    """
    return alt.X(
        f"{column}:N",
        title=title,
        sort=None,
        scale=alt.Scale(domain=names(frame, column)),
        axis=alt.Axis(
            labelAngle=0,
            orient="top",
            labelPadding=19,
            ticks=False,
            domain=False,
            labelExpr="split(datum.label, ' ')",
        ),
    )


def names(frame, column):
    """Distinct values of a column in order of first appearance.

    Parameters
    ----------
    frame : pandas.DataFrame
        Rows in the order to show.
    column : str
        Column of names.

    Returns
    -------
    list
        The values.
    """
    return list(dict.fromkeys(frame[column].tolist()))


def named_colours(colours, title=None):
    """A colour scale with fixed colours by name, its legend in the same order.

    Parameters
    ----------
    colours : dict of str to str
        Name to colour, as `pipeline.reports.theme` gives them.
    title : str, optional
        Legend title.

    Returns
    -------
    dict
        ``scale`` and ``legend`` for an Altair colour encoding.
    """
    return {
        "scale": alt.Scale(domain=list(colours), range=list(colours.values())),
        "legend": alt.Legend(title=title, columns=len(colours)),
    }


def named_shapes(shapes):
    """A scale of fixed mark shapes by name.

    Parameters
    ----------
    shapes : dict of str to str
        Name to Vega shape.

    Returns
    -------
    altair.Scale
        For an Altair shape encoding.
    """
    return alt.Scale(domain=list(shapes), range=list(shapes.values()))


def whole_numbers(**look):
    """An axis that names whole numbers only: counts of two or three would otherwise read 0, 1, 1, 2, 2.

    Parameters
    ----------
    **look
        Further properties of the axis.

    Returns
    -------
    altair.Axis
        The axis.
    """
    return alt.Axis(labelExpr="datum.value % 1 ? '' : datum.label", format=",d", **look)


def step():
    """Height of one row.

    Returns
    -------
    altair.Step
        For ``properties(height=...)``.
    """
    return alt.Step(theme.ROW_HEIGHT)
