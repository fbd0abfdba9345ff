"""Economic order quantities for a steady demand: plain, and with pieces owed to waiting jobs."""

import numpy as np

from pipeline.kernels import require


def economic_order(demand_pcs, ordering, holding):
    """Order quantity that balances the cost of ordering against the cost of holding.

    Parameters
    ----------
    demand_pcs : array_like of float
        Pieces used per period (any period, the same as ``holding``).
    ordering : array_like of float
        Cost of placing one order, money.
    holding : array_like of float
        Cost of holding one piece for one period, money.

    Returns
    -------
    order_pcs, cost : ndarray of float
        Best quantity in pieces (not rounded) and its ordering and holding cost per period.

    Raises
    ------
    InvalidParameter
        If a value is not above 0.

    References
    ----------
    Harris (1913); Snyder & Shen (2019), section 3.2: sqrt(2 K D / h), cost sqrt(2 K D h).

    Examples
    --------
    >>> [round(float(x), 4) for x in economic_order(1300, 8, 0.225)]
    [304.0468, 68.4105]
    """
    demand = require.positive("demand_pcs", demand_pcs)
    ordering = require.positive("ordering", ordering)
    holding = require.positive("holding", holding)
    return np.sqrt(2 * ordering * demand / holding), np.sqrt(2 * ordering * demand * holding)


def economic_order_with_waiting(demand_pcs, ordering, holding, waiting):
    """Economic order quantity where a job may wait for a piece at a known cost.

    Parameters
    ----------
    demand_pcs : array_like of float
        Pieces used per period.
    ordering : array_like of float
        Cost of placing one order, money.
    holding, waiting : array_like of float
        Cost of one piece held, and of one piece owed, for one period, money.

    Returns
    -------
    order_pcs, owed_share, cost : ndarray of float
        Best quantity, share of demand served late, and cost per period. The most owed at once is
        ``order_pcs * owed_share``.

    Raises
    ------
    InvalidParameter
        If a value is not above 0.

    References
    ----------
    Zipkin (2000), section 3.3; Snyder & Shen (2019), section 3.5.

    Examples
    --------
    >>> [round(float(x), 4) for x in economic_order_with_waiting(1300, 8, 0.225, 5)]
    [310.8126, 0.0431, 66.9214]
    """
    order_pcs, cost = economic_order(demand_pcs, ordering, holding)
    holding, waiting = np.asarray(holding, dtype=float), require.positive("waiting", waiting)
    stretch = np.sqrt((holding + waiting) / waiting)
    return order_pcs * stretch, holding / (holding + waiting), cost / stretch


def order_cost(order_pcs, demand_pcs, ordering, holding):
    """Ordering and holding cost per period of a given order quantity, steady demand, nothing owed.

    Parameters
    ----------
    order_pcs, demand_pcs : array_like of float
        Pieces per order and pieces used per period.
    ordering, holding : array_like of float
        Money per order; money per piece and period.

    Returns
    -------
    ndarray of float
        Money per period.

    Raises
    ------
    InvalidParameter
        If an order quantity is not above 0.

    Examples
    --------
    >>> float(order_cost(100, 200, 50, 2))
    200.0
    """
    order_pcs = require.positive("order_pcs", order_pcs)
    return np.asarray(ordering) * np.asarray(demand_pcs) / order_pcs + np.asarray(holding) * order_pcs / 2
