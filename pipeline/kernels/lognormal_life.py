"""Lognormal lives by censored maximum likelihood, for any number of groups in one call."""

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr

from pipeline.kernels.weibull import checked_lives

_NEWTON_STEPS = 100
_LOG_2PI = np.log(2 * np.pi)


@dataclass(frozen=True)
class LognormalFit:
    """Fitted groups; arrays of shape (n_groups,), not a number where nothing could be fitted.

    Attributes
    ----------
    log_mean, log_sd : ndarray of float
        Mean and standard deviation of log(time).
    log_likelihood : ndarray of float
        At the maximum.
    failures : ndarray of float
        Failures seen.
    reason : ndarray of str
        Empty where fitted; else ``no failures`` or ``no finite maximum``.
    """

    log_mean: np.ndarray
    log_sd: np.ndarray
    log_likelihood: np.ndarray
    failures: np.ndarray
    reason: np.ndarray


def lognormal_fit(time, is_failed, group=None, n_groups=None, pieces=None):
    """Fit a lognormal life to each group of failures and unfinished watches.

    Parameters
    ----------
    time, is_failed, group, n_groups, pieces
        As for :func:`pipeline.kernels.weibull.weibull_fit`, whose existence condition holds here too.

    Returns
    -------
    LognormalFit

    Raises
    ------
    InvalidParameter
        If lengths differ, a time is negative, or a piece failed at time 0.

    References
    ----------
    Concave in (mean / sd, 1 / sd), so Newton's method finds the one maximum: Olsen (1978),
    Econometrica 46, 1211-1215; Burridge (1981), J. R. Statist. Soc. B 43, 41-45.

    Examples
    --------
    >>> fit = lognormal_fit([3.0, 5.0, 8.0, 8.0], [True, True, True, False])
    >>> fit.log_mean.round(3), fit.log_sd.round(3)
    (array([1.796]), array([0.507]))
    """
    log_time, is_failed, group, n_groups, pieces = checked_lives(time, is_failed, group, n_groups, pieces)
    failures = np.bincount(group, pieces * is_failed, n_groups)
    log_sum = np.bincount(group, pieces * is_failed * log_time, n_groups)
    top = np.full(n_groups, -np.inf)
    np.maximum.at(top, group, log_time)
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = log_sum / failures - top
    reason = np.where(failures == 0, "no failures", np.where(gap < -1e-12, "", "no finite maximum"))
    is_fitted = reason == ""
    keep = is_fitted[group]
    rows = (log_time[keep], is_failed[keep], group[keep], pieces[keep])
    log_mean, log_sd, likelihood = _climb(*rows, n_groups, is_fitted)
    likelihood = likelihood - log_sum  # density of the time, not of its logarithm
    blank = np.where(is_fitted, 0.0, np.nan)
    return LognormalFit(log_mean + blank, log_sd + blank, likelihood + blank, failures, reason)


def _climb(log_time, is_failed, group, pieces, n_groups, is_fitted):
    """Newton's method with step halving, all groups side by side."""
    weight = np.bincount(group, pieces, n_groups)
    centre = np.bincount(group, pieces * log_time, n_groups) / np.maximum(weight, 1)
    spread = np.bincount(group, pieces * (log_time - centre[group]) ** 2, n_groups)
    slope = 1 / np.sqrt(np.maximum(spread / np.maximum(weight, 1), 1e-12))
    data = (log_time - centre[group], is_failed, group, pieces, n_groups)
    at, slope = np.zeros(n_groups), np.where(is_fitted, np.minimum(slope, 1e3), 1.0)
    value = _likelihood(at, slope, *data)
    for _ in range(_NEWTON_STEPS):
        step_at, step_slope = _newton_step(at, slope, *data, is_fitted)
        size = np.where(slope + step_slope > 0, 1.0, 0.9 * slope / np.where(step_slope, -step_slope, 1))
        for _ in range(30):
            moved = _likelihood(at + size * step_at, slope + size * step_slope, *data)
            is_worse = moved < value - 1e-9 * (1 + np.abs(value))
            if not is_worse.any():
                break
            size = np.where(is_worse, size / 2, size)
        at, slope, value = at + size * step_at, slope + size * step_slope, moved
        if (np.abs(step_at) + np.abs(step_slope) < 1e-10 * (1 + slope)).all():
            break
    return centre + at / slope, 1 / slope, value


def _likelihood(at, slope, y, is_failed, group, pieces, n_groups):
    z = slope[group] * y - at[group]
    each = np.where(is_failed, np.log(slope[group]) - (z**2 + _LOG_2PI) / 2, log_ndtr(-z))
    return np.bincount(group, pieces * each, n_groups)


def _newton_step(at, slope, y, is_failed, group, pieces, n_groups, is_fitted):
    z = slope[group] * y - at[group]
    hazard = np.exp(-(z**2 + _LOG_2PI) / 2 - log_ndtr(-z))  # normal density over what is left
    first = np.where(is_failed, z, hazard)
    second = np.where(is_failed, 1.0, hazard * (hazard - z))

    def total(values):
        return np.bincount(group, pieces * values, n_groups)

    to_at, to_slope = total(first), total(is_failed / slope[group] - first * y)
    aa, ab = total(second), -total(second * y)
    bb = total(is_failed / slope[group] ** 2 + second * y**2)
    determinant = np.where(is_fitted, aa * bb - ab**2, 1.0)
    return (bb * to_at - ab * to_slope) / determinant, (aa * to_slope - ab * to_at) / determinant
