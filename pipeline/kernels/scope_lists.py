"""Lists of part scopes none of which another beats, and how lists of independent parts are put together."""

from dataclasses import dataclass

import numpy as np

GRID = 1e-15  # of log chance: part scopes closer than this are as quiet as each other
MOST_ROWS = 2**21  # of sums weighed at once
FEW_ROWS = 64  # sums that more than two lists may make at once: a short list costs little more than none


class TooLong(ArithmeticError):
    """More sums than are weighed at once."""


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
    kept = _unbeaten(amount, log_quiet, price, slack)
    return Listed(amount[kept], log_quiet[kept], (), items[kept])


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
        If two lists make more than ``MOST_ROWS`` sums.

    Examples
    --------
    >>> one = listed(np.array([0.0, 2.0]), np.array([-0.02, -0.01]), np.array([[0], [1]]), 200.0, np.inf)
    >>> two = listed(np.array([0.0, 2.0]), np.array([-0.02, -0.01]), np.array([[2], [3]]), 200.0, np.inf)
    >>> both = put_together([one, two], 200.0, np.inf)
    >>> both.amount, [[int(item) for item in both.items_of(row)] for row in range(3)]
    (array([0., 2., 4.]), [[0, 2], [0, 3], [1, 3]])
    """
    return _balanced(lists, price, slack, 1)[0]


def cheapest_of(lists, price, slack, least_log_quiet):
    """The cheapest sum of one part scope of each list that is as quiet as asked.

    Parameters
    ----------
    lists : list of Listed
        Of parts that do not touch.
    price, slack : float
        As for :func:`listed`.
    least_log_quiet : float
        What the sum must reach.

    Returns
    -------
    amount : float
        ``inf`` where none reaches it.
    items : list of int

    Raises
    ------
    TooLong
        As :func:`put_together`.

    Notes
    -----
    The last two lists are not multiplied out: for each row of one, the cheapest row of the other that is quiet enough
    is looked up (Horowitz & Sahni 1974, J. ACM 21, 277-292).
    """
    nothing = Listed(np.zeros(1), np.zeros(1), (), np.empty((1, 0), dtype=np.int64))
    one, other, *_ = [*_balanced(lists, price, slack, 2), nothing]
    row = np.searchsorted(other.log_quiet, least_log_quiet - one.log_quiet)
    amount = one.amount + np.append(other.amount, np.inf)[row]
    best = amount.argmin()
    if np.isinf(amount[best]):
        return np.inf, []
    return float(amount[best]), one.items_of(best) + other.items_of(row[best])


def _balanced(lists, price, slack, n_left):
    """Put the shortest lists together until so many are left."""
    queue = _rows_as_one([one for one in lists if one.amount.size == 1])
    queue += [one for one in lists if one.amount.size != 1]
    while len(queue) > n_left:
        queue.sort(key=lambda one: one.amount.size)
        count, size = 2, queue[0].amount.size * queue[1].amount.size
        while len(queue) - count >= n_left and size * queue[count].amount.size <= FEW_ROWS:
            size *= queue[count].amount.size
            count += 1
        queue = [*queue[count:], _product(queue[:count], price, slack)]
    return queue


def _product(lists, price, slack):
    """Every sum of one part scope of each list that may still be best."""
    sizes = [one.amount.size for one in lists]
    if np.prod(sizes, dtype=float) > MOST_ROWS:
        raise TooLong
    amount, log_quiet = lists[0].amount, lists[0].log_quiet
    for one in lists[1:]:
        amount = (amount[:, None] + one.amount).ravel()
        log_quiet = (log_quiet[:, None] + one.log_quiet).ravel()
    kept = _unbeaten(amount, log_quiet, price, slack)
    return Listed(amount[kept], log_quiet[kept], tuple(lists), np.stack(np.unravel_index(kept, sizes), axis=1))


def _rows_as_one(lists):
    """What leaves no choice, as one list; none of none."""
    if len(lists) < 2:
        return lists
    amount, log_quiet = (sum(getattr(one, name) for one in lists) for name in ("amount", "log_quiet"))
    return [Listed(amount, log_quiet, tuple(lists), np.zeros((1, len(lists)), dtype=np.int64))]


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
    log_quiet = np.concatenate([one.log_quiet for one in lists])
    kept = _unbeaten(amount, log_quiet, price, slack)
    return Listed(amount[kept], log_quiet[kept], tuple(lists), rows[kept])


def _unbeaten(amount, log_quiet, price, slack):
    """Rows within the slack that no cheaper one is as quiet as, cheapest first."""
    if amount.size == 1:
        return np.zeros(1, dtype=np.int64)
    if amount.size == 2:
        return _of_two(amount.tolist(), log_quiet.tolist(), price, slack)
    score = amount - price * log_quiet
    near = np.flatnonzero(score <= score.min(initial=np.inf) + slack)
    near = near[np.lexsort((-log_quiet[near], amount[near]))]
    # whole steps of a grid, so that rounding makes no new part scopes and small losses do not add up in a chain
    step = np.floor(log_quiet[near] / GRID)
    is_kept = np.ones(near.size, dtype=bool)
    is_kept[1:] = step[1:] > np.maximum.accumulate(step)[:-1]
    return near[is_kept]


def _of_two(amount, log_quiet, price, slack):
    """The same of two rows, which most lists of items have: without arrays it takes a tenth of the time."""
    cheap = 0 if (amount[0], -log_quiet[0]) <= (amount[1], -log_quiet[1]) else 1
    dear = 1 - cheap
    more = amount[dear] - amount[cheap] - price * (log_quiet[dear] - log_quiet[cheap])
    if more > slack or log_quiet[dear] // GRID <= log_quiet[cheap] // GRID:
        return np.array([cheap])
    return np.array([dear] if -more > slack else [cheap, dear])
