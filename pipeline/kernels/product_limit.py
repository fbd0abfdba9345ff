"""Product-limit curve: the share still free of trouble when some are only known to be so up to now."""

import numpy as np
from scipy.special import ndtri

from pipeline.kernels import require
from pipeline.kernels.arguments import same_length


def product_limit(time, is_failed, pieces=None):
    """Share still running after each time at which one failed.

    Parameters
    ----------
    time : array_like of float, shape (n,)
        Days or plays from the start to the failure, or to the last time the piece was known to run.
    is_failed : array_like of bool, shape (n,)
        True where the time ends in a failure; False where the watch ended first (right-censored).
    pieces : array_like of float, shape (n,), optional
        Pieces each row stands for; default one.

    Returns
    -------
    event_time, share : ndarray of float, shape (n_events,)
        Distinct failure times, rising; share still running just after each, in [0, 1].

    Raises
    ------
    InvalidParameter
        If lengths differ, a time is negative or a number of pieces is.

    References
    ----------
    Kaplan & Meier (1958), J. Amer. Statist. Assoc. 53, 457-481.

    Examples
    --------
    >>> product_limit([10, 20, 30], [True, False, True])
    (array([10., 30.]), array([0.66666667, 0.        ]))
    """
    event_time, failed, watched = at_risk(time, is_failed, pieces)
    return event_time, np.cumprod(1 - failed / watched)


def product_limit_interval(time, is_failed, level=0.8, pieces=None):
    """Interval around the product-limit curve, on the log(-log) scale so that it stays in [0, 1].

    Parameters
    ----------
    time, is_failed, pieces
        As for :func:`product_limit`.
    level : float
        Share of such intervals meant to hold the true curve, between 0 and 1.

    Returns
    -------
    low, high : ndarray of float, shape (n_events,)
        Not a number where the curve has reached 0: nothing can be said there.

    Raises
    ------
    InvalidParameter
        As for :func:`product_limit`, or a level outside 0 to 1.

    References
    ----------
    Variance: Greenwood (1926). Scale: Kalbfleisch & Prentice (1980), The Statistical Analysis of
    Failure Time Data, section 1.3.
    """
    level = require.share("level", level)
    _, failed, watched = at_risk(time, is_failed, pieces)
    share = np.cumprod(1 - failed / watched)
    is_open = share > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = np.cumsum(np.where(is_open, failed / (watched * (watched - failed)), np.nan))
        reach = ndtri((1 + level) / 2) * np.sqrt(variance) / np.abs(np.log(share))
        low, high = share ** np.exp(reach), share ** np.exp(-reach)
    return np.where(is_open, low, np.nan), np.where(is_open, high, np.nan)


def at_risk(time, is_failed, pieces=None):
    """Count what failed, and what was still watched, at each failure time.

    Parameters
    ----------
    time, is_failed, pieces
        As for :func:`product_limit`.

    Returns
    -------
    event_time : ndarray of float, shape (n_events,)
        Distinct failure times, rising.
    failed, watched : ndarray of float, shape (n_events,)
        Pieces failed at, and pieces running just before, each of them. A piece whose watch ends
        on a failure time counts as watched then.

    Raises
    ------
    InvalidParameter
        As for :func:`product_limit`.
    """
    time, is_failed = same_length(time=time, is_failed=is_failed)
    pieces = np.ones(time.size) if pieces is None else same_length(time=time, pieces=pieces)[1]
    time, pieces = require.not_negative("time", time), require.not_negative("pieces", pieces)
    is_failed = is_failed.astype(bool) & (pieces > 0)
    event_time, place = np.unique(time[is_failed], return_inverse=True)
    failed = np.bincount(place, pieces[is_failed], event_time.size)
    order = np.argsort(time)
    gone = np.concatenate([[0.0], np.cumsum(pieces[order])])
    return event_time, failed, gone[-1] - gone[np.searchsorted(time[order], event_time)]
