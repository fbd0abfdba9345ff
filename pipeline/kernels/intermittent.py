"""Calendar forecasts of sparse series, many series at once: mean, Croston, SBA, TSB, aggregation.

A series is a column, a row is a period, oldest first. Each function returns the pieces expected per period from the
next one on: the last row of its namesake in :mod:`pipeline.kernels.calendar_paths`, where conventions, refusals and
sources stand. A series without a single piece is forecast as 0.
"""

import numpy as np

from pipeline.kernels import calendar_paths, require


def mean_rate(series_pcs):
    """Mean pieces per period.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used; nan before a series begins.

    Returns
    -------
    ndarray of float, shape (n_series,)

    Raises
    ------
    InvalidParameter
        If there is no period, a value is negative, or a series has no known period or a gap.

    Examples
    --------
    >>> mean_rate([[0, 2], [1, 2]])
    array([0.5, 2. ])
    """
    return calendar_paths.mean(series_pcs)[-1]


def sizes_and_intervals(series_pcs):
    """Sizes of the uses of one series, and the periods from use to use.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods,)
        Pieces used, every one known.

    Returns
    -------
    size, interval : ndarray, shape (n_uses,)
        Pieces of each use; periods since the use before, the first counted from the period before the series.

    Raises
    ------
    InvalidParameter
        If a value is missing or negative.

    Examples
    --------
    >>> sizes_and_intervals([0, 2, 0, 0, 1])
    (array([2., 1.]), array([2, 3]))
    """
    series = require.not_negative("series_pcs", np.ravel(series_pcs))
    used = np.flatnonzero(series)
    return series[used], np.diff(used, prepend=-1)


def croston(series_pcs, smoothing_share=0.1):
    """Croston's method: smoothed size over smoothed interval, both moved only where pieces were used.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used; nan before a series begins.
    smoothing_share : float
        Weight of the newest size and interval, more than 0 and at most 1.

    Returns
    -------
    ndarray of float, shape (n_series,)
        Pieces per period.

    Raises
    ------
    InvalidParameter
        As for :func:`mean_rate`, or if the smoothing is outside (0, 1].

    Examples
    --------
    >>> croston([[0], [2], [0], [4]], 0.5)  # sizes 2 4, intervals 2 2
    array([1.5])
    """
    return calendar_paths.croston(series_pcs, smoothing_share)[-1]


def croston_state(series_pcs, smoothing_share=0.1):
    """Smoothed size and interval of :func:`croston`, before they are divided.

    Parameters
    ----------
    series_pcs, smoothing_share
        As for :func:`croston`.

    Returns
    -------
    size, interval : ndarray of float, shape (n_series,)
        Pieces per use; periods from use to use. Size 0 and interval 1 where nothing was used.

    Raises
    ------
    InvalidParameter
        As for :func:`croston`.
    """
    size, interval = calendar_paths.croston_states(series_pcs, smoothing_share)
    return size[-1], interval[-1]


def syntetos_boylan(series_pcs, smoothing_share=0.1):
    """Syntetos-Boylan approximation (SBA): Croston's method less its first-order bias.

    Parameters
    ----------
    series_pcs, smoothing_share
        As for :func:`croston`.

    Returns
    -------
    ndarray of float, shape (n_series,)
        Pieces per period: (1 - smoothing / 2) times Croston's.

    Raises
    ------
    InvalidParameter
        As for :func:`croston`.
    """
    return calendar_paths.syntetos_boylan(series_pcs, smoothing_share)[-1]


def teunter_syntetos_babai(series_pcs, size_smoothing_share=0.1, use_smoothing_share=0.1):
    """Teunter-Syntetos-Babai (TSB): smoothed chance of use, moved every period, times smoothed size.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used; nan before a series begins.
    size_smoothing_share, use_smoothing_share : float
        Weight of the newest size and of the newest period, more than 0 and at most 1.

    Returns
    -------
    ndarray of float, shape (n_series,)
        Pieces per period.

    Raises
    ------
    InvalidParameter
        As for :func:`mean_rate`, or if a smoothing is outside (0, 1].

    Examples
    --------
    >>> teunter_syntetos_babai([[2], [0]], 0.1, 0.5)  # chance 1 then 0.5, size 2
    array([1.])
    """
    return calendar_paths.teunter_syntetos_babai(series_pcs, size_smoothing_share, use_smoothing_share)[-1]


def aggregate_disaggregate(series_pcs, smoothing_share=0.1):
    """Aggregation-disaggregation: smooth blocks as long as the usual interval, then share out per period.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used; nan before a series begins.
    smoothing_share : float
        Weight of the newest block, more than 0 and at most 1.

    Returns
    -------
    ndarray of float, shape (n_series,)
        Pieces per period.

    Raises
    ------
    InvalidParameter
        As for :func:`mean_rate`, or if the smoothing is outside (0, 1].

    Examples
    --------
    >>> aggregate_disaggregate([[5], [0], [2], [0], [4]], 0.5)  # intervals 1 2 2: blocks of 2 hold 2, 4
    array([1.5])
    """
    return calendar_paths.aggregate_disaggregate(series_pcs, smoothing_share)[-1]
