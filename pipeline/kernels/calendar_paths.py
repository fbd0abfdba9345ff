"""Calendar forecasts of sparse series after each period: one sweep serves every series and every origin.

A series is a column, a row is a period, oldest first. Leading missing periods (nan) mean that the series begins
later: they are no periods of it, so the first interval is counted from the period before its first known one, and
nothing is answered (nan) until then. Trailing missing periods mean that it is no longer watched: nan again. A gap
between known periods is refused: whoever knows whether it was none or unknown must say so. Row t of an answer knows
periods up to t alone, so a backtest of many origins is one call.
"""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require


def mean(series_pcs, n_origins=1):
    """Mean pieces per period since the series began.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used; nan before a series begins and after its watch ends.
    n_origins : int
        How many of the newest periods to answer after, 1 to ``n_periods``.

    Returns
    -------
    ndarray of float, shape (n_origins, n_series)
        Pieces per period as known after each of the last ``n_origins`` periods; nan where the period is missing.

    Raises
    ------
    InvalidParameter
        If there is no period, a value is negative, a series has no known period or a gap, or ``n_origins`` is off.

    Examples
    --------
    >>> mean([[0, 2], [1, 2]], 2)
    array([[0. , 2. ],
           [0.5, 2. ]])
    """
    series, begin, unknown = _known(series_pcs)
    first = _first_origin(series, n_origins)
    periods = np.arange(first + 1, len(series) + 1)[:, None] - begin
    rates = np.cumsum(series, axis=0)[first:] / np.maximum(periods, 1)
    return _only_where_known(rates, unknown)


def croston_states(series_pcs, smoothing_share=0.1, n_origins=1):
    """Smoothed size and smoothed interval of Croston's method after each period.

    Parameters
    ----------
    series_pcs, n_origins
        As for :func:`mean`.
    smoothing_share : float
        Weight of the newest size and interval, more than 0 and at most 1.

    Returns
    -------
    size, interval : ndarray of float, shape (n_origins, n_series)
        Pieces per use, periods from use to use; 0 and 1 before the first use; nan where the period is missing.

    Raises
    ------
    InvalidParameter
        As for :func:`mean`, or if the smoothing lies outside (0, 1].

    Notes
    -----
    Both averages start from the first size and the first interval; periods after the last use change nothing.

    References
    ----------
    Croston (1972), Operational Research Quarterly 23, 289-303.
    """
    series, begin, unknown = _known(series_pcs)
    smoothing, first = _smoothing("smoothing_share", smoothing_share), _first_origin(series, n_origins)
    size, interval, weight = np.zeros(begin.size), np.ones(begin.size), np.ones(begin.size)
    last_use = begin - 1.0
    sizes, intervals = np.empty((2, len(series) - first, begin.size))
    for period, row in enumerate(series):
        used = np.flatnonzero(row)
        share = weight[used]
        size[used] += share * (row[used] - size[used])
        interval[used] += share * (period - last_use[used] - interval[used])
        last_use[used], weight[used] = period, smoothing
        if period >= first:
            sizes[period - first], intervals[period - first] = size, interval
    return _only_where_known(sizes, unknown), _only_where_known(intervals, unknown)


def croston(series_pcs, smoothing_share=0.1, n_origins=1):
    """Croston's method after each period: smoothed size over smoothed interval.

    Parameters
    ----------
    series_pcs, smoothing_share, n_origins
        As for :func:`croston_states`, whose conventions hold.

    Returns
    -------
    ndarray of float, shape (n_origins, n_series)
        Pieces per period, 0 before the first use; nan where the period is missing.

    Raises
    ------
    InvalidParameter
        As for :func:`croston_states`.

    Examples
    --------
    >>> croston([[0], [2], [0], [4]], 0.5, 3)  # sizes 2 4, intervals 2 2
    array([[1. ],
           [1. ],
           [1.5]])
    """
    size, interval = croston_states(series_pcs, smoothing_share, n_origins)
    return size / interval


def syntetos_boylan(series_pcs, smoothing_share=0.1, n_origins=1):
    """Syntetos-Boylan approximation (SBA) after each period: Croston's method less its first-order bias.

    Parameters
    ----------
    series_pcs, smoothing_share, n_origins
        As for :func:`croston_states`, whose conventions hold.

    Returns
    -------
    ndarray of float, shape (n_origins, n_series)
        Pieces per period: (1 - smoothing / 2) times Croston's.

    Raises
    ------
    InvalidParameter
        As for :func:`croston_states`.

    References
    ----------
    Syntetos & Boylan (2005), International Journal of Forecasting 21, 303-314.
    """
    rates = croston(series_pcs, smoothing_share, n_origins)
    return (1 - _smoothing("smoothing_share", smoothing_share) / 2) * rates


def teunter_syntetos_babai(series_pcs, size_smoothing_share=0.1, use_smoothing_share=0.1, n_origins=1):
    """Teunter-Syntetos-Babai (TSB) after each period: smoothed chance of use times smoothed size.

    Parameters
    ----------
    series_pcs, n_origins
        As for :func:`mean`.
    size_smoothing_share, use_smoothing_share : float
        Weight of the newest size and of the newest period, more than 0 and at most 1.

    Returns
    -------
    ndarray of float, shape (n_origins, n_series)
        Pieces per period, 0 before the first use; nan where the period is missing.

    Raises
    ------
    InvalidParameter
        As for :func:`mean`, or if a smoothing lies outside (0, 1].

    Notes
    -----
    The chance starts at 1 if the first known period saw use, else 0; the size starts at the first size. An obsolete
    part fades, which Croston's method never lets it.

    References
    ----------
    Teunter, Syntetos & Babai (2011), European Journal of Operational Research 214, 606-615.

    Examples
    --------
    >>> teunter_syntetos_babai([[2], [0]], 0.1, 0.5)  # chance 1 then 0.5, size 2
    array([[1.]])
    """
    series, begin, unknown = _known(series_pcs)
    of_size = _smoothing("size_smoothing_share", size_smoothing_share)
    of_use = _smoothing("use_smoothing_share", use_smoothing_share)
    first = _first_origin(series, n_origins)
    chance, size, weight = np.zeros(begin.size), np.zeros(begin.size), np.ones(begin.size)
    rates = np.empty((len(series) - first, begin.size))
    for period, row in enumerate(series):
        used = np.flatnonzero(row)
        chance *= 1 - of_use
        chance[used] += np.where(begin[used] == period, 1.0, of_use)
        size[used] += weight[used] * (row[used] - size[used])
        weight[used] = of_size
        if period >= first:
            np.multiply(chance, size, out=rates[period - first])
    return _only_where_known(rates, unknown)


def aggregate_disaggregate(series_pcs, smoothing_share=0.1, n_origins=1):
    """Aggregation-disaggregation after each period: smooth blocks as long as the usual interval, then share out.

    Parameters
    ----------
    series_pcs, n_origins
        As for :func:`mean`.
    smoothing_share : float
        Weight of the newest block, more than 0 and at most 1.

    Returns
    -------
    ndarray of float, shape (n_origins, n_series)
        Pieces per period, 0 before the first use; nan where the period is missing.

    Raises
    ------
    InvalidParameter
        As for :func:`mean`, or if the smoothing lies outside (0, 1].

    Notes
    -----
    A block is the mean interval between uses so far, rounded half to even; blocks do not overlap and end with the
    origin, the oldest periods that fill no block are left out; the level starts from the first block. For one length
    the level at t is that at t less a length, moved by the block between: so a sweep per length serves all origins.

    References
    ----------
    Nikolopoulos, Syntetos, Boylan, Petropoulos & Assimakopoulos (2011), J. Oper. Res. Soc. 62, 544-554.

    Examples
    --------
    >>> aggregate_disaggregate([[5], [0], [2], [0], [4]], 0.5)  # intervals 1 2 2: blocks of 2 hold 2, 4
    array([[1.5]])
    """
    series, begin, unknown = _known(series_pcs)
    smoothing, first = _smoothing("smoothing_share", smoothing_share), _first_origin(series, n_origins)
    length = _block_lengths(series, begin, first)
    total = np.concatenate([np.zeros((1, begin.size)), np.cumsum(series, axis=0)])
    rates = np.zeros(length.shape)
    for block in np.unique(length):
        here = np.flatnonzero((length == block).any(axis=0))
        level = total[block:, here] - total[:-block, here]  # row t: the block that ends with period t + block - 1
        for row in range(block, len(level)):
            # The first whole block is the level itself; from the second on it is moved.
            moved = level[row - block] + smoothing * (level[row] - level[row - block])
            level[row] = np.where(row - block >= begin[here], moved, level[row])
        whole = np.zeros((len(series), here.size))
        whole[block - 1 :] = level / block
        rates[:, here] = np.where(length[:, here] == block, whole[first:], rates[:, here])
    return _only_where_known(rates, unknown)


def _block_lengths(series, begin, first):
    """Periods of a block after each origin: the mean interval between uses so far, rounded half to even."""
    is_used = series > 0
    period = np.arange(1, len(series) + 1)[:, None]
    last_use = np.maximum.accumulate(np.where(is_used, period, 0), axis=0)[first:] - begin
    uses = np.cumsum(is_used, axis=0)[first:]
    known = np.maximum(period[first:] - begin, 1)
    return np.clip(np.rint(last_use / np.maximum(uses, 1)), 1, known).astype(np.int64)


def _known(series_pcs):
    """Series with 0 for missing, first known period of each, where the periods are missing (None if nowhere)."""
    series = np.asarray(series_pcs, dtype=float)
    if series.ndim != 2 or series.shape[0] == 0:
        raise InvalidParameter(f"series_pcs has shape {series.shape}; wanted periods by series, at least 1 period.")
    unknown = np.isnan(series)
    if not unknown.any():
        return require.not_negative("series_pcs", series), np.zeros(series.shape[1], dtype=np.int64), None
    begin = (~unknown).argmax(axis=0)
    n_known = len(series) - begin - (~unknown[::-1]).argmax(axis=0)
    is_wrong = unknown.all(axis=0) | (n_known + unknown.sum(axis=0) != len(series))
    if is_wrong.any():
        raise InvalidParameter(f"series_pcs has missing periods between known ones, or no known period, in series "
                               f"{np.flatnonzero(is_wrong)[0]}; wanted one unbroken stretch (0 where none was used).")
    return require.not_negative("series_pcs", np.where(unknown, 0, series)), begin, unknown


def _only_where_known(rates, unknown):
    if unknown is not None:
        rates[unknown[len(unknown) - len(rates) :]] = np.nan
    return rates


def _first_origin(series, n_origins):
    if not 1 <= n_origins <= len(series):
        raise InvalidParameter(f"n_origins is {n_origins}; wanted 1 to {len(series)}, the number of periods.")
    return len(series) - int(n_origins)


def _smoothing(name, value):
    return float(require.share(name, require.positive(name, value)))
