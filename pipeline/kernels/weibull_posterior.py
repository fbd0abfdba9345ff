"""Weibull lives where failures are few: likelihood times a weak prior, summed on a grid."""

from dataclasses import dataclass

import numpy as np

from pipeline.kernels import require
from pipeline.kernels.weibull import checked_lives

_LOG_LOG2 = np.log(np.log(2))
_ZOOMS = 5
_HALVINGS = 40  # of a stretch of at most some hundred logarithms: to about 1e-10
_REACH = 6.0  # standard deviations of the prior looked at to each side
_CUT = 16.0  # log-posterior this far below its top is left out: a share of about 1e-7

# Variance of log scale per failure times shape squared, and of log shape per failure, for complete
# samples: Lawless (2003), Statistical Models and Methods for Lifetime Data, section 5.2.
LOG_MEDIAN_VARIANCE_PER_FAILURE = 1.168
LOG_SHAPE_VARIANCE_PER_FAILURE = 0.608


@dataclass(frozen=True)
class WeibullPosterior:
    """What is believed of each group's life, on a grid of its own.

    Attributes
    ----------
    log_median : ndarray of float, shape (n_groups, n_medians)
        Logarithm of the median life.
    log_shape : ndarray of float, shape (n_groups, n_shapes)
        Logarithm of the shape.
    probability : ndarray of float, shape (n_groups, n_medians, n_shapes)
        Sums to 1 within each group.
    failures, pieces : ndarray of float, shape (n_groups,)
        Failures, and pieces watched.
    prior_weight_share : ndarray of float, shape (n_groups,)
        Share of the information on the log median that the prior brought, 0 to 1; near 1, the prior
        still decides. Quiet watches inform, too, as much as the failures they might have shown.
    log_evidence : ndarray of float, shape (n_groups,)
        Logarithm of the likelihood (densities per unit of time) averaged over the prior. Where times were first
        divided by a factor, that of the times as they were is smaller by failures times the factor's logarithm.
    """

    log_median: np.ndarray
    log_shape: np.ndarray
    probability: np.ndarray
    failures: np.ndarray
    pieces: np.ndarray
    prior_weight_share: np.ndarray
    log_evidence: np.ndarray

    def median_quantile(self, share):
        """Quantile of the median life.

        Parameters
        ----------
        share : float
            Between 0 and 1.

        Returns
        -------
        ndarray of float, shape (n_groups,)
            In the unit of time of the data.
        """
        return np.exp(_grid_quantile(self.log_median, self.probability.sum(axis=2), share))

    def shape_quantile(self, share):
        """Quantile of the shape, shape (n_groups,); ``share`` between 0 and 1."""
        return np.exp(_grid_quantile(self.log_shape, self.probability.sum(axis=1), share))

    def draws(self, rng, n_draws):
        """Draw lives, evenly over the probability, so that few draws represent it well.

        Parameters
        ----------
        rng : numpy.random.Generator
            Source of randomness.
        n_draws : int
            Draws per group.

        Returns
        -------
        scale, shape : ndarray of float, shape (n_groups, n_draws)
            Weibull parameters; the draws of two groups are independent.
        """
        n_groups, n_medians, n_shapes = self.probability.shape
        running = np.cumsum(self.probability.reshape(n_groups, -1), axis=1)
        even = (np.arange(n_draws) + rng.random((n_groups, n_draws))) / n_draws
        even = rng.permuted(even, axis=1) * running[:, -1:]
        cell = np.stack([np.searchsorted(row, u) for row, u in zip(running, even, strict=True)])
        row, column = np.divmod(np.minimum(cell, n_medians * n_shapes - 1), n_shapes)
        jitter = rng.random((2, n_groups, n_draws)) - 0.5
        log_median = _between(self.log_median, row + jitter[0])
        shape = np.exp(_between(self.log_shape, column + jitter[1]))
        return np.exp(log_median - _LOG_LOG2 / shape), shape


def prior_spread(shape, weight):
    """Spread of a guess that is worth a number of observed failures.

    Parameters
    ----------
    shape : array_like of float
        Guessed Weibull shape: steep wear-out says more about the median per failure.
    weight : array_like of float
        Failures the guess is worth; more than 0.

    Returns
    -------
    log_median_sd, log_shape_sd : ndarray of float
        For :func:`weibull_posterior`.

    Examples
    --------
    >>> [round(float(sd), 2) for sd in prior_spread(1.5, 1.0)]
    [0.72, 0.78]
    """
    shape, weight = require.positive("shape", shape), require.positive("weight", weight)
    return (
        np.sqrt(LOG_MEDIAN_VARIANCE_PER_FAILURE / weight) / shape,
        np.sqrt(LOG_SHAPE_VARIANCE_PER_FAILURE / weight) * np.ones_like(shape),
    )


def weibull_posterior(time, is_failed, prior, group=None, pieces=None, n_medians=121, n_shapes=61):
    """Combine lives watched with a prior for the median and the shape.

    Parameters
    ----------
    time, is_failed, group, pieces
        As for :func:`pipeline.kernels.weibull.weibull_fit`; may be empty.
    prior : array_like of float, shape (n_groups, 4)
        Per group: median life, standard deviation of its logarithm, shape, standard deviation of
        its logarithm (normal priors on both logarithms, independent).
    n_medians, n_shapes : int
        Size of the grid, which closes in on where the posterior lies.

    Returns
    -------
    WeibullPosterior

    Raises
    ------
    InvalidParameter
        As for ``weibull_fit``, or if a prior value is not above 0.

    References
    ----------
    Grid approximation: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., section 3.7. Weak
    prior on a quantile rather than on the scale: Meeker & Escobar (1998), Statistical Methods for
    Reliability Data, section 14.2.

    Examples
    --------
    >>> believed = weibull_posterior([40.0, 90.0], [True, False], [[100.0, 0.7, 1.5, 0.3]])
    >>> believed.median_quantile(0.5).round()
    array([97.])
    """
    prior = np.atleast_2d(require.positive("prior", prior))
    lives = checked_lives(time, is_failed, group, prior.shape[0], pieces)
    evidence = _Evidence(*lives)
    log_prior = (np.log(prior[:, 0]), prior[:, 1], np.log(prior[:, 2]), prior[:, 3])
    medians, shapes = _start(evidence, log_prior, n_medians, n_shapes)
    for _ in range(_ZOOMS):
        log_posterior = _log_posterior(medians[:, :, None], shapes, evidence, log_prior)
        medians = _zoom(medians, log_posterior.max(axis=2))
        shapes = _zoom(shapes, log_posterior.max(axis=1))
    log_posterior = _log_posterior(medians[:, :, None], shapes, evidence, log_prior)
    top = log_posterior.max(axis=(1, 2), keepdims=True)
    probability = np.exp(log_posterior - top)
    total = probability.sum(axis=(1, 2), keepdims=True)
    probability /= total
    cell = (medians[:, 1] - medians[:, 0]) * (shapes[:, 1] - shapes[:, 0])
    log_evidence = (top + np.log(total))[:, 0, 0] + np.log(cell / (2 * np.pi * prior[:, 1] * prior[:, 3]))
    shape, used = _used_lives(medians[:, :, None], shapes, evidence)
    by_data = (probability * shape**2 * used).sum(axis=(1, 2))
    by_prior = prior[:, 1] ** -2
    share = by_prior / (by_prior + by_data)
    return WeibullPosterior(
        medians, shapes, probability, evidence.failures, evidence.pieces, share, log_evidence
    )


class _Evidence:
    """The lives, reduced to what the likelihood needs; times counted from each group's longest."""

    def __init__(self, log_time, is_failed, group, n_groups, pieces):
        self.failures = np.bincount(group, pieces * is_failed, n_groups)
        self.pieces = np.bincount(group, pieces, n_groups)
        self.log_sum = np.bincount(group, pieces * is_failed * log_time, n_groups)
        top = np.full(n_groups, -np.inf)
        np.maximum.at(top, group, log_time)
        self.top = np.where(np.isfinite(top), top, 0.0)
        # equal times of one group are one row: whole machines end their watch on one day
        keys, place = np.unique(np.stack([group, log_time]), axis=1, return_inverse=True)
        self.group, self.log_time = keys[0].astype(np.int64), keys[1] - self.top[keys[0].astype(np.int64)]
        self.weight = np.bincount(place.ravel(), pieces, self.group.size)
        self.first = np.flatnonzero(np.diff(self.group, prepend=-1))

    def exposure(self, shape):
        """Sum of (t / longest)**shape per group and shape, (n_groups, n_shapes)."""
        power = self.weight[:, None] * np.exp(shape[self.group] * self.log_time[:, None])
        total = np.zeros(shape.shape)
        if self.group.size:
            total[self.group[self.first]] = np.add.reduceat(power, self.first, axis=0)
        return total


def _start(evidence, log_prior, n_medians, n_shapes):
    """Box that holds the posterior: the best median for each shape, then its reach to both sides."""
    centre, sd, shape_centre, shape_sd = (values[:, None] for values in log_prior)
    low = np.maximum(shape_centre - _REACH * shape_sd, np.log(0.05))
    shapes = _grid(low[:, 0], np.minimum(shape_centre + _REACH * shape_sd, np.log(50.0))[:, 0], n_shapes)
    for _ in range(_ZOOMS):
        best = _best_median(np.exp(shapes), evidence, centre, sd)
        shapes = _zoom(shapes, _log_posterior(best[:, None, :], shapes, evidence, log_prior)[:, 0])
    best, shape = _best_median(np.exp(shapes), evidence, centre, sd), np.exp(shapes)
    # to the left the likelihood falls like exp(-exp), to the right only like exp(-failures * shape)
    failures = np.maximum(evidence.failures, 1e-9)[:, None]
    normal = _REACH / (np.sqrt(failures) * shape)
    left = np.minimum(_REACH * sd, normal)
    right = np.minimum(_REACH * sd, normal + 2 * _CUT / (failures * shape))
    return _grid((best - left).min(axis=1), (best + right).max(axis=1), n_medians), shapes


def _best_median(shape, evidence, centre, sd):
    """Log median of highest posterior for each shape, by halving: the slope falls all the way."""
    failures, top = evidence.failures[:, None], evidence.top[:, None]
    log_use = shape * top + np.log(np.maximum(evidence.exposure(shape), 1e-300)) + _LOG_LOG2
    by_data = (log_use - np.log(np.maximum(failures, 1e-300))) / shape
    low, high = np.minimum(centre, by_data), np.maximum(centre + shape * sd**2, log_use / shape)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        used = np.exp(np.minimum(log_use - shape * middle, 700.0))
        is_left = shape * (used - failures) > (middle - centre) / sd**2
        low, high = np.where(is_left, middle, low), np.where(is_left, high, middle)
    return (low + high) / 2


def _used_lives(log_median, log_shape, evidence):
    """Shape, and the sum of (t / scale)**shape over the lives, for medians (n_groups, n_medians, 1 or n_shapes)."""
    shape = np.exp(log_shape)
    log_scale = log_median - (_LOG_LOG2 / shape)[:, None, :]
    with np.errstate(divide="ignore"):
        log_exposure = np.log(evidence.exposure(shape))[:, None, :]
    k = shape[:, None, :]
    return k, np.exp(np.minimum(k * (evidence.top[:, None, None] - log_scale) + log_exposure, 700.0))


def _log_posterior(log_median, log_shape, evidence, log_prior):
    k, used = _used_lives(log_median, log_shape, evidence)
    log_scale = log_median - _LOG_LOG2 / k
    failures, log_sum = evidence.failures[:, None, None], evidence.log_sum[:, None, None]
    likelihood = failures * (np.log(k) - k * log_scale) + (k - 1) * log_sum - used
    centre, sd, shape_centre, shape_sd = log_prior
    of_median = ((log_median - centre[:, None, None]) / sd[:, None, None]) ** 2 / 2
    of_shape = ((log_shape - shape_centre[:, None]) / shape_sd[:, None]) ** 2 / 2
    return likelihood - of_median - of_shape[:, None, :]


def _grid(low, high, n_points):
    return low[:, None] + (high - low)[:, None] * np.linspace(0, 1, n_points)


def _zoom(grid, ridge):
    """Close in on the part of the axis within the cut, one step wider on both sides."""
    is_in = ridge > ridge.max(axis=1, keepdims=True) - _CUT
    last = grid.shape[1] - 1
    low = np.maximum(is_in.argmax(axis=1) - 1, 0)
    high = np.minimum(last - is_in[:, ::-1].argmax(axis=1) + 1, last)
    rows = np.arange(grid.shape[0])
    return _grid(grid[rows, low], grid[rows, high], grid.shape[1])


def _grid_quantile(axis, probability, share):
    running = np.cumsum(probability, axis=1) - probability / 2  # each point holds its cell's middle
    return np.array([np.interp(share, row, points) for row, points in zip(running, axis, strict=True)])


def _between(axis, position):
    step = (axis[:, -1] - axis[:, 0])[:, None] / (axis.shape[1] - 1)
    return axis[:, :1] + step * position
