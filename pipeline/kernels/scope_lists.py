"""Lists of part scopes none of which another beats, and how lists of independent parts are put together."""

from dataclasses import dataclass

import numpy as np

GRID = 1e-15  # of log chance: part scopes closer than this are as quiet as each other
MOST_ROWS = 2**21  # of pairs weighed at once


class TooLong(ArithmeticError):
    """More pairs than are weighed at once."""


@dataclass(frozen=True)
class Listed:
    """Part scopes, cheapest first, each quieter than those before.

    Attributes
    ----------
    amount, log_quiet : ndarray of float, shape (n,)
    parts : tuple of Listed
        What they were put together from; () for items themselves.
    rows : ndarray of int, shape (n, n_parts)
        Row of each part, -1 where it has none; the item where there are no parts.
    """

    amount: np.ndarray
    log_quiet: np.ndarray
    parts: tuple
    rows: np.ndarray

    def items_of(self, row):
        """Items of one part scope.

        Parameters
        ----------
        row : int

        Returns
        -------
        list of int
        """
        if not self.parts:
            return [item for item in self.rows[row] if item >= 0]
        return [item for part, own in zip(self.parts, self.rows[row], strict=True) if own >= 0
                for item in part.items_of(own)]


def listed(amount, log_quiet, items, price, slack):
    """List single items, or a fixed set of them as the one row of ``items``.

    Parameters
    ----------
    amount, log_quiet : ndarray of float, shape (n,)
    items : ndarray of int, shape (n, n_each)
    price, slack : float
        What scores more than the slack above the least amount - price x log_quiet is left out.

    Returns
    -------
    Listed
    """
    return _unbeaten(amount, log_quiet, (), items, price, slack)


def put_together(lists, price, slack):
    """Every sum of one part scope of each list that may still be best.

    Parameters
    ----------
    lists : list of Listed
        Of parts that do not touch.
    price, slack : float
        As for :func:`listed`.

    Returns
    -------
    Listed

    Raises
    ------
    TooLong
        If two lists make more than ``MOST_ROWS`` pairs.

    Examples
    --------
    >>> one = listed(np.array([0.0, 2.0]), np.array([-0.02, -0.01]), np.array([[0], [1]]), 200.0, np.inf)
    >>> two = listed(np.array([0.0, 2.0]), np.array([-0.02, -0.01]), np.array([[2], [3]]), 200.0, np.inf)
    >>> both = put_together([one, two], 200.0, np.inf)
    >>> both.amount, [[int(item) for item in both.items_of(row)] for row in range(3)]
    (array([0., 2., 4.]), [[0, 2], [1, 2], [1, 3]])
    """
    first, *rest = sorted(lists, key=lambda one: one.amount.size)
    for one in rest:
        if first.amount.size * one.amount.size > MOST_ROWS:
            raise TooLong
        left, right = np.indices((first.amount.size, one.amount.size)).reshape(2, -1)
        first = _unbeaten(first.amount[left] + one.amount[right], first.log_quiet[left] + one.log_quiet[right],
                          (first, one), np.column_stack([left, right]), price, slack)
    return first


def any_of(lists, price, slack):
    """The best of several lists of the same part.

    Parameters
    ----------
    lists : list of Listed
    price, slack : float
        As for :func:`listed`.

    Returns
    -------
    Listed
    """
    if len(lists) == 1:
        return lists[0]
    amount = np.concatenate([one.amount for one in lists])
    rows = np.full((amount.size, len(lists)), -1)
    end = np.cumsum([one.amount.size for one in lists])
    for number, one in enumerate(lists):
        rows[end[number] - one.amount.size : end[number], number] = np.arange(one.amount.size)
    return _unbeaten(amount, np.concatenate([one.log_quiet for one in lists]), tuple(lists), rows, price, slack)


def _unbeaten(amount, log_quiet, parts, rows, price, slack):
    """What is within the slack and no cheaper one is as quiet as."""
    if amount.size > 1:
        score = amount - price * log_quiet
        near = np.flatnonzero(score <= score.min() + slack)
        near = near[np.lexsort((-log_quiet[near], amount[near]))]
        # whole steps of a grid, so that rounding makes no new part scopes and small losses do not add up in a chain
        step = np.floor(log_quiet[near] / GRID)
        is_kept = np.ones(near.size, dtype=bool)
        is_kept[1:] = step[1:] > np.maximum.accumulate(step)[:-1]
        near = near[is_kept]
        amount, log_quiet, rows = amount[near], log_quiet[near], rows[near]
    return Listed(amount, log_quiet, parts, rows)
