"""Weibull lives by censored maximum likelihood, for any number of groups in one call."""

from dataclasses import dataclass

import numpy as np
from scipy.special import gamma

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import group_index, same_length

_NEWTON_STEPS = 100
_TOLERANCE = 1e-12


@dataclass(frozen=True)
class WeibullFit:
    """Fitted groups; arrays of shape (n_groups,), not a number where nothing could be fitted.

    Attributes
    ----------
    scale, shape : ndarray of float
        Share still running at time t is ``exp(-(t / scale) ** shape)``; scale in the unit of time.
    log_scale_error, log_shape_error, log_covariance : ndarray of float
        Standard errors of, and covariance between, the logarithms, from the observed information.
    log_likelihood : ndarray of float
        At the maximum.
    failures, pieces : ndarray of float
        Failures, and pieces watched.
    reason : ndarray of str
        Empty where fitted; else ``no failures`` or ``no finite maximum``.
    """

    scale: np.ndarray
    shape: np.ndarray
    log_scale_error: np.ndarray
    log_shape_error: np.ndarray
    log_covariance: np.ndarray
    log_likelihood: np.ndarray
    failures: np.ndarray
    pieces: np.ndarray
    reason: np.ndarray

    @property
    def median(self):
        """Median life of each group, in the unit of time."""
        return quantile(0.5, self.scale, self.shape)


def weibull_fit(time, is_failed, group=None, n_groups=None, pieces=None):
    """Fit a Weibull life to each group of failures and unfinished watches.

    A maximum exists only where mean(log failure times) < log(longest time watched): otherwise the
    likelihood grows without end as the shape does. Such groups are named, never given a number.

    Parameters
    ----------
    time : array_like of float, shape (n,)
        To the failure, or to the end of the watch; more than 0 where failed.
    is_failed : array_like of bool, shape (n,)
        False where the watch ended before the piece failed (right-censored).
    group : array_like of int, shape (n,), optional
        Group numbers from 0; default all in one.
    n_groups : int, optional
        Number of groups, counting empty ones.
    pieces : array_like of float, shape (n,), optional
        Pieces each row stands for; default one.

    Returns
    -------
    WeibullFit

    Raises
    ------
    InvalidParameter
        If lengths differ, a time is negative, or a piece failed at time 0.

    References
    ----------
    Likelihood and its existence: Pike (1966), Biometrics 22, 142-161; Farnum & Booth (1997), IEEE
    Trans. Reliability 46, 523-525. Information: Lawless (2003), Statistical Models and Methods for
    Lifetime Data, section 5.2.

    Examples
    --------
    >>> fit = weibull_fit([3.0, 5.0, 8.0, 8.0], [True, True, True, False])
    >>> fit.shape.round(2), fit.scale.round(2), fit.reason
    (array([2.56]), array([7.31]), array([''], dtype='<U17'))
    """
    log_time, is_failed, group, n_groups, pieces = checked_lives(time, is_failed, group, n_groups, pieces)
    failures, log_sum, top = _summary(log_time, is_failed, group, n_groups, pieces)
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = log_sum / failures - top
    reason = np.where(failures == 0, "no failures", np.where(gap < -_TOLERANCE, "", "no finite maximum"))
    fitted = np.flatnonzero(reason == "")
    place = np.full(n_groups, -1)
    place[fitted] = np.arange(fitted.size)
    keep = place[group] >= 0
    rows = _Rows(log_time[keep] - top[group[keep]], place[group[keep]], pieces[keep])
    shape = _solve_shape(rows, gap[fitted])
    moments = rows.powers(shape)
    found = _summarise(shape, moments, failures[fitted], log_sum[fitted], top[fitted])
    everywhere = {name: _spread(values, fitted, n_groups) for name, values in found.items()}
    return WeibullFit(
        **everywhere, failures=failures, pieces=np.bincount(group, pieces, n_groups), reason=reason
    )


def quantile(share, scale, shape):
    """Age by which a share of pieces has failed.

    Parameters
    ----------
    share : array_like of float
        Between 0 and 1.
    scale, shape : array_like of float
        Weibull parameters; all three broadcast.

    Returns
    -------
    ndarray of float
        In the unit of ``scale``.

    Examples
    --------
    >>> round(float(quantile(0.5, 1000.0, 1.0)), 1)
    693.1
    """
    return scale * (-np.log1p(-np.asarray(share, dtype=float))) ** (1 / np.asarray(shape))


def survival(time, scale, shape, age=0.0):
    """Share still running after a further ``time``, given it ran at ``age``.

    Parameters
    ----------
    time, scale, shape, age : array_like of float
        Same unit of time; all broadcast.

    Returns
    -------
    ndarray of float
        In [0, 1].
    """
    return np.exp(-(((age + time) / scale) ** shape - (age / scale) ** shape))


def mean_and_sd(scale, shape):
    """Mean life and its standard deviation, in the unit of ``scale``.

    Parameters
    ----------
    scale, shape : array_like of float
        Weibull parameters.

    Returns
    -------
    mean, sd : ndarray of float
    """
    first, second = gamma(1 + 1 / np.asarray(shape)), gamma(1 + 2 / np.asarray(shape))
    return scale * first, scale * np.sqrt(second - first**2)


def checked_lives(time, is_failed, group=None, n_groups=None, pieces=None):
    """Check lives and drop rows that say nothing: no pieces, or a watch of no length.

    Parameters
    ----------
    time, is_failed, group, n_groups, pieces
        As for :func:`weibull_fit`.

    Returns
    -------
    log_time, is_failed, group : ndarray, shape (n_kept,)
    n_groups : int
    pieces : ndarray of float, shape (n_kept,)

    Raises
    ------
    InvalidParameter
        As for :func:`weibull_fit`.
    """
    time, is_failed = same_length(time=time, is_failed=is_failed)
    time, is_failed = require.not_negative("time", time), is_failed.astype(bool)
    pieces = np.ones(time.size) if pieces is None else same_length(time=time, pieces=pieces)[1]
    pieces = require.not_negative("pieces", pieces)
    group, n_groups = group_index(group, time.size, n_groups)
    if (is_failed & (time == 0) & (pieces > 0)).any():
        raise InvalidParameter("time holds 0 for a piece that failed; wanted more than 0 (half a day, say).")
    keep = (time > 0) & (pieces > 0)
    return np.log(time[keep]), is_failed[keep], group[keep], n_groups, pieces[keep]


def _summary(log_time, is_failed, group, n_groups, pieces):
    failures = np.bincount(group, pieces * is_failed, n_groups)
    log_sum = np.bincount(group, pieces * is_failed * log_time, n_groups)
    top = np.full(n_groups, -np.inf)
    np.maximum.at(top, group, log_time)
    return failures, log_sum, top


class _Rows:
    """Rows sorted by group; log times counted from each group's longest, so no power overflows."""

    def __init__(self, log_time, group, pieces):
        order = np.argsort(group, kind="stable")
        self.log_time, self.group, self.pieces = log_time[order], group[order], pieces[order]
        self.first = np.flatnonzero(np.diff(self.group, prepend=-1))

    def powers(self, shape):
        """Per group: sums of t**shape times 1, log t and its square; all (n_groups,)."""
        if not shape.size:
            return np.zeros((3, 0))
        power = self.pieces * np.exp(shape[self.group] * self.log_time)
        terms = np.stack([power, power * self.log_time, power * self.log_time**2])
        return np.add.reduceat(terms, self.first, axis=1)


def _solve_shape(rows, gap):
    """Root of sum(t^k log t)/sum(t^k) - 1/k = mean log failure: Newton in log k, kept in a bracket."""
    low = 1 / -gap  # the left side is negative there, whatever the data
    high, shape = np.full(gap.size, np.inf), low * 1.3
    for _ in range(_NEWTON_STEPS):
        total, first, second = rows.powers(shape)
        mean_log = first / total
        value = mean_log - 1 / shape - gap
        slope = (second / total - mean_log**2) * shape + 1 / shape
        low, high = np.where(value <= 0, shape, low), np.where(value >= 0, shape, high)
        moved = shape * np.exp(np.clip(-value / slope, -2, 2))
        middle = np.where(np.isfinite(high), np.sqrt(low * np.minimum(high, 1e300)), low * 4)
        moved = np.where((moved >= low) & (moved <= high), moved, middle)
        is_done = np.abs(moved - shape) <= _TOLERANCE * shape
        shape = moved
        if is_done.all():
            break
    return shape


def _summarise(shape, moments, failures, log_sum, top):
    total, first, second = moments
    log_scale = top + np.log(total / failures) / shape
    offset = top - log_scale
    # z = shape * log(t / scale); sums of z e^z and z^2 e^z for the observed information
    lift = np.exp(shape * offset)
    z1 = lift * shape * (first + offset * total)
    z2 = lift * shape**2 * (second + 2 * offset * first + offset**2 * total)
    scale_info, cross, shape_info = failures * shape**2, shape * z1, failures + z2
    determinant = scale_info * shape_info - cross**2
    likelihood = failures * (np.log(shape) - shape * log_scale - 1) + (shape - 1) * log_sum
    return {
        "scale": np.exp(log_scale),
        "shape": shape,
        "log_scale_error": np.sqrt(shape_info / determinant),
        "log_shape_error": np.sqrt(scale_info / determinant),
        "log_covariance": cross / determinant,
        "log_likelihood": likelihood,
    }


def _spread(values, fitted, n_groups):
    everywhere = np.full(n_groups, np.nan)
    everywhere[fitted] = values
    return everywhere
