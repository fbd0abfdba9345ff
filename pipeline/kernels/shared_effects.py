"""Effects on life that all groups share: one kind of piece lasts so many times as long as another, whatever it is."""

from dataclasses import dataclass

import numpy as np

from pipeline.kernels import require
from pipeline.kernels.arguments import group_index
from pipeline.kernels.weibull import checked_lives
from pipeline.kernels.weibull_posterior import weibull_posterior

_LOG_LOG2 = np.log(np.log(2))
_N_MEDIANS, _N_SHAPES = 31, 17  # steps of under half a standard deviation: evidence exact to about 1e-5
_STEPS = 25
_LONGEST_STEP = 0.7
_TOLERANCE = 1e-4  # of a logarithm of life


@dataclass(frozen=True)
class SharedEffects:
    """Effects of the kinds on the logarithm of life; normal about their most believed values.

    Attributes
    ----------
    mean : ndarray of float, shape (n_kinds,)
        0 where the prior's standard deviation is 0: the kind that all others are compared with.
    covariance : ndarray of float, shape (n_kinds, n_kinds)
    failures, pieces : ndarray of float, shape (n_kinds,)
        Seen of each kind.
    """

    mean: np.ndarray
    covariance: np.ndarray
    failures: np.ndarray
    pieces: np.ndarray


def shared_effects(time, is_failed, prior, group, kind, effect_prior, pieces=None):
    """Find what the kind of a piece does to its life, groups compared each within itself.

    Accelerated failure time: within a group, a piece of a kind lives ``exp(effect)`` times as long as one of the
    reference kind; one shape. Median and shape of each group are averaged out over their prior and its lives
    (marginal likelihood), so a kind that is common where lives are short is not taken to shorten them.

    Parameters
    ----------
    time, is_failed, pieces
        As for :func:`pipeline.kernels.weibull.weibull_fit`; may be empty.
    prior : array_like of float, shape (n_groups, 4)
        As for :func:`pipeline.kernels.weibull_posterior.weibull_posterior`, of the reference kind.
    group, kind : array_like of int, shape (n,)
        From 0.
    effect_prior : array_like of float, shape (n_kinds, 2)
        Mean and standard deviation of each kind's effect, normal and independent; a standard deviation of 0 (and
        mean of 0) is the reference.
    pieces : array_like of float, shape (n,), optional

    Returns
    -------
    SharedEffects

    Raises
    ------
    InvalidParameter
        As for ``weibull_posterior``; if a standard deviation is negative or a kind has no prior.

    References
    ----------
    Accelerated failure time: Kalbfleisch & Prentice (2002), The Statistical Analysis of Failure Time Data, 2nd ed.,
    section 2.3. Mode of the marginal likelihood and normal approximation: Gelman et al. (2013), Bayesian Data
    Analysis, 3rd ed., sections 4.1 and 13.5.

    Examples
    --------
    >>> time, failed = [10.0, 30, 40, 90, 20, 60, 80, 90], [True] * 8
    >>> found = shared_effects(time, failed, [[50, 0.7, 2, 0.2]], [0] * 8, [0] * 4 + [1] * 4, [[0, 0], [0, 1]])
    >>> found.mean.round(2)
    array([0.  , 0.23])
    """
    effect_prior = np.atleast_2d(np.asarray(effect_prior, dtype=float))
    mean, sd = effect_prior[:, 0], require.not_negative("effect_prior", effect_prior[:, 1])
    problem = _Problem(time, is_failed, prior, group, kind, mean, sd, pieces)
    free = np.flatnonzero(sd > 0)
    effect = np.where(sd > 0, mean, 0.0)
    value, slope, curve = problem.at(effect)
    for _ in range(_STEPS):
        step = np.linalg.solve(_held_down(curve[np.ix_(free, free)], sd[free]), slope[free])
        step *= min(1.0, _LONGEST_STEP / max(np.abs(step).max(initial=0.0), 1e-12))
        if np.abs(step).max(initial=0.0) < _TOLERANCE:
            break
        for _ in range(10):
            moved = effect.copy()
            moved[free] += step
            there = problem.at(moved)
            if there[0] >= value - 1e-6:
                break
            step = step / 2
        effect, (value, slope, curve) = moved, there
    covariance = np.zeros((sd.size, sd.size))
    covariance[np.ix_(free, free)] = np.linalg.inv(_held_down(curve[np.ix_(free, free)], sd[free]))
    return SharedEffects(effect, covariance, problem.of_kind(problem.failures), problem.of_kind(problem.pieces))


class _Problem:
    """Log of prior times marginal likelihood of the effects, with its slope and (negative) curvature."""

    def __init__(self, time, is_failed, prior, group, kind, mean, sd, pieces):
        self.prior = np.atleast_2d(np.asarray(prior, dtype=float))
        self.mean, self.sd, self.n_kinds = mean, sd, mean.size
        group, n_groups = group_index(group, np.size(time), self.prior.shape[0])
        kind, _ = group_index(kind, np.size(time), self.n_kinds)
        cell = group * self.n_kinds + kind
        lives = checked_lives(time, is_failed, cell, n_groups * self.n_kinds, pieces)
        self.log_time, self.is_failed, self.cell, n_cells, self.weight = lives
        self.failures = np.bincount(self.cell, self.weight * self.is_failed, n_cells)
        self.pieces = np.bincount(self.cell, self.weight, n_cells)
        self.group, self.kind = np.divmod(self.cell, self.n_kinds)

    def of_kind(self, of_cells):
        return of_cells.reshape(-1, self.n_kinds).sum(axis=0)

    def at(self, effect):
        believed = weibull_posterior(
            np.exp(self.log_time - effect[self.kind]), self.is_failed, self.prior, self.group, self.weight,
            n_medians=_N_MEDIANS, n_shapes=_N_SHAPES,
        )  # fmt: skip
        failures = self.of_kind(self.failures)
        slope, curve = self._of_likelihood(effect, believed)
        weight = np.where(self.sd > 0, 1 / np.where(self.sd > 0, self.sd, 1.0) ** 2, 0.0)
        apart = effect - self.mean
        value = believed.log_evidence.sum() - failures @ effect - (weight * apart**2).sum() / 2
        return value, slope - weight * apart, curve + np.diag(weight)

    def _of_likelihood(self, effect, believed):
        """Slope and negative curvature of the marginal log-likelihood: means and covariance over the posterior."""
        k = np.exp(believed.log_shape)
        used = self._used(effect, k, believed)  # kinds, groups, medians, shapes
        failures = self.failures.reshape(-1, self.n_kinds).T[:, :, None, None]
        gain = k[:, None, :] * (used - failures)
        mean = (believed.probability * gain).sum(axis=(2, 3))
        curve = np.diag((believed.probability * k[:, None, :] ** 2 * used).sum(axis=(1, 2, 3)))
        spread = gain - mean[:, :, None, None]
        flat = (spread * np.sqrt(believed.probability)).reshape(self.n_kinds, -1)
        return mean.sum(axis=1), curve - flat @ flat.T

    def _used(self, effect, k, believed):
        """Sum of (t / scale)**shape of each kind, at every point of its group's grid."""
        log_time = self.log_time - effect[self.kind]
        top = np.zeros(k.shape[0])
        np.maximum.at(top, self.group, log_time)
        power = self.weight[:, None] * np.exp(k[self.group] * (log_time - top[self.group])[:, None])
        exposure = np.zeros((k.shape[0] * self.n_kinds, k.shape[1]))
        np.add.at(exposure, self.cell, power)
        exposure = np.moveaxis(exposure.reshape(-1, self.n_kinds, k.shape[1]), 1, 0)
        log_scale = believed.log_median[:, :, None] - (_LOG_LOG2 / k)[:, None, :]
        lift = np.exp(np.minimum(k[:, None, :] * (top[:, None, None] - log_scale), 700.0))
        return lift * exposure[:, :, None, :]


def _held_down(curve, sd):
    """Curvature that is nowhere flatter than half the prior's: far from the top the likelihood can bend upwards."""
    scaled = curve * np.outer(sd, sd)
    value, axis = np.linalg.eigh(scaled)
    return (axis * np.maximum(value, 0.5)) @ axis.T / np.outer(sd, sd)
