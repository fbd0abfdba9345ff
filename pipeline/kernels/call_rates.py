"""Rates of rare calls in a few groups: gamma-Poisson, each group drawn towards all of them together."""

import numpy as np
from scipy.special import gammaincinv, gammaln, logsumexp

from pipeline.kernels import require

# Exposure that the common rate counts for in each group; which of these, the groups' own differences say.
_PRIOR_EXPOSURES = np.geomspace(3.0, 300.0, 41)


def shrunk_rates(events, exposure, guess=(0.5, 1.0)):
    """Gamma belief about each group's rate.

    Parameters
    ----------
    events : array_like of float, shape (n_groups,)
        Events seen.
    exposure : array_like of float, shape (n_groups,)
        What they were seen in: jobs watched, say; 0 where a group was not seen at all.
    guess : tuple of float
        Events and exposure (above 0) added to the common rate, so that never is not a finding.

    Returns
    -------
    alpha, beta : ndarray of float, shape (n_groups,)
        Belief ``Gamma(alpha, rate beta)`` in events per exposure; its mean is ``alpha / beta``.

    Raises
    ------
    InvalidParameter
        If a number is negative, or the guess is not above 0.

    References
    ----------
    Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., section 2.6; strength of the prior
    averaged over its marginal likelihood, section 5.2.

    Examples
    --------
    >>> alpha, beta = shrunk_rates([0, 4], [10, 100])
    >>> (alpha / beta).round(3)
    array([0.032, 0.04 ])
    """
    events = require.not_negative("events", events)
    exposure = require.not_negative("exposure", exposure)
    guess = require.positive("guess", guess)
    common = (events.sum() + guess[0]) / (exposure.sum() + guess[1])
    beta = _PRIOR_EXPOSURES[:, None]
    alpha = common * beta
    fit = gammaln(alpha + events) - gammaln(alpha) + alpha * np.log(beta) - (alpha + events) * np.log(beta + exposure)
    weight = np.exp(fit.sum(axis=1) - logsumexp(fit.sum(axis=1)))
    mean = weight @ ((alpha + events) / (beta + exposure))
    square = weight @ ((alpha + events) * (alpha + events + 1) / (beta + exposure) ** 2)
    spread = square - mean**2
    return mean**2 / spread, mean / spread


def rate_quantile(share, alpha, beta):
    """Quantile of a gamma belief.

    Parameters
    ----------
    share : array_like of float
        Between 0 and 1.
    alpha, beta : array_like of float
        From :func:`shrunk_rates`.

    Returns
    -------
    ndarray of float
        Events per exposure.
    """
    return gammaincinv(alpha, share) / beta
