"""Words and tables that the page on the records shares."""

import pandas as pd

from pipeline.decisions.records_review import lines_told, value_told
from pipeline.reports.formats import UNKNOWN, count_of
from pipeline.reports.tables import Table

WHOLE_ROWS = 12  # a longer table scrolls, and says so
MOST_ROWS = 2000  # more are counted, not shown: a page of a million rows opens nowhere
_LONGEST_VALUE = 48
# Kind of decision: its noun, what it decides, the output table that holds it.
KINDS = {
    "order": ("order line", "order lines", "what to keep and order of a part", "order_plan"),
    "forecast": ("forecast", "forecasts", "what a family will use of a part", "forecast"),
    "piece": ("place", "places", "a piece in a machine: now, or when it fails", "scope_lines"),
    "choice": ("choice", "choices", "a family, or an open job: fix only, or thorough", "scope_options"),
    "margin": ("margin", "margins", "what a delivered job earned", "job_margins"),
    "hours": ("hours outlook", "hours outlooks", "the hours to quote for a family and scope", "job_hours_outlook"),
    "ready": ("job-ready share", "job-ready shares", "whether a family and scope finds its parts", "job_ready"),
    "need": ("part waited for", "parts waited for", "a part that an open job asks for", "attention, order_plan"),
    "lead_time": ("lead time", "lead times", "how long before a vendor delivers", "lead_times"),
}


def listed(frame, caption, currency, headings=None, dash="unknown"):
    """A table that shows all its rows, or says that it scrolls or is cut.

    Parameters
    ----------
    frame : pandas.DataFrame
        Rows in the order to show. ``line`` is told without thousands apart.
    caption : str
        What the table shows.
    currency : str
        Currency code of the shop.
    headings : dict of str to str, optional
        Words that replace the ones made from a column's name.
    dash : str
        What a dash means.

    Returns
    -------
    pipeline.reports.tables.Table
    """
    is_whole = len(frame) <= WHOLE_ROWS
    caption = caption if is_whole else f"{caption}: {_rows_told(len(frame))}, scroll for the rest"
    frame = frame.head(MOST_ROWS)
    words = {"amount": f"amount, {currency}", "why": "wanted, and what to do"} | (headings or {})
    shown = frame.assign(line=[line_told(line) for line in frame["line"]]) if "line" in frame else frame
    if "value" in shown:
        shown = shown.assign(value=[short(value) for value in shown["value"]])
    return Table(shown, caption, currency, words, dash, is_whole)


def _rows_told(rows):
    return f"{rows:,} rows" if rows <= MOST_ROWS else f"the first {MOST_ROWS:,} of {rows:,} rows"


def line_told(line):
    """A line of a file as it is numbered there.

    Parameters
    ----------
    line : int or missing
        Below 0 where the row was in the store before.

    Returns
    -------
    str

    Examples
    --------
    >>> line_told(1214), line_told(-3), line_told(None)
    ('1214', 'in the store', '—')
    """
    if pd.isna(line):
        return UNKNOWN
    return str(int(line)) if line > 0 else "in the store"


def short(value):
    """A value that fits a column of a table.

    Parameters
    ----------
    value : str or missing
        As it was written.

    Returns
    -------
    str or None

    Examples
    --------
    >>> short("lots"), len(short("x" * 500))
    ('lots', 48)
    """
    if pd.isna(value):
        return None
    return value if len(value) <= _LONGEST_VALUE else f"{value[: _LONGEST_VALUE - 1]}…"


def found(frame):
    """File, lines and what stood there, in words.

    Parameters
    ----------
    frame : pandas.DataFrame
        With ``lines`` (list of int), ``column``, ``value``.

    Returns
    -------
    pandas.DataFrame
        The same with ``lines`` in words and ``description``, what was found.
    """
    told = [value_told(column, short(value)) for column, value in zip(frame["column"], frame["value"], strict=True)]
    lines = [lines_told(each).removeprefix("lines ").removeprefix("line ") for each in frame["lines"]]
    return frame.assign(lines=lines, description=told)


def kinds_told(kinds):
    """Decisions of one file by kind, in a sentence.

    Parameters
    ----------
    kinds : pandas.DataFrame
        Columns ``kind``, ``decisions``, the most numerous first.

    Returns
    -------
    str

    Examples
    --------
    >>> kinds_told(pd.DataFrame({"kind": ["margin", "hours"], "decisions": [227, 1]}))
    '227 margins, 1 hours outlook'
    """
    return ", ".join(count_of(int(row.decisions), *KINDS[row.kind][:2]) for row in kinds.itertuples())
