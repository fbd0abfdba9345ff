"""Days from one event to another, learnt from past jobs: how much has happened by then, how much will."""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import same_length
from pipeline.kernels.product_limit import product_limit

LEAST_TAIL_DAYS = 7.0


@dataclass(frozen=True)
class Delay:
    """Distribution of a delay: steps where past delays ended, and a tail beyond the longest.

    Attributes
    ----------
    days : ndarray of float, shape (n_steps,)
        Delays seen, rising.
    share : ndarray of float, shape (n_steps,)
        Probability of each; with ``tail_share`` they sum to 1.
    tail_share : float
        Probability of a delay longer than any seen.
    tail_days : float
        Mean of the excess over the longest delay seen, exponential; half the mean delay, at least a week: a
        convention, since nothing that long was seen.
    """

    days: np.ndarray
    share: np.ndarray
    tail_share: float
    tail_days: float


def fit_delay(delay_days, is_seen, weight=None):
    """Distribution of a delay from finished and unfinished waits.

    Parameters
    ----------
    delay_days : array_like of float, shape (n,)
        Days waited, at least 0: until the event, or so far.
    is_seen : array_like of bool, shape (n,)
        True where the event came; False where it has not come yet (right-censored).
    weight : array_like of float, shape (n,), optional
        Weight of each wait; a job that takes its parts on many days spreads a weight of 1 over them.

    Returns
    -------
    Delay
        Product-limit steps. One wait's worth of probability is kept for delays longer than any seen, so that a
        job that has waited longest of all still has something before it.

    Raises
    ------
    InvalidParameter
        If no event was seen, a wait is negative or lengths differ.

    References
    ----------
    Kaplan & Meier (1958), J. Amer. Statist. Assoc. 53, 457-481. The share kept for the tail is 1 / (n + 1), as for
    the largest of n + 1 alike waits.

    Examples
    --------
    >>> fit_delay([10, 20, 30], [True, True, True]).share
    array([0.25, 0.25, 0.25])
    """
    delay, is_seen = same_length(delay_days=delay_days, is_seen=is_seen)
    delay, is_seen = require.not_negative("delay_days", delay), is_seen.astype(bool)
    weight = np.ones(delay.size) if weight is None else require.not_negative("weight", weight)
    if not (weight[is_seen] > 0).any():
        raise InvalidParameter("delay_days holds no wait that ended; wanted at least one to learn from.")
    days, left = product_limit(delay, is_seen, weight)
    total = weight.sum()
    kept = total / (total + 1)
    share = -np.diff(left, prepend=1.0) * kept
    mean = (share * days).sum() / max(share.sum(), 1e-12)
    return Delay(days, share, 1 - share.sum(), max(mean / 2, LEAST_TAIL_DAYS))


def happened_share(delay, days):
    """Probability that the event has come within ``days``.

    Parameters
    ----------
    delay : Delay
        From :func:`fit_delay`.
    days : array_like of float
        Days since the start; negative: nothing has happened.

    Returns
    -------
    ndarray of float
        Same shape as ``days``.

    Examples
    --------
    >>> happened_share(fit_delay([10, 20, 30], [True] * 3), [9, 10, 30])
    array([0.  , 0.25, 0.75])
    """
    return np.maximum(-np.expm1(_log_waiting_share(delay, np.asarray(days, dtype=float))), 0)


def window_share(delay, elapsed_days, window_days):
    """Probability that the event comes in the window, given that it has not come yet.

    Parameters
    ----------
    delay : Delay
        From :func:`fit_delay`.
    elapsed_days : array_like of float, shape (n,)
        Days waited so far; an event on the last of them has been seen.
    window_days : float
        Length of the window from today, at least 0.

    Returns
    -------
    ndarray of float, shape (n,)

    Raises
    ------
    InvalidParameter
        If the window is negative.

    Examples
    --------
    >>> window_share(fit_delay([10, 20, 30], [True] * 3), [0, 15], 10).round(6)
    array([0.25    , 0.333333])
    """
    window_days = require.not_negative("window_days", window_days)
    elapsed = np.asarray(elapsed_days, dtype=float)
    return -np.expm1(_log_waiting_share(delay, elapsed + window_days) - _log_waiting_share(delay, elapsed))


def exposure_days(delay, window_days):
    """Days of starting that count for a window: the integral of :func:`happened_share` from 0 to its end.

    Starts at a steady rate from today on bring ``rate * exposure_days`` events within the window; the rest of
    what starts in the window happens after it.

    Parameters
    ----------
    delay : Delay
        From :func:`fit_delay`.
    window_days : array_like of float
        Length of the window from today, at least 0.

    Returns
    -------
    ndarray of float
        Days, same shape as ``window_days``.

    Raises
    ------
    InvalidParameter
        If a window is negative.

    Examples
    --------
    >>> float(exposure_days(fit_delay([10, 20, 30], [True] * 3), 30.0).round(9))  # (20 + 10 + 0) / 4
    7.5
    """
    window = require.not_negative("window_days", window_days)
    left = np.maximum(window[..., None] - delay.days, 0)
    beyond = np.maximum(window - delay.days[-1], 0)
    tail = beyond + delay.tail_days * np.expm1(-beyond / delay.tail_days)
    return left @ delay.share + delay.tail_share * tail


def _log_waiting_share(delay, days):
    """Log probability that the event comes after ``days``; in logs, so that a wait of years keeps a tail."""
    later = np.concatenate([np.cumsum(delay.share[::-1])[::-1], [0.0]])
    beyond = np.maximum(days - delay.days[-1], 0) / delay.tail_days
    with np.errstate(divide="ignore"):
        steps, tail = np.log(later[np.searchsorted(delay.days, days, side="right")]), np.log(delay.tail_share)
    return np.logaddexp(steps, tail - beyond)
