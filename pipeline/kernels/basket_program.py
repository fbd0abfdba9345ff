"""Today's orders at all vendors as one mixed-integer program: who brings what, and what is brought forward."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, vstack

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.basket_choices import TINY, choices, options, piece_amounts
from pipeline.kernels.basket_pruning import by_vendor, effective, goods_in_reach, without_needless

GAP_SHARE = 1e-6  # of what the choice can still change
MOST_SECONDS = 25.0  # then the best found so far stands, and its gap is told


@dataclass(frozen=True)
class Basket:
    """The cheapest orders.

    Attributes
    ----------
    packs, least_packs : numpy.ndarray of int, shape (n_offers,)
        Packs bought of each offer; those that the choice needs at least, the rest fills the vendor's order.
    is_reachable : numpy.ndarray of bool, shape (n_vendors,)
        Whether all that is of use from a vendor reaches its minimum.
    reach_amount : numpy.ndarray, shape (n_vendors,)
        What all that comes to, money.
    amount : float
        What the program weighs: goods, fitting, waiting, holding, freight and own time, less later purchases saved.
    gap_amount : float
        At most so much cheaper could it be, money.
    n_choices : int
        Binary choices the program was left with.
    """

    packs: np.ndarray
    least_packs: np.ndarray
    is_reachable: np.ndarray
    reach_amount: np.ndarray
    amount: float
    gap_amount: float
    n_choices: int


def solve(wants, offers, vendors, gap_share=GAP_SHARE):
    """Find the cheapest orders for all that is due.

    Parameters
    ----------
    wants : pipeline.kernels.basket_choices.Wants
    offers : pipeline.kernels.basket_choices.Offers
    vendors : pipeline.kernels.basket_pruning.Vendors
    gap_share : float, optional
        Relative gap at which to stop.

    Returns
    -------
    Basket
        Nothing of a part that is due but that no vendor within reach offers.

    Raises
    ------
    InvalidParameter
        If a quantity, pack, price, share or term is out of range, or an index names no part or vendor.

    Notes
    -----
    A binary for every choice of :func:`pipeline.kernels.basket_choices.choices` that may be best, an integer for the
    packs added to fill an order, two binaries a vendor: ordered from, and without freight. Every choice carries its
    whole cost, so the relaxation is exact part by part and only the vendors' terms are left to branch on. A part that
    is due is bought at one offer or split over two; one brought forward comes from one. Pieces beyond the want save
    their later purchase at the cheapest price less holding them until then; added packs stay within use.

    References
    ----------
    Set-partitioning form with fixed charges: Wolsey (1998), Integer Programming, chapters 1 and 11.

    Examples
    --------
    >>> from pipeline.kernels.basket_choices import Offers, Wants
    >>> from pipeline.kernels.basket_pruning import Vendors
    >>> wants = Wants(np.array([4]), np.array([10.0]), np.array([0.1]), np.array([True]))
    >>> offers = Offers(np.array([0, 0]), np.array([0, 1]), np.array([1, 1]), np.array([[1.0], [1.0]]),
    ...                 np.array([[2.0], [3.0]]), np.zeros(2), np.zeros(2), np.zeros(2))
    >>> vendors = Vendors(np.zeros(2), np.array([9.0, 1.0]), np.full(2, np.inf), np.zeros(2))
    >>> basket = solve(wants, offers, vendors)  # 8 and 9 of freight, or 12 and 1
    >>> basket.packs, round(basket.amount, 2)
    (array([0, 4]), 13.0)
    """
    _check(wants, offers, vendors)
    laid = options(wants, offers)
    reach = goods_in_reach(wants, laid, len(vendors.own_amount))
    is_reachable = reach >= vendors.minimum_amount - TINY
    laid = laid.where(is_reachable[laid.vendor])
    terms = effective(vendors, reach)
    piece = piece_amounts(wants, laid)
    ways, known = without_needless(wants, laid, choices(wants, laid, piece), terms)
    program = _Program(wants, laid, ways, known, piece)
    chosen, added, gap = program.solved(gap_share)
    packs, least = (np.zeros(len(offers.part), dtype=np.int64) for _ in range(2))
    for slot in range(2):
        held = chosen[ways.option[chosen, slot] >= 0]
        np.add.at(least, laid.offer[ways.option[held, slot]], ways.packs[held, slot])
    np.add.at(packs, laid.offer, added)
    return Basket(packs + least, least, is_reachable, reach, program.amount(chosen, added, terms), gap,
                  len(ways.part))


class _Program:
    """Columns: choices, packs added by option, vendors ordered from, vendors without freight."""

    def __init__(self, wants, laid, ways, known, piece_amount):
        self._wants, self._laid, self._ways, self._known = wants, laid, ways, known
        self._vendor, self._goods = by_vendor(laid, ways)
        early = wants.early_amount[laid.part]
        self._added_amount = laid.pack_amount + (early - piece_amount[laid.part]) * laid.good_pcs
        self._n_vendors, self._filler = len(known.is_opened), self._fillers()
        self._starts = np.cumsum([0, len(ways.part), len(self._filler), self._n_vendors, self._n_vendors])

    def solved(self, gap_share):
        """Chosen choices, packs added by option, and the gap."""
        added = np.zeros(len(self._laid.part), dtype=np.int64)
        if not len(self._ways.part):
            return np.array([], dtype=np.int64), added, 0.0
        amounts, bounds = self._columns()
        found = milp(amounts, integrality=np.ones(len(amounts)), bounds=bounds, constraints=self._rows(),
                     options={"mip_rel_gap": gap_share, "time_limit": MOST_SECONDS})
        if found.x is None:
            raise InvalidParameter(f"the orders of today could not be weighed: {found.message}")
        x = np.split(np.round(found.x).astype(np.int64), self._starts[1:-1])
        added[self._filler] = x[1]
        return np.flatnonzero(x[0]), added, float(max(found.fun - found.mip_dual_bound, 0.0))

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
        return float(self._ways.amount[chosen].sum() + (added * self._added_amount).sum() + orders)

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
            np.where(has_threshold, -terms.freight_amount, 0.0)])
        upper = np.concatenate([np.ones(len(part)), self._laid.high_packs[self._filler], np.ones(self._n_vendors),
                                has_threshold.astype(float)])
        lower = np.zeros(len(upper))
        lower[self._starts[2]:self._starts[3]] = known.is_opened
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
                                  self._within_use_together()) if rows is not None]
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


def _check(wants, offers, vendors):
    """Refuse what no offer, want or term can be."""
    require.whole_positive("wanted_pcs", wants.wanted_pcs)
    for name in ("useful_pcs", "early_amount"):
        require.not_negative(name, getattr(wants, name))
    for name in ("fit_amount", "wait_amount"):
        require.not_negative(name, getattr(offers, name))
    for name in ("minimum_amount", "freight_amount", "own_amount"):
        require.not_negative(name, getattr(vendors, name))
    if np.isnan(vendors.free_over_amount).any():
        raise InvalidParameter("free_over_amount is missing; wanted inf where freight is never free.")
    for name, index, size in (("part", offers.part, len(wants.is_due)), ("vendor", offers.vendor,
                                                                        len(vendors.own_amount))):
        if len(index) and not (0 <= index.min() and index.max() < size):
            raise InvalidParameter(f"{name} of an offer is outside 0 to {size - 1}.")
