"""Distributions around calendar forecasts: pieces used in the next periods, negative binomial, method by method.

The mean is the number of periods ahead times the method's rate. The variance is a multiple of the mean, and the
multiple is what the method's own past forecasts over as many periods missed by, squared, over what they expected:
doubt about the rate, drift and uses that come in clumps are all in it, which the scatter of single periods is not.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import calendar_paths, require, scores

# The comparators, each at its customary smoothing of 0.1; each answers (series_pcs, n_origins=...).
METHODS = {
    "mean": calendar_paths.mean,
    "croston": calendar_paths.croston,
    "sba": calendar_paths.syntetos_boylan,
    "tsb": calendar_paths.teunter_syntetos_babai,
    "aggregation": calendar_paths.aggregate_disaggregate,
}
# What may be served besides them: TSB with other weights of the newest size and of the newest period.
SERVED_FROM = METHODS | {
    f"tsb {of_size:g}/{of_use:g}": partial(
        calendar_paths.teunter_syntetos_babai, size_smoothing_share=of_size, use_smoothing_share=of_use)
    for of_size in (0.1, 0.2, 0.3) for of_use in (0.05, 0.1, 0.2) if (of_size, of_use) != (0.1, 0.1)
}
LEAST_PERIODS = 8  # a shorter history cannot tell how far its forecasts go wrong
FIRST_ORIGIN = 6  # known periods of a series before its forecasts are held against what came
PSEUDO_USES = 30.0  # periods with use that the ratio of all series counts for in the ratio of one
TAIL_SHARE = 1e-9  # probability that may be cut off the upper end of the longest row
_GRID_STEP = 32  # grids are laid out in lengths of this many pieces
_LEAST_LOG = -600.0  # below it the chance of none is too small to multiply from: logarithms are added up instead
_TAIL_STEPS = 24.0  # a negative binomial tail falls at least by e per `ratio` pieces: e^-24 is far below TAIL_SHARE


@dataclass(frozen=True)
class CalendarForecast:
    """Predictive distributions of pieces used in the periods ahead, one series each.

    Attributes
    ----------
    rate_pcs : ndarray of float, shape (n_series,)
        Pieces expected per period.
    mean_pcs : ndarray of float, shape (n_series,)
        Pieces expected in the periods ahead.
    dispersion_ratio : ndarray of float, shape (n_series,)
        Variance over mean, at least 1; exactly 1 is Poisson.
    pmf : ndarray of float, shape (n_series, n_values)
        Probability of 0, 1, 2 ... pieces; a row lacks at most 1e-9 beyond its end.
    """

    rate_pcs: np.ndarray
    mean_pcs: np.ndarray
    dispersion_ratio: np.ndarray
    pmf: np.ndarray


def calendar_pmfs(series_pcs, method, n_periods_ahead):
    """Forecast the pieces used in the next periods as distributions.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used, oldest period first; nan before a series begins; the newest period known for all.
    method : str
        A key of ``SERVED_FROM``; the comparators are the keys of ``METHODS``.
    n_periods_ahead : int
        Periods in the window, at least 1.

    Returns
    -------
    CalendarForecast

    Raises
    ------
    InvalidParameter
        If the history is shorter than ``LEAST_PERIODS``, a series misses its newest period, the method is unknown, or
        :mod:`pipeline.kernels.calendar_paths` refuses the series.

    Notes
    -----
    A series never used is forecast as 0 for certain: nothing in the calendar says otherwise.

    Examples
    --------
    >>> forecast = calendar_pmfs([[1], [0], [2], [0], [0], [1], [0], [1]], "mean", 2)
    >>> float(forecast.mean_pcs[0]), forecast.pmf.sum().round(6)
    (1.25, np.float64(1.0))
    """
    path = rates_path(series_pcs, method)
    if np.isnan(path[-1]).any():
        raise InvalidParameter(f"series_pcs misses the newest period in series {np.flatnonzero(np.isnan(path[-1]))[0]};"
                               " wanted series that are still watched.")
    mean, ratio = moments_at(series_pcs, path, len(path), n_periods_ahead)
    return CalendarForecast(path[-1], mean, ratio, negative_binomial_pmfs(mean, ratio))


def rates_path(series_pcs, method):
    """Rates of a method after every period.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        As for :func:`calendar_pmfs`.
    method : str
        A key of ``SERVED_FROM``.

    Returns
    -------
    ndarray of float, shape (n_periods, n_series)
        Pieces per period; nan where a series has not begun.

    Raises
    ------
    InvalidParameter
        If the history is too short or the method unknown.
    """
    if method not in SERVED_FROM:
        raise InvalidParameter(f"method is {method!r}; wanted one of {', '.join(SERVED_FROM)}.")
    n_periods = len(series_pcs)
    if n_periods < LEAST_PERIODS:
        raise InvalidParameter(f"series_pcs has {n_periods} periods; wanted at least {LEAST_PERIODS}: fewer cannot "
                               "tell how far their forecasts go wrong.")
    return SERVED_FROM[method](series_pcs, n_origins=n_periods)


def moments_at(series_pcs, path, origin, n_periods_ahead):
    """Mean and dispersion of a method's forecasts made after a number of periods, from these periods alone.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used.
    path : ndarray of float, shape (n_periods, n_series)
        From :func:`rates_path` on the same series; what comes after the origin is not looked at.
    origin : int
        Periods known, ``LEAST_PERIODS`` to ``n_periods``.
    n_periods_ahead : int
        Periods in the window, at least 1.

    Returns
    -------
    mean_pcs : ndarray of float, shape (n_series,)
        nan where a series has not begun.
    dispersion_ratio : ndarray of float, shape (n_series,)
        Variance over mean, at least 1.

    Raises
    ------
    InvalidParameter
        If the origin or the number of periods is off.

    Notes
    -----
    Moments over all earlier origins with ``FIRST_ORIGIN`` known periods: ratio = sum of squared errors over sum of
    expected pieces, both in units of the series' usual size, its mean over periods with use: what is taken by the
    hundred must not say how singles scatter. Windows overlap, so a series counts with its sums over the window's
    length; it is shrunk to the ratio of all series, which counts for ``PSEUDO_USES``. Where the history holds no two
    such windows, a shorter window's ratio is stretched in proportion to the window, as a rate in doubt does it:
    1 + (ratio - 1) x length / shorter length.
    """
    if not LEAST_PERIODS <= origin <= len(path):
        raise InvalidParameter(f"origin is {origin}; wanted {LEAST_PERIODS} to {len(path)} periods.")
    ahead = int(require.whole_positive("n_periods_ahead", n_periods_ahead))
    window = min(ahead, max((origin - FIRST_ORIGIN) // 2, 1))
    known = np.asarray(series_pcs, dtype=float)[:origin]
    squared, expected = _past_errors(known, path[:origin], window)
    size = _usual_size(known)
    squared, expected = squared / size**2, expected / size
    pooled = squared.sum() / expected.sum() if expected.sum() > 0 else 1.0
    ratio = size * (squared + PSEUDO_USES * pooled) / (expected + PSEUDO_USES)
    return ahead * path[origin - 1], np.maximum(1 + (ratio - 1) * ahead / window, 1.0)


def _usual_size(series):
    """Mean pieces of the periods with use; 1 where there was none."""
    uses = (series > 0).sum(axis=0)
    return np.where(uses > 0, np.nansum(series, axis=0) / np.maximum(uses, 1), 1.0)


def _past_errors(series, path, window):
    """Squared error and expected pieces of each series over past windows, each over the window's length."""
    origins = np.arange(FIRST_ORIGIN, len(series) - window + 1)
    total = np.concatenate([np.zeros((1, series.shape[1])), np.cumsum(np.nan_to_num(series), axis=0)])
    used = total[origins + window] - total[origins]
    expected = window * path[origins - 1]
    is_fair = ~np.isnan(path[origins - FIRST_ORIGIN]) & ~np.isnan(path[origins + window - 1])
    squared = np.where(is_fair, (used - expected) ** 2, 0.0)
    return squared.sum(axis=0) / window, np.where(is_fair, expected, 0.0).sum(axis=0) / window


def negative_binomial_pmfs(mean_pcs, dispersion_ratio):
    """Negative binomial distributions by mean and variance over mean; Poisson where that is 1.

    Parameters
    ----------
    mean_pcs, dispersion_ratio : array_like of float, shape (n_rows,)
        Means of at least 0; ratios of at least 1.

    Returns
    -------
    ndarray of float, shape (n_rows, n_values)
        Probability of 0, 1, 2 ... pieces, the grid cut where no row holds more than ``TAIL_SHARE`` beyond.

    Raises
    ------
    InvalidParameter
        If a mean is negative or missing, or a ratio below 1.

    Notes
    -----
    With ratio d and mean m: P(k + 1) = P(k) (m / d + (1 - 1/d) k) / (k + 1), the Panjer (a, b, 0) recursion (Panjer
    1981, ASTIN Bulletin 12, 22-26); in logarithms where the chance of none would underflow.

    Examples
    --------
    >>> negative_binomial_pmfs([0.0, 1.0], [1.0, 2.0])[:, :3]
    array([[1.   , 0.   , 0.   ],
           [0.5  , 0.25 , 0.125]])
    """
    mean, ratio = _checked(mean_pcs, dispersion_ratio)
    blocks = list(_by_length(mean, ratio))
    made = np.zeros((mean.size, max((pmf.shape[1] for _, pmf in blocks), default=1)))
    for rows, pmf in blocks:
        made[rows, : pmf.shape[1]] = pmf
    beyond = np.cumsum(made[:, ::-1], axis=1)[:, ::-1].max(axis=0, initial=0.0)
    return made[:, : max(int((beyond > TAIL_SHARE).sum()), 1)]


def crps(mean_pcs, dispersion_ratio, observed_pcs):
    """CRPS of negative binomial forecasts, each on a grid of its own length.

    Parameters
    ----------
    mean_pcs, dispersion_ratio : array_like of float, shape (n_rows,)
        As for :func:`negative_binomial_pmfs`.
    observed_pcs : array_like of int, shape (n_rows,)
        Pieces that came.

    Returns
    -------
    ndarray of float, shape (n_rows,)
        Pieces, as :func:`pipeline.kernels.scores.crps_pmf`.

    Raises
    ------
    InvalidParameter
        As for :func:`negative_binomial_pmfs` and :func:`pipeline.kernels.scores.crps_pmf`.

    Examples
    --------
    >>> crps([0.0], [1.0], [3])
    array([3.])
    """
    mean, ratio = _checked(mean_pcs, dispersion_ratio)
    observed, made = np.asarray(observed_pcs), np.empty(mean.size)
    for rows, pmf in _by_length(mean, ratio):
        made[rows] = scores.crps_pmf(pmf, observed[rows])
    return made


def ragged_pmfs(series_pcs, method, n_periods_ahead):
    """Return the distributions of :func:`calendar_pmfs` one by one, each as long as it needs (list of ndarray)."""
    path = rates_path(series_pcs, method)
    mean, ratio = _checked(*moments_at(series_pcs, path, len(path), n_periods_ahead))
    made = {row: pmf for rows, pmfs in _by_length(mean, ratio) for row, pmf in zip(rows, pmfs, strict=True)}
    return [made[row] for row in range(mean.size)]


def _checked(mean_pcs, dispersion_ratio):
    mean, ratio = require.not_negative("mean_pcs", mean_pcs), require.positive("dispersion_ratio", dispersion_ratio)
    if (ratio < 1).any():
        raise InvalidParameter(f"dispersion_ratio holds {ratio.min():g}; wanted at least 1, which is Poisson.")
    return mean, ratio


def _by_length(mean, ratio):
    """Rows whose grids are of one length, and their distributions on it."""
    length = _GRID_STEP * np.ceil((mean + 8 * np.sqrt(mean * ratio) + _TAIL_STEPS * ratio) / _GRID_STEP)
    for grid in np.unique(length):
        rows = np.flatnonzero(length == grid)
        yield rows, _panjer(mean[rows], ratio[rows], int(grid))


def _panjer(mean, ratio, grid):
    is_wider = ratio > 1 + 1e-9
    spread = np.where(is_wider, ratio - 1, 1.0)
    none = np.where(is_wider, -mean * np.log1p(spread) / spread, -mean)[:, None]
    pieces = np.arange(grid - 1)
    steps = ((mean / ratio)[:, None] + np.where(is_wider, 1 - 1 / ratio, 0.0)[:, None] * pieces) / (pieces + 1)
    if none.min() > _LEAST_LOG:
        return np.cumprod(np.concatenate([np.exp(none), steps], axis=1), axis=1)
    with np.errstate(divide="ignore"):  # a mean of 0 never reaches 1: its logarithm is minus infinity, as it should
        steps = np.log(steps)
    return np.exp(np.cumsum(np.concatenate([none, steps], axis=1), axis=1))
