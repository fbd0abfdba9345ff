"""Part scopes of each assembly and block that may still be best for one target, as lists."""

from dataclasses import dataclass

import numpy as np

from pipeline.kernels.scope_lists import Listed, any_of, listed, put_together


@dataclass(frozen=True)
class Asked:
    """One target, at the price of the edge of the hull over it.

    Attributes
    ----------
    price : float
        Money for a unit of log chance.
    least_log_quiet : float
        Log chance that must be reached.
    bound_amount, gap_amount : float
        What a scope that reaches it costs at least, and how much more the hull's scope costs; money.
    slack : float
        Rounding of sums, money.
    excess : ndarray of float, shape (n_items,)
        Least that a scope with the item scores above the best.
    opened, closed : ndarray of float, shape (n_assemblies,)
        Score of each assembly.
    sets : list of ndarray of float, shape (n_sets,)
        Score of each set of open assemblies, for each block.
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


class Within:
    """Lists of part scopes within a limit of the best score.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items
    laid : pipeline.kernels.scope_blocks.Layout
    asked : Asked
    limit : float
        Items of more excess are left out, and part scopes that score more than this above the best of their kind.
    """

    def __init__(self, items, laid, asked, limit):
        self.items, self.laid, self.asked, self.limit = items, laid, asked, limit
        self.alive = asked.excess <= limit
        self.made = {}
        self.kinds = {True: self._kind(self.alive, items.open_amount, items.open_log_quiet),
                      False: self._kind(self.alive & ~laid.is_needing, 0.0, 0.0)}

    def _kind(self, is_allowed, charge, charge_quiet):
        """With assemblies open, or closed: items allowed, how many of each group, and sums of those without choice."""
        count = np.add.reduceat(is_allowed.astype(np.int64), self.laid.starts)
        number = np.where(is_allowed, np.arange(is_allowed.size), is_allowed.size - 1)
        only = np.minimum.reduceat(number, self.laid.starts)
        amount = np.where(count == 1, self.items.amount[only], 0.0) @ self.laid.home + charge
        log_quiet = np.where(count == 1, self.items.log_quiet[only], 0.0) @ self.laid.home + charge_quiet
        return is_allowed, count, only, amount, log_quiet

    def loose(self):
        """Groups that need nothing.

        Returns
        -------
        pipeline.kernels.scope_lists.Listed
        """
        groups = np.flatnonzero(self.laid.is_loose)
        return self._together([self._fixed(np.empty(0, dtype=np.int64), 0.0, 0.0),
                               *(self._single(group, self.alive) for group in groups)])

    def either(self, assembly):
        """What is at home in one assembly, opened or not as may be best.

        Parameters
        ----------
        assembly : int

        Returns
        -------
        pipeline.kernels.scope_lists.Listed or None
            None where nothing is within the limit.
        """
        if (assembly, None) not in self.made:
            opened, closed = self.asked.opened[assembly], self.asked.closed[assembly]
            near = min(opened, closed) + self.limit
            found = [self._version(assembly, is_open) for is_open, score in ((False, closed), (True, opened))
                     if score <= near]
            self.made[assembly, None] = self._any_of([one for one in found if one is not None])
        return self.made[assembly, None]

    def block(self, block, total):
        """Assemblies and links of a block, under each set of open assemblies that may be best.

        Parameters
        ----------
        block : pipeline.kernels.scope_blocks.Block
        total : ndarray of float, shape (n_sets,)
            Score of each set.

        Returns
        -------
        pipeline.kernels.scope_lists.Listed
        """
        return self._any_of([one for number in np.flatnonzero(total <= total.min() + self.limit)
                             if (one := self._set(block, number)) is not None])

    def _set(self, block, number):
        parts = [self._version(assembly, True) if is_open else self.either(assembly)
                 for assembly, is_open in zip(block.assemblies, block.sets[number], strict=True)]
        for link, (allowed, pattern) in zip(block.links, block.patterns, strict=True):
            key = link, pattern[number], "link"
            if key not in self.made:
                is_allowed = np.zeros(self.alive.size, dtype=bool)
                is_allowed[self.laid.starts[link] : self.laid.ends[link]] = allowed[pattern[number]]
                self.made[key] = self._single(link, is_allowed & self.alive)
            parts.append(self.made[key])
        return None if any(part is None for part in parts) else self._together(parts)

    def _version(self, assembly, is_open):
        """What is at home in one assembly, open or closed; None where a group has nothing for it."""
        if (assembly, is_open) not in self.made:
            is_allowed, count, only, amount, log_quiet = self.kinds[bool(is_open)]
            groups = np.flatnonzero(self.laid.home[:, assembly])
            own = count[groups]
            found = None
            if (own > 0).all():
                base = self._fixed(only[groups[own == 1]], amount[assembly], log_quiet[assembly])
                found = self._together([base, *(self._single(group, is_allowed) for group in groups[own > 1])])
            self.made[assembly, is_open] = found
        return self.made[assembly, is_open]

    def _single(self, group, is_allowed):
        """Items of one group; None where none is allowed."""
        start = self.laid.starts[group]
        own = start + np.flatnonzero(is_allowed[start : self.laid.ends[group]])
        key = "group", group, own.tobytes()  # often the same with the assembly open and closed
        if key not in self.made:
            self.made[key] = listed(self.items.amount[own], self.items.log_quiet[own], own[:, None], self.asked.price,
                                    self.limit) if own.size else None
        return self.made[key]

    def _fixed(self, own, amount, log_quiet):
        return Listed(np.array([amount]), np.array([log_quiet]), (), own[None])

    def _together(self, lists):
        return put_together(lists, self.asked.price, self.limit)

    def _any_of(self, lists):
        return any_of(lists, self.asked.price, self.limit) if lists else None
