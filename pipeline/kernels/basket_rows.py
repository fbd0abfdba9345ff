"""Columns and rows of the program over today's orders, handed to the solver and read back."""

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, vstack

from pipeline.errors import InvalidParameter
from pipeline.kernels.basket_choices import TINY
from pipeline.kernels.basket_pruning import by_vendor

MOST_FIXED_AMOUNT = 10_000.0  # the gap is a share of all that is spent, up to here: then it stays below a cent


class Program:
    """Columns: choices, packs added, vendors ordered from, vendors without freight, pieces held longer, what is fixed.

    Parameters
    ----------
    wants : pipeline.kernels.basket_choices.Wants
    laid : pipeline.kernels.basket_choices.Options
    ways : pipeline.kernels.basket_choices.Choices
    known : pipeline.kernels.basket_pruning.Known
    piece_amount : numpy.ndarray, shape (n_parts,)
        From :func:`pipeline.kernels.basket_choices.piece_amounts`.
    """

    def __init__(self, wants, laid, ways, known, piece_amount):
        self._wants, self._laid, self._ways, self._known = wants, laid, ways, known
        self._vendor, self._goods = by_vendor(laid, ways)
        early = wants.early_amount[laid.part]
        self._added_amount = laid.pack_amount + (early - piece_amount[laid.part]) * laid.good_pcs
        self._n_vendors, self._filler = len(known.is_opened), self._fillers()
        self._filled_part = np.unique(laid.part[self._filler[np.isfinite(wants.next_pcs[laid.part[self._filler]])]])
        self._starts = np.cumsum([0, len(ways.part), len(self._filler), self._n_vendors, self._n_vendors,
                                  len(self._filled_part), 1])

    def solved(self, gap_share, most_nodes):
        """Solve it: index of the choices taken, packs added by option, and the gap, money.

        Parameters
        ----------
        gap_share : float
            Relative gap at which to stop.
        most_nodes : int
            Branches after which the best so far stands.

        Raises
        ------
        InvalidParameter
            If the solver finds no answer.
        """
        added = np.zeros(len(self._laid.part), dtype=np.int64)
        if not len(self._ways.part):
            return np.array([], dtype=np.int64), added, 0.0
        amounts, bounds = self._columns()
        is_whole = np.arange(len(amounts)) < self._starts[4]
        found = milp(amounts, integrality=is_whole, bounds=bounds, constraints=self._rows(),
                     options={"mip_rel_gap": gap_share, "node_limit": most_nodes})
        if found.x is None:
            raise InvalidParameter(f"the orders of today could not be weighed: {found.message}")
        x = np.split(np.round(found.x[is_whole]).astype(np.int64), self._starts[1:4])
        added[self._filler] = x[1]
        return np.flatnonzero(x[0]), added, float(max(found.fun - found.mip_dual_bound, 0.0))

    def early_amount(self, chosen, added):
        """What it costs to have before its time what fills the orders, by option, money."""
        wants, laid, ways = self._wants, self._laid, self._ways
        cost = added * self._added_amount + self._late(chosen, added)[laid.part] * (added > 0)
        forward = chosen[~wants.is_due[ways.part[chosen]]]
        cost[ways.option[forward, 0]] += ways.amount[forward]
        return cost

    def amount(self, chosen, added, terms):
        """What the chosen orders cost, exactly."""
        goods = np.bincount(self._laid.vendor, added * self._laid.price, self._n_vendors)
        is_used = np.zeros(self._n_vendors, dtype=bool)
        for slot in range(2):
            held = chosen[self._vendor[chosen, slot] >= 0]
            goods += np.bincount(self._vendor[held, slot], self._goods[held, slot], self._n_vendors)
            is_used[self._vendor[held, slot]] = True
        freight = np.where(goods >= terms.free_over_amount - 1e-6, 0.0, terms.freight_amount)
        orders = (terms.own_amount + freight)[is_used].sum()
        late = self._late(chosen, added).sum()
        return float(self._ways.amount[chosen].sum() + (added * self._added_amount).sum() + late + orders)

    def _late(self, chosen, added):
        """What holding added pieces beyond the next order costs more, by part."""
        room = np.full(len(self._wants.is_due), np.inf)
        room[self._ways.part[chosen]] = self._until_late()[chosen]
        pieces = np.bincount(self._laid.part, added * self._laid.good_pcs, len(room))
        return self._wants.late_amount * np.maximum(pieces - room, 0.0)

    def _until_late(self):
        """Pieces that each choice may grow by before they are held longer than to the next order."""
        return np.maximum(self._wants.next_pcs[self._ways.part] - self._ways.over_pcs, 0.0)

    def _columns(self):
        """Cost of each column less the cheapest of its part, and its bounds."""
        part, amount = self._ways.part, self._ways.amount
        base = np.full(len(self._wants.is_due), np.inf)
        np.minimum.at(base, part, amount)
        base = np.where(self._wants.is_due & np.isfinite(base), base, 0.0)
        terms, known = self._known.vendors, self._known
        has_threshold = np.isfinite(terms.free_over_amount)
        amounts = np.concatenate([
            amount - base[part], self._added_amount[self._filler], terms.own_amount + terms.freight_amount,
            np.where(has_threshold, -terms.freight_amount, 0.0), self._wants.late_amount[self._filled_part],
            [min(base.sum(), MOST_FIXED_AMOUNT)]])
        upper = np.concatenate([np.ones(len(part)), self._laid.high_packs[self._filler], np.ones(self._n_vendors),
                                has_threshold.astype(float), np.full(len(self._filled_part), np.inf), [1.0]])
        lower = np.zeros(len(upper))
        lower[self._starts[2]:self._starts[3]], lower[-1] = known.is_opened, 1.0
        return amounts, Bounds(lower, upper)

    def _fillers(self):
        """Options of which packs may be added: where it still matters and costs less than the freight it may save."""
        terms = self._known.vendors
        is_chosen = np.zeros(len(self._laid.part), dtype=bool)
        is_chosen[self._ways.option[self._ways.option >= 0]] = True
        is_worth = (terms.minimum_amount > 0)[self._laid.vendor] | (
            self._added_amount < terms.freight_amount[self._laid.vendor])
        return np.flatnonzero(is_chosen & self._known.is_open_ended[self._laid.vendor] & is_worth)

    def _rows(self):
        """All constraints."""
        made = [rows for rows in (self._one_each(), self._only_if_ordered(), *self._terms(), self._within_use(),
                                  self._within_use_together(), self._held_longer()) if rows is not None]
        matrix = vstack([matrix for matrix, _, _ in made]).tocsc()
        return LinearConstraint(matrix, *(np.concatenate(side) for side in list(zip(*made, strict=True))[1:]))

    def _matrix(self, row, column, value, n_rows):
        return coo_array((np.asarray(value, dtype=float), (row, column)), shape=(n_rows, self._starts[-1]))

    def _one_each(self):
        """One choice of every part that is due, at most one of another."""
        parts, row = np.unique(self._ways.part, return_inverse=True)
        matrix = self._matrix(row, np.arange(len(row)), np.ones(len(row)), len(parts))
        return matrix, np.where(self._wants.is_due[parts], 1.0, 0.0), np.ones(len(parts))

    def _only_if_ordered(self):
        """What comes from a vendor asks for an order there; so does free freight."""
        column, slot = np.nonzero((self._vendor >= 0) & ~self._known.is_opened[self._vendor])
        vendor = self._vendor[column, slot]
        key, row = np.unique(self._ways.part[column] * self._n_vendors + vendor, return_inverse=True)
        every, n_rows = np.arange(self._n_vendors), len(key) + self._n_vendors
        matrix = self._matrix(
            np.concatenate([row, np.arange(len(key)), len(key) + every, len(key) + every]),
            np.concatenate([column, self._starts[2] + key % self._n_vendors, self._starts[3] + every,
                            self._starts[2] + every]),
            np.concatenate([np.ones(len(row)), -np.ones(len(key)), np.ones(len(every)), -np.ones(len(every))]), n_rows)
        return matrix, np.full(n_rows, -np.inf), np.zeros(n_rows)

    def _terms(self):
        """Goods reach the minimum of whom is ordered from, the threshold of whose freight is free."""
        terms = self._known.vendors
        for least, start in ((terms.minimum_amount, self._starts[2]),
                             (np.where(np.isfinite(terms.free_over_amount), terms.free_over_amount, 0.0),
                              self._starts[3])):
            column, slot = np.nonzero((self._vendor >= 0) & (least[self._vendor] > 0))
            vendor, filled = self._vendor[column, slot], self._laid.vendor[self._filler]
            asked = np.flatnonzero(least > 0)
            if not len(asked):
                continue
            # no single purchase counts for more than is asked: the relaxation is the tighter for it
            value = np.concatenate([np.minimum(self._goods[column, slot], least[vendor]),
                                    np.minimum(self._laid.price[self._filler], least[filled]), -least[asked]])
            matrix = self._matrix(
                np.searchsorted(asked, np.concatenate([vendor, np.where(least[filled] > 0, filled, asked[0]), asked])),
                np.concatenate([column, self._starts[1] + np.arange(len(filled)), start + asked]), value, len(asked))
            yield matrix, np.zeros(len(asked)), np.full(len(asked), np.inf)

    def _room(self):
        """Packs that each option of a choice may grow by, shape (n_choices, 2), and pieces that the choice may."""
        laid, ways = self._laid, self._ways
        pieces = np.maximum(self._wants.useful_pcs[ways.part] - ways.over_pcs, 0.0)
        is_split = ways.option[:, 1] >= 0
        high = laid.high_packs[ways.option]
        high = np.where(is_split[:, None], np.minimum(high, laid.alone_packs[ways.option] - 1), high)
        room = np.minimum(high - ways.packs, np.floor(pieces[:, None] / laid.good_pcs[ways.option] + TINY))
        return np.where(ways.option >= 0, np.maximum(room, 0.0), 0.0), pieces

    def _within_use(self):
        """Packs are added to a choice that is taken, and no more than will be used."""
        if not len(self._filler):
            return None
        room, _ = self._room()
        column, slot = np.nonzero((self._ways.option >= 0) & np.isin(self._ways.option, self._filler))
        row = np.searchsorted(self._filler, self._ways.option[column, slot])
        every = np.arange(len(self._filler))
        matrix = self._matrix(np.concatenate([row, every]), np.concatenate([column, self._starts[1] + every]),
                              np.concatenate([-room[column, slot], np.ones(len(every))]), len(every))
        return matrix, np.full(len(every), -np.inf), np.zeros(len(every))

    def _within_use_together(self):
        """Of a split both may grow, together no more than will be used."""
        parts = np.unique(self._ways.part[self._ways.option[:, 1] >= 0])
        filled = np.flatnonzero(np.isin(self._laid.part[self._filler], parts))
        if not len(filled):
            return None
        _, pieces = self._room()
        column = np.flatnonzero(np.isin(self._ways.part, parts))
        matrix = self._matrix(
            np.searchsorted(parts, np.concatenate([self._ways.part[column], self._laid.part[self._filler[filled]]])),
            np.concatenate([column, self._starts[1] + filled]),
            np.concatenate([-pieces[column], self._laid.good_pcs[self._filler[filled]]]), len(parts))
        return matrix, np.full(len(parts), -np.inf), np.zeros(len(parts))

    def _held_longer(self):
        """Added pieces beyond the next order."""
        parts = self._filled_part
        if not len(parts):
            return None
        filled = np.flatnonzero(np.isin(self._laid.part[self._filler], parts))
        column, every = np.flatnonzero(np.isin(self._ways.part, parts)), np.arange(len(parts))
        row = np.concatenate([np.searchsorted(parts, self._laid.part[self._filler[filled]]),
                              np.searchsorted(parts, self._ways.part[column]), every])
        matrix = self._matrix(
            row, np.concatenate([self._starts[1] + filled, column, self._starts[4] + every]),
            np.concatenate([self._laid.good_pcs[self._filler[filled]], -self._until_late()[column],
                            -np.ones(len(parts))]), len(parts))
        return matrix, np.full(len(parts), -np.inf), np.zeros(len(parts))
