"""Share of jobs that use each part, as told by the other cells: a logit regression with nested random effects.

Rows are cells: a part in one family and scope. The logit of a cell's share is the sum of effects of what the cell has
in common with others (wear class, part, family, what the owner lists to do ...), an effect of its pool (the part in
that scope, whatever the family), slopes, and a deviation of its own.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cholesky, lapack
from scipy.special import expit, logit

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import same_length
from pipeline.kernels.pooled_effects import Effects

SLOPE_VARIANCE = 4.0  # of intercepts and slopes, about the share of all cells: wide, yet few jobs stay finite
SPREAD_PRIOR = (2.0, 0.1)  # levels that the belief about a variance is worth, and the variance believed in
MOST_ROUNDS, LOGIT_TOLERANCE, SPREAD_TOLERANCE = 40, 0.02, 0.05
LARGEST_STEP, LARGEST_LOGIT = 2.0, 12.0
LARGEST_VARIANCE, LEAST_PRECISION = 9.0, 1e-3
_POINT, _WEIGHT = np.polynomial.hermite_e.hermegauss(21)
_WEIGHT = _WEIGHT / _WEIGHT.sum()


@dataclass(frozen=True)
class Cells:
    """What is known of each cell but its counts.

    Attributes
    ----------
    pool : ndarray of int, shape (n,)
        Cells that share a pool effect, from 0: the same part and scope in different families.
    factors : tuple of ndarray of int, shape (n,)
        Level of each cell, from 0, in each further grouping; every grouping has a variance of its own.
    slopes : ndarray of float, shape (n, n_slopes)
        Intercepts and covariates, weakly held; 0 where a covariate says nothing about the cell.
    """

    pool: np.ndarray
    factors: tuple
    slopes: np.ndarray


@dataclass(frozen=True)
class ShareFit:
    """What the fit says of each cell.

    Attributes
    ----------
    logit_mean, logit_variance : ndarray of float, shape (n,)
        Belief about the logit of the share, all jobs counted.
    other_mean, other_variance : ndarray of float, shape (n,)
        The same with the cell's own jobs taken out again: what the other cells say of it.
    spread : ndarray of float, shape (n_factors + 2,)
        Variance of each factor's effects, of the pool effects and of the cells' own deviations.
    """

    logit_mean: np.ndarray
    logit_variance: np.ndarray
    other_mean: np.ndarray
    other_variance: np.ndarray
    spread: np.ndarray


def fit(jobs_with_use, jobs_seen, cells):
    """Belief about every cell's share, the spread of each kind of effect estimated from the counts.

    Parameters
    ----------
    jobs_with_use, jobs_seen : array_like of float, shape (n,)
        Jobs that used the part, and all jobs that could have.
    cells : Cells
        What the cells have in common.

    Returns
    -------
    ShareFit

    Raises
    ------
    InvalidParameter
        If counts are negative, more jobs used a part than were seen, shapes differ or a slope is not finite.

    Notes
    -----
    A normal approximation that minimises the Kullback-Leibler divergence (weights and residuals are averages over
    the current belief, by 21-point Gauss-Hermite), alternating with the expectation-maximisation step for the
    variances under a weak inverse-gamma belief. Taking a cell's own jobs out divides its belief by their normal
    factor. Pool effects and own deviations are eliminated pool by pool, so that the matrix factorised holds the
    other effects only.

    References
    ----------
    Opper & Archambeau (2009), Neural Computation 21, 786-792 (variational normal approximation).
    Breslow & Clayton (1993), J. Amer. Statist. Assoc. 88, 9-25 (working responses, nested effects).
    Dempster, Laird & Rubin (1977), J. Roy. Statist. Soc. B 39, 1-38 (EM for variance components).
    Minka (2001), Uncertainty in Artificial Intelligence 17, 362-369 (a belief with one factor taken out).

    Examples
    --------
    >>> alike = Cells(np.arange(3), (), np.ones((3, 1)))
    >>> found = fit([9, 8, 0], [10, 10, 0], alike)  # a cell without jobs is taken to be like the others
    >>> bool(0.7 < expit(found.logit_mean[2]) < 0.9)
    True
    """
    design, used, seen = _checked(jobs_with_use, jobs_seen, cells)
    spread = np.full(design.n_levels.size + 1, SPREAD_PRIOR[1])
    mean, variance = _start(used, seen)
    for _ in range(MOST_ROUNDS):
        step, mean, variance, squares = _round(design, used, seen, mean, variance, spread)
        before, spread = spread, _likelier_spread(squares, design, seen)
        if step < LOGIT_TOLERANCE and np.abs(np.log(spread / before)).max() < SPREAD_TOLERANCE:
            break
    return given_spread(used, seen, cells, spread, (mean, variance))


def given_spread(jobs_with_use, jobs_seen, cells, spread, start=None):
    """Belief about every cell's share, the spread of each kind of effect known.

    Parameters
    ----------
    jobs_with_use, jobs_seen : array_like of float, shape (n,)
        Counts.
    cells : Cells
        What the cells have in common.
    spread : array_like of float, shape (n_factors + 2,)
        Variances, as in :class:`ShareFit`; more than 0.
    start : tuple of ndarray of float, shape (n,), optional
        Mean and variance of the logits to begin from.

    Returns
    -------
    ShareFit

    Raises
    ------
    InvalidParameter
        As :func:`fit`, or a variance that is not more than 0.
    """
    design, used, seen = _checked(jobs_with_use, jobs_seen, cells)
    spread = require.positive("spread", spread)
    mean, variance = _start(used, seen) if start is None else start
    for _ in range(MOST_ROUNDS):
        step, mean, variance, _ = _round(design, used, seen, mean, variance, spread)
        if step < LOGIT_TOLERANCE / 100:
            break
    weight, response = _working(used, seen, mean, variance)
    other_precision = np.maximum(1 / variance - weight, LEAST_PRECISION)
    other_mean = np.clip((mean / variance - weight * response) / other_precision, -LARGEST_LOGIT, LARGEST_LOGIT)
    # A wider normal distribution of the logit would only pile the share up at 0 and 1.
    return ShareFit(mean, variance, other_mean, np.minimum(1 / other_precision, LARGEST_VARIANCE), spread)


def beta_belief(logit_mean, logit_variance):
    """Beta distribution with the mean and variance of a share whose logit is normal.

    Parameters
    ----------
    logit_mean, logit_variance : array_like of float, shape (n,)
        Of the normal distribution.

    Returns
    -------
    alpha, beta : ndarray of float, shape (n,)

    Raises
    ------
    InvalidParameter
        If a variance is not more than 0 or lengths differ.

    Examples
    --------
    >>> alpha, beta = beta_belief([0.0], [1.0])  # logistic-normal: mean 1/2, variance 0.043
    >>> round(float(1 / (4 * (alpha + beta + 1))[0]), 3)
    0.043
    """
    mean, variance = same_length(logit_mean=logit_mean, logit_variance=logit_variance)
    share = expit(mean[:, None] + np.sqrt(require.positive("logit_variance", variance))[:, None] * _POINT)
    centre = share @ _WEIGHT
    square = (share - centre[:, None]) ** 2 @ _WEIGHT
    total = np.clip(centre * (1 - centre) / np.maximum(square, 1e-300) - 1, 0.1, 1e6)
    return centre * total, (1 - centre) * total


def _checked(jobs_with_use, jobs_seen, cells):
    used, seen = same_length(jobs_with_use=jobs_with_use, jobs_seen=jobs_seen)
    used, seen = require.not_negative("jobs_with_use", used), require.not_negative("jobs_seen", seen)
    require.not_negative("jobs_seen - jobs_with_use", seen - used)
    slopes = np.asarray(cells.slopes, dtype=float)
    if slopes.ndim != 2 or slopes.shape[0] != used.size or not np.isfinite(slopes).all():
        raise InvalidParameter(f"slopes has shape {slopes.shape}; wanted finite numbers, {used.size} rows of them.")
    return Effects.of(cells.pool, cells.factors, slopes), used, seen


def _start(used, seen):
    return np.full(used.size, _overall(used, seen)), np.full(used.size, 0.3)


def _overall(used, seen):
    return logit((used.sum() + 1) / (seen.sum() + 4))


def _working(used, seen, mean, variance):
    """Weight and response of the normal factor that stands for each cell's own jobs."""
    share = expit(mean[:, None] + np.sqrt(variance)[:, None] * _POINT)
    weight = np.maximum(seen * ((share * (1 - share)) @ _WEIGHT), 1e-8)
    return weight, mean + (used - seen * (share @ _WEIGHT)) / weight


def _round(design, used, seen, mean, variance, spread):
    """One solution of the working equations: largest step, logits, their variances, and expected squares by kind."""
    overall = _overall(used, seen)
    weight, response = _working(used, seen, mean, variance)
    response -= overall
    *factors, of_pool, own = spread
    d = 1 / (1 / weight + own)  # precision of a response were the effects known
    c = of_pool / (1 + of_pool * design.pool_sums(d))  # variance of a pool's effect were the other effects known
    held = design.held(d)
    prior = np.append(SLOPE_VARIANCE, factors)[design.kind]
    covariance = _inverse(design.precision(d, held, c) + np.diag(1 / prior))
    effect = covariance @ (design.towards(d * response) - held.T @ (c * design.pool_sums(d * response)))
    rest = response - design.rows @ effect
    pool_effect = c * design.pool_sums(d * rest)
    deviation = own * d * (rest - pool_effect[design.pool])
    doubt, pool_doubt = design.doubts(held, c, covariance)
    k = own * d
    wanted = design.rows @ effect + pool_effect[design.pool] + deviation + overall
    logits = np.clip(mean + np.clip(wanted - mean, -LARGEST_STEP, LARGEST_STEP), -LARGEST_LOGIT, LARGEST_LOGIT)
    # Half a step on the log scale: where all jobs used a part, weight and variance would swing about their answer.
    new_variance = np.sqrt(variance * (own * (1 - k) + (1 - k) ** 2 * doubt))
    squares = (effect**2 + np.diag(covariance), pool_effect**2 + pool_doubt,
               deviation**2 + own * (1 - k) + k**2 * doubt)
    step = np.maximum(np.abs(logits - mean), np.abs(np.log(new_variance / variance))).max(initial=0)
    return step, logits, new_variance, squares


def _likelier_spread(squares, design, seen):
    """Variance of each kind of effect: mean expected square, drawn to the belief by what that is worth."""
    levels, believed = SPREAD_PRIOR
    effect, pool, own = squares
    counts = seen > 0  # a cell without jobs has a deviation only as large as is believed already
    total = np.append(np.bincount(design.kind, effect)[1:], [pool.sum(), own[counts].sum()])
    number = np.append(design.n_levels[1:], [pool.size, counts.sum()])
    return (total + levels * believed) / (number + levels)


def _inverse(matrix):
    """Inverse of a symmetric positive definite matrix, told by its lower triangle."""
    lower, _ = lapack.dpotri(cholesky(matrix, lower=True, check_finite=False), lower=1)  # zero above the diagonal
    whole = lower + lower.T
    np.fill_diagonal(whole, np.diag(lower))
    return whole
