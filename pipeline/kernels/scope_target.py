"""The cheapest scope of work that is as quiet as asked, exactly."""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels.scope_blocks import FORBIDDEN, Layout, checked, layout, scores
from pipeline.kernels.scope_hull import hull, scopes_of
from pipeline.kernels.scope_items import Items
from pipeline.kernels.scope_lists import TooLong, any_of, listed, put_together
from pipeline.kernels.scope_program import solved

SHORT = 1e-12  # of log chance: so much may a scope be short of what is asked
ROUNDING = 1e-11  # of the numbers that are added
SHARES = (1 / 32, 1 / 8, 1 / 2, 1)  # of the gap of the hull: searched one after the other


@dataclass(frozen=True)
class _Asked:
    """One target at the price of the hull's edge beside it: what each item costs above the best at that price.

    ``least_log_quiet`` is what must be reached, ``bound_amount`` what it costs at least, ``gap_amount`` how much
    more the hull's scope costs, ``excess`` by item, and scores by assembly and by set of each block.
    """

    price: float
    least_log_quiet: float
    bound_amount: float
    gap_amount: float
    slack: float
    excess: np.ndarray
    opened: np.ndarray
    closed: np.ndarray
    sets: list


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
    return [_Asked(price[n], wanted[n], bound[n], ends.amount[high[n]] - bound[n], ROUNDING * size[n], excess[n],
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
    try:
        for share in SHARES:
            limit = share * asked.gap_amount
            found = _within(items, laid, asked, limit + asked.slack)
            row = np.searchsorted(found.log_quiet, asked.least_log_quiet)  # both rise: the cheapest that reaches it
            is_sure = share == 1 or found.amount[min(row, found.amount.size - 1)] <= asked.bound_amount + limit
            if row < found.amount.size and is_sure:
                return np.sort(found.items_of(row))
    except TooLong:
        return solved(items, asked.excess <= asked.gap_amount + asked.slack, asked.least_log_quiet, fallback)
    return fallback  # the hull's own scope reaches the target; its list misses it by rounding


def _within(items, laid, asked, limit):
    """Unbeaten scopes of an excess up to the limit."""
    alive = asked.excess <= limit
    is_open_question = np.add.reduceat(alive.astype(int), laid.starts) > 1
    is_unsettled = is_open_question @ laid.home > 0
    is_alone = np.ones(is_unsettled.size, dtype=bool)
    listing, lists, is_fixed = _Listing(items, laid, asked, limit, alive), [], ~is_open_question & laid.is_loose
    for block, total in zip(laid.blocks, asked.sets, strict=True):
        is_alone[block.assemblies] = False
        if is_unsettled[block.assemblies].any() or is_open_question[block.links].any():
            lists.append(listing.block(block, total))
        else:
            is_fixed |= laid.home[:, block.assemblies].any(axis=1)
            is_fixed[block.links] = True
    is_fixed |= laid.home @ (is_alone & ~is_unsettled) > 0
    lists += [listing.either(assembly) for assembly in np.flatnonzero(is_alone & is_unsettled)]
    lists += [listing.single(group, alive) for group in np.flatnonzero(is_open_question & laid.is_loose)]
    lists.append(listing.fixed(np.flatnonzero(alive & is_fixed[items.group])))
    return put_together(lists, asked.price, limit)


@dataclass(frozen=True)
class _Listing:
    """Lists of part scopes for one target, of items within the limit."""

    items: Items
    laid: Layout
    asked: _Asked
    limit: float
    alive: np.ndarray

    def single(self, group, is_allowed):
        """Items of one group."""
        own = np.arange(self.laid.starts[group], self.laid.ends[group])
        own = own[is_allowed[own]]
        return listed(self.items.amount[own], self.items.log_quiet[own], own[:, None], self.asked.price, self.limit)

    def fixed(self, own, is_open=None):
        """One row of items, and what opening the assemblies costs that they need, or those given."""
        is_open = self.items.needs[own].any(axis=0) if is_open is None else is_open
        amount = self.items.amount[own].sum() + is_open @ self.items.open_amount
        log_quiet = self.items.log_quiet[own].sum() + is_open @ self.items.open_log_quiet
        return listed(np.array([amount]), np.array([log_quiet]), own[None], self.asked.price, self.limit)

    def version(self, assembly, is_open):
        """What is at home in one assembly, open or closed; None where something must be open."""
        is_allowed = self.alive & (is_open | ~self.laid.is_needing)
        groups = np.flatnonzero(self.laid.home[:, assembly])
        count = np.add.reduceat(is_allowed.astype(int), self.laid.starts)[groups]
        if (count == 0).any():
            return None
        is_own = np.isin(self.items.group, groups[count == 1]) & is_allowed
        own = np.arange(self.laid.home.shape[1]) == assembly
        base = self.fixed(np.flatnonzero(is_own), own & is_open)
        return put_together([base, *(self.single(group, is_allowed) for group in groups[count > 1])],
                            self.asked.price, self.limit)

    def either(self, assembly):
        """What is at home in one assembly, opened if that may be best; None where nothing is within the limit."""
        opened, closed = self.asked.opened[assembly], self.asked.closed[assembly]
        near = min(opened, closed) + self.limit
        found = [self.version(assembly, is_open) for is_open, score in ((False, closed), (True, opened))
                 if score <= near]
        found = [one for one in found if one is not None]
        return any_of(found, self.asked.price, self.limit) if found else None

    def block(self, block, total):
        """Assemblies and links of a block, under each set of open assemblies that may be best."""
        found = []
        for number in np.flatnonzero(total <= total.min() + self.limit):
            parts = [self.version(assembly, True) if is_open else self.either(assembly)
                     for assembly, is_open in zip(block.assemblies, block.sets[number], strict=True)]
            for link, (allowed, pattern) in zip(block.links, block.patterns, strict=True):
                is_allowed = self.alive.copy()
                is_allowed[self.laid.starts[link] : self.laid.ends[link]] &= allowed[pattern[number]]
                own = self.single(link, is_allowed)
                parts.append(own if own.amount.size else None)
            if all(part is not None for part in parts):
                found.append(put_together(parts, self.asked.price, self.limit))
        return any_of(found, self.asked.price, self.limit)
