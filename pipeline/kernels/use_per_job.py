"""Share of jobs that use a part as a Beta belief: the jobs added to it, and its interval."""

from scipy.special import betaincinv

from pipeline.kernels import require


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
        If more jobs used the part than were seen, a count is negative or a parameter not more than 0.

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


def _counts(jobs_with_use, jobs_seen):
    used = require.not_negative("jobs_with_use", jobs_with_use)
    seen = require.not_negative("jobs_seen", jobs_seen)
    require.not_negative("jobs_seen - jobs_with_use", seen - used)
    return used, seen
