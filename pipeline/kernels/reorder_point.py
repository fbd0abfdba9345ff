"""Exact reorder point and fixed order quantity, single pieces or packs, over many items at once."""

from typing import NamedTuple

import numpy as np

from pipeline.kernels import require
from pipeline.kernels.loss import cost_of_losses, discrete_loss
from pipeline.kernels.stock_levels import bounds, in_batches


class ReorderPoint(NamedTuple):
    """A rule per item: at or below ``reorder_point_pcs`` order ``order_pcs`` (again, until above it)."""

    reorder_point_pcs: np.ndarray
    order_pcs: np.ndarray
    cost: np.ndarray


def best(demand_pcs, lead_pmf, holding, waiting, ordering):
    """Rule (r, Q) of least cost where pieces are taken one at a time and stock is watched all the time.

    Parameters
    ----------
    demand_pcs : array_like of float, shape (n_items,)
        Mean demand per period, pieces, taken one at a time (Poisson-like).
    lead_pmf : array_like of float, shape (n_items, n_values)
        Probability of a demand of 0, 1, 2, ... pieces over the lead time.
    holding, waiting, ordering : array_like of float, shape (n_items,)
        Money per piece held and period, per piece owed and period, per order.

    Returns
    -------
    ReorderPoint
        Arrays of shape (n_items,): pieces, pieces, money per period.

    Raises
    ------
    InvalidParameter
        If a demand or cost is not above 0 (ordering may be 0) or a probability is out of range.

    Notes
    -----
    The level is equally often at r + 1, ..., r + Q. Its cost G is convex, so the best Q levels are the Q cheapest:
    sort G once, and the running mean of the sorted costs plus ordering gives the cost of every Q.

    References
    ----------
    Federgruen & Zheng (1992), Operations Research 40, 808-813.

    Examples
    --------
    >>> from scipy.stats import poisson
    >>> rule = best([1.5], [poisson.pmf(np.arange(40), 3.0)], [20.0], [150.0], [100.0])
    >>> rule.reorder_point_pcs, rule.order_pcs, rule.cost.round(7)
    (array([3]), array([5]), array([107.9235806]))
    """
    demand = np.atleast_1d(require.positive("demand_pcs", demand_pcs))
    ones = np.ones(len(demand), dtype=int)
    return _cheapest_levels(lambda items, size: demand[items, None], demand, lead_pmf, holding, waiting, ordering, ones)


def best_in_packs(period_pmf, lead_pmf, holding, waiting, ordering, pack_pcs):
    """Rule (r, nQ) of least cost for lumpy demand bought in packs: Q a whole number of packs, ordered n times.

    Parameters
    ----------
    period_pmf : array_like of float, shape (n_items, n_sizes)
        Probability of a demand of 0, 1, 2, ... pieces in one period.
    lead_pmf : array_like of float, shape (n_items, n_values)
        The same over the lead time plus one period.
    holding, waiting, ordering : array_like of float, shape (n_items,)
        Money per piece left over and period, per piece owed and period, per order placed.
    pack_pcs : array_like of int, shape (n_items,)
        Pieces per pack.

    Returns
    -------
    ReorderPoint
        Arrays of shape (n_items,): pieces, pieces (a multiple of the pack), money per period. An item without any
        demand gets (-1, one pack) at cost 0.

    Raises
    ------
    InvalidParameter
        If a cost, pack or probability is out of range.

    Notes
    -----
    Whatever the demand, the level after ordering is equally often at r + 1, ..., r + Q; an order is placed in a
    period with probability E[min(D, Q)] / Q.

    References
    ----------
    Zheng & Chen (1992), Naval Research Logistics 39, 707-728; Axsater (2015), Inventory Control, section 5.3.

    Examples
    --------
    >>> rule = best_in_packs([[0.5, 0.5]], [[0.5, 0.5]], [1.0], [9.0], [0.0], [4])
    >>> rule.reorder_point_pcs, rule.order_pcs
    (array([0]), array([4]))
    """
    period_pmf = require.pmf("period_pmf", period_pmf)
    demand = period_pmf @ np.arange(period_pmf.shape[1])
    packs = np.broadcast_to(require.whole_positive("pack_pcs", pack_pcs), len(demand))
    at_least = np.flip(np.cumsum(np.flip(period_pmf[:, 1:], 1), 1), 1)  # P(D >= 1), P(D >= 2), ...

    def pieces_per_order_chance(items, size):
        chances = np.zeros((len(items), size))
        kept = min(size, at_least.shape[1])
        chances[:, :kept] = at_least[items, :kept]
        return np.cumsum(chances, axis=1)  # E[min(D, Q)] for Q = 1, 2, ...

    return _cheapest_levels(pieces_per_order_chance, demand, lead_pmf, holding, waiting, ordering, packs)


def _cheapest_levels(order_weight, demand, lead_pmf, holding, waiting, ordering, multiple):
    """Best run of levels per item; ``order_weight(items, size)`` gives orders per period times Q, for each Q."""
    n_items = len(demand)
    holding, waiting, ordering = (
        np.broadcast_to(np.asarray(value, dtype=float), n_items) for value in (holding, waiting, ordering)
    )
    short, left = losses = discrete_loss(require.pmf("lead_pmf", lead_pmf))
    lowest, n_levels, _ = bounds(lead_pmf, demand, holding, waiting, ordering, multiple, losses)
    rule = ReorderPoint(np.full(n_items, -1), np.array(multiple, dtype=np.int64), np.zeros(n_items))
    moving = np.flatnonzero(demand > 0)
    for picked, width in in_batches(n_levels[moving]):
        items = moving[picked]
        cost = cost_of_losses(short[items], left[items], holding[items], waiting[items], lowest[items], width)
        order = np.argsort(cost, axis=1, kind="stable")
        total = np.cumsum(np.take_along_axis(cost, order, 1), axis=1)
        sizes = np.arange(1, width + 1)
        per_period = (ordering[items, None] * order_weight(items, width) + total) / sizes
        per_period = np.where(sizes % multiple[items, None] == 0, per_period, np.inf)
        size = per_period.argmin(axis=1)
        lowest_kept = np.minimum.accumulate(order, axis=1)[np.arange(len(items)), size]
        rule.reorder_point_pcs[items] = lowest[items] + lowest_kept - 1
        rule.order_pcs[items] = size + 1
        rule.cost[items] = per_period[np.arange(len(items)), size]
    return rule
