"""Pieces that jobs used by family, part and month, counted back from one day: what calendar methods look at."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import calendar_table
from pipeline.store import read

MONTH_DAYS = 365 / 12  # so that 365 days are twelve months, and 91 are three but for a quarter of a day


@dataclass(frozen=True)
class CalendarHistory:
    """Use by month.

    Attributes
    ----------
    series : pandas.DataFrame
        family, part of each column.
    used_pcs : numpy.ndarray of float, shape (n_months, n_series)
        Pieces used by jobs, call-backs left out, oldest month first; the newest ends with the day.
    """

    series: pd.DataFrame
    used_pcs: np.ndarray


def fit(connection, today):
    """Read the use by month.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store, whole or as of ``today``.
    today : datetime.date
        The newest month ends with this day; later use is left out.

    Returns
    -------
    CalendarHistory
        Whole months since the first use of anything; use before them is left out. No month where nothing was used.
    """
    used = read.query(connection, """
        select family, part, used_on, used_pcs from use_days
        where not is_callback and used_on <= ? order by family, part, used_on""", [today])
    series = used[["family", "part"]].drop_duplicates().reset_index(drop=True)
    if used.empty:
        return CalendarHistory(series, np.zeros((0, 0)))
    age = (pd.Timestamp(today) - used["used_on"]).dt.days.to_numpy(dtype=float)
    n_months = int((age.max() + 1) // MONTH_DAYS)
    back = np.floor(age / MONTH_DAYS).astype(np.int64)
    place = pd.MultiIndex.from_frame(series).get_indexer(pd.MultiIndex.from_frame(used[["family", "part"]]))
    kept = back < n_months
    pieces = used["used_pcs"].to_numpy(dtype=float)[kept]
    return CalendarHistory(series, calendar_table.dense(n_months - 1 - back[kept], place[kept], pieces, n_months,
                                                        len(series)))
