"""Scopes of work that are best at some price of quietness: the lower hull of cost against chance of no call-back."""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels.scope_blocks import checked, layout, taken_at

ROUNDING = 1e-12  # of the numbers that are added; a gain below it is none


@dataclass(frozen=True)
class Scopes:
    """Scopes of one machine, one a row.

    Attributes
    ----------
    amount : ndarray of float, shape (n,)
        Cost, money: items and open assemblies.
    log_quiet : ndarray of float, shape (n,)
        Log chance of no call-back inside the warranty.
    taken : ndarray of int, shape (n, n_groups)
        Item taken of each group.
    is_open : ndarray of bool, shape (n, n_assemblies)
        Assemblies that an item taken needs.
    is_reached : ndarray of bool, shape (n,)
        Whether the scope is as quiet as asked; true where nothing was asked.
    """

    amount: np.ndarray
    log_quiet: np.ndarray
    taken: np.ndarray
    is_open: np.ndarray
    is_reached: np.ndarray


def scopes_of(items, taken, is_reached=True):
    """What scopes cost and how quiet they are.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items
    taken : ndarray of int, shape (n, n_groups)
        Item taken of each group.
    is_reached : array_like of bool, optional
        Whether each is as quiet as asked.

    Returns
    -------
    Scopes
    """
    is_open = items.needs[taken].any(axis=1)
    amount = items.amount[taken].sum(axis=1) + is_open @ items.open_amount
    log_quiet = items.log_quiet[taken].sum(axis=1) + is_open @ items.open_log_quiet
    return Scopes(amount, log_quiet, taken, is_open, np.broadcast_to(is_reached, amount.shape).copy())


def scope_at(items, price):
    """Scope of least amount - price x log_quiet, at each price.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items
    price : array_like of float, shape (n_prices,)
        Money for a unit of log chance, at least 0. 0 = the cheapest scope, of equals the quietest; ``inf`` = the
        quietest scope, of equals the cheapest.

    Returns
    -------
    Scopes
        One for each price.

    Raises
    ------
    InvalidParameter
        If a price is negative or missing, or the items cannot be.

    Notes
    -----
    Exact: at a price the assemblies are independent of each other but for items that need several, and of those every
    set of assemblies they can need is weighed.

    Examples
    --------
    >>> from pipeline.kernels.scope_items import Items
    >>> one = Items([0, 0], [0.0, 10.0], [-0.02, -0.01], [[False], [True]], [5.0], [0.0], [[0], [1]], [[0.0], [0.0]])
    >>> scope_at(one, [0.0, 1400.0, 1600.0]).amount
    array([ 0.,  0., 15.])
    """
    items, price = checked(items), np.atleast_1d(np.asarray(price, dtype=float))
    if price.ndim > 1 or not (price >= 0).all():
        raise InvalidParameter("price is negative or missing, or no row of prices; wanted at least 0.")
    return scopes_of(items, taken_at(items, layout(items), price))


def hull(items):
    """Every vertex of the lower convex hull of amount against log_quiet over all scopes.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items

    Returns
    -------
    Scopes
        From the cheapest (of equals the quietest) to the quietest (of equals the cheapest), both rising strictly.

    Raises
    ------
    InvalidParameter
        If the items cannot be.

    Notes
    -----
    Between two neighbours a scope is sought at the price at which they are equally good; a better one stands between
    them, otherwise nothing does. All pairs of one sweep are priced at once. A vertex that lies below its neighbours'
    line by rounding alone is left out.

    References
    ----------
    Everett (1963), Operations Research 11, 399-417; Eisner & Severance (1976), J. ACM 23, 619-635.

    Examples
    --------
    The sleeve (2 for 0.01) goes in before the board (50 for 0.02).

    >>> from pipeline.kernels.scope_items import Items
    >>> two = Items([0, 0, 1, 1], [0.0, 2.0, 0.0, 50.0], [-0.02, -0.01, -0.03, -0.01], np.zeros((4, 1)), [5.0], [0.0],
    ...             np.zeros((4, 2)), np.zeros((4, 2)))
    >>> hull(two).amount, hull(two).log_quiet.round(3)
    (array([ 0.,  2., 52.]), array([-0.05, -0.04, -0.02]))
    """
    items = checked(items)
    laid = layout(items)
    found = scopes_of(items, taken_at(items, laid, np.array([0.0, np.inf])))
    is_settled = np.zeros(1, dtype=bool)
    while not is_settled.all():
        found, is_settled = _swept(items, laid, found, is_settled)
    return _rows(found, _vertices(found))


def _swept(items, laid, found, is_settled):
    """Put a scope between the neighbours of every pair that is not settled, where there is a better one."""
    rise, gain = np.diff(found.amount), np.diff(found.log_quiet)
    pair = np.flatnonzero(~is_settled & (rise > 0) & (gain > 0))
    price = rise[pair] / gain[pair]
    more = scopes_of(items, taken_at(items, laid, price))
    line = found.amount[pair] - price * found.log_quiet[pair]
    size = np.abs(found.amount[pair]) + price * np.abs(found.log_quiet[pair]) + rise[pair]
    is_better = more.amount - price * more.log_quiet < line - ROUNDING * size
    is_better &= (more.log_quiet > found.log_quiet[pair]) & (more.log_quiet < found.log_quiet[pair + 1])
    at = pair[is_better]
    taken = np.insert(found.taken, at + 1, more.taken[is_better], axis=0)
    is_settled = np.ones(is_settled.size, dtype=bool)
    is_settled[at] = False
    return scopes_of(items, taken), np.repeat(is_settled, np.where(is_settled, 1, 2))


def _vertices(found):
    """Scopes that lie below the line of their neighbours by more than rounding; the first and the last always."""
    kept = [0]
    for last in range(1, found.amount.size):
        if found.amount[last] <= found.amount[kept[-1]] or found.log_quiet[last] <= found.log_quiet[kept[-1]]:
            continue
        while len(kept) > 1 and not _is_below(found, kept[-2], kept[-1], last):
            kept.pop()
        kept.append(last)
    return kept


def _is_below(found, left, middle, right):
    price = (found.amount[right] - found.amount[left]) / (found.log_quiet[right] - found.log_quiet[left])
    gain = found.log_quiet[middle] - found.log_quiet[left]
    size = np.abs(found.amount[right]) + price * np.abs(found.log_quiet[left])
    return found.amount[middle] < found.amount[left] + price * gain - ROUNDING * size


def _rows(found, rows):
    return Scopes(found.amount[rows], found.log_quiet[rows], found.taken[rows], found.is_open[rows],
                  found.is_reached[rows])
