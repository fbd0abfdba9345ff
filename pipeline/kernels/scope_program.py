"""The cheapest scope that is as quiet as asked as a mixed-integer program: for machines whose lists grow too long."""

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import block_array, coo_array, csr_array, eye_array

QUIET_UNIT = 1e-6  # of log chance: the solver's own tolerance on a row, 1e-6, is then 1e-12
FURTHER = 3  # times that the target is set a little higher, where the solver stopped short of it


def solved(items, is_kept, least_log_quiet, fallback):
    """Cheapest scope of the items kept whose log_quiet reaches the target.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items
    is_kept : ndarray of bool, shape (n_items,)
        Items that may be taken; at least one of each group.
    least_log_quiet : float
        Log chance of no call-back that is asked.
    fallback : ndarray of int, shape (n_groups,)
        A scope that reaches it.

    Returns
    -------
    ndarray of int, shape (n_groups,)
        Item taken of each group: the fallback, where the solver finds none that reaches the target and is cheaper.

    Notes
    -----
    One binary for each item and each assembly; an item needs its assemblies open. The relative gap is 0; the solver's
    own tolerance on the amount is 1e-6 in the money's unit.

    Examples
    --------
    >>> from pipeline.kernels.scope_items import Items
    >>> two = Items(np.array([0, 0, 1, 1]), np.array([0.0, 2.0, 0.0, 50.0]), np.array([-0.02, -0.01, -0.03, -0.01]),
    ...             np.zeros((4, 1), dtype=bool), np.array([5.0]), np.array([0.0]), None, None)
    >>> solved(two, np.ones(4, dtype=bool), -0.031, np.array([1, 3]))
    array([0, 3])
    """
    kept, best = np.flatnonzero(is_kept), fallback
    wanted = least_log_quiet
    for _ in range(FURTHER):
        found = _once(items, kept, wanted)
        if found is None:
            break
        amount, log_quiet = _total(items, found)
        if log_quiet >= least_log_quiet:
            return found if amount < _total(items, best)[0] else best
        wanted += 2 * (least_log_quiet - log_quiet)
    return best


def _once(items, kept, wanted):
    """Item of each group, or None where the solver has no answer."""
    n_items, n_assemblies = kept.size, items.open_amount.size
    group = items.group[kept]
    one_each = coo_array((np.ones(n_items), (group, np.arange(n_items))), shape=(group[-1] + 1, n_items))
    need, row = items.needs[kept], np.nonzero(items.needs[kept])
    # one row for a group and an assembly, not one for an item: tighter, and fewer
    pair, number = np.unique(group[row[0]] * n_assemblies + row[1], return_inverse=True)
    asks = coo_array((need[row].astype(float), (number, row[0])), shape=(pair.size, n_items))
    opens = csr_array(eye_array(n_assemblies))[pair % n_assemblies]
    quiet = np.concatenate([items.log_quiet[kept], items.open_log_quiet]) / QUIET_UNIT
    found = milp(
        np.concatenate([items.amount[kept], items.open_amount]), integrality=np.ones(quiet.size), bounds=Bounds(0, 1),
        constraints=[LinearConstraint(block_array([[one_each, coo_array((group[-1] + 1, n_assemblies))]]), 1, 1),
                     LinearConstraint(block_array([[asks, -opens]]), -np.inf, 0),
                     LinearConstraint(quiet[None], wanted / QUIET_UNIT, np.inf)],
        options={"mip_rel_gap": 0.0})
    if found.x is None:
        return None
    return kept[np.flatnonzero(found.x[:n_items] > 0.5)]


def _total(items, taken):
    is_open = items.needs[taken].any(axis=0)
    return (items.amount[taken].sum() + is_open @ items.open_amount,
            items.log_quiet[taken].sum() + is_open @ items.open_log_quiet)
