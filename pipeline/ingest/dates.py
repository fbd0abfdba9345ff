"""Days in other spellings: taken only when the whole column reads one way."""

import pandas as pd

from pipeline.store.validate import DAY

# Day-first and month-first spellings of the same shape are tried side by side.
SPELLINGS = ("%d/%m/%Y", "%m/%d/%Y", "%d.%m.%Y", "%d-%m-%Y", "%m-%d-%Y", "%Y/%m/%d", "%Y.%m.%d", "%d %b %Y", "%d %B %Y",
             "%b %d, %Y", "%B %d, %Y", "%d/%m/%y", "%m/%d/%y", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S")


def read_days(texts):
    """Read a column of days.

    Parameters
    ----------
    texts : pandas.Series of str
        Trimmed, empty where unknown.

    Returns
    -------
    pandas.Series of str
        ISO days where the column reads one way, the text unchanged elsewhere.
    list of str
        The readings that every odd cell allows where they disagree (then nothing is changed).
    """
    odd = texts[(texts != "") & ~texts.str.fullmatch(DAY)]
    readings = {}
    for spelling in SPELLINGS if len(odd) else ():
        days = pd.to_datetime(odd, format=spelling, errors="coerce")
        if days.notna().all():
            readings.setdefault(tuple(days.dt.strftime("%Y-%m-%d")), spelling)
    if len(readings) != 1:
        return texts, list(readings.values())
    read = texts.copy()
    read.loc[odd.index] = next(iter(readings))
    return read, []
