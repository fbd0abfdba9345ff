"""Jobs to come: bookings by family and scope as a gamma-Poisson rate, and the work still before running jobs."""

import numpy as np
from scipy.special import gammaln

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import same_length

DAYS_A_YEAR = 365.25
PSEUDO_BOOKINGS_GRID = np.geomspace(0.25, 64, 33)
END_RATE_PER_YEAR = 0.01  # families that come to their end in a year, of those alive: a convention
_END_STEPS = np.linspace(0.0, 1.0, 201)
FULL_COUNT_RUNNING_JOBS = 3  # past jobs that must have run this long before they alone are asked


def recency_weight(age_days, half_life_days):
    """Weight of what happened some days ago.

    Parameters
    ----------
    age_days : array_like of float
        Days before today, at least 0.
    half_life_days : float
        Age at which the weight is one half, more than 0.

    Returns
    -------
    ndarray of float
        Same shape, 0 to 1.

    Raises
    ------
    InvalidParameter
        If an age is negative or the half-life not more than 0.

    Examples
    --------
    >>> recency_weight([0, 365, 730], 365)
    array([1.  , 0.5 , 0.25])
    """
    half_life = require.positive("half_life_days", half_life_days)
    return 0.5 ** (require.not_negative("age_days", age_days) / half_life)


def weighted_days(history_days, half_life_days):
    """Days of history after weighting: the integral of :func:`recency_weight` over the history.

    Parameters
    ----------
    history_days : array_like of float
        Days from the first record to today, at least 0.
    half_life_days : float
        Age at which the weight is one half, more than 0.

    Returns
    -------
    ndarray of float
        Days; never more than ``half_life_days / ln 2``.

    Raises
    ------
    InvalidParameter
        If a length is negative or the half-life not more than 0.

    Examples
    --------
    >>> round(float(weighted_days(1e6, 365)), 3)  # 365 / ln 2
    526.584
    """
    scale = require.positive("half_life_days", half_life_days) / np.log(2)
    return -scale * np.expm1(-require.not_negative("history_days", history_days) / scale)


def booking_rate(bookings, exposure_days, row, column):
    """Gamma belief about the bookings per day of each cell, shrunk to what the whole shop's mix suggests.

    Parameters
    ----------
    bookings : array_like of float, shape (n_cells,)
        Bookings of each cell over the history, weighted by recency.
    exposure_days : float
        Days of history, weighted alike; more than 0.
    row, column : array_like of int, shape (n_cells,)
        Family and scope of each cell, from 0; every pair appears at most once.

    Returns
    -------
    shape : ndarray of float, shape (n_cells,)
        Gamma shape.
    rate_days : ndarray of float, shape (n_cells,)
        Gamma rate, in days: the mean is ``shape / rate_days`` bookings per day.
    pseudo_bookings : float
        Bookings that the mix is worth in each cell: the middle of what the marginal likelihood allows.

    Raises
    ------
    InvalidParameter
        If a count is negative, the exposure not more than 0 or lengths differ.

    Notes
    -----
    The mix gives a cell the mean of all **other** cells times the ratio of its family and of its scope to that
    mean, each ratio drawn towards 1 by one cell's worth; the cell's own bookings are left out of it, or they would
    count twice. What that is worth is learnt from how well it foretells every cell, and averaged over what the
    records leave open. Means are scaled to the shop's own total. No trend is extrapolated.

    Examples
    --------
    >>> shape, rate_days, _ = booking_rate([8.0, 2.0], 100.0, [0, 0], [0, 1])
    >>> bool(abs((shape / rate_days).sum() - 0.1) < 0.01)  # about ten in a hundred days between them
    True
    """
    bookings, row, column = same_length(bookings=bookings, row=row, column=column)
    bookings = require.not_negative("bookings", bookings)
    exposure = float(require.positive("exposure_days", exposure_days))
    expected = _from_other_cells(bookings, row, column)
    worth = PSEUDO_BOOKINGS_GRID[:, None]
    # Negative binomial of the weighted counts; the gamma function takes them though they are not whole.
    score = (gammaln(bookings + worth) - gammaln(worth) + worth * np.log(worth / (worth + expected))
             + bookings * np.log(expected / (worth + expected))).sum(axis=1)
    chance = np.exp(score - score.max())
    chance = (chance / chance.sum())[:, None]
    mean = (bookings + worth) / (1 + worth / expected)
    second = mean**2 + mean / (1 + worth / expected)
    average = (chance * mean).sum(axis=0)
    variance = (chance * second).sum(axis=0) - average**2
    to_total = (bookings.sum() + 0.5) / average.sum()
    rate = average / variance  # per booking, of the gamma with this mean and variance
    return average * rate, exposure * rate / to_total, float(np.exp((chance * np.log(worth)).sum()))


def alive_share(bookings, last_days, history_days, typical_per_day, end_rate_per_year=END_RATE_PER_YEAR):
    """Chance that bookings of a family still come, given how long none has.

    Parameters
    ----------
    bookings : array_like of float, shape (n,)
        Bookings over the history.
    last_days : array_like of float, shape (n,)
        Days from the beginning of the history to the last of them, at most ``history_days``; any number where there
        was none.
    history_days : float
        Days of the history, more than 0.
    typical_per_day : float
        Bookings a day of a middling family: the belief about each one's rate is exponential with this mean.
    end_rate_per_year : float
        Rate at which families end for good.

    Returns
    -------
    ndarray of float, shape (n,)
        1 for a family without a booking: nothing has ended there.

    Raises
    ------
    InvalidParameter
        If a value is negative, a length of time not more than 0, or the last booking later than today.

    Notes
    -----
    A Poisson stream at a rate in doubt that ends after an exponential time. The last booking came before the end: the
    end lies after it, or has not come. One integral over the day of the end, by the trapezoid rule.

    References
    ----------
    Schmittlein, Morrison & Colombo (1987), Management Science 33, 1-24 (the probability of being alive).

    Examples
    --------
    >>> alive_share([40, 40, 1], [1460, 1100, 1100], 1460, 0.02).round(3)  # one seen today, one silent for a year
    array([1.   , 0.017, 0.987])
    """
    count, last = same_length(bookings=bookings, last_days=last_days)
    count = require.not_negative("bookings", count)
    history = float(require.positive("history_days", history_days))
    prior_days = 1 / float(require.positive("typical_per_day", typical_per_day))
    end_rate = float(require.not_negative("end_rate_per_year", end_rate_per_year)) / DAYS_A_YEAR
    last = np.where(count > 0, last, history)
    silent = require.not_negative("history_days - last_days", history - last)
    ended_after = last[:, None] + silent[:, None] * _END_STEPS
    # Both against the chance of what was seen with the end today, or the powers would vanish.
    ahead = ((count + 1)[:, None] * np.log((prior_days + history) / (prior_days + ended_after))
             + end_rate * (history - ended_after))
    ended = end_rate * np.trapezoid(np.exp(np.minimum(ahead, 700.0)), ended_after, axis=1)
    return 1 / (1 + ended)


def work_to_come(elapsed_days, window_days, taken_share, span_days, weight):
    """Share of a running job's use of parts that falls in the window, and that lies behind it.

    Days are counted from one event for all, such as the start of work, or the first taking of a part.

    Parameters
    ----------
    elapsed_days : array_like of float, shape (n_running,)
        Days since the event on each running job.
    window_days : float
        Length of the window from today, at least 0.
    taken_share : array_like of float, shape (n_past, n_days)
        Share of each past job's takings up to 0, 1, 2 ... days after its event.
    span_days : array_like of float, shape (n_past,)
        Days each past job stayed in the stage that the running ones are in: to its delivery, or to its first taking.
    weight : array_like of float, shape (n_past,)
        How much each past job says.

    Returns
    -------
    to_come, done : ndarray of float, shape (n_running,)
        Shares of the whole job's takings; ``to_come + done <= 1``.

    Raises
    ------
    InvalidParameter
        If there is no past job, a value is negative or lengths differ.

    Notes
    -----
    Asked of the past jobs that were still in the stage after as many days. Where fewer than three were, the three
    longest are asked instead, at nine tenths of their span at most: a stated makeshift for stalled jobs.

    Examples
    --------
    >>> to_come, done = work_to_come([2], 2, [[0.0, 0.5, 0.5, 0.5, 1.0]], [6], [1.0])
    >>> to_come, done
    (array([0.5]), array([0.5]))
    """
    asked, moment = _asked(elapsed_days, span_days)
    weight = asked * np.asarray(weight, dtype=float)
    taken = np.asarray(taken_share, dtype=float)
    past, last = np.arange(asked.shape[1]), taken.shape[1] - 1
    behind = taken[past, np.minimum(moment, last).astype(np.int64)]
    ahead = np.minimum(moment + float(require.not_negative("window_days", window_days)), last)
    in_window = taken[past, ahead.astype(np.int64)] - behind
    total = np.maximum(weight.sum(axis=1), 1e-12)
    return (weight * in_window).sum(axis=1) / total, (weight * behind).sum(axis=1) / total


def days_left(elapsed_days, span_days, duration_days, weight, n_runs, rng):
    """Draw the days a running job still takes, from the past jobs that :func:`work_to_come` asks.

    Parameters
    ----------
    elapsed_days, span_days, weight
        As there.
    duration_days : array_like of float, shape (n_past,)
        Days from the event to the delivery of each past job.
    n_runs : int
        Draws wanted.
    rng : numpy.random.Generator

    Returns
    -------
    ndarray of float, shape (n_runs, n_running)
        At least 1.

    Raises
    ------
    InvalidParameter
        As there.
    """
    asked, moment = _asked(elapsed_days, span_days)
    duration, chance = np.asarray(duration_days, dtype=float), asked * np.asarray(weight, dtype=float) + 1e-300
    drawn = [rng.choice(duration.size, n_runs, p=row / row.sum()) for row in chance]
    left = [duration[past] - row[past] for past, row in zip(drawn, moment, strict=True)]
    return np.maximum(np.stack(left, axis=1) if left else np.zeros((n_runs, 0)), 1.0)


def _asked(elapsed_days, span_days):
    """Which past jobs speak for each running one, and the day of their stage it is taken to be at."""
    elapsed = require.not_negative("elapsed_days", elapsed_days)
    span = require.not_negative("span_days", span_days)
    if span.size == 0:
        raise InvalidParameter("span_days holds no past job; wanted at least one finished job to learn from.")
    longest = np.isin(np.arange(span.size), np.argsort(-span, kind="stable")[:FULL_COUNT_RUNNING_JOBS])
    is_few = (span > elapsed[:, None]).sum(axis=1) < min(FULL_COUNT_RUNNING_JOBS, span.size)
    asked = np.where(is_few[:, None], longest, span > elapsed[:, None])
    # A job that outran them all is placed just before the end of each.
    return asked, np.floor(np.minimum(elapsed[:, None], np.where(is_few[:, None], 0.9 * span, np.inf)))


def _from_other_cells(bookings, row, column):
    """Bookings expected in each cell from all the others: their mean, times the row's and the column's ratio."""
    others = max(bookings.size - 1, 1)
    mean = np.maximum((bookings.sum() - bookings) / others, 0.5 / others)
    expected = mean.copy()
    for index in (row, column):
        total = np.bincount(index, bookings)[index] - bookings
        cells = np.bincount(index)[index] - 1
        expected *= (total + mean) / (cells * mean + mean)
    return expected
