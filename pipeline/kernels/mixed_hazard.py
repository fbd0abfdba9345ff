"""Wear-out mixed with failures at random: how much of each, and whether one Weibull life would do as well."""

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from pipeline.kernels import require
from pipeline.kernels.weibull import checked_lives
from pipeline.kernels.weibull_posterior import weibull_posterior

_LOG2 = np.log(2)
_REACH = 6.0
_CUT = 16.0
_N_SHAPES, _N_SHARES, _N_COARSE, _N_FINE = 31, 12, 13, 21


@dataclass(frozen=True)
class MixedHazard:
    """What the lives of each group say about a mixture; arrays of shape (n_groups,).

    Attributes
    ----------
    log_bayes_factor : ndarray of float
        Logarithm of the Bayes factor of the mixture against a single Weibull life of free shape.
    share_mean, share_low, share_high : ndarray of float
        Share of failures at random by the median life, 0 to 1: mean and 80 % interval under the mixture.
    failures : ndarray of float
    """

    log_bayes_factor: np.ndarray
    share_mean: np.ndarray
    share_low: np.ndarray
    share_high: np.ndarray
    failures: np.ndarray


def mixed_hazard(time, is_failed, prior, group=None, pieces=None):
    """Weigh a mixture of random failures and wear-out against a single Weibull life.

    Cumulative hazard ``log(2) * (share * t / m + (1 - share) * (t / m) ** k)``: a constant hazard and a wear-out
    side by side (competing risks), m the median life. Prior of m as given; of k as given for the shape, but above 1;
    share uniform from 0 to 1. The single Weibull has the prior as given.

    Parameters
    ----------
    time, is_failed, prior, group, pieces
        As for :func:`pipeline.kernels.weibull_posterior.weibull_posterior`.

    Returns
    -------
    MixedHazard

    Raises
    ------
    InvalidParameter
        As for ``weibull_posterior``.

    References
    ----------
    Hazards that add up, from failures of several causes: Lawless (2003), Statistical Models and Methods for Lifetime
    Data, section 1.3 and chapter 9. Bayes factors: Kass & Raftery (1995), Journal of the American Statistical
    Association 90, 773-795 (above 3: positive).

    Examples
    --------
    >>> early, late = [5.0, 9, 14, 20, 31, 44], [95.0, 97, 98, 99, 100, 101, 102, 103, 104, 105]
    >>> found = mixed_hazard(early + late, [True] * 16, [[80.0, 0.7, 3.0, 0.5]])
    >>> bool(found.log_bayes_factor[0] > np.log(3)), found.share_mean.round(1)
    (True, array([0.7]))
    """
    prior = np.atleast_2d(require.positive("prior", prior))
    lives = _Lives(time, is_failed, prior, group, pieces)
    single = weibull_posterior(time, is_failed, prior, group, pieces).log_evidence
    node, weight = np.polynomial.legendre.leggauss(_N_SHARES)
    share, weight = (node + 1) / 2, weight / 2
    log_shape, of_shape = _shapes(prior)
    grid = _Grid(lives, np.exp(log_shape), share)
    by_cell = grid.log_averaged() + of_shape[:, :, None] + np.log(weight)
    top = by_cell.max(axis=(1, 2), keepdims=True)
    probability = np.exp(by_cell - top)
    total = probability.sum(axis=(1, 2))
    of_share = probability.sum(axis=1) / total[:, None]
    low, high = (_quantile(share, of_share, level) for level in (0.1, 0.9))
    return MixedHazard(top[:, 0, 0] + np.log(total) - single, of_share @ share, low, high, lives.failures)


class _Lives:
    """Failure times in rows of a table, one row per group; exposures as sums of powers."""

    def __init__(self, time, is_failed, prior, group, pieces):
        log_time, is_failed, group, n_groups, pieces = checked_lives(time, is_failed, group, prior.shape[0], pieces)
        self.centre, self.sd = np.log(prior[:, 0]), prior[:, 1]
        self.failures = np.bincount(group, pieces * is_failed, n_groups)
        self.group, self.pieces = group, pieces
        top = np.full(n_groups, -np.inf)
        np.maximum.at(top, group, log_time)
        self.top = np.where(np.isfinite(top), top, 0.0)
        self.log_time = log_time - self.top[group]
        keys, place = np.unique(np.stack([group, log_time])[:, is_failed], axis=1, return_inverse=True)
        rows = keys[0].astype(np.int64)
        number = np.arange(rows.size) - np.searchsorted(rows, rows)
        # times that fill up a short row count for nothing
        self.failed_at = np.tile(self.top, (number.max(initial=-1) + 1, 1))
        self.failed = np.zeros(self.failed_at.shape)
        self.failed_at[number, rows] = keys[1]
        self.failed[number, rows] = np.bincount(place.ravel(), pieces[is_failed], rows.size)

    def log_exposure(self, shape):
        """Logarithm of the sum of t**shape, for shapes (n_groups, n); the same shape."""
        power = self.pieces[:, None] * np.exp(shape[self.group] * self.log_time[:, None])
        total = np.zeros(shape.shape)
        np.add.at(total, self.group, power)
        return shape * self.top[:, None] + np.log(np.maximum(total, 1e-300))


class _Grid:
    """Log posterior over the log median, for every group, shape and share, each on its own stretch of medians."""

    def __init__(self, lives, shape, share):
        self.lives, self.share = lives, share[:, None]
        self.k = shape[:, :, None, None]
        self.worn = lives.log_exposure(shape)[:, :, None, None]
        self.random = lives.log_exposure(np.ones((shape.shape[0], 1)))[:, :, None, None]
        self.centre, self.sd = (values[:, None, None, None] for values in (lives.centre, lives.sd))

    def log_averaged(self):
        """Logarithm of the likelihood averaged over the prior of the median, (n_groups, n_shapes, n_shares)."""
        low, high = self._stretch()
        log_median = low + (high - low) * np.linspace(0, 1, _N_COARSE)
        log_posterior = self._log_posterior(log_median)
        log_median = _zoomed(log_median, log_posterior, _N_FINE)
        log_posterior = self._log_posterior(log_median)
        top = log_posterior.max(axis=-1)
        total = np.exp(log_posterior - top[..., None]).sum(axis=-1)
        step = log_median[..., 1] - log_median[..., 0]
        return top + np.log(total * step) - np.log(np.sqrt(2 * np.pi) * self.sd[..., 0])

    def _hazards(self, log_median):
        """Expected failures at random and by wear-out."""
        random = _LOG2 * self.share * np.exp(np.minimum(self.random - log_median, 600.0))
        worn = _LOG2 * (1 - self.share) * np.exp(np.minimum(self.worn - self.k * log_median, 600.0))
        return random, worn

    def _stretch(self):
        """Where the best median lies at most and at least: each failure pulls with a force between 1 and k."""
        failures = self.lives.failures[:, None, None, None]
        strongest = self._where_level(failures * self.k)
        weakest = self._where_level(failures)
        near = _REACH / np.sqrt(np.maximum(failures, 1e-9))
        far = near + 2 * _CUT / np.maximum(failures, 1e-9)
        return strongest - np.minimum(_REACH * self.sd, near), weakest + np.minimum(_REACH * self.sd, far)

    def _where_level(self, pull):
        shape = np.broadcast_shapes(self.k.shape, self.share.shape)
        low = np.broadcast_to(self.centre - pull * self.sd**2 - 1, shape)
        high = np.maximum(self.centre, np.maximum(self.worn / self.k, self.random)) + 1 + 2 * self.sd**2
        high = np.broadcast_to(high, shape)
        for _ in range(60):
            middle = (low + high) / 2
            random, worn = self._hazards(middle)
            is_left = random + self.k * worn - pull > (middle - self.centre) / self.sd**2
            low, high = np.where(is_left, middle, low), np.where(is_left, high, middle)
        return (low + high) / 2

    def _log_posterior(self, log_median):
        random, worn = self._hazards(log_median)
        total = -random - worn - ((log_median - self.centre) / self.sd) ** 2 / 2
        total = total + self.lives.failures[:, None, None, None] * (np.log(_LOG2) - log_median)
        for at, weight in zip(self.lives.failed_at, self.lives.failed, strict=True):
            late = np.minimum((self.k - 1) * (at[:, None, None, None] - log_median), 600.0)
            hazard = self.share + (1 - self.share) * self.k * np.exp(late)
            total += weight[:, None, None, None] * np.log(hazard)
        return total


def _shapes(prior):
    """Logarithms of shapes above 1, and the logarithm of each one's share of the prior."""
    centre, sd = np.log(prior[:, 2:3]), prior[:, 3:4]
    high = np.maximum(centre + _REACH * sd, sd)
    log_shape = high * np.linspace(0, 1, _N_SHAPES)
    step = log_shape[:, 1:2] * np.where(np.isin(np.arange(_N_SHAPES), (0, _N_SHAPES - 1)), 0.5, 1.0)
    of_shape = norm.logpdf(log_shape, centre, sd) - norm.logsf(0.0, centre, sd) + np.log(step)
    return log_shape, of_shape


def _zoomed(grid, log_posterior, n_points):
    """The part of the last axis within the cut, one step wider on both sides."""
    is_in = log_posterior > log_posterior.max(axis=-1, keepdims=True) - _CUT
    last = grid.shape[-1] - 1
    low = np.maximum(is_in.argmax(axis=-1) - 1, 0)[..., None]
    high = np.minimum(last - is_in[..., ::-1].argmax(axis=-1) + 1, last)[..., None]
    low, high = (np.take_along_axis(grid, place, axis=-1) for place in (low, high))
    return low + (high - low) * np.linspace(0, 1, n_points)


def _quantile(share, probability, level):
    """Quantile of the random share, straight lines between the middles of its masses."""
    middle = np.cumsum(probability, axis=1) - probability / 2
    at = np.concatenate([[0.0], share, [1.0]])
    return np.array([np.interp(level, np.concatenate([[0.0], row, [1.0]]), at) for row in middle])
