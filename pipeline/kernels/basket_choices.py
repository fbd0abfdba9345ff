"""Ways to buy each part: packs from one offer or split over two, what each costs, and which can be left out."""

from dataclasses import dataclass

import numpy as np

from pipeline.kernels import require
from pipeline.kernels.landed_price import packs_needed

MOST_STEPS = 60  # a split is tried at every pack up to here, and at so many even steps beyond
NEVER = np.inf
TINY = 1e-9


@dataclass(frozen=True)
class Wants:
    """What is wanted of each part, arrays over parts.

    Attributes
    ----------
    wanted_pcs : numpy.ndarray of int
        Good pieces: of a part that is due those it must get, of another the most that may be brought forward.
    useful_pcs : numpy.ndarray of float
        Good pieces that will be used in good time, beyond the want where the part is due, in all where it is not.
    early_amount : numpy.ndarray of float
        Money for holding a piece from today until it would have been bought.
    next_pcs : numpy.ndarray of float
        Good pieces of the next order; what comes beyond them today would have been bought later still. ``inf`` where
        that is never asked.
    late_amount : numpy.ndarray of float
        What holding a piece beyond those costs more, money.
    is_due : numpy.ndarray of bool
    """

    wanted_pcs: np.ndarray
    useful_pcs: np.ndarray
    early_amount: np.ndarray
    next_pcs: np.ndarray
    late_amount: np.ndarray
    is_due: np.ndarray


@dataclass(frozen=True)
class Offers:
    """Offers, arrays over offers.

    Attributes
    ----------
    part, vendor : numpy.ndarray of int
        Index of the part and of the vendor.
    pack_pcs : numpy.ndarray of int
        Pieces in a pack.
    from_packs, pack_prices : numpy.ndarray of float, shape (n_offers, n_breaks)
        Price breaks, rising, all units; short rows filled with ``inf`` packs.
    reject_share : numpy.ndarray of float
        Share of pieces not fit for use, below 1.
    fit_amount : numpy.ndarray of float
        Money for fitting a usable piece.
    wait_amount : numpy.ndarray of float
        Money that waiting for this vendor costs where the part is bought there.
    """

    part: np.ndarray
    vendor: np.ndarray
    pack_pcs: np.ndarray
    from_packs: np.ndarray
    pack_prices: np.ndarray
    reject_share: np.ndarray
    fit_amount: np.ndarray
    wait_amount: np.ndarray


@dataclass(frozen=True)
class Options:
    """Offers at one of their price breaks, arrays over options: the range of packs and what a pack brings.

    Attributes
    ----------
    part, vendor, offer : numpy.ndarray of int
    low_packs, high_packs : numpy.ndarray of int
        Packs at which the price holds, as far as they are of use.
    alone_packs : numpy.ndarray of int
        Packs of the offer that alone bring what is wanted.
    good_pcs : numpy.ndarray of float
        Pieces of the want that a pack covers.
    price, pack_amount, wait_amount : numpy.ndarray of float
        Price of a pack; the same with fitting; money that waiting for it costs.
    """

    part: np.ndarray
    vendor: np.ndarray
    offer: np.ndarray
    low_packs: np.ndarray
    high_packs: np.ndarray
    alone_packs: np.ndarray
    good_pcs: np.ndarray
    price: np.ndarray
    pack_amount: np.ndarray
    wait_amount: np.ndarray

    def where(self, is_kept):
        """The options of a mask."""
        return Options(**{name: values[is_kept] for name, values in vars(self).items()})


@dataclass(frozen=True)
class Choices:
    """Ways to buy a part, arrays over choices; the second option is -1 where all comes from one offer.

    Attributes
    ----------
    part : numpy.ndarray of int
    option : numpy.ndarray of int, shape (n_choices, 2)
    packs : numpy.ndarray of int, shape (n_choices, 2)
    over_pcs : numpy.ndarray of float
        Good pieces beyond what must be bought.
    amount : numpy.ndarray of float
        All that the choice costs beside what its orders cost as a whole, money.
    """

    part: np.ndarray
    option: np.ndarray
    packs: np.ndarray
    over_pcs: np.ndarray
    amount: np.ndarray

    def where(self, is_kept):
        """The choices of a mask."""
        return Choices(**{name: values[is_kept] for name, values in vars(self).items()})


def options(wants, offers):
    """Lay out offers by price break.

    Parameters
    ----------
    wants : Wants
    offers : Offers

    Returns
    -------
    Options
        Breaks that a part not due cannot reach within its want are left out.

    Raises
    ------
    InvalidParameter
        If a pack, price or share is out of range.

    Notes
    -----
    A pack counts for as much of the want as one of the packs that bring it alone
    (:func:`pipeline.kernels.landed_price.packs_needed`), so that expected rejects are provided for in a split, too.
    """
    require.positive("pack_prices", offers.pack_prices[np.isfinite(offers.from_packs)])
    wanted = np.asarray(wants.wanted_pcs)[offers.part]
    gross = packs_needed(wanted, np.ones_like(wanted), offers.reject_share)  # in single pieces
    alone = packs_needed(wanted, offers.pack_pcs, offers.reject_share)
    good = offers.pack_pcs * wanted / gross
    offer, column = np.nonzero(np.isfinite(offers.from_packs))
    low = offers.from_packs[offer, column].astype(np.int64)
    after = np.column_stack([offers.from_packs[:, 1:], np.full(len(gross), np.inf)])[offer, column]
    part = offers.part[offer]
    is_due = wants.is_due[part]
    of_use = np.where(is_due, wanted[offer], 0) + wants.useful_pcs[part]
    in_use = np.floor(of_use / good[offer] + TINY).astype(np.int64)
    # of what is due a break beyond all use may still be the least outlay; of the rest a pack may go beyond use
    most = np.where(is_due, np.maximum(np.maximum(in_use, alone[offer]), low),
                    np.minimum(alone[offer], np.maximum(in_use, 1)))
    high = np.minimum(np.where(np.isfinite(after), after - 1, most), most).astype(np.int64)
    usable = offers.pack_pcs * (1 - offers.reject_share)
    price = offers.pack_prices[offer, column]
    made = Options(part, offers.vendor[offer], offer, low, high, alone[offer], good[offer], price,
                   price + (usable * offers.fit_amount)[offer], offers.wait_amount[offer])
    return made.where(made.low_packs <= made.high_packs)


def piece_amounts(wants, laid):
    """What a piece costs later, at its cheapest: the price that pieces bought now and not yet needed save.

    Parameters
    ----------
    wants : Wants
    laid : Options

    Returns
    -------
    numpy.ndarray, shape (n_parts,)
        Money per good piece: the least of the offers at the breaks that pieces of use reach, 0 without an offer.
    """
    of_use = np.where(wants.is_due, wants.wanted_pcs, 0) + wants.useful_pcs
    each = laid.pack_amount / laid.good_pcs
    reached = laid.low_packs * laid.good_pcs <= of_use[laid.part] + TINY
    least, any_least = (np.full(len(of_use), np.inf) for _ in range(2))
    np.minimum.at(least, laid.part[reached], each[reached])
    np.minimum.at(any_least, laid.part, each)
    least = np.where(np.isfinite(least), least, any_least)
    return np.where(np.isfinite(least), least, 0.0)


def choices(wants, laid, piece_amount):
    """List every way to buy each part, from one offer or, where it is due, split over two.

    Parameters
    ----------
    wants : Wants
    laid : Options
    piece_amount : numpy.ndarray, shape (n_parts,)
        From :func:`piece_amounts`.

    Returns
    -------
    Choices
        The least packs of each option; of a split no offer can be left out and no pack less be bought at its price.
    """
    is_due = wants.is_due[laid.part]
    first = np.where(is_due, np.maximum(laid.low_packs, laid.alone_packs), laid.low_packs)
    single = np.flatnonzero(first <= laid.high_packs)
    none = np.full(len(single), -1)
    pairs, pair_packs = _splits(wants, laid)
    option = np.vstack([np.column_stack([single, none]), pairs])
    packs = np.vstack([np.column_stack([first[single], np.zeros_like(none)]), pair_packs])
    return _priced(wants, laid, piece_amount, option, packs)


def _splits(wants, laid):
    """Pairs of options of one part and their packs: the first at every number that leaves a rest, the second that."""
    first, second = _pairs(wants, laid)
    low, high = laid.low_packs[first], np.minimum(laid.high_packs, laid.alone_packs - 1)[first]
    steps = np.minimum(high - low + 1, MOST_STEPS)
    place = np.repeat(np.arange(len(first)), steps)
    step = np.arange(len(place)) - np.repeat(np.cumsum(steps) - steps, steps)
    share = step / np.maximum(steps[place] - 1, 1)
    packs = low[place] + np.floor(share * (high - low)[place] + 0.5).astype(np.int64)
    first, second = first[place], second[place]
    rest = wants.wanted_pcs[laid.part[first]] - packs * laid.good_pcs[first]
    more = np.maximum(np.ceil(rest / laid.good_pcs[second] - TINY).astype(np.int64), laid.low_packs[second])
    over = more * laid.good_pcs[second] - rest
    is_least = (packs == laid.low_packs[first]) | (over < laid.good_pcs[first] - TINY)
    is_kept = (more <= laid.high_packs[second]) & (more < laid.alone_packs[second]) & is_least
    return np.column_stack([first, second])[is_kept], np.column_stack([packs, more])[is_kept]


def _pairs(wants, laid):
    """Options of two offers of the same part that is due, neither of which need bring all; the larger pack first."""
    apart = np.flatnonzero(wants.is_due[laid.part] & (laid.low_packs < laid.alone_packs))
    apart = apart[np.lexsort([laid.alone_packs[apart], laid.part[apart]])]
    part = laid.part[apart]
    behind = np.searchsorted(part, part, side="right") - np.arange(len(part)) - 1
    first = np.repeat(np.arange(len(part)), behind)
    second = first + 1 + np.arange(len(first)) - np.repeat(np.cumsum(behind) - behind, behind)
    first, second = apart[first], apart[second]
    is_other = laid.offer[first] != laid.offer[second]
    return first[is_other], second[is_other]


def _priced(wants, laid, piece_amount, option, packs):
    """Choices with what they cost."""
    part, is_second = laid.part[option[:, 0]], option[:, 1] >= 0
    good = (laid.good_pcs[option] * packs).sum(axis=1)
    over = np.maximum(good - np.where(wants.is_due[part], wants.wanted_pcs[part], 0), 0.0)
    waits = np.where(is_second, laid.wait_amount[option].max(axis=1), laid.wait_amount[option[:, 0]])
    saved = piece_amount[part] * np.minimum(over, wants.useful_pcs[part])
    held = wants.early_amount[part] * over + wants.late_amount[part] * np.maximum(over - wants.next_pcs[part], 0.0)
    amount = (laid.pack_amount[option] * packs).sum(axis=1) + waits + held - saved
    return Choices(part, option, packs, over, amount)
