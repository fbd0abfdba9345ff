"""Economic order quantity where the price per piece falls with the quantity: all-units and incremental."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require


def all_units(demand_pcs, ordering, holding_share, from_pcs, unit_prices):
    """Best order quantity where reaching a break lowers the price of every piece in the order.

    Parameters
    ----------
    demand_pcs, ordering, holding_share : array_like of float, shape (n_items,)
        Pieces used per period, money per order, and cost of holding as a share of the price per period.
    from_pcs, unit_prices : array_like of float, shape (n_items, n_breaks)
        Least pieces at which each price holds (the first one 0 or 1), rising; the price per piece, falling.
        Items with fewer breaks are padded with ``inf`` pieces.

    Returns
    -------
    order_pcs, cost : ndarray of float, shape (n_items,)
        Best quantity and its purchase, ordering and holding cost per period.

    Raises
    ------
    InvalidParameter
        If a demand, cost or price is not above 0 or the breaks do not rise.

    Notes
    -----
    Candidates are, for each price, its own economic quantity raised to its break; each is costed at the price
    it would truly get, so a quantity that runs past the next break is never flattered.

    References
    ----------
    Hadley & Whitin (1963), section 2.11; Snyder & Shen (2019), section 3.4.

    Examples
    --------
    >>> quantity, cost = all_units([1300], [8], [0.3], [[0, 400, 800]], [[0.75, 0.72, 0.68]])
    >>> float(quantity[0]), round(float(cost[0]), 2)
    (800.0, 978.6)
    """
    demand, ordering, share, from_pcs, prices = _checked(
        demand_pcs, ordering, holding_share, from_pcs, unit_prices
    )
    candidates = np.maximum(np.sqrt(2 * ordering * demand / (share * prices)), from_pcs)
    cost = all_units_cost(candidates, demand, ordering, share, from_pcs, prices)
    best = np.argmin(cost, axis=1)[:, None]
    return np.take_along_axis(candidates, best, 1)[:, 0], np.take_along_axis(cost, best, 1)[:, 0]


def all_units_cost(order_pcs, demand_pcs, ordering, holding_share, from_pcs, unit_prices):
    """Purchase, ordering and holding cost per period of given quantities under all-units price breaks.

    Parameters
    ----------
    order_pcs : array_like of float, shape (n_items, n_candidates)
        Quantities to cost; an infinite quantity costs ``inf``.
    demand_pcs, ordering, holding_share : array_like of float, shape (n_items,) or (n_items, 1)
        As in :func:`all_units`.
    from_pcs, unit_prices : array_like of float, shape (n_items, n_breaks)
        As in :func:`all_units`.

    Returns
    -------
    ndarray of float, shape (n_items, n_candidates)
        Money per period.

    Raises
    ------
    InvalidParameter
        If a demand, cost or price is not above 0 or the breaks do not rise.

    Examples
    --------
    >>> breaks, prices = [[1, 500, 1000]], [[0.30, 0.29, 0.28]]
    >>> all_units_cost([[400, 500, 1000]], [600], [8], [0.2], breaks, prices).round(2)
    array([[204. , 198.1, 200.8]])
    """
    demand, ordering, share, from_pcs, prices = _checked(
        demand_pcs, ordering, holding_share, from_pcs, unit_prices
    )
    order_pcs = np.asarray(order_pcs, dtype=float)
    reached = (order_pcs[:, :, None] >= from_pcs[:, None, :]).sum(axis=2) - 1
    price = np.take_along_axis(prices, np.maximum(reached, 0), 1)
    cost = price * demand + ordering * demand / order_pcs + share * price * order_pcs / 2
    return np.where(np.isfinite(order_pcs), cost, np.inf)


def incremental(demand_pcs, ordering, holding_share, from_pcs, unit_prices):
    """Best order quantity where a break lowers only the price of the pieces beyond it.

    Parameters
    ----------
    demand_pcs, ordering, holding_share : array_like of float, shape (n_items,)
        As in :func:`all_units`.
    from_pcs, unit_prices : array_like of float, shape (n_items, n_breaks)
        As in :func:`all_units`.

    Returns
    -------
    order_pcs, cost : ndarray of float, shape (n_items,)
        Best quantity and its purchase, ordering and holding cost per period.

    Raises
    ------
    InvalidParameter
        If a demand, cost or price is not above 0 or the breaks do not rise.

    Notes
    -----
    In each range the order costs a fixed extra (what the dearer first pieces cost more) plus the range's own
    price. The best quantity of a range lies inside it for the best range (Hadley & Whitin 1963, section 2.12);
    others are left out.

    References
    ----------
    Snyder & Shen (2019), section 3.4.3.

    Examples
    --------
    >>> quantity, cost = incremental([1300], [8], [0.3], [[0, 400, 800]], [[0.75, 0.72, 0.68]])
    >>> round(float(quantity[0]), 5), round(float(cost[0]), 5)
    (304.04678, 1043.41053)
    """
    demand, ordering, share, from_pcs, prices = _checked(
        demand_pcs, ordering, holding_share, from_pcs, unit_prices
    )
    steps = np.where(np.isfinite(from_pcs[:, 1:]), from_pcs[:, 1:], 0.0) * -np.diff(prices, axis=1)
    extra = np.concatenate([np.zeros_like(demand), np.cumsum(steps, axis=1)], axis=1)
    order_pcs = np.sqrt(2 * demand * (ordering + extra) / (share * prices))
    upper = np.concatenate([from_pcs[:, 1:], np.full_like(demand, np.inf)], axis=1)
    cost = (ordering + extra) * demand / order_pcs + prices * demand + share * (prices * order_pcs + extra) / 2
    cost = np.where((order_pcs >= from_pcs) & (order_pcs <= upper), cost, np.inf)
    best = np.argmin(cost, axis=1)[:, None]
    return np.take_along_axis(order_pcs, best, 1)[:, 0], np.take_along_axis(cost, best, 1)[:, 0]


def _checked(demand_pcs, ordering, holding_share, from_pcs, unit_prices):
    from_pcs = np.atleast_2d(np.asarray(from_pcs, dtype=float))
    prices = require.positive("unit_prices", np.atleast_2d(unit_prices))
    if from_pcs.shape != prices.shape:
        raise InvalidParameter(f"from_pcs has shape {from_pcs.shape}; wanted that of unit_prices, {prices.shape}.")
    padded = np.isinf(from_pcs[:, 1:])
    if not (padded | (from_pcs[:, 1:] > from_pcs[:, :-1])).all() or not (from_pcs[:, 0] <= 1).all():
        raise InvalidParameter("from_pcs does not rise from 0 or 1 along each row; sort the price breaks.")
    columns = [
        require.positive(name, value).reshape(-1, 1)
        for name, value in [("demand_pcs", demand_pcs), ("ordering", ordering), ("holding_share", holding_share)]
    ]
    return *columns, from_pcs, prices
