"""Share of jobs that use a part, shrunk towards what other families and the other parts show.

Rows are cells: a part in one family and scope. All cells are treated at once; ``pool`` says which cells are
alike (the same part and scope, other families) and ``stratum`` which pools are (the same scope).
"""

import numpy as np
from scipy.special import betaincinv, betaln, expit, gammaln, logit

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import group_index, same_length

# Weak beliefs that keep a fit finite where the records say nothing: log concentration ~ normal(mean, sd).
STRATUM_CONCENTRATION = (np.log(2.0), 1.5)
FAMILY_CONCENTRATION = (np.log(10.0), 1.5)
LOGIT_MEAN_SD = 2.0
_GRID = np.stack(np.meshgrid(np.linspace(-1, 1, 9), np.linspace(-1, 1, 9))).reshape(2, -1)
CONCENTRATION_GRID = np.geomspace(0.5, 500, 61)


def log_marginal_likelihood(jobs_with_use, jobs_seen, alpha, beta):
    """Log probability of the jobs that used a part when the share of such jobs is Beta(alpha, beta).

    Parameters
    ----------
    jobs_with_use, jobs_seen : array_like of float
        Jobs that used the part, and all jobs that could have; broadcast with the rest.
    alpha, beta : array_like of float
        Parameters of the Beta distribution, more than 0.

    Returns
    -------
    ndarray of float
        Beta-binomial log probability, broadcast shape.

    Raises
    ------
    InvalidParameter
        If more jobs used the part than were seen, a count is negative or a parameter not more than 0.

    References
    ----------
    Skellam (1948), J. Roy. Statist. Soc. B 10, 257-261.

    Examples
    --------
    >>> log_marginal_likelihood([0, 1, 2], 2, 1.0, 1.0).round(6)  # a flat belief: every count alike
    array([-1.098612, -1.098612, -1.098612])
    """
    used, seen = _counts(jobs_with_use, jobs_seen)
    alpha, beta = require.positive("alpha", alpha), require.positive("beta", beta)
    choose = gammaln(seen + 1) - gammaln(used + 1) - gammaln(seen - used + 1)
    return choose + betaln(used + alpha, seen - used + beta) - betaln(alpha, beta)


def posterior(jobs_with_use, jobs_seen, alpha, beta):
    """Beta parameters after the jobs have been seen.

    Parameters
    ----------
    jobs_with_use, jobs_seen : array_like of float
        Jobs that used the part, and all jobs that could have.
    alpha, beta : array_like of float
        Beta belief before; broadcast with the counts.

    Returns
    -------
    alpha, beta : ndarray of float
        Beta belief after; its mean is ``alpha / (alpha + beta)``.

    Raises
    ------
    InvalidParameter
        As for :func:`log_marginal_likelihood`.

    Examples
    --------
    >>> posterior([3], [4], [1.0], [1.0])
    (array([4.]), array([2.]))
    """
    used, seen = _counts(jobs_with_use, jobs_seen)
    alpha, beta = require.positive("alpha", alpha), require.positive("beta", beta)
    return alpha + used, beta + (seen - used)


def share_interval(alpha, beta, level=0.8):
    """Middle interval of a Beta belief about a share.

    Parameters
    ----------
    alpha, beta : array_like of float
        Beta parameters, more than 0.
    level : float
        Probability inside, between 0 and 1.

    Returns
    -------
    low, high : ndarray of float

    Raises
    ------
    InvalidParameter
        If a parameter is not more than 0 or the level lies outside [0, 1].

    Examples
    --------
    >>> [round(float(v), 6) for v in share_interval(1.0, 1.0, 0.8)]
    [0.1, 0.9]
    """
    alpha, beta = require.positive("alpha", alpha), require.positive("beta", beta)
    outside = (1 - require.share("level", level)) / 2
    return betaincinv(alpha, beta, outside), betaincinv(alpha, beta, 1 - outside)


def fit_beta(jobs_with_use, jobs_seen, stratum=None):
    """Mean and concentration of the Beta distribution that shares of one stratum follow.

    Parameters
    ----------
    jobs_with_use, jobs_seen : array_like of float, shape (n,)
        Counts; rows with no jobs seen say nothing.
    stratum : array_like of int, shape (n,), optional
        Stratum of each row, from 0; default one stratum.

    Returns
    -------
    mean, concentration : ndarray of float, shape (n_strata,)
        ``alpha = mean * concentration``; the maximum of the beta-binomial marginal likelihood under weak
        beliefs that keep it finite.

    Raises
    ------
    InvalidParameter
        As for :func:`log_marginal_likelihood`, or lengths differ.

    References
    ----------
    Griffiths (1973), Biometrics 29, 637-648 (maximum likelihood for the beta-binomial).
    """
    used, seen = same_length(jobs_with_use=jobs_with_use, jobs_seen=jobs_seen)
    stratum, n_strata = group_index(stratum, used.size)
    used, seen = _counts(used, seen)
    # What a stratum without jobs is taken to be: as all strata together, these begun from one use in four jobs.
    overall = (used.sum() + 1) / (seen.sum() + 4)
    centre = logit((np.bincount(stratum, used, n_strata) + overall) / (np.bincount(stratum, seen, n_strata) + 1))
    at = np.stack([centre, np.full(n_strata, STRATUM_CONCENTRATION[0])])
    reach = np.array([4.0, 5.0])
    for _ in range(7):  # a grid around the best point so far, drawn tighter each time
        logit_mean, log_concentration = (at[i][:, None] + reach[i] * step for i, step in enumerate(_GRID))
        score = _log_posterior(used, seen, stratum, logit_mean, log_concentration, logit(overall))
        best = score.argmax(axis=1)[:, None]
        at = np.stack([np.take_along_axis(values, best, axis=1)[:, 0] for values in (logit_mean, log_concentration)])
        reach /= 3
    return expit(at[0]), np.exp(at[1])


def cell_prior(jobs_with_use, jobs_seen, pool, stratum):
    """Beta belief about each cell before its own jobs are looked at: what the other cells say.

    Parameters
    ----------
    jobs_with_use, jobs_seen : array_like of float, shape (n,)
        Counts of each cell.
    pool : array_like of int, shape (n,)
        Cells that are alike: the same part (and scope) in different families.
    stratum : array_like of int, shape (n,)
        Stratum of each cell's pool; all cells of a pool share one.

    Returns
    -------
    alpha, beta : ndarray of float, shape (n,)
        Parameters of the belief.
    family_concentration : ndarray of float, shape (n_strata,)
        How alike families are within a pool: pseudo-jobs that a well-known pool is worth to a new family.

    Raises
    ------
    InvalidParameter
        As for :func:`fit_beta`, or a pool that lies in two strata.

    Notes
    -----
    The centre is the pool's mean **without the cell itself** (with it, records would count twice), shrunk to the
    stratum. ``n`` jobs of another family weigh ``n (1 + c) / (n + c)``: however many, they say only so much about
    this one. The spread adds the doubt about the pool's mean to the spread between families, moment for moment.
    The concentration ``c`` maximises the likelihood of every cell given the others, by stratum.
    """
    used, seen = _counts(*same_length(jobs_with_use=jobs_with_use, jobs_seen=jobs_seen))
    pool, n_pools = group_index(pool, used.size)
    stratum, n_strata = group_index(stratum, used.size)
    of_pool = np.zeros(n_pools, dtype=np.int64)
    of_pool[pool] = stratum
    if (of_pool[pool] != stratum).any():
        raise InvalidParameter("a pool lies in two strata; wanted each pool in one.")
    totals = [np.bincount(pool, count, n_pools) for count in (used, seen)]
    mean, strength = fit_beta(*totals, of_pool)
    cells = used, seen, pool, mean[stratum], strength[stratum]
    score = np.empty((CONCENTRATION_GRID.size, n_strata))
    for row, concentration in enumerate(CONCENTRATION_GRID):
        alpha, beta = _from_others(*cells, np.full(used.size, concentration))
        score[row] = np.bincount(stratum, log_marginal_likelihood(used, seen, alpha, beta), n_strata)
    place, spread = FAMILY_CONCENTRATION
    score -= ((np.log(CONCENTRATION_GRID) - place) / spread)[:, None] ** 2 / 2
    best = CONCENTRATION_GRID[score.argmax(axis=0)]
    return *_from_others(*cells, best[stratum]), best


def _counts(jobs_with_use, jobs_seen):
    used = require.not_negative("jobs_with_use", jobs_with_use)
    seen = require.not_negative("jobs_seen", jobs_seen)
    require.not_negative("jobs_seen - jobs_with_use", seen - used)
    return used, seen


def _log_posterior(used, seen, stratum, logit_mean, log_concentration, overall):
    """Objective of :func:`fit_beta` at each stratum's candidates, shape (n_strata, n_candidates)."""
    mean, concentration = expit(logit_mean), np.exp(log_concentration)
    alpha, beta = mean * concentration, (1 - mean) * concentration
    place, spread = STRATUM_CONCENTRATION
    score = -(((logit_mean - overall) / LOGIT_MEAN_SD) ** 2 + ((log_concentration - place) / spread) ** 2) / 2
    gain = betaln(used[:, None] + alpha[stratum], (seen - used)[:, None] + beta[stratum])
    np.add.at(score, stratum, gain - betaln(alpha, beta)[stratum])
    return score


def _from_others(used, seen, pool, mean, strength, concentration):
    """Belief about each cell from the other cells of its pool and its stratum."""
    worth = (1 + concentration) / (seen + concentration)  # of one job, as evidence about the pool
    used, seen = used * worth, seen * worth
    other_used = np.bincount(pool, used)[pool] - used
    other_seen = np.bincount(pool, seen)[pool] - seen
    known = strength + np.maximum(other_seen, 0)
    centre = np.clip((strength * mean + other_used) / known, 1e-9, 1 - 1e-9)
    between = 1 / (1 + concentration)
    total = 1 / (between + (1 - between) / (1 + known)) - 1
    return centre * total, (1 - centre) * total
