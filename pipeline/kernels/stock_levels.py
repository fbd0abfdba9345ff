"""The run of stock levels that is certain to hold an optimal reorder rule, and its expected cost."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.loss import cost_of_losses, discrete_loss
from pipeline.kernels.newsvendor import quantile

WIDEST_RUN = 1 << 17  # levels per item; beyond it the inputs are more likely a unit mistake than a shelf
MOST_CELLS = 1 << 21  # items times levels laid out at once: 16 MB per array


def bounds(lead_pmf, demand_pcs, holding, waiting, ordering, multiple_pcs, losses=None):
    """Lowest level, number of levels and a cost that some rule is certain not to exceed, per item.

    Parameters
    ----------
    lead_pmf : array_like of float, shape (n_items, n_values)
        Probability of a demand of 0, 1, 2, ... pieces over the lead time (and one period, for periodic review).
    demand_pcs : array_like of float, shape (n_items,)
        Mean demand per period, pieces.
    holding, waiting, ordering : array_like of float, shape (n_items,)
        Money per piece left over and per period, per piece owed and per period, per order.
    multiple_pcs : array_like of int, shape (n_items,)
        Order quantities come in multiples of this.
    losses : tuple of ndarray, optional
        What :func:`pipeline.kernels.loss.discrete_loss` gives for ``lead_pmf``, where it is at hand.

    Returns
    -------
    lowest : ndarray of int, shape (n_items,)
        A level at which waiting alone costs more than ``ceiling``, with room for one multiple below it.
    n_levels : ndarray of int, shape (n_items,)
        Levels from ``lowest`` up to one at which holding alone costs more than ``ceiling``.
    ceiling : ndarray of float, shape (n_items,)
        Upper bound on the optimal cost per period.

    Raises
    ------
    InvalidParameter
        If a cost is not above 0 (ordering may be 0), or the levels to look at run past 131072.

    Notes
    -----
    With a lot of Q pieces an order is due at most demand/Q times a period (Wald), and the level stays within Q of
    the cheapest level y*, so K demand/Q + max(G(y*), G(y* + Q)) bounds the optimum for every Q; the economic
    quantity makes it tight.
    """
    lead_pmf = require.pmf("lead_pmf", lead_pmf)
    holding, waiting = require.positive("holding", holding), require.positive("waiting", waiting)
    ordering, demand = require.not_negative("ordering", ordering), require.not_negative("demand_pcs", demand_pcs)
    multiple = require.whole_positive("multiple_pcs", multiple_pcs)
    cheapest = quantile(lead_pmf, waiting / (holding + waiting))
    lot = np.maximum(np.ceil(np.sqrt(2 * ordering * demand / holding) / multiple), 1) * multiple
    losses = losses or discrete_loss(lead_pmf)
    ends = [cost_of_losses(*losses, holding, waiting, level, 1)[:, 0]
            for level in (cheapest, cheapest + lot.astype(int))]
    one_for_one = np.where(multiple == 1, ordering * demand + ends[0], np.inf)  # every period's demand ordered back
    ceiling = np.minimum(ordering * demand / lot + np.maximum(*ends), one_for_one)
    mean = lead_pmf @ np.arange(lead_pmf.shape[1])
    lowest = np.minimum(np.floor(mean - ceiling / waiting), cheapest) - 1 - multiple
    highest = np.maximum(np.ceil(mean + ceiling / holding), cheapest) + 1 + multiple
    return lowest.astype(np.int64), _checked_length(highest - lowest + 1), ceiling


def in_batches(n_levels):
    """Groups of items whose runs of levels are of like length, so that no item pays for the longest.

    Parameters
    ----------
    n_levels : ndarray of int, shape (n_items,)
        Levels each item needs.

    Yields
    ------
    items : ndarray of int
        Positions of the items in the group.
    width : int
        Levels to lay out for each of them: the longest need of the group.

    Examples
    --------
    >>> [(items.tolist(), width) for items, width in in_batches(np.array([5, 30, 8]))]
    [([0, 2], 8), ([1], 30)]
    """
    classes = np.ceil(np.log2(n_levels)).astype(int)
    for size in np.unique(classes):
        alike = np.flatnonzero(classes == size)
        width = int(n_levels[alike].max())
        for items in np.array_split(alike, -(-len(alike) * width // MOST_CELLS)):
            yield items, width


def _checked_length(n_levels):
    if (n_levels > WIDEST_RUN).any():
        item = int(np.argmax(n_levels))
        raise InvalidParameter(
            f"item {item} would need {n_levels[item]:.0f} stock levels to be looked at; wanted at most {WIDEST_RUN}. "
            "Check that holding, waiting and ordering cost are in the same money and period."
        )
    return n_levels.astype(np.int64)
