"""How much jobs of one kind differ: rough machines take more of everything, so jobs are fewer than they look."""

import numpy as np

from pipeline.kernels import require
from pipeline.kernels.arguments import group_index, same_length


def roughness_variance(parts_used, kind, independent_variance):
    """Variance, on the logit scale, of what a job adds to the share of every part at once.

    Parameters
    ----------
    parts_used : array_like of float, shape (n_jobs,)
        Different parts that each job used.
    kind : array_like of int, shape (n_jobs,)
        Kind of each job (family and scope), from 0.
    independent_variance : array_like of float, shape (n_kinds,)
        Variance of the parts used by a job of the kind, were its parts taken independently: the sum of
        share * (1 - share) over the parts.

    Returns
    -------
    float
        0 where jobs of a kind differ no more than independent parts would, or no kind has two jobs.

    Raises
    ------
    InvalidParameter
        If lengths differ, a value is negative or a kind has no variance given.

    Notes
    -----
    A job with logit shift g uses about ``g * v`` parts more, v the independent variance, so that the number of parts
    has variance ``v + s * v**2``. Method of moments within kinds, each weighted by the precision of its estimate.

    References
    ----------
    Williams (1982), Applied Statistics 31, 144-148 (extra-binomial variation by moments, reweighted).

    Examples
    --------
    >>> round(roughness_variance([10.0, 14.0], [0, 0], [4.0]), 3)  # variance 8 = 4 + s * 16
    0.25
    """
    parts_used, kind = same_length(parts_used=parts_used, kind=kind)
    parts_used = require.not_negative("parts_used", parts_used)
    v = require.not_negative("independent_variance", np.atleast_1d(independent_variance))
    kind, n_kinds = group_index(kind, parts_used.size, v.size)
    jobs = np.bincount(kind, minlength=n_kinds)
    mean = np.bincount(kind, parts_used, n_kinds) / np.maximum(jobs, 1)
    squares = np.bincount(kind, (parts_used - mean[kind]) ** 2, n_kinds)
    freedom = np.where(v > 0, np.maximum(jobs - 1, 0), 0)
    if not freedom.any():
        return 0.0
    variance = 0.0
    for _ in range(20):
        weight = np.where(freedom > 0, 1 / np.maximum(v * (1 + variance * v), 1e-12) ** 2, 0)
        variance = max(float((weight * (squares - freedom * v)).sum() / (weight * freedom * v**2).sum()), 0.0)
    return variance


def with_shared_doubt(alpha, beta, logit_variance):
    """Beta beliefs widened by a doubt about the logit that no job of the cell resolves.

    Parameters
    ----------
    alpha, beta : array_like of float, shape (n,)
        Beliefs as if jobs were independent.
    logit_variance : array_like of float, shape (n,)
        Variance to add: of the mean roughness of the jobs seen, which moved all parts of a kind together.

    Returns
    -------
    alpha, beta : ndarray of float, shape (n,)
        The same means, wider.

    Raises
    ------
    InvalidParameter
        If lengths differ, a parameter is not more than 0 or a variance negative.

    Examples
    --------
    >>> alpha, beta = with_shared_doubt([6.0], [6.0], [0.1])  # variance 1/52 + 0.1/16
    >>> float(alpha[0] / (alpha[0] + beta[0])), round(float(0.25 / (alpha[0] + beta[0] + 1)), 6)
    (0.5, 0.025481)
    """
    alpha, beta, logit_variance = same_length(alpha=alpha, beta=beta, logit_variance=logit_variance)
    alpha, beta = require.positive("alpha", alpha), require.positive("beta", beta)
    total = alpha + beta
    spread = alpha * beta / total**2
    wider = spread / (total + 1) + spread**2 * require.not_negative("logit_variance", logit_variance)
    share = np.maximum(spread / wider - 1, 0.1 * np.minimum(total, 1)) / total
    return alpha * share, beta * share
