"""Jobs that will be booked from today on, drawn by run: a rate in doubt, a trend shrunk to none, the wait to start."""

import numpy as np

from pipeline.kernels import require

DAYS_A_YEAR = 365.25
TREND_SD = 0.1  # of the log rate per year, before the bookings are looked at: no trend, give or take a tenth
_TREND_GRID = np.linspace(-0.8, 0.8, 321)


def log_trend(age_days, history_days, sd=TREND_SD):
    """Yearly change of the log rate of bookings, drawn to none.

    Parameters
    ----------
    age_days : array_like of float, shape (n_bookings,)
        Days since each booking, 0 to ``history_days``.
    history_days : float
        Days over which bookings were noted, more than 0.
    sd : float
        Standard deviation of the normal belief about the trend before, centred at none.

    Returns
    -------
    mean, sd : float
        Of the belief after; per year.

    Raises
    ------
    InvalidParameter
        If an age is negative, or the history or ``sd`` not more than 0.

    References
    ----------
    Cox & Lewis (1966), The Statistical Analysis of Series of Events, section 3.3: given their number, the times of a
    Poisson process with log-linear rate are independent with an exponential density.

    Examples
    --------
    >>> mean, _ = log_trend([10, 20, 30, 40, 50, 600], 730)  # many lately
    >>> bool(0 < mean < 0.1)
    True
    """
    years = float(require.positive("history_days", history_days)) / DAYS_A_YEAR
    prior_sd = float(require.positive("sd", sd))
    time = years / 2 - require.not_negative("age_days", age_days) / DAYS_A_YEAR
    half = _TREND_GRID * years / 2
    log_total = np.log(years) + np.log(np.where(np.abs(half) < 1e-9, 1.0, np.sinh(half) / np.where(half == 0, 1, half)))
    score = _TREND_GRID * time.sum() - time.size * log_total - (_TREND_GRID / prior_sd) ** 2 / 2
    chance = np.exp(score - score.max())
    chance /= chance.sum()
    mean = float(chance @ _TREND_GRID)
    return mean, float(np.sqrt(chance @ _TREND_GRID**2 - mean**2))


def mean_age_days(history_days, half_life_days):
    """Mean age of a steady record whose weight halves with age.

    Parameters
    ----------
    history_days, half_life_days : float
        More than 0.

    Returns
    -------
    float
        Days.

    Raises
    ------
    InvalidParameter
        If a length is not more than 0.

    Examples
    --------
    >>> round(float(mean_age_days(730, 1e9)), 3)  # no fading: half the history
    365.0
    """
    scale = float(require.positive("half_life_days", half_life_days)) / np.log(2)
    reach = float(require.positive("history_days", history_days)) / scale
    if reach < 1e-4:
        return reach * scale / 2
    return scale * (1 - reach / np.expm1(reach))


def draw_arrivals(rate_per_day, trend_per_year, first_day, horizon_days, rng):
    """Draw the jobs that will be booked, and when.

    Parameters
    ----------
    rate_per_day : array_like of float, shape (n_runs, n_scopes)
        Bookings per day at the start of the window, as each run believes.
    trend_per_year : array_like of float, shape (n_runs,)
        Change of the log rate per year.
    first_day, horizon_days : float
        Days from today between which jobs are booked.
    rng : numpy.random.Generator

    Returns
    -------
    scope : ndarray of int, shape (n_runs, most)
        Scope of each job; -1 pads runs with fewer jobs than the most.
    booked_days : ndarray of float, shape (n_runs, most)
        Days from today.

    Raises
    ------
    InvalidParameter
        If a rate is negative.
    """
    rate = require.not_negative("rate_per_day", rate_per_day)
    trend = np.asarray(trend_per_year, dtype=float) / DAYS_A_YEAR
    trend = np.where(np.abs(trend) < 1e-9, 1e-9, trend)
    span = max(horizon_days - first_day, 0.0)
    reach = np.expm1(trend * span) / trend
    number = rng.poisson(rate * (np.exp(trend * first_day) * reach)[:, None])
    ends = np.cumsum(number, axis=1)
    place = np.arange(ends[:, -1].max(initial=0))
    scope = (place >= ends[:, :, None]).sum(axis=1)
    scope = np.where(scope == rate.shape[1], -1, scope)
    chance = rng.random(scope.shape)
    return scope, first_day + np.log1p(chance * np.expm1(trend * span)[:, None]) / trend[:, None]


def draw_waits(waits_days, elapsed_days, n_runs, rng):
    """Draw how much longer something waits, given how long it has waited.

    Parameters
    ----------
    waits_days : array_like of float, shape (n,)
        Whole waits seen.
    elapsed_days : float
        Days waited so far; may be negative: the wait has not begun.
    n_runs : int
        Draws wanted.
    rng : numpy.random.Generator

    Returns
    -------
    ndarray of float, shape (n_runs,)
        Days from now, more than 0: from the waits that were longer; where none was, exponential with half the mean of
        all, at least a week (a convention, since nothing that long was seen).
    """
    waits = np.asarray(waits_days, dtype=float)
    longer = waits[waits > elapsed_days]
    if longer.size:
        return rng.choice(longer, n_runs) - elapsed_days
    return rng.exponential(max(waits.mean() / 2 if waits.size else 0.0, 7.0), n_runs)


def come_share(waits_days, elapsed_days, lost_share):
    """Chance that a job which has waited so long still comes, some jobs being lost without a word.

    Parameters
    ----------
    waits_days : array_like of float, shape (n,)
        Waits of jobs that came.
    elapsed_days : array_like of float
        Days waited so far.
    lost_share : float
        Share of all jobs that are lost, 0 to 1.

    Returns
    -------
    ndarray of float, the shape of ``elapsed_days``
        By Bayes' rule: 1 - ``lost_share`` at first, less the fewer waits were ever longer; one such wait is taken to
        have been seen besides.

    Raises
    ------
    InvalidParameter
        If the share lies outside [0, 1].

    Examples
    --------
    >>> come_share([10, 20, 30], [0, 25, 100], 0.1).round(3)  # 4, 2 and 1 in 4 wait longer
    array([0.9  , 0.818, 0.692])
    """
    lost = float(require.share("lost_share", lost_share))
    waits = np.asarray(waits_days, dtype=float)
    longer = (waits > np.asarray(elapsed_days, dtype=float)[..., None]).sum(axis=-1) + 1
    here = (1 - lost) * longer / (waits.size + 1)
    return here / (here + lost)


def draw_counts(mean, excess, n_draws, rng):
    """Draw a number of jobs whose variance may lie above or below its mean.

    Parameters
    ----------
    mean : float
        Mean number, at least 0.
    excess : float
        Variance over mean, less 1, at least -1: negative binomial above 0, Poisson at 0, binomial below.
    n_draws : int
        Draws wanted.
    rng : numpy.random.Generator

    Returns
    -------
    ndarray of int64, shape (n_draws,)

    Raises
    ------
    InvalidParameter
        If the mean is negative or the excess below -1.

    Examples
    --------
    >>> draw_counts(3.0, -1.0, 2, np.random.default_rng(1))  # certain
    array([3, 3])
    """
    mean = float(require.not_negative("mean", mean))
    excess = float(require.not_negative("excess + 1", excess + 1)) - 1
    if mean == 0:
        return np.zeros(n_draws, dtype=np.int64)
    if excess > 1e-9:
        return rng.negative_binomial(mean / excess, 1 / (1 + excess), n_draws)
    if excess > -1e-9:
        return rng.poisson(mean, n_draws)
    trials = int(np.ceil(mean / -excess - 1e-9))
    return rng.binomial(trials, min(mean / trials, 1.0), n_draws)
