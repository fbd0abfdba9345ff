"""Loss functions: pieces expected short and pieces expected left over, for a stock level against a demand."""

import numpy as np
from scipy.special import ndtr

from pipeline.kernels import require


def normal_density(z):
    """Density of the standard normal distribution at ``z`` (dimensionless, any shape).

    Examples
    --------
    >>> round(float(normal_density(0.0)), 6)
    0.398942
    """
    return np.exp(-0.5 * np.square(z)) / np.sqrt(2 * np.pi)


def normal_loss(z):
    """Standard normal loss E[(Z - z)+]: expected shortage in standard deviations at safety factor ``z``.

    Parameters
    ----------
    z : array_like of float
        Level in standard deviations above the mean.

    Returns
    -------
    ndarray of float
        Same shape, at least 0. Multiply by the standard deviation to get pieces.

    References
    ----------
    Snyder & Shen (2019), Fundamentals of Supply Chain Theory, 2nd ed., appendix on loss functions.

    Examples
    --------
    >>> round(float(normal_loss(1.3)), 10)
    0.0455279621
    """
    z = np.asarray(z, dtype=float)
    return np.maximum(normal_density(z) - z * ndtr(-z), 0.0)


def normal_second_loss(z):
    """Second-order standard normal loss, the integral of :func:`normal_loss` from ``z`` to infinity.

    Parameters
    ----------
    z : array_like of float
        Level in standard deviations above the mean.

    Returns
    -------
    ndarray of float
        Same shape, at least 0.

    References
    ----------
    Snyder & Shen (2019), appendix on loss functions: ((z^2 + 1) (1 - Phi(z)) - z phi(z)) / 2.

    Examples
    --------
    >>> float(normal_second_loss(0.0))
    0.25
    """
    z = np.asarray(z, dtype=float)
    return np.maximum(0.5 * ((z * z + 1) * ndtr(-z) - z * normal_density(z)), 0.0)


def discrete_loss(pmf):
    """Pieces expected short and left over at each stock level 0, 1, 2, ... against a discrete demand.

    Parameters
    ----------
    pmf : array_like of float, shape (..., n_levels)
        Probability of a demand of 0, 1, 2, ... pieces; each row sums to 1.

    Returns
    -------
    short_pcs, left_pcs : ndarray of float, shape (..., n_levels)
        E[(D - y)+] and E[(y - D)+] at stock level y = 0, 1, ..., n_levels - 1.

    Raises
    ------
    InvalidParameter
        If the probabilities are negative or do not sum to 1.

    References
    ----------
    Snyder & Shen (2019), appendix on loss functions. Sums of tail and of cumulative probabilities, never a
    difference of two large numbers.

    Examples
    --------
    >>> discrete_loss([0.5, 0.25, 0.25])
    (array([0.75, 0.25, 0.  ]), array([0.  , 0.5 , 1.25]))
    """
    pmf = require.pmf("pmf", pmf)
    above = np.flip(np.cumsum(np.flip(pmf, -1), -1), -1) - pmf  # P(D > y)
    short = np.flip(np.cumsum(np.flip(above, -1), -1), -1)
    at_most = np.cumsum(pmf, -1)
    left = np.cumsum(at_most, -1) - at_most
    return short, left


def level_cost(pmf, holding, waiting, lowest, n_levels):
    """Expected holding and waiting cost of a period that starts from each of a run of stock levels.

    Levels may be negative (pieces owed) or beyond the largest demand: there the cost is a straight line.

    Parameters
    ----------
    pmf : array_like of float, shape (n_items, n_values)
        Probability of a demand of 0, 1, 2, ... pieces over the lead time and one period.
    holding, waiting : array_like of float, shape (n_items,)
        Cost per piece left over and per piece owed, in money per period.
    lowest : array_like of int, shape (n_items,)
        First level of the run, in pieces, per item.
    n_levels : int
        Length of the run.

    Returns
    -------
    ndarray of float, shape (n_items, n_levels)
        ``cost[i, k]`` at level ``lowest[i] + k``, money per period.

    References
    ----------
    Snyder & Shen (2019), section 4.3 (newsvendor cost over lead time plus one period).

    Examples
    --------
    >>> level_cost([[0.5, 0.5]], [1.0], [3.0], [-1], 4)
    array([[4.5, 1.5, 0.5, 1.5]])
    """
    return cost_of_losses(*discrete_loss(np.atleast_2d(pmf)), holding, waiting, lowest, n_levels)


def cost_of_losses(short, left, holding, waiting, lowest, n_levels):
    """Cost as :func:`level_cost` gives it, where the losses are at hand already.

    Parameters
    ----------
    short, left : ndarray of float, shape (n_items, n_values)
        Pieces short and left over at level 0, 1, 2, ..., from :func:`discrete_loss`.
    holding, waiting, lowest, n_levels
        As in :func:`level_cost`.

    Returns
    -------
    ndarray of float, shape (n_items, n_levels)
        Money per period.

    Examples
    --------
    >>> cost_of_losses(*discrete_loss([[0.5, 0.5]]), [1.0], [3.0], [-1], 4)
    array([[4.5, 1.5, 0.5, 1.5]])
    """
    mean = short[:, :1]
    levels = np.asarray(lowest)[:, None] + np.arange(n_levels)
    inside = np.clip(levels, 0, short.shape[1] - 1)
    above = np.maximum(levels - inside, 0)
    short_pcs = np.where(levels < 0, mean - levels, np.take_along_axis(short, inside, 1))
    left_pcs = np.where(levels < 0, 0.0, np.take_along_axis(left, inside, 1) + above)
    return np.asarray(holding)[:, None] * left_pcs + np.asarray(waiting)[:, None] * short_pcs


def fill_rate(short_per_order_pcs, order_pcs):
    """Share of demand met at once from the shelf: 1 minus pieces short per order over pieces per order.

    Parameters
    ----------
    short_per_order_pcs : array_like of float
        Pieces expected short in one replenishment cycle.
    order_pcs : array_like of float
        Pieces ordered per cycle, above 0.

    Returns
    -------
    ndarray of float
        Share, at most 1.

    Raises
    ------
    InvalidParameter
        If an order quantity is not above 0 or a shortage is negative.

    References
    ----------
    Chopra & Meindl, Supply Chain Management, chapter on safety inventory.

    Examples
    --------
    >>> float(fill_rate(25.0, 10_000))
    0.9975
    """
    short = require.not_negative("short_per_order_pcs", short_per_order_pcs)
    return 1 - short / require.positive("order_pcs", order_pcs)
