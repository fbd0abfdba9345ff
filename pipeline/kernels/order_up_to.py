"""Exact periodic-review rule: below or at s order up to S, for any demand, over many items at once."""

from typing import NamedTuple

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.loss import cost_of_losses, discrete_loss, level_cost
from pipeline.kernels.renewals import convolve, renewal_numbers
from pipeline.kernels.stock_levels import bounds, in_batches

MOST_ROUNDS = 60  # the ratio iteration settles in 3 to 6; more means inputs beyond double precision


class OrderUpTo(NamedTuple):
    """A reorder rule per item: at or below ``reorder_point_pcs`` order up to ``order_up_to_pcs``."""

    reorder_point_pcs: np.ndarray
    order_up_to_pcs: np.ndarray
    cost: np.ndarray


def best(period_pmf, lead_pmf, holding, waiting, ordering):
    """Reorder rule (s, S) of least expected cost per period, exact, for every item.

    Parameters
    ----------
    period_pmf : array_like of float, shape (n_items, n_sizes)
        Probability of a demand of 0, 1, 2, ... pieces in one period.
    lead_pmf : array_like of float, shape (n_items, n_values)
        The same over the lead time plus one period. With a lead time that varies, mix the windows' distributions
        in the shares of their lengths.
    holding, waiting, ordering : array_like of float, shape (n_items,)
        Money per piece left over and period, per piece owed and period (both above 0), per order (at least 0).

    Returns
    -------
    OrderUpTo
        Arrays of shape (n_items,): levels in pieces (they count pieces on hand and on order less pieces owed;
        they can be negative) and cost per period. An item without any demand gets (-1, 0) at cost 0.

    Raises
    ------
    InvalidParameter
        If a cost or a probability is out of range.

    Notes
    -----
    For a trial cost c, every level that costs at most c per period is worth standing at, which gives s; the best S
    then follows from one convolution with the renewal numbers, and its true cost is the next c (Dinkelbach's
    ratio iteration). It ends at the optimum over all (s, S), which Veinott (1966) shows is optimal over all rules.
    Unmet demand waits; orders placed at the start of a period arrive a lead time later.

    References
    ----------
    Zheng & Federgruen (1991), Operations Research 39, 654-665; Dinkelbach (1967), Management Science 13, 492-498.

    Examples
    --------
    >>> demand = [[0.25, 0.5, 0.25]]
    >>> rule = best(demand, demand, [1.0], [9.0], [0.0])
    >>> rule.reorder_point_pcs, rule.order_up_to_pcs, rule.cost
    (array([1]), array([2]), array([1.]))
    """
    period_pmf, lead_pmf = np.atleast_2d(period_pmf), np.atleast_2d(lead_pmf)
    n_items = len(period_pmf)
    holding, waiting, ordering = (
        np.broadcast_to(np.asarray(value, dtype=float), n_items) for value in (holding, waiting, ordering)
    )
    demand = require.pmf("period_pmf", period_pmf) @ np.arange(period_pmf.shape[1])
    short, left = losses = discrete_loss(require.pmf("lead_pmf", lead_pmf))
    lowest, n_levels, ceiling = bounds(lead_pmf, demand, holding, waiting, ordering, np.ones(n_items), losses)
    rule = OrderUpTo(np.full(n_items, -1), np.zeros(n_items, dtype=int), np.zeros(n_items))
    moving = np.flatnonzero(demand > 0)
    for picked, width in in_batches(n_levels[moving]):
        items = moving[picked]
        cost = cost_of_losses(short[items], left[items], holding[items], waiting[items], lowest[items], width)
        passes = renewal_numbers(period_pmf[items], width)
        s, big_s, per_period = _ratio_iteration(cost, passes, ordering[items], ceiling[items])
        rule.reorder_point_pcs[items] = s + lowest[items]
        rule.order_up_to_pcs[items] = big_s + lowest[items]
        rule.cost[items] = per_period
    return rule


def rule_cost(period_pmf, lead_pmf, holding, waiting, ordering, reorder_point_pcs, order_up_to_pcs):
    """Expected cost per period of a given (s, S) rule, exact.

    Parameters
    ----------
    period_pmf, lead_pmf, holding, waiting, ordering : array_like
        As in :func:`best`.
    reorder_point_pcs, order_up_to_pcs : array_like of int, shape (n_items,)
        The rule; the second above the first.

    Returns
    -------
    ndarray of float, shape (n_items,)
        Money per period.

    Raises
    ------
    InvalidParameter
        If a cost or a probability is out of range, an item has no demand, or a rule orders nothing.

    References
    ----------
    Zheng & Federgruen (1991), equation (1): (K + sum m(j) G(S - j)) / M(S - s).

    Examples
    --------
    >>> demand = [[0.25, 0.5, 0.25]]
    >>> rule_cost(demand, demand, [1.0], [9.0], [0.0], [1], [2])
    array([1.])
    """
    s, big_s = (np.atleast_1d(np.asarray(level)) for level in (reorder_point_pcs, order_up_to_pcs))
    gap = big_s - s
    if (gap < 1).any():
        raise InvalidParameter(
            f"order_up_to_pcs is {gap.min()} above reorder_point_pcs; wanted at least 1, or nothing is ever ordered."
        )
    width = int(gap.max())
    lead_pmf = np.atleast_2d(lead_pmf)
    columns = (np.broadcast_to(np.asarray(value, dtype=float), len(s)) for value in (holding, waiting))
    falling = level_cost(lead_pmf, *columns, big_s - width + 1, width)[:, ::-1]  # cost at S, S-1, S-2, ...
    passes = np.where(np.arange(width) < gap[:, None], renewal_numbers(np.atleast_2d(period_pmf), width), 0.0)
    return (np.asarray(ordering) + (passes * falling).sum(axis=1)) / passes.sum(axis=1)


def standing_shares(period_pmf, reorder_point_pcs, order_up_to_pcs):
    """Long-run share of periods that start, after ordering, at S, S - 1, S - 2, ...

    Parameters
    ----------
    period_pmf : array_like of float, shape (n_items, n_sizes)
        Probability of a demand of 0, 1, 2, ... pieces in one period; that of 0 below 1.
    reorder_point_pcs, order_up_to_pcs : array_like of int, shape (n_items,)
        The rule; the second above the first.

    Returns
    -------
    ndarray of float, shape (n_items, widest gap)
        Shares by pieces below S; each row sums to 1.

    Raises
    ------
    InvalidParameter
        If an item has no demand, or its probabilities do not sum to 1.

    References
    ----------
    Zheng & Federgruen (1991): the share at S - j is m(j) / M(S - s).

    Examples
    --------
    >>> standing_shares([[0.5, 0.5]], [0], [2])
    array([[0.5, 0.5]])
    """
    gap = np.maximum(np.asarray(order_up_to_pcs) - np.asarray(reorder_point_pcs), 1)
    passes = renewal_numbers(np.atleast_2d(period_pmf), int(gap.max(initial=1)))
    passes = np.where(np.arange(passes.shape[1]) < gap[:, None], passes, 0.0)
    return passes / passes.sum(axis=1, keepdims=True)


def _ratio_iteration(cost, passes, ordering, ceiling):
    """Positions of s and S in the run of levels, and the cost per period; arrays over items."""
    rows, levels = np.arange(len(cost))[:, None], np.arange(cost.shape[1])
    periods = np.cumsum(passes, axis=1)
    trial = ceiling
    for _ in range(MOST_ROUNDS):
        trial = np.maximum(trial, cost.min(axis=1))
        first = (cost <= trial[:, None]).argmax(axis=1)[:, None]  # lowest level worth standing at: s + 1
        reach = np.minimum(first + levels, levels[-1])
        gains = np.where(first + levels <= levels[-1], cost[rows, reach] - trial[:, None], 0.0)
        relative = ordering[:, None] + convolve(passes, gains, len(levels))
        best_step = relative.argmin(axis=1)[:, None]
        per_period = _exact_cost(cost, passes, periods, ordering, first, best_step)
        if (per_period >= trial * (1 - 1e-13)).all():
            break
        trial = np.minimum(trial, per_period)
    return first[:, 0] - 1, (first + best_step)[:, 0], per_period


def _exact_cost(cost, passes, periods, ordering, first, step):
    """Cost per period of standing between ``first`` and ``first + step``, summed without transforms."""
    back = first + step - np.arange(cost.shape[1])
    standing = np.where(back >= first, np.take_along_axis(cost, np.maximum(back, 0), 1), 0.0)
    total = ordering + (passes * standing).sum(axis=1)
    return total / np.take_along_axis(periods, step, 1)[:, 0]
