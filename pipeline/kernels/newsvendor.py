"""One purchase for one season: how many, where pieces left over and pieces short each have a cost."""

import numpy as np
from scipy.special import ndtri

from pipeline.kernels import require
from pipeline.kernels.loss import discrete_loss, normal_loss


def normal(mean_pcs, sd_pcs, over, under):
    """Best stock level against a normal demand, and its expected cost.

    Parameters
    ----------
    mean_pcs, sd_pcs : array_like of float
        Mean and standard deviation of demand over the season (with a lead time: over it and one period).
    over, under : array_like of float
        Cost of each piece left over and of each piece short, money.

    Returns
    -------
    level_pcs, cost : ndarray of float
        Level at the critical share under / (over + under); expected cost of pieces left and short.

    Raises
    ------
    InvalidParameter
        If the standard deviation or a cost is not above 0.

    References
    ----------
    Arrow, Harris & Marschak (1951); Snyder & Shen (2019), section 4.3.2.

    Examples
    --------
    >>> [round(float(x), 6) for x in normal(50, 8, 0.18, 0.70)]
    [56.603956, 1.997605]
    """
    sd_pcs = require.positive("sd_pcs", sd_pcs)
    over, under = require.positive("over", over), require.positive("under", under)
    z = ndtri(under / (over + under))
    return np.asarray(mean_pcs) + sd_pcs * z, normal_cost(mean_pcs + sd_pcs * z, mean_pcs, sd_pcs, over, under)


def normal_cost(level_pcs, mean_pcs, sd_pcs, over, under):
    """Expected cost of pieces left over and short at a given level, normal demand.

    Parameters
    ----------
    level_pcs, mean_pcs, sd_pcs : array_like of float
        Stock level; mean and standard deviation of demand, pieces.
    over, under : array_like of float
        Cost of each piece left over and short, money.

    Returns
    -------
    ndarray of float
        Money per season.

    Raises
    ------
    InvalidParameter
        If the standard deviation is not above 0.

    Examples
    --------
    >>> round(float(normal_cost(40, 50, 8, 0.18, 0.70)), 6)
    7.356132
    """
    sd_pcs = require.positive("sd_pcs", sd_pcs)
    distance = np.asarray(level_pcs, dtype=float) - mean_pcs
    over = np.asarray(over, dtype=float)
    return over * distance + (over + np.asarray(under)) * sd_pcs * normal_loss(distance / sd_pcs)


def discrete(pmf, over, under):
    """Best whole stock level against a discrete demand, exact.

    Parameters
    ----------
    pmf : array_like of float, shape (n_items, n_values)
        Probability of a demand of 0, 1, 2, ... pieces over the season.
    over, under : array_like of float, shape (n_items,)
        Cost of each piece left over and short, money.

    Returns
    -------
    level_pcs : ndarray of int, shape (n_items,)
        Smallest level whose cumulative probability reaches under / (over + under).
    cost : ndarray of float, shape (n_items,)
        Expected cost at that level, money per season.

    Raises
    ------
    InvalidParameter
        If the probabilities do not sum to 1 or a cost is not above 0.

    References
    ----------
    Snyder & Shen (2019), section 4.3.2.7.

    Examples
    --------
    >>> discrete([[0.2, 0.3, 0.5]], [1.0], [1.0])
    (array([1]), array([0.7]))
    """
    pmf = require.pmf("pmf", np.atleast_2d(pmf))
    over, under = require.positive("over", over), require.positive("under", under)
    short, left = discrete_loss(pmf)
    level = quantile(pmf, under / (over + under))
    rows = np.arange(len(pmf))
    return level, over * left[rows, level] + under * short[rows, level]


def quantile(pmf, shares):
    """Smallest whole number whose cumulative probability reaches a share, one per row.

    Parameters
    ----------
    pmf : array_like of float, shape (n_items, n_values)
        Probability of 0, 1, 2, ... pieces.
    shares : array_like of float, shape (n_items,)
        Share to reach, 0 to 1.

    Returns
    -------
    ndarray of int, shape (n_items,)
        Pieces.

    Raises
    ------
    InvalidParameter
        If a share is outside [0, 1] or the probabilities do not sum to 1.

    Examples
    --------
    >>> quantile([[0.5, 0.5], [0.1, 0.9]], [0.5, 0.5])
    array([0, 1])
    """
    pmf = require.pmf("pmf", np.atleast_2d(pmf))
    shares = np.broadcast_to(require.share("shares", shares), len(pmf))
    reached = np.cumsum(pmf, axis=1) >= shares[:, None] - 1e-12  # a share met exactly counts despite rounding
    return np.where(reached.any(axis=1), reached.argmax(axis=1), pmf.shape[1] - 1)
