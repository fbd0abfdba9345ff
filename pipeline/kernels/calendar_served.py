"""Which calendar forecast is served: the one whose distributions did best on the series' own past, by CRPS."""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import calendar_predictive as predictive
from pipeline.kernels import require

MOST_ORIGINS = 6  # past origins looked back at, evenly spaced over the later half of the history
UNTOLD = "mean"  # served where the history is too short to judge any


@dataclass(frozen=True)
class Choice:
    """What was chosen, and on what grounds.

    Attributes
    ----------
    method : str
        Key of ``calendar_predictive.SERVED_FROM``.
    origins : ndarray of int, shape (n_origins,)
        Periods known at each past origin judged; empty where the history is too short and ``UNTOLD`` is served.
    crps_pcs : dict of str to float
        Mean score of every candidate over origins and series, smaller is better; empty where none was judged.
    """

    method: str
    origins: np.ndarray
    crps_pcs: dict


def serve(series_pcs, n_periods_ahead, series_weight=None):
    """Forecast with the method that did best on the past of all series together.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        As for :func:`pipeline.kernels.calendar_predictive.calendar_pmfs`.
    n_periods_ahead : int
        Periods in the window, at least 1.
    series_weight : array_like of float, shape (n_series,), optional
        Weight of each series in the choice, more than 0, such as unit cost; default equal, in pieces.

    Returns
    -------
    Choice
    pipeline.kernels.calendar_predictive.CalendarForecast

    Raises
    ------
    InvalidParameter
        As for :func:`pipeline.kernels.calendar_predictive.calendar_pmfs`, or if a weight is not more than 0.

    Notes
    -----
    One method for all series: with a few uses a year a series of its own cannot tell. A linear pool with weights by
    CRPS was tried on car parts and did no better than choosing. Which smoothings are offered and which origins are
    looked back at was settled with all months of car parts in view: its year held out is no wholly fresh proof.
    """
    chosen = choose(series_pcs, n_periods_ahead, series_weight)
    return chosen, predictive.calendar_pmfs(series_pcs, chosen.method, n_periods_ahead)


def choose(series_pcs, n_periods_ahead, series_weight=None):
    """Choose the method for :func:`serve`; parameters and errors are the same.

    Returns
    -------
    Choice

    Examples
    --------
    >>> series = np.zeros((30, 40))
    >>> series[:12] = 2  # all fell asleep: what forgets quickly wins
    >>> choose(series, 3).method
    'tsb 0.1/0.2'
    """
    ahead = int(require.whole_positive("n_periods_ahead", n_periods_ahead))
    origins = judged_origins(len(series_pcs), ahead)
    if not origins.size:
        return Choice(UNTOLD, origins, {})
    series = np.asarray(series_pcs, dtype=float)
    found = {name: float(past_crps(series, name, ahead, origins, series_weight).mean())
             for name in predictive.SERVED_FROM}
    return Choice(min(found, key=found.get), origins, found)


def judged_origins(n_periods, n_periods_ahead):
    """Past origins a choice looks back at: only windows that have wholly come count.

    Parameters
    ----------
    n_periods, n_periods_ahead : int
        Periods of history, and of the window.

    Returns
    -------
    ndarray of int, shape (at most ``MOST_ORIGINS``,)
        Periods known at each origin, rising.

    Examples
    --------
    >>> judged_origins(39, 12)
    array([18, 19, 21, 23, 25, 27])
    >>> judged_origins(12, 12)
    array([], dtype=int64)
    """
    last = n_periods - n_periods_ahead
    if last < predictive.LEAST_PERIODS:
        return np.empty(0, dtype=np.int64)
    # Where there is room, each had seen a whole window's error of its own and need not stretch a shorter one's.
    first = max(predictive.LEAST_PERIODS, last // 2, min(predictive.FIRST_ORIGIN + n_periods_ahead, last))
    return np.unique(np.linspace(first, last, MOST_ORIGINS).astype(np.int64))


def past_crps(series_pcs, method, n_periods_ahead, origins, series_weight=None):
    """CRPS of a method's forecasts at past origins, each made from the periods before it alone.

    Parameters
    ----------
    series_pcs : array_like of float, shape (n_periods, n_series)
        Pieces used; nan before a series begins.
    method : str
        Key of ``calendar_predictive.SERVED_FROM``.
    n_periods_ahead : int
        Periods in the window.
    origins : array_like of int, shape (n_origins,)
        Periods known at each origin.
    series_weight : array_like of float, shape (n_series,), optional
        Weight of each series; default equal.

    Returns
    -------
    ndarray of float, shape (n_origins,)
        Weighted mean over the series begun and still watched, in pieces; 0 where there is none.

    Raises
    ------
    InvalidParameter
        If a window reaches beyond the history, a weight is not more than 0, or as for
        :func:`pipeline.kernels.calendar_predictive.moments_at`.
    """
    series = np.asarray(series_pcs, dtype=float)
    weight = require.positive("series_weight", np.ones(series.shape[1]) if series_weight is None else series_weight)
    path = predictive.rates_path(series, method)
    made = np.zeros(len(origins))
    for place, origin in enumerate(origins):
        came = series[origin : origin + n_periods_ahead]
        if len(came) < n_periods_ahead:
            raise InvalidParameter(f"origins holds {origin}; wanted at most {len(series) - n_periods_ahead}.")
        mean, ratio = predictive.moments_at(series, path, int(origin), n_periods_ahead)
        known = np.flatnonzero(~np.isnan(mean) & ~np.isnan(came).any(axis=0))
        if known.size:
            each = predictive.crps(mean[known], ratio[known], came[:, known].sum(axis=0))
            made[place] = np.average(each, weights=weight[known])
    return made
