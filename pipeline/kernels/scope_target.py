"""The cheapest scope of work that is as quiet as asked, exactly."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels.scope_blocks import FORBIDDEN, checked, layout, scores
from pipeline.kernels.scope_hull import hull, scopes_of
from pipeline.kernels.scope_lists import TooLong, cheapest_of
from pipeline.kernels.scope_program import solved
from pipeline.kernels.scope_within import Asked, Within

SHORT = 1e-12  # of log chance: so much may a scope be short of what is asked
ROUNDING = 1e-11  # of the numbers that are added
FIRST_SHARE, WIDER = 1 / 16, 4.0  # of the gap of the hull: what is searched first, and how much more after


def cheapest(items, least_log_quiet):
    """Cheapest scope whose log_quiet reaches each target.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items
    least_log_quiet : array_like of float, shape (n_targets,)
        Log chance of no call-back that is asked.

    Returns
    -------
    pipeline.kernels.scope_hull.Scopes
        One for each target; where none reaches it, the quietest, and ``is_reached`` false.

    Raises
    ------
    InvalidParameter
        If a target is missing, or the items cannot be.

    Notes
    -----
    No scope that reaches a target is cheaper than the one found, to rounding; the one found may itself fall short of it
    by 1e-12, so that a target read off a scope is reached by that scope.

    The hull's edge over the target gives the price at which Lagrange's bound is highest, and a scope to compare with.
    What any scope costs is at least the bound and the excess of its items at that price; so a scope found among those
    of an excess up to some limit is the cheapest if it costs no more than the bound and that limit. The limit is
    widened until one is, at last to the gap of the hull. Items beyond the limit are dropped, and what is left is put
    together from lists of part scopes, assembly by assembly. Lists that grow too long go to a mixed-integer program.

    References
    ----------
    Reduced costs and a core of doubtful items: Balas & Zemel (1980), Operations Research 28, 1130-1154. Lists of
    unbeaten part scopes: Nemhauser & Ullmann (1969), Management Science 15, 494-505.

    Examples
    --------
    The hull goes from 0 to 52; the board alone, 50 and off the hull, is the cheapest that reaches -0.031.

    >>> from pipeline.kernels.scope_items import Items
    >>> two = Items([0, 0, 1, 1], [0.0, 2.0, 0.0, 50.0], [-0.02, -0.01, -0.03, -0.01], np.zeros((4, 1)), [5.0], [0.0],
    ...             np.zeros((4, 2)), np.zeros((4, 2)))
    >>> found = cheapest(two, [-0.05, -0.031, -0.02, -0.01])
    >>> found.amount, found.is_reached
    (array([ 0., 50., 52., 52.]), array([ True,  True,  True, False]))
    """
    items, wanted = checked(items), np.atleast_1d(np.asarray(least_log_quiet, dtype=float))
    if wanted.ndim > 1 or np.isnan(wanted).any():
        raise InvalidParameter("least_log_quiet is missing or no row of targets; wanted numbers.")
    laid, ends, wanted = layout(items), hull(items), wanted - SHORT
    after = np.searchsorted(ends.log_quiet, wanted)
    is_reached, taken = after < ends.log_quiet.size, ends.taken[np.minimum(after, ends.log_quiet.size - 1)]
    between = np.flatnonzero(is_reached & (after > 0))
    for place, asked in zip(between, _asked(items, laid, ends, wanted[between], after[between]), strict=True):
        taken[place] = _searched(items, laid, asked, taken[place])
    return scopes_of(items, taken, is_reached)


def _asked(items, laid, ends, wanted, after):
    """Bound, gap and excess of every target between two scopes of the hull."""
    low, high = after - 1, after
    price = (ends.amount[high] - ends.amount[low]) / (ends.log_quiet[high] - ends.log_quiet[low])
    found = scores(items, laid, price)
    opened, closed, sets = found.opened.real, found.closed.real, [total.real for total in found.sets]
    excess = _excess(items, laid, found, _by_assembly(laid, opened, closed, sets))
    bound = ends.amount[low] + price * (wanted - ends.log_quiet[low])
    size = np.abs(items.amount[ends.taken[high]]).sum(axis=1) + ends.is_open[high] @ items.open_amount
    size += price * np.abs(ends.log_quiet[low])
    return [Asked(price[n], wanted[n], bound[n], ends.amount[high[n]] - bound[n], ROUNDING * size[n], excess[n],
                   opened[n], closed[n], [total[n] for total in sets]) for n in range(wanted.size)]


def _by_assembly(laid, opened, closed, sets):
    """Least excess with each assembly open, and with it closed; each of shape (n_prices, n_assemblies)."""
    best = np.minimum(opened, closed)
    if_open, if_closed = opened - best, closed - best
    for block, total in zip(laid.blocks, sets, strict=True):
        least = total.min(axis=1)
        for column, assembly in enumerate(block.assemblies):
            own = block.sets[:, column]
            others = total[:, ~own].min(axis=1, initial=FORBIDDEN)
            asked = total[:, own].min(axis=1, initial=FORBIDDEN)
            if_open[:, assembly] = np.minimum(asked, others + opened[:, assembly] - best[:, assembly]) - least
            if_closed[:, assembly] = others + closed[:, assembly] - best[:, assembly] - least
    return if_open, if_closed


def _excess(items, laid, found, by_assembly):
    """Least that any scope with an item scores above the best at the price, shape (n_prices, n_items)."""
    # a group without needs has no assembly: nothing to add for it
    if_open, if_closed = (with_it @ laid.home.T for with_it in by_assembly)
    item, group = found.item.real, items.group
    open_item = item - found.open_group.real[:, group] + if_open[:, group]
    closed_item = item - found.closed_group.real[:, group] + if_closed[:, group]
    excess = np.where(laid.is_needing, open_item, np.minimum(open_item, closed_item))
    for block, total in zip(laid.blocks, found.sets, strict=True):
        for link, (allowed, pattern) in zip(block.links, block.patterns, strict=True):
            own = slice(laid.starts[link], laid.ends[link])
            least = np.where(allowed, item[:, None, own], FORBIDDEN).min(axis=2)[:, pattern]
            rest = total.real - least - total.real.min(axis=1)[:, None]
            at = np.full((len(item), len(allowed)), FORBIDDEN)
            for number in range(len(allowed)):
                at[:, number] = rest[:, pattern == number].min(axis=1)
            excess[:, own] = item[:, own] + np.where(allowed, at[:, :, None], FORBIDDEN).min(axis=1)
    return excess


def _searched(items, laid, asked, fallback):
    """Items of the cheapest scope, by group."""
    limit = asked.gap_amount * FIRST_SHARE
    try:
        while True:
            amount, taken = _within(items, laid, asked, limit + asked.slack)
            if amount <= asked.bound_amount + limit + asked.slack:
                return np.sort(taken)
            if limit >= asked.gap_amount:  # the hull's own scope reaches the target, and is missed by rounding alone
                return fallback
            limit = min(WIDER * limit, asked.gap_amount, amount - asked.bound_amount)
    except TooLong:
        return solved(items, asked.excess <= asked.gap_amount + asked.slack, asked.least_log_quiet, fallback)


def _within(items, laid, asked, limit):
    """Cheapest scope that reaches the target, of those of an excess up to the limit: amount, and items by group."""
    within = Within(items, laid, asked, limit)
    lists = [within.block(block, total) for block, total in zip(laid.blocks, asked.sets, strict=True)]
    is_alone = np.ones(items.open_amount.size, dtype=bool)
    for block in laid.blocks:
        is_alone[block.assemblies] = False
    lists += [within.either(assembly) for assembly in np.flatnonzero(is_alone)]
    return cheapest_of([*lists, within.loose()], asked.price, limit, asked.least_log_quiet)
