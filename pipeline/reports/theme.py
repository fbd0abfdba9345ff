"""Colours, fonts and ink for charts, tables and pages: said here once, used everywhere else by name.

The five series colours keep apart for a reader with any common kind of colour blindness and stand at least
3 to 1 against the paper (WCAG 2.2, success criterion 1.4.11); the two inks for text stand at 7 to 1 and
4.5 to 1. A test simulates the three kinds of colour blindness and measures both. Colour never carries a
meaning alone: marks that differ in colour differ in shape, place or words as well.
"""

INK = "#1c2430"
QUIET_INK = "#55606f"
PAPER = "#ffffff"
SHADE = "#f1f4f7"
RULE = "#d3dae2"
GRID = "#e4e9ee"

BLUE = "#1f4e8c"
AMBER = "#cf7d0a"
LAGOON = "#4f9fb0"
PLUM = "#7a1f4b"
STONE = "#9a8f86"

SERIES = (BLUE, AMBER, LAGOON, PLUM, STONE)
MAIN, BESIDE, FAINT, WARNING = BLUE, AMBER, STONE, PLUM

OPTION_COLOURS = {"fix_only": AMBER, "recommended": LAGOON, "thorough": BLUE}
SCOPE_COLOURS = {"fix only": AMBER, "refresh": LAGOON, "thorough": BLUE}
SCOPE_SHAPES = {"fix only": "circle", "refresh": "triangle-up", "thorough": "square"}
OUTCOME_COLOURS = {"set aside": PLUM, "repaired": BLUE, "noted": STONE}
HEAT = ("#eef3f7", "#a9cdd6", "#4f9fb0", "#1f4e8c")

FONT = "DejaVu Sans, Verdana, Segoe UI, Helvetica Neue, sans-serif"
CHART_WIDTH = 620
ROW_HEIGHT = 22

_SMALL = {"labelFont": FONT, "labelFontSize": 12, "labelColor": INK,
          "titleFont": FONT, "titleFontSize": 12, "titleColor": QUIET_INK, "titleFontWeight": "normal"}
_LINES = {"gridColor": GRID, "domainColor": RULE, "tickColor": RULE}
_TITLE = {"font": FONT, "fontSize": 14, "color": INK, "fontWeight": "bold", "anchor": "start", "offset": 12,
          "subtitleFont": FONT, "subtitleFontSize": 12, "subtitleColor": QUIET_INK, "subtitlePadding": 5}


def chart_config():
    """Look of every chart, as a Vega-Lite ``config`` object.

    Returns
    -------
    dict
        Fonts, inks and mark defaults; no data.

    Examples
    --------
    >>> chart_config()["axis"]["labelColor"] == INK
    True
    """
    return {
        "background": PAPER,
        "font": FONT,
        "view": {"stroke": None, "continuousWidth": CHART_WIDTH},
        "axis": {**_SMALL, **_LINES, "labelLimit": 290, "titlePadding": 8, "labelPadding": 5},
        "axisX": {"tickCount": 8},
        "axisY": {"grid": False, "ticks": False, "labelPadding": 10},
        "legend": {**_SMALL, "orient": "top", "symbolSize": 110, "labelLimit": 290},
        "header": _SMALL,
        "title": _TITLE,
        "range": {"category": list(SERIES), "heatmap": list(HEAT)},
        "bar": {"color": MAIN},
        "tick": {"color": INK, "thickness": 2},
        "rule": {"color": INK, "strokeWidth": 2},
        "point": {"color": MAIN, "filled": True, "size": 70, "opacity": 1},
        "text": {"font": FONT, "color": INK, "fontSize": 12},
    }


def style_variables():
    """Colours and font as CSS custom properties, for the page style sheet.

    Returns
    -------
    str
        One ``:root`` rule.

    Examples
    --------
    >>> "--ink: #1c2430" in style_variables()
    True
    """
    named = {
        "ink": INK,
        "quiet-ink": QUIET_INK,
        "paper": PAPER,
        "shade": SHADE,
        "rule": RULE,
        "main": MAIN,
        "beside": BESIDE,
        "warning": WARNING,
        "font": FONT,
    }
    return ":root { " + "; ".join(f"--{name}: {value}" for name, value in named.items()) + " }"


TABLE_STYLE = f"""
.shop-table {{ position: relative; max-height: 30rem; overflow: auto; margin: .5rem 0 .2rem; border: 1px solid {RULE};
  border-radius: 4px; }}
.shop-table.whole {{ max-height: none; }}
.shop-table table {{ border-collapse: collapse; width: 100%; font: .86rem/1.4 {FONT}; color: {INK};
  font-variant-numeric: tabular-nums; margin: 0; }}
.shop-table caption {{ text-align: left; font-weight: bold; padding: .45rem .6rem; caption-side: top; }}
.shop-table th, .shop-table td {{ padding: .28rem .6rem; text-align: right; white-space: nowrap;
  border-bottom: 1px solid {RULE}; }}
.shop-table thead th {{ position: sticky; top: 0; background: {SHADE}; vertical-align: bottom;
  white-space: normal; }}
.shop-table tbody th {{ font-weight: normal; }}
.shop-table table tr .words {{ text-align: left; }}
.shop-table table tr .long {{ text-align: left; white-space: normal; min-width: 15rem; max-width: 44rem; }}
.shop-table table tr .wrapped {{ text-align: left; white-space: normal; min-width: 9rem; }}
.shop-table .unknown {{ color: {QUIET_INK}; }}
.shop-table .spoken {{ position: absolute; clip-path: inset(50%); width: 1px; height: 1px;
  overflow: hidden; }}
.shop-table + .key {{ color: {QUIET_INK}; font: .78rem/1.4 {FONT}; margin: 0 0 1rem; }}
.shop-note {{ border-left: 4px solid {BESIDE}; background: {SHADE}; padding: .5rem .8rem; margin: .6rem 0;
  font: .92rem/1.45 {FONT}; color: {INK}; }}
.shop-note.warning {{ border-left-color: {WARNING}; }}
@media print {{ .shop-table {{ position: relative; max-height: none; overflow: visible; border: 0; }}
  .shop-table thead {{ display: table-header-group; }} .shop-table thead th {{ position: static; }}
  .shop-table tr {{ break-inside: avoid; }} }}
"""
