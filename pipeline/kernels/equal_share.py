"""The equal-share rule: every part the same chance of covering its lead time, at a given total of cash."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.newsvendor import quantile

HALVINGS = 40


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


def levels_for_cash(lead_pmf, unit_prices, cash_amount, above_pcs, drained_pcs):
    """Equal-share levels whose average shelf is worth at most a given amount, over draws of what drains it.

    Parameters
    ----------
    lead_pmf : array_like of float, shape (n_parts, n_values)
        Probability of a demand of 0, 1, 2, ... pieces over the part's lead time.
    unit_prices : array_like of float, shape (n_parts,)
        Price per piece, money.
    cash_amount : float
        Most money on the shelf on average.
    above_pcs : array_like of int, shape (n_draws, n_parts)
        Pieces by which the level stands above its lowest in each draw (0 to one order less 1).
    drained_pcs : array_like of float, shape (n_draws, n_parts)
        Pieces that the lead time took in each draw.

    Returns
    -------
    lowest_pcs : ndarray of int, shape (n_parts,)
        Lowest level each part stands at; it covers the lead time with the common chance.
    share : float
        The largest common chance that the cash allows.
    cash_amount : float
        Value of the average shelf at those levels, money; pieces owed do not lower it.

    Raises
    ------
    InvalidParameter
        If a price or the cash is negative, shapes do not fit or the probabilities do not sum to 1.

    Notes
    -----
    The value rises with the share, so halving finds it. The same draws serve every share, and whatever the rule is
    compared with.

    Examples
    --------
    >>> drained = np.array([[0, 0], [1, 0]])
    >>> levels_for_cash([[0.5, 0.5], [0.9, 0.1]], [1.0, 50.0], 10.0, np.zeros((2, 2)), drained)[0]
    array([1, 0])
    """
    lead_pmf, prices = require.pmf("lead_pmf", lead_pmf), require.not_negative("unit_prices", unit_prices)
    cash = float(require.not_negative("cash_amount", cash_amount))
    above, drained = np.asarray(above_pcs), np.asarray(drained_pcs)
    if above.shape != drained.shape or above.ndim != 2 or above.shape[1] != len(lead_pmf):
        raise InvalidParameter(
            f"above_pcs {above.shape} and drained_pcs {drained.shape} do not fit; wanted draws x {len(lead_pmf)} parts."
        )

    def worth(lowest):
        return float(np.maximum(lowest + above - drained, 0).mean(axis=0) @ prices)

    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if worth(quantile(lead_pmf, middle)) <= cash else (low, middle)
    lowest = quantile(lead_pmf, low)
    return lowest, low, worth(lowest)
