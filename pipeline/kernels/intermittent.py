"""Calendar forecasts of sparse series, many series at once: mean, Croston, SBA, TSB, aggregation.

A series is a column, a row is a period, oldest first; every value is known. Each function returns the pieces
expected per period from the next one on. A series without a single piece is forecast as 0.
"""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require


def mean_rate(series_pcs):
    """Mean pieces per period.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used.

    Returns
    -------
    ndarray of float, shape (n_series,)

    Raises
    ------
    InvalidParameter
        If there is no period, or a value is missing or negative.

    Examples
    --------
    >>> mean_rate([[0, 2], [1, 2]])
    array([0.5, 2. ])
    """
    return _checked(series_pcs).mean(axis=0)


def sizes_and_intervals(series_pcs):
    """Sizes of the uses of one series, and the periods from use to use.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods,)
        Pieces used.

    Returns
    -------
    size, interval : ndarray, shape (n_uses,)
        Pieces of each use; periods since the use before, the first counted from the period before the series.

    Raises
    ------
    InvalidParameter
        If there is no period, or a value is missing or negative.

    Examples
    --------
    >>> sizes_and_intervals([0, 2, 0, 0, 1])
    (array([2., 1.]), array([2, 3]))
    """
    series = _checked(np.reshape(series_pcs, (-1, 1)))[:, 0]
    used = np.flatnonzero(series)
    return series[used], np.diff(used, prepend=-1)


def croston(series_pcs, smoothing_share=0.1):
    """Croston's method: smoothed size over smoothed interval, both moved only where pieces were used.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used.
    smoothing_share : float
        Weight of the newest size and interval, more than 0 and at most 1.

    Returns
    -------
    ndarray of float, shape (n_series,)
        Pieces per period.

    Raises
    ------
    InvalidParameter
        If a value is missing or negative, or the smoothing is outside (0, 1].

    Notes
    -----
    Conventions: both averages start from the first size and the first interval; the first interval is counted
    from the period before the series begins; periods after the last use change nothing.

    References
    ----------
    Croston (1972), Operational Research Quarterly 23, 289-303.

    Examples
    --------
    >>> croston([[0], [2], [0], [4]], 0.5)  # sizes 2 4, intervals 2 2
    array([1.5])
    """
    size, interval = croston_state(series_pcs, smoothing_share)
    return size / interval


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
    series, smoothing = _checked(series_pcs), _smoothing("smoothing_share", smoothing_share)
    size, interval = np.zeros(series.shape[1]), np.ones(series.shape[1])
    since, is_begun = np.zeros(series.shape[1]), np.zeros(series.shape[1], dtype=bool)
    for row in series:
        since += 1
        is_used = row > 0
        weight = np.where(is_begun, smoothing, 1.0) * is_used
        size += weight * (row - size)
        interval += weight * (since - interval)
        since[is_used] = 0
        is_begun |= is_used
    return size, interval


def syntetos_boylan(series_pcs, smoothing_share=0.1):
    """Syntetos-Boylan approximation (SBA): Croston's method less its first-order bias.

    Parameters
    ----------
    series_pcs, smoothing_share
        As for :func:`croston`, whose conventions hold.

    Returns
    -------
    ndarray of float, shape (n_series,)
        Pieces per period: (1 - smoothing / 2) times Croston's.

    Raises
    ------
    InvalidParameter
        As for :func:`croston`.

    References
    ----------
    Syntetos & Boylan (2005), International Journal of Forecasting 21, 303-314.
    """
    return (1 - _smoothing("smoothing_share", smoothing_share) / 2) * croston(series_pcs, smoothing_share)


def teunter_syntetos_babai(series_pcs, size_smoothing_share=0.1, use_smoothing_share=0.1):
    """Teunter-Syntetos-Babai (TSB): smoothed chance of use, moved every period, times smoothed size.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used.
    size_smoothing_share, use_smoothing_share : float
        Weight of the newest size and of the newest period, more than 0 and at most 1.

    Returns
    -------
    ndarray of float, shape (n_series,)
        Pieces per period.

    Raises
    ------
    InvalidParameter
        If a value is missing or negative, or a smoothing is outside (0, 1].

    Notes
    -----
    Conventions: the chance starts at 1 if the first period saw use, else 0; the size starts at the first size.
    An obsolete part fades, which Croston's method never lets it.

    References
    ----------
    Teunter, Syntetos & Babai (2011), European Journal of Operational Research 214, 606-615.

    Examples
    --------
    >>> teunter_syntetos_babai([[2], [0]], 0.1, 0.5)  # chance 1 then 0.5, size 2
    array([1.])
    """
    series = _checked(series_pcs)
    of_size = _smoothing("size_smoothing_share", size_smoothing_share)
    of_use = _smoothing("use_smoothing_share", use_smoothing_share)
    is_used = series > 0
    chance = is_used[0].astype(float)
    first = is_used.argmax(axis=0)
    size = np.take_along_axis(series, first[None], axis=0)[0]
    for period in range(1, len(series)):
        chance += of_use * (is_used[period] - chance)
        size += of_size * np.where(is_used[period] & (period > first), series[period] - size, 0)
    return chance * size


def aggregate_disaggregate(series_pcs, smoothing_share=0.1):
    """Aggregation-disaggregation: smooth blocks as long as the usual interval, then share out per period.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used.
    smoothing_share : float
        Weight of the newest block, more than 0 and at most 1.

    Returns
    -------
    ndarray of float, shape (n_series,)
        Pieces per period.

    Raises
    ------
    InvalidParameter
        If a value is missing or negative, or the smoothing is outside (0, 1].

    Notes
    -----
    Conventions: a block is the mean interval between uses, rounded half to even, the first interval counted from
    the period before the series begins; blocks do not overlap and end with the newest period, the oldest periods
    that fill no block are left out; the smoothed level starts from the first block.

    References
    ----------
    Nikolopoulos, Syntetos, Boylan, Petropoulos & Assimakopoulos (2011), J. Oper. Res. Soc. 62, 544-554.

    Examples
    --------
    >>> aggregate_disaggregate([[5], [0], [2], [0], [4]], 0.5)  # intervals 1 2 2: blocks of 2 hold 2, 4
    array([1.5])
    """
    series, smoothing = _checked(series_pcs), _smoothing("smoothing_share", smoothing_share)
    n_periods = len(series)
    uses = (series > 0).sum(axis=0)
    last_use = n_periods - (series[::-1] > 0).argmax(axis=0)
    length = np.clip(np.rint(last_use / np.maximum(uses, 1)), 1, n_periods).astype(np.int64)
    rate = np.empty(series.shape[1])
    for block in np.unique(length):
        here = length == block
        kept = series[n_periods % block :, here].reshape(-1, block, here.sum()).sum(axis=1)
        rate[here] = _exponential_level(kept, smoothing) / block
    return rate


def _exponential_level(blocks, smoothing):
    level = blocks[0].copy()
    for block in blocks[1:]:
        level += smoothing * (block - level)
    return level


def _checked(series_pcs):
    series = require.not_negative("series_pcs", series_pcs)
    if series.ndim != 2 or series.shape[0] == 0:
        raise InvalidParameter(f"series_pcs has shape {series.shape}; wanted periods by series, at least 1 period.")
    return series


def _smoothing(name, value):
    return float(require.share(name, require.positive(name, value)))
