"""What can be known of baskets before they are weighed: vendors out of reach, settled ones, choices never best."""

from dataclasses import dataclass, replace

import numpy as np

from pipeline.kernels.basket_choices import TINY


@dataclass(frozen=True)
class Vendors:
    """Terms, arrays over vendors.

    Attributes
    ----------
    minimum_amount : numpy.ndarray
        Least goods of an order, money; 0 where any will do.
    freight_amount : numpy.ndarray
        Freight of an order below the threshold, money.
    free_over_amount : numpy.ndarray
        Goods from which freight is free, money; ``inf`` where it never is.
    own_amount : numpy.ndarray
        Own time for an order, money.
    """

    minimum_amount: np.ndarray
    freight_amount: np.ndarray
    free_over_amount: np.ndarray
    own_amount: np.ndarray


@dataclass(frozen=True)
class Known:
    """What is sure of each vendor whatever is chosen, arrays over vendors.

    Attributes
    ----------
    vendors : Vendors
        Terms as far as they are open: 0 or ``inf`` where they bind nothing any more.
    is_opened : numpy.ndarray of bool
        Something that is due can be had nowhere else.
    """

    vendors: Vendors
    is_opened: np.ndarray

    @property
    def is_open_ended(self):
        """Vendors where it still matters how much is bought."""
        return (self.vendors.minimum_amount > 0) | np.isfinite(self.vendors.free_over_amount)


def goods_in_reach(wants, laid, n_vendors):
    """Most goods of use that each vendor could be asked for: of every part the dearest of its offers.

    Parameters
    ----------
    wants : pipeline.kernels.basket_choices.Wants
    laid : pipeline.kernels.basket_choices.Options
    n_vendors : int

    Returns
    -------
    numpy.ndarray, shape (n_vendors,)
        Money.
    """
    enough = ~wants.is_due[laid.part] | (laid.high_packs >= laid.alone_packs)
    most = np.zeros((n_vendors, len(wants.is_due)))
    np.maximum.at(most, (laid.vendor[enough], laid.part[enough]), (laid.high_packs * laid.price)[enough])
    return most.sum(axis=1)


def effective(vendors, goods_amount):
    """Terms without what can never matter: a threshold below the minimum is always met, one out of reach never.

    Parameters
    ----------
    vendors : Vendors
    goods_amount : numpy.ndarray
        From :func:`goods_in_reach`.

    Returns
    -------
    Vendors
    """
    is_met = vendors.free_over_amount <= vendors.minimum_amount
    freight = np.where(is_met, 0.0, vendors.freight_amount)
    is_idle = is_met | (freight <= 0) | (vendors.free_over_amount > goods_amount + TINY)
    free_over = np.where(is_idle, np.inf, vendors.free_over_amount)
    return replace(vendors, freight_amount=freight, free_over_amount=free_over)


def by_vendor(laid, ways):
    """Vendors of every choice and the goods it asks of each.

    Parameters
    ----------
    laid : pipeline.kernels.basket_choices.Options
    ways : pipeline.kernels.basket_choices.Choices

    Returns
    -------
    vendor : numpy.ndarray of int, shape (n_choices, 2)
        -1 where there is no second vendor.
    goods : numpy.ndarray, shape (n_choices, 2)
        Money.
    """
    vendor = np.where(ways.option >= 0, laid.vendor[ways.option], -1)
    goods = np.where(ways.option >= 0, laid.price[ways.option] * ways.packs, 0.0)
    is_same = vendor[:, 0] == vendor[:, 1]
    goods[is_same] = np.column_stack([goods.sum(axis=1), np.zeros(len(goods))])[is_same]
    vendor[is_same, 1] = -1
    return vendor, goods


def without_needless(wants, laid, ways, vendors):
    """Leave out choices that another is never dearer than, and terms that are met whatever is chosen.

    Parameters
    ----------
    wants : pipeline.kernels.basket_choices.Wants
    laid : pipeline.kernels.basket_choices.Options
    ways : pipeline.kernels.basket_choices.Choices
    vendors : Vendors
        From :func:`effective`.

    Returns
    -------
    ways : pipeline.kernels.basket_choices.Choices
    known : Known

    Notes
    -----
    A choice goes if another of its part is cheaper even where that opens a new order and the vendor it leaves loses
    free freight. Nobody leaves a vendor whose minimum is still open. Each round may settle more vendors.
    """
    while True:
        known = _known(wants, laid, ways, vendors)
        is_kept = ~(_is_beaten(wants, laid, ways, known) | _is_idle(wants, laid, ways, known))
        if is_kept.all():
            return ways, known
        ways = ways.where(is_kept)


def _known(wants, laid, ways, vendors):
    """Terms that are met by what must be bought of a vendor in any case."""
    vendor, goods = by_vendor(laid, ways)
    n_vendors = len(vendors.own_amount)
    row, slot = np.nonzero(vendor >= 0)
    row, slot = row[wants.is_due[ways.part[row]]], slot[wants.is_due[ways.part[row]]]
    key, place = np.unique(ways.part[row] * n_vendors + vendor[row, slot], return_inverse=True)
    least = np.full(len(key), np.inf)
    np.minimum.at(least, place, goods[row, slot])
    ways_of_part = np.bincount(ways.part, minlength=len(wants.is_due))
    is_sure = np.bincount(place, minlength=len(key)) == ways_of_part[key // n_vendors]
    sure = np.bincount((key % n_vendors)[is_sure], least[is_sure], n_vendors)
    is_opened = np.bincount((key % n_vendors)[is_sure], minlength=n_vendors) > 0
    is_free = sure >= vendors.free_over_amount
    return Known(Vendors(
        np.where(sure >= vendors.minimum_amount, 0.0, vendors.minimum_amount),
        np.where(is_free, 0.0, vendors.freight_amount),
        np.where(is_free, np.inf, vendors.free_over_amount), vendors.own_amount), is_opened)


def _is_beaten(wants, laid, ways, known):
    """Choices that cost more than the best from one vendor, whatever that does to the orders."""
    vendor, goods = by_vendor(laid, ways)
    open_terms = known.vendors
    loss = np.where(open_terms.minimum_amount > 0, np.inf,
                    np.where(np.isfinite(open_terms.free_over_amount), open_terms.freight_amount, 0.0))
    opening = np.where(known.is_opened, 0.0, open_terms.own_amount + open_terms.freight_amount)
    opening = np.where(~known.is_opened & (open_terms.minimum_amount > 0), np.inf, opening)
    beaten = np.zeros(len(ways.part), dtype=bool)
    for rival in _rivals(wants, ways, vendor):
        at = rival[ways.part]
        is_asked = at >= 0
        theirs = vendor[at, 0]
        is_there = vendor == theirs[:, None]
        bound = ways.amount[at] + np.where(is_there.any(axis=1), 0.0, opening[theirs])
        is_less = (vendor >= 0) & (np.where(is_there, goods[at, 0][:, None], 0.0) < goods - TINY)
        bound = bound + np.where(is_less, loss[vendor], 0.0).sum(axis=1)
        beaten |= is_asked & (bound < ways.amount - TINY)
    return beaten & wants.is_due[ways.part]


def _rivals(wants, ways, vendor):
    """The cheapest choice of each part at its first vendor, at its second ...: index of it by part, -1 for none."""
    single = np.flatnonzero((vendor[:, 1] < 0) & wants.is_due[ways.part])
    ordered = single[np.lexsort([ways.amount[single], vendor[single, 0], ways.part[single]])]
    part, theirs = ways.part[ordered], vendor[ordered, 0]
    is_first = np.ones(len(ordered), dtype=bool)
    is_first[1:] = (part[1:] != part[:-1]) | (theirs[1:] != theirs[:-1])
    best, part = ordered[is_first], part[is_first]
    rank = np.arange(len(part)) - np.searchsorted(part, part)
    for number in range(rank.max(initial=-1) + 1):
        index = np.full(len(wants.is_due), -1)
        index[part[rank == number]] = best[rank == number]
        yield index


def _is_idle(wants, laid, ways, known):
    """Choices of parts not due that bring no vendor anything: terms settled, or holding dearer than its freight."""
    terms, theirs = known.vendors, laid.vendor[ways.option[:, 0]]
    of_due = by_vendor(laid, ways.where(wants.is_due[ways.part]))[0]
    is_used = np.bincount(of_due[of_due >= 0], minlength=len(terms.own_amount)) > 0
    is_dear = (terms.minimum_amount[theirs] <= 0) & (ways.amount >= terms.freight_amount[theirs])
    return ~wants.is_due[ways.part] & (~known.is_open_ended[theirs] | ~is_used[theirs] | is_dear)
