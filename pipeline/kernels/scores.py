"""How good a stated distribution was, once the pieces are known: CRPS, quantile loss, probability transform."""

import numpy as np
from scipy.special import ndtr

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import whole


def crps_pmf(pmf, observed_pcs):
    """Continuous ranked probability score of distributions over whole pieces; smaller is better.

    Parameters
    ----------
    pmf : array_like of float, shape (n_rows, n_values)
        Probability of 0, 1, 2 ... pieces.
    observed_pcs : array_like of int, shape (n_rows,)
        Pieces seen, at least 0; may lie beyond the grid.

    Returns
    -------
    ndarray of float, shape (n_rows,)
        Pieces: the sum over k of (P(X <= k) - [seen <= k]) squared; for a certain forecast the absolute error.

    Raises
    ------
    InvalidParameter
        If a row is no distribution, or a count is negative or not whole.

    References
    ----------
    Gneiting & Raftery (2007), J. Amer. Statist. Assoc. 102, 359-378, section 4.2.

    Examples
    --------
    >>> crps_pmf([[0.5, 0.5]], [0])
    array([0.25])
    """
    cumulative = np.cumsum(np.atleast_2d(require.pmf("pmf", pmf)), axis=1)
    observed = _one_each(cumulative, whole("observed_pcs", observed_pcs, low=0))
    has_come = np.arange(cumulative.shape[1]) >= observed[:, None]
    beyond = np.maximum(observed - cumulative.shape[1], 0)  # each piece past the grid counts one whole error
    return ((cumulative - has_come) ** 2).sum(axis=1) + beyond


def crps_ensemble(draws, observed):
    """CRPS of the distribution that puts equal weight on each draw.

    Parameters
    ----------
    draws : array_like of float, shape (n_rows, n_draws)
        Simulated values.
    observed : array_like of float, shape (n_rows,)
        Values seen.

    Returns
    -------
    ndarray of float, shape (n_rows,)
        Unit of the draws.

    Raises
    ------
    InvalidParameter
        If there is no draw or not one observation a row.

    References
    ----------
    Gneiting & Raftery (2007), equation 21.

    Examples
    --------
    >>> crps_ensemble([[0, 0, 0, 1, 0, 2, 0, 0, 5, 0]], [1]).round(6)
    array([0.56])
    """
    distance, spread, _ = _ensemble(draws, observed)
    return distance - spread


def crps_ensemble_fair(draws, observed):
    """CRPS of the distribution the draws were taken from, free of the penalty for taking only a few.

    Parameters
    ----------
    draws : array_like of float, shape (n_rows, n_draws)
        Simulated values, at least 2 a row.
    observed : array_like of float, shape (n_rows,)
        Values seen.

    Returns
    -------
    ndarray of float, shape (n_rows,)
        Unit of the draws.

    Raises
    ------
    InvalidParameter
        If there are fewer than 2 draws or not one observation a row.

    References
    ----------
    Ferro (2014), Q. J. R. Meteorol. Soc. 140, 1917-1923.

    Examples
    --------
    >>> crps_ensemble_fair([[0, 0, 0, 1, 0, 2, 0, 0, 5, 0]], [1]).round(6)
    array([0.488889])
    """
    distance, spread, n_draws = _ensemble(draws, observed)
    if n_draws < 2:
        raise InvalidParameter("draws has 1 draw a row; wanted at least 2: one says nothing about spread.")
    return distance - spread * n_draws / (n_draws - 1)


def crps_normal(mean, sd, observed):
    """CRPS of normal distributions.

    Parameters
    ----------
    mean, sd, observed : array_like of float
        Broadcast together; ``sd`` more than 0.

    Returns
    -------
    ndarray of float

    Raises
    ------
    InvalidParameter
        If a standard deviation is not more than 0.

    References
    ----------
    Gneiting & Raftery (2007), section 4.2.

    Examples
    --------
    >>> round(float(crps_normal(0.0, 1.0, 0.0)), 10)
    0.2336949773
    """
    sd = require.positive("sd", sd)
    z = (np.asarray(observed, dtype=float) - mean) / sd
    density = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    return sd * (z * (2 * ndtr(z) - 1) + 2 * density - 1 / np.sqrt(np.pi))


def quantile_loss(quantile, observed, level):
    """Loss of a stated quantile: its mean is least at the true quantile of that level.

    Parameters
    ----------
    quantile, observed : array_like of float
        Stated and seen; broadcast together.
    level : array_like of float
        Level of the quantile, 0 to 1.

    Returns
    -------
    ndarray of float
        Unit of the observations.

    Raises
    ------
    InvalidParameter
        If a level lies outside [0, 1].

    References
    ----------
    Koenker & Bassett (1978), Econometrica 46, 33-50.

    Examples
    --------
    >>> quantile_loss([2.0, 2.0], [5.0, 0.0], 0.9).round(6)
    array([2.7, 0.2])
    """
    level = require.share("level", level)
    short = np.asarray(observed, dtype=float) - quantile
    return np.where(short > 0, level * short, (level - 1) * short)


def randomised_pit(pmf, observed_pcs, rng):
    """Where each observation fell in its distribution, spread evenly over its own probability.

    Parameters
    ----------
    pmf : array_like of float, shape (n_rows, n_values)
        Probability of 0, 1, 2 ... pieces.
    observed_pcs : array_like of int, shape (n_rows,)
        Pieces seen, at least 0.
    rng : numpy.random.Generator
        Source of the spreading.

    Returns
    -------
    ndarray of float, shape (n_rows,)
        Uniform on [0, 1] if the distributions were right; plain coverage of whole numbers comes out too high.

    Raises
    ------
    InvalidParameter
        If a row is no distribution, or a count is negative or not whole.

    References
    ----------
    Czado, Gneiting & Held (2009), Biometrics 65, 1254-1261.
    """
    cumulative = np.cumsum(np.atleast_2d(require.pmf("pmf", pmf)), axis=1)
    observed = _one_each(cumulative, whole("observed_pcs", observed_pcs, low=0))
    with_edges = np.concatenate([np.zeros((len(cumulative), 1)), cumulative], axis=1)
    last = cumulative.shape[1]
    low = np.take_along_axis(with_edges, np.minimum(observed, last)[:, None], axis=1)[:, 0]
    high = np.take_along_axis(with_edges, np.minimum(observed + 1, last)[:, None], axis=1)[:, 0]
    return np.minimum(low + rng.random(observed.size) * (high - low), 1.0)


def _one_each(rows, observed):
    observed = np.atleast_1d(observed)
    if observed.shape != (len(rows),):
        raise InvalidParameter(f"observed has shape {observed.shape} for {len(rows)} rows; wanted one each.")
    return observed


def _ensemble(draws, observed):
    """Mean distance to the observation, half the mean distance between draws, number of draws."""
    draws = np.sort(np.atleast_2d(np.asarray(draws, dtype=float)), axis=1)
    n_draws = draws.shape[1]
    if n_draws == 0:
        raise InvalidParameter("draws has none; wanted at least 1 a row.")
    observed = _one_each(draws, np.asarray(observed, dtype=float))
    rank = 2 * np.arange(n_draws) - n_draws + 1
    return np.abs(draws - observed[:, None]).mean(axis=1), draws @ rank / n_draws**2, n_draws
