"""Series from a long table: one row per period, series and pieces, to periods by series, in one pass."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels.arguments import same_length, whole


def dense(period, series, pieces, n_periods=None, n_series=None, begin=None):
    """Lay a long table out as periods by series.

    Parameters
    ----------
    period : array_like of int, shape (n_rows,)
        Number of the period, from 0, oldest first.
    series : array_like of int, shape (n_rows,)
        Number of the series, from 0: the codes of a categorical column as they are.
    pieces : array_like of float, shape (n_rows,)
        Pieces used; rows of one period and series are added up.
    n_periods, n_series : int, optional
        Size wanted, counting periods and series without a row; default the largest number + 1.
    begin : array_like of int, shape (n_series,), optional
        First period of each series; earlier ones are missing (nan). Default 0 for all.

    Returns
    -------
    ndarray of float, shape (n_periods, n_series)

    Raises
    ------
    InvalidParameter
        If lengths differ, a number is negative or too large, or a row lies before its series begins.

    Notes
    -----
    The table lists what was used: a period without a row is one in which nothing was, not an unknown one. The order
    of rows does not matter.

    Examples
    --------
    >>> dense([0, 2, 2], [0, 1, 1], [4, 1, 2], n_periods=3, begin=[0, 1])
    array([[ 4., nan],
           [ 0.,  0.],
           [ 0.,  3.]])
    """
    period, series, pieces = same_length(period=period, series=series, pieces=pieces)
    period, n_periods = _numbers("period", period, n_periods)
    series, n_series = _numbers("series", series, n_series)
    place = period.astype(np.int64)
    place *= n_series
    place += series
    made = np.bincount(place, weights=pieces, minlength=n_periods * n_series).reshape(n_periods, n_series)
    if begin is None:
        return made
    is_before = np.arange(n_periods)[:, None] < whole("begin", begin, low=0)
    if is_before[period, series].any():
        first = np.flatnonzero(is_before[period, series])[0]
        raise InvalidParameter(f"row {first} lies in period {period[first]}, before series {series[first]} begins.")
    made[is_before] = np.nan
    return made


def _numbers(name, values, count):
    """Whole numbers from 0, as they are where they come as integers, and how many there may be."""
    values = values if values.dtype.kind in "iu" else whole(name, values)
    if values.size and values.min() < 0:
        raise InvalidParameter(f"{name} holds {values.min()}; wanted whole numbers of at least 0.")
    seen = int(values.max()) + 1 if values.size else 0
    if count is not None and seen > count:
        raise InvalidParameter(f"{name} holds {seen - 1}; wanted numbers from 0 to {count - 1}.")
    return values, seen if count is None else int(count)
