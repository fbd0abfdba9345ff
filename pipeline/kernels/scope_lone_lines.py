"""Lines that no companion rule ties to another: what is worth choosing among their own actions."""

import numpy as np


def alone_items(actions, lines, n_assemblies):
    """Items of lines that no rule ties to another, all lines at once.

    Parameters
    ----------
    actions : pipeline.kernels.scope_items.Actions
        Checked.
    lines : ndarray of int, shape (n,)
        Lines to take.
    n_assemblies : int

    Returns
    -------
    place : ndarray of int, shape (n_items,)
        Place in ``lines`` of each item's line.
    amount, log_quiet : ndarray of float, shape (n_items,)
    needs : ndarray of bool, shape (n_items, n_assemblies)
    action : ndarray of int, shape (n_items, n_all_lines)
        Row of ``actions`` under the item's line, -1 elsewhere.
    along_share : ndarray of float, shape (n_items, n_all_lines)
        All 0. Of each line the first row stands first, then those that none beats in amount, quiet and opening.
    """
    place = np.full(actions.assembly.size, -1)
    place[lines] = np.arange(lines.size)
    rows = np.flatnonzero(actions.is_offered & (place[actions.line] >= 0))
    count = np.bincount(place[actions.line[rows]], minlength=lines.size)
    start, own = np.repeat(np.cumsum(count) - count, count), np.repeat(count, count)
    left = np.repeat(np.arange(rows.size), own)  # every row beside every row of its line
    right = np.repeat(start, own) + np.arange(left.size) - np.repeat(np.cumsum(own) - own, own)
    amount, quiet, opens = (values[rows] for values in (actions.amount, actions.log_quiet, actions.is_opening))
    no_worse = (amount[right] <= amount[left]) & (quiet[right] >= quiet[left]) & (opens[right] <= opens[left])
    is_same = (amount[right] == amount[left]) & (quiet[right] == quiet[left]) & (opens[right] == opens[left])
    is_beaten = np.bincount(left, no_worse & (~is_same | (right < left)), rows.size) > 0
    kept = np.flatnonzero(~is_beaten | (np.arange(rows.size) == start))
    line, number = actions.line[rows[kept]], np.arange(kept.size)
    needs = np.zeros((kept.size, n_assemblies), dtype=bool)
    needs[number, actions.assembly[line]] = opens[kept]
    action = np.full((kept.size, actions.assembly.size), -1)
    action[number, line] = rows[kept]
    return place[line], amount[kept], quiet[kept], needs, action, np.zeros(action.shape)
