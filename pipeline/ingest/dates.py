"""Days in other spellings: taken only when the whole column reads one way."""

import re

import pandas as pd

from pipeline.store.validate import DAY

# Year first in four digits, or a month by name: each reads one way by itself.
PLAIN = ("%Y/%m/%d", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M",
         "%d %b %Y", "%d %B %Y", "%b %d, %Y", "%B %d, %Y")
# As spreadsheet programs save a day that they recognised.
SAVED = ("%d-%b-%y", "%d-%b-%Y")
_STROKES = re.compile(r"^(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})$")
# Numbers alone may be in any of these orders; points and dashes are read as strokes.
ORDERS = {"day first": ("%d/%m/%Y", "%d/%m/%y"), "month first": ("%m/%d/%Y", "%m/%d/%y"), "year first": ("%y/%m/%d",)}


def read_days(texts):
    """Read a column of days.

    Parameters
    ----------
    texts : pandas.Series of str
        Trimmed, empty where unknown; each spelling once is enough.

    Returns
    -------
    days : pandas.Series of str
        ISO days where a cell, or all cells of the column together, read one way; the text unchanged elsewhere.
    unread : pandas.Series of str
        For the cells that are days and still do not read one way (by their index): what they could be.
    """
    odd = texts[[text != "" and not re.fullmatch(DAY, text) for text in texts]]
    if odd.empty:
        return texts, odd
    days = texts.copy()
    stroked = odd.str.replace(_STROKES, r"\1/\3/\4", regex=True)
    plain = _read(stroked, PLAIN).dropna()
    days.loc[plain.index] = plain
    readings = pd.DataFrame({order: _read(stroked.drop(plain.index), formats) for order, formats in ORDERS.items()})
    readings = readings.dropna(how="all").astype(object)
    whole = readings.dropna(axis=1)
    if len(readings) and whole.shape[1] and whole.eq(whole.iloc[:, 0], axis=0).all(axis=None):
        days.loc[whole.index] = whole.iloc[:, 0]
        return days, odd.iloc[:0]
    return days, readings.apply(_could_be, axis=1) if len(readings) else odd.iloc[:0]


def readings(text):
    """Return every day that a text may be, alone (set of str, ISO days).

    Examples
    --------
    >>> sorted(readings("3/9/25")), readings("20-Mar-25"), readings("soon")
    (['2025-03-09', '2025-09-03'], {'2025-03-20'}, set())
    """
    stroked = pd.Series([_STROKES.sub(r"\1/\3/\4", text.strip())])
    orders = [_read(stroked, formats)[0] for formats in (*ORDERS.values(), (*PLAIN, *SAVED))]
    return {day for day in orders if day is not None}


def _read(texts, formats):
    days = pd.Series(None, index=texts.index, dtype=object)
    for spelling in formats:
        read = pd.to_datetime(texts, format=spelling, errors="coerce").dt.strftime("%Y-%m-%d").astype(object)
        days = days.where(days.notna(), read.where(read.notna(), None))
    return days


def _could_be(readings):
    days = sorted(set(readings.dropna()))
    if len(days) == 1:
        order = readings.dropna().index[0]
        return f"alone it reads as {days[0]}, {order}, but the column is in more than one order; write {days[0]}"
    return f"could be {' or '.join(days)}; write the day as 2025-03-09"
