"""Draw Altair charts without a network: live in JupyterLab and on pages, as stills for print.

JupyterLab 4.6 draws charts with its own Vega-Lite 5 and knows only that media type, while Altair 6 announces
version 6; pages carry one copy of Vega that draws either. Both therefore receive the version 5 media type.
"""

import datetime
import decimal
from functools import cache

MEDIA_TYPE = "application/vnd.vegalite.v5+json"
SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"
STILL_TYPE = "image/svg+xml"
BUNDLE_VERSION = "6.4"
MENU = {"renderer": "svg", "actions": {"export": True, "source": False, "compiled": False, "editor": False}}


def still(spec):
    """Draw a chart as an SVG picture.

    Parameters
    ----------
    spec : dict
        A Vega-Lite specification with its data inside.

    Returns
    -------
    str
        SVG source.
    """
    import vl_convert

    return vl_convert.vegalite_to_svg(spec, vl_version=BUNDLE_VERSION)


def picture(spec, scale=1.5):
    """Draw a chart as a PNG picture.

    Parameters
    ----------
    spec : dict
        A Vega-Lite specification with its data inside.
    scale : float
        Pixels per chart unit.

    Returns
    -------
    bytes
        PNG file content.
    """
    import vl_convert

    return vl_convert.vegalite_to_png(spec, vl_version=BUNDLE_VERSION, scale=scale)


def bundle(spec):
    """Everything a notebook or page needs to show one chart.

    Parameters
    ----------
    spec : dict
        A Vega-Lite specification with its data inside.

    Returns
    -------
    content, metadata : dict of str to object
        By media type; the metadata leaves the menu entries out that would call a web site.
    """
    spec = {**spec, "$schema": SCHEMA}
    shown = {MEDIA_TYPE: spec, "text/plain": f"chart: {title_of(spec)}"}
    return shown, {MEDIA_TYPE: {"embed_options": MENU}}


def title_of(spec):
    """Title of a chart in words, for screen readers and plain terminals.

    Parameters
    ----------
    spec : dict
        A Vega-Lite specification.

    Returns
    -------
    str
        The title, with its subtitle after a full stop where there is one.

    Examples
    --------
    >>> title_of({"title": {"text": "Stock", "subtitle": "pieces"}})
    'Stock. pieces'
    >>> title_of({})
    'untitled'
    """
    title = spec.get("title") or "untitled"
    if isinstance(title, str):
        return title
    parts = [title.get("text", "untitled"), title.get("subtitle", "")]
    return ". ".join(" ".join(part) if isinstance(part, list) else part for part in parts if part)


def enable():
    """Show every Altair chart of this process in our look and through our media type."""
    import altair

    from pipeline.reports import theme

    altair.theme.register("workshop", enable=True)(
        lambda: altair.theme.ThemeConfig(config=theme.chart_config())
    )
    altair.renderers.register("workshop", bundle)
    altair.renderers.enable("workshop")
    altair.data_transformers.register("workshop", plain_values)
    altair.data_transformers.enable("workshop")


def plain_values(data):
    """Chart data as JSON can carry it: exact money as numbers, dates as ISO text.

    Parameters
    ----------
    data : pandas.DataFrame
        Rows of one chart, however many.

    Returns
    -------
    dict
        ``values``, a list of rows; the unknown is null.
    """
    import altair

    exact = [column for column in data if data[column].map(type).isin([decimal.Decimal]).any()]
    dates = [column for column in data if data[column].map(type).eq(datetime.date).any()]
    plain = data.assign(
        **{column: data[column].astype(float) for column in exact},
        **{column: data[column].map(str, na_action="ignore") for column in dates},
    )
    return altair.to_values(plain)


@cache
def drawing_script():
    """Vega, Vega-Lite and Vega-Embed as one script, from the installed vl-convert package.

    Returns
    -------
    str
        JavaScript that sets ``window.vegaEmbed``.
    """
    import vl_convert

    return vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;", vl_version=BUNDLE_VERSION)
