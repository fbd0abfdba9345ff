"""Reorder point and order quantity where lead-time demand is close to normal: fast movers by the hundred."""

import numpy as np
from scipy.special import ndtri

from pipeline.kernels import require
from pipeline.kernels.loss import normal_loss, normal_second_loss
from pipeline.kernels.lot_size import economic_order

HALVINGS = 80  # halves any bracket to the last digit of a double
MOST_ROUNDS = 200


def cost(reorder_point_pcs, order_pcs, demand_pcs, lead_mean_pcs, lead_sd_pcs, holding, waiting, ordering):
    """Expected cost per period of a rule (r, Q) with normal lead-time demand, exact for that demand.

    Parameters
    ----------
    reorder_point_pcs, order_pcs : array_like of float
        The rule; order quantity above 0.
    demand_pcs : array_like of float
        Mean demand per period, pieces.
    lead_mean_pcs, lead_sd_pcs : array_like of float
        Mean and standard deviation of demand over the lead time, pieces.
    holding, waiting, ordering : array_like of float
        Money per piece held and period, per piece owed and period, per order.

    Returns
    -------
    ndarray of float
        Money per period.

    Raises
    ------
    InvalidParameter
        If an order quantity or standard deviation is not above 0.

    References
    ----------
    Zheng (1992), Management Science 38, 87-103; Snyder & Shen (2019), section 5.2.

    Examples
    --------
    >>> lead_time = 1 / 12
    >>> round(float(cost(126.8, 328.5, 1300, 1300 * lead_time, 150 * lead_time**0.5, 0.225, 7.5, 8)), 7)
    78.0711625
    """
    r, q = np.asarray(reorder_point_pcs, dtype=float), require.positive("order_pcs", order_pcs)
    sd = require.positive("lead_sd_pcs", lead_sd_pcs)
    holding, waiting = np.asarray(holding, dtype=float), np.asarray(waiting, dtype=float)
    low, high = (r - lead_mean_pcs) / sd, (r + q - lead_mean_pcs) / sd
    second = normal_second_loss(low) - normal_second_loss(high)
    levels = holding * q * (r + q / 2 - lead_mean_pcs) + (holding + waiting) * sd**2 * second
    return (np.asarray(ordering) * demand_pcs + levels) / q


def best_reorder_point(order_pcs, lead_mean_pcs, lead_sd_pcs, holding, waiting):
    """Reorder point of least cost for a given order quantity, normal lead-time demand.

    Parameters
    ----------
    order_pcs, lead_mean_pcs, lead_sd_pcs, holding, waiting : array_like of float
        As in :func:`cost`.

    Returns
    -------
    ndarray of float
        Pieces (not rounded): where the cost of standing at r equals that of standing at r + Q.

    Raises
    ------
    InvalidParameter
        If a quantity, standard deviation or cost is not above 0.

    References
    ----------
    Zheng (1992), Management Science 38, 87-103.

    Examples
    --------
    >>> round(float(best_reorder_point(300, 1300 / 12, 150 / 12**0.5, 0.225, 7.5)), 6)
    129.42728
    """
    q = require.positive("order_pcs", order_pcs)
    sd = require.positive("lead_sd_pcs", lead_sd_pcs)
    holding, waiting = require.positive("holding", holding), require.positive("waiting", waiting)
    cheapest = lead_mean_pcs + sd * ndtri(waiting / (holding + waiting))
    low, high = cheapest - q, cheapest + 0 * q
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        rise = _standing(middle + q, lead_mean_pcs, sd, holding, waiting) - _standing(
            middle, lead_mean_pcs, sd, holding, waiting
        )
        low, high = np.where(rise < 0, middle, low), np.where(rise < 0, high, middle)
    return (low + high) / 2


def best(demand_pcs, lead_mean_pcs, lead_sd_pcs, holding, waiting, ordering):
    """Rule (r, Q) of least cost with normal lead-time demand.

    Parameters
    ----------
    demand_pcs, lead_mean_pcs, lead_sd_pcs, holding, waiting, ordering : array_like of float
        As in :func:`cost`.

    Returns
    -------
    reorder_point_pcs, order_pcs, cost : ndarray of float
        Pieces, pieces, money per period.

    Raises
    ------
    InvalidParameter
        If a demand, standard deviation or cost is not above 0.

    Notes
    -----
    At the optimum the cost of the rule equals that of standing at r. Q lies between the economic quantity and
    that with sd (holding + waiting) / holding of slack added twice (Zheng 1992, theorem 4, widened).

    References
    ----------
    Zheng (1992), Management Science 38, 87-103.

    Examples
    --------
    >>> r, q, _ = best(1300, 1300 / 12, 150 / 12**0.5, 0.225, 7.5, 8)
    >>> round(float(r), 3), round(float(q), 3)
    (126.867, 328.449)
    """
    start, _ = economic_order(demand_pcs, ordering, holding)
    sd = require.positive("lead_sd_pcs", lead_sd_pcs)
    low, high = start, 2 * np.sqrt((np.asarray(holding) + waiting) / waiting) * start + 2 * sd * (
        1 + np.asarray(waiting) / np.asarray(holding)
    )
    for _ in range(HALVINGS):
        q = (low + high) / 2
        r = best_reorder_point(q, lead_mean_pcs, sd, holding, waiting)
        per_period = cost(r, q, demand_pcs, lead_mean_pcs, sd, holding, waiting, ordering)
        short = _standing(r, lead_mean_pcs, sd, np.asarray(holding), np.asarray(waiting)) < per_period
        low, high = np.where(short, q, low), np.where(short, high, q)
    return r, q, per_period


def per_piece_short(demand_pcs, lead_mean_pcs, lead_sd_pcs, holding, shortage, ordering):
    """Rule (R, Q) where each piece short costs a fixed amount however long it is owed, normal lead-time demand.

    Parameters
    ----------
    demand_pcs, lead_mean_pcs, lead_sd_pcs, holding, ordering : array_like of float
        As in :func:`cost`.
    shortage : array_like of float
        Money per piece short.

    Returns
    -------
    reorder_point_pcs, order_pcs, cost : ndarray of float
        Pieces, pieces, money per period (level of stock approximated as safety stock plus half an order).

    Raises
    ------
    InvalidParameter
        If a value is not above 0, or a piece short costs less than holding one through an order cycle (then
        keeping none is better than any rule).

    References
    ----------
    Hadley & Whitin (1963), section 4.4; Nahmias, Production and Operations Analysis, (Q, R) systems.

    Examples
    --------
    >>> r, q, _ = per_piece_short(200, 100, 25, 2, 25, 50)
    >>> round(float(r), 3), round(float(q), 3)
    (142.568, 110.774)
    """
    holding, shortage = require.positive("holding", holding), require.positive("shortage", shortage)
    sd, demand = require.positive("lead_sd_pcs", lead_sd_pcs), require.positive("demand_pcs", demand_pcs)
    q, _ = economic_order(demand, ordering, holding)
    for _ in range(MOST_ROUNDS):
        at_risk = require.share("holding x order_pcs / (shortage x demand_pcs)", q * holding / (shortage * demand))
        z = ndtri(1 - at_risk)
        short = sd * normal_loss(z)
        before, q = q, np.sqrt(2 * demand * (np.asarray(ordering) + shortage * short) / holding)
        if np.allclose(before, q, rtol=1e-12, atol=0):
            break
    r = lead_mean_pcs + z * sd
    per_period = holding * (q / 2 + z * sd) + (np.asarray(ordering) + shortage * short) * demand / q
    return r, q, per_period


def _standing(level_pcs, lead_mean_pcs, sd, holding, waiting):
    """Cost per period of standing at a level: pieces held and pieces owed a lead time later."""
    distance = level_pcs - lead_mean_pcs
    return holding * distance + (holding + waiting) * sd * normal_loss(distance / sd)
