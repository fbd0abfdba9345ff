"""Medians of small groups with an interval that assumes no distribution; margin beside markup."""

import numpy as np
from scipy.special import bdtr, bdtrik

from pipeline.kernels import require
from pipeline.kernels.arguments import group_index


def median_interval(values, group=None, n_groups=None, level=0.9):
    """Median of each group, with an interval between two of its own values and its true coverage.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Any unit; negative ones are fine. Not a number = unknown, left out.
    group : array_like of int, shape (n,), optional
        Group numbers from 0; default all in one.
    n_groups : int, optional
        Number of groups, counting empty ones.
    level : float
        Coverage wanted, 0 to 1.

    Returns
    -------
    median, low, high : ndarray of float, shape (n_groups,)
        Not a number where the group is empty.
    coverage_share : ndarray of float, shape (n_groups,)
        Chance that such an interval holds the median of what the group is drawn from: the narrowest
        symmetric pair of values that reaches ``level``, else the smallest and largest value, whose
        coverage is less (two values: 50 %, four: 87.5 %); 0 with one value or none.
    count : ndarray of int64, shape (n_groups,)
        Known values.

    Raises
    ------
    InvalidParameter
        If lengths differ or ``level`` lies outside 0 to 1.

    References
    ----------
    David & Nagaraja (2003), Order Statistics, 3rd ed., section 7.1.

    Examples
    --------
    >>> median, low, high, coverage_share, count = median_interval([3.0, 1.0, 4.0, 1.5])
    >>> median, low, high, coverage_share
    (array([2.25]), array([1.]), array([4.]), array([0.875]))
    """
    values, level = np.asarray(values, dtype=float), require.share("level", level)
    group, n_groups = group_index(group, values.size, n_groups)
    known = ~np.isnan(values)
    values, group = values[known], group[known]
    order = np.lexsort((values, group))
    values, count = values[order], np.bincount(group, minlength=n_groups)
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    inward, coverage = _pair(count, level)

    def at(place):
        filled = np.append(values, np.nan)
        return np.where(count > 0, filled[np.where(count > 0, first + place, values.size)], np.nan)

    median = (at((count - 1) // 2) + at(count // 2)) / 2
    return median, at(inward), at(np.maximum(count - 1 - inward, 0)), coverage, count


def _pair(count, level):
    """How far from each end the narrowest symmetric pair lies, and its coverage."""
    # 1 - 2 P(fewer than r of n below the median): fails for r = 0, so r is at least 1
    at_least_one, tail = np.maximum(count, 1), (1 - level) / 2
    rank = np.ceil(bdtrik(tail, at_least_one, 0.5))
    rank = np.where(bdtr(np.maximum(rank - 1, 0), at_least_one, 0.5) >= tail, rank - 1, rank)
    rank = np.clip(rank, 1, np.maximum(count // 2, 1))
    coverage = 1 - 2 * bdtr(rank - 1, at_least_one, 0.5)
    return (rank - 1).astype(np.int64), np.where(count > 1, np.maximum(coverage, 0.0), 0.0)


def markup_for_margin(margin_share):
    """Markup on cost that earns a margin on price.

    Parameters
    ----------
    margin_share : array_like of float
        Margin as a share of the price, below 1.

    Returns
    -------
    ndarray of float
        Markup as a share of the cost.

    Raises
    ------
    InvalidParameter
        If a margin is 1 or more: no price reaches it.

    Examples
    --------
    >>> round(float(markup_for_margin(0.30)), 3)
    0.429
    """
    rest = require.positive("1 - margin_share", 1 - np.asarray(margin_share, dtype=float))
    return 1 / rest - 1


def margin_for_markup(markup_share):
    """Margin on price that a markup on cost earns.

    Parameters
    ----------
    markup_share : array_like of float
        Markup as a share of the cost, above -1.

    Returns
    -------
    ndarray of float
        Margin as a share of the price.

    Raises
    ------
    InvalidParameter
        If a markup is -1 or less: there is no price left.

    Examples
    --------
    >>> float(margin_for_markup(0.25))
    0.2
    """
    factor = require.positive("1 + markup_share", 1 + np.asarray(markup_share, dtype=float))
    return (factor - 1) / factor
