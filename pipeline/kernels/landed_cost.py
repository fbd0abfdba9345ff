"""Landed cost: freight, duty and tax that cannot be recovered, shared over the lines, to the cent."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels.arguments import group_index, whole

_PRODUCT_LIMIT = 2**62


def share_by_value(extra_cents, value_cents, order=None):
    """Share each order's extra amount over its lines by value; the cents go to the largest remainders.

    Parameters
    ----------
    extra_cents : array_like of int, shape (n_orders,)
        What each order cost beyond its lines; negative where a discount is larger.
    value_cents : array_like of int, shape (n_lines,)
        Value of each line, at least 0. An order whose lines are all worth nothing is shared equally.
    order : array_like of int, shape (n_lines,), optional
        Which order each line belongs to, from 0; default all to order 0.

    Returns
    -------
    ndarray of int64, shape (n_lines,)
        Share of each line; sums to ``extra_cents`` exactly. Equal remainders go to the earlier line.

    Raises
    ------
    InvalidParameter
        If a value is negative or not whole, an amount is too large to multiply exactly, or an order
        with something to share has no line.

    References
    ----------
    What belongs to the cost: IAS 2 Inventories, paragraphs 10-11. Largest remainder: Hamilton's
    method, Balinski & Young (1982), Fair Representation, chapter 1.

    Examples
    --------
    >>> share_by_value([4573], [12000, 4550, 3450])
    array([2744, 1040,  789])
    """
    extra_cents = np.atleast_1d(whole("extra_cents", extra_cents))
    value_cents = np.atleast_1d(whole("value_cents", value_cents, low=0))
    order, n_orders = group_index(order, value_cents.size, extra_cents.size)
    lines = np.bincount(order, minlength=n_orders)
    if ((lines == 0) & (extra_cents != 0)).any():
        found = int(np.flatnonzero((lines == 0) & (extra_cents != 0))[0])
        raise InvalidParameter(f"order {found} has {extra_cents[found]} cents to share and no line.")
    total = _sum_by(order, value_cents, n_orders)
    weight = np.where(total[order] > 0, value_cents, 1)
    total = np.where(total > 0, total, np.maximum(lines, 1))
    if weight.size and np.abs(extra_cents).max() > _PRODUCT_LIMIT // max(int(weight.max()), 1):
        raise InvalidParameter("extra_cents x value_cents is beyond exact whole numbers; wanted smaller amounts.")
    floor, remainder = np.divmod(extra_cents[order] * weight, total[order])
    missing = extra_cents - _sum_by(order, floor, n_orders)
    return floor + (_rank_within(order, remainder) < missing[order])


def landed_cents(value_cents, extra_cents, order=None):
    """Cost of each line with its share of the order's extra amount.

    Parameters
    ----------
    value_cents, extra_cents, order
        As for :func:`share_by_value`.

    Returns
    -------
    ndarray of int64, shape (n_lines,)
        Line value plus share.

    Raises
    ------
    InvalidParameter
        As for :func:`share_by_value`.

    Examples
    --------
    >>> landed_cents([12000, 4550, 3450], [4573])
    array([14744,  5590,  4239])
    """
    return np.atleast_1d(whole("value_cents", value_cents)) + share_by_value(extra_cents, value_cents, order)


def _sum_by(group, values, n_groups):
    total = np.zeros(n_groups, dtype=np.int64)
    np.add.at(total, group, values)  # whole numbers: bincount would go through floats
    return total


def _rank_within(group, values):
    """0 for the largest value of each group, 1 for the next ...; ties in the order given."""
    by_size = np.lexsort((np.arange(values.size), -values, group))
    first = np.searchsorted(group[by_size], group[by_size])
    rank = np.empty(values.size, dtype=np.int64)
    rank[by_size] = np.arange(values.size) - first
    return rank
