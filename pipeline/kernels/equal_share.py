"""The equal-share rule: every part the same chance of covering its lead time, at a given total of cash."""

import numpy as np

from pipeline.kernels import require
from pipeline.kernels.newsvendor import quantile

HALVINGS = 50


def levels_for_share(lead_pmf, share):
    """Smallest stock level per part that covers its lead-time demand with a given chance.

    Parameters
    ----------
    lead_pmf : array_like of float, shape (n_parts, n_values)
        Probability of a demand of 0, 1, 2, ... pieces over the part's lead time.
    share : float
        Chance of covering it, the same for every part, 0 to 1.

    Returns
    -------
    ndarray of int, shape (n_parts,)
        Pieces.

    Raises
    ------
    InvalidParameter
        If the share is outside [0, 1] or the probabilities do not sum to 1.

    Examples
    --------
    >>> levels_for_share([[0.5, 0.4, 0.1], [0.99, 0.01, 0.0]], 0.95)
    array([2, 0])
    """
    return quantile(lead_pmf, share)


def levels_for_cash(lead_pmf, unit_prices, cash_amount, order_pcs):
    """Equal-share reorder levels whose average stock is worth at most a given amount, and the share reached.

    Parameters
    ----------
    lead_pmf : array_like of float, shape (n_parts, n_values)
        Probability of a demand of 0, 1, 2, ... pieces over the part's lead time.
    unit_prices : array_like of float, shape (n_parts,)
        Landed price per piece, money.
    cash_amount : float
        Most money to tie up on average.
    order_pcs : array_like of int, shape (n_parts,)
        Pieces per order; the level runs from one above the reorder level to that many above it.

    Returns
    -------
    reorder_point_pcs : ndarray of int, shape (n_parts,)
    share : float
        Largest common chance the cash allows, to double precision.
    cash_amount : float
        Value of the average stock at those levels, money.

    Raises
    ------
    InvalidParameter
        If a price is not above 0, the cash is negative or the probabilities do not sum to 1.

    Notes
    -----
    The lowest level a part stands at (one above its reorder level) covers its lead time with the common chance. The
    value of the average stock rises with that chance, so halving the interval finds the largest affordable one.

    Examples
    --------
    >>> levels, share, cash = levels_for_cash([[0.5, 0.5], [0.9, 0.1]], [1.0, 50.0], 10.0, [1, 1])
    >>> levels, round(share, 3), cash
    (array([ 0, -1]), 0.9, 0.5)
    """
    lead_pmf = require.pmf("lead_pmf", lead_pmf)
    prices, cash = require.positive("unit_prices", unit_prices), require.not_negative("cash_amount", cash_amount)
    order = require.whole_positive("order_pcs", order_pcs)
    held = _average_stock(lead_pmf, order)
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        worth = _worth(held, prices, levels_for_share(lead_pmf, middle))
        low, high = (middle, high) if worth <= cash else (low, middle)
    levels = levels_for_share(lead_pmf, low) - 1
    return levels, low, _worth(held, prices, levels + 1)


def _average_stock(lead_pmf, order):
    """Average pieces on the shelf when the lowest standing level is 0, 1, 2, ... and the run is one order long."""
    width = lead_pmf.shape[1] + int(order.max())
    padded = np.concatenate([lead_pmf, np.zeros((len(lead_pmf), width - lead_pmf.shape[1]))], axis=1)
    at_most = np.cumsum(padded, axis=1)
    left = np.concatenate([np.zeros((len(order), 1)), np.cumsum(np.cumsum(at_most, axis=1) - at_most, axis=1)], axis=1)
    starts = np.arange(lead_pmf.shape[1])
    ends = starts[None, :] + order[:, None]
    return (np.take_along_axis(left, ends, 1) - left[:, starts]) / order[:, None]


def _worth(held, prices, lowest):
    return float((np.take_along_axis(held, lowest[:, None], 1)[:, 0] * prices).sum())
