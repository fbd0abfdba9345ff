"""Today's orders at all vendors as one mixed-integer program: who brings what, and what is brought forward."""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.basket_choices import TINY, choices, options, piece_amounts
from pipeline.kernels.basket_pruning import effective, goods_in_reach, without_needless
from pipeline.kernels.basket_rows import Program

GAP_SHARE = 1e-6  # of what is spent on what is due, and not much more than a cent
MOST_NODES = 5_000  # branches; then the best found so far stands, and its gap is told


@dataclass(frozen=True)
class Basket:
    """The cheapest orders.

    Attributes
    ----------
    packs, least_packs : numpy.ndarray of int, shape (n_offers,)
        Packs bought of each offer; those that the choice needs at least, the rest fills the vendor's order.
    early_amount : numpy.ndarray, shape (n_offers,)
        What it costs to have early what fills the vendor's order: holding, and a price above the cheapest; money.
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
    early_amount: np.ndarray
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
    is due is bought at one offer or split over two, at every division up to ``MOST_STEPS`` packs and in so many even
    steps beyond; one brought forward comes from one. Pieces beyond the want save
    their later purchase at the cheapest price less holding them until then; added packs stay within use.

    References
    ----------
    Set-partitioning form with fixed charges: Wolsey (1998), Integer Programming, chapters 1 and 11.

    Examples
    --------
    >>> from pipeline.kernels.basket_choices import Offers, Wants
    >>> from pipeline.kernels.basket_pruning import Vendors
    >>> wants = Wants(np.array([4]), np.array([10.0]), np.array([0.1]), np.array([np.inf]), np.zeros(1),
    ...               np.array([True]))
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
    program = Program(wants, laid, ways, known, piece)
    chosen, added, gap = program.solved(gap_share, MOST_NODES)
    packs, least = (np.zeros(len(offers.part), dtype=np.int64) for _ in range(2))
    early = np.bincount(laid.offer, program.early_amount(chosen, added), len(offers.part))
    for slot in range(2):
        held = chosen[ways.option[chosen, slot] >= 0]
        np.add.at(least, laid.offer[ways.option[held, slot]], ways.packs[held, slot])
    np.add.at(packs, laid.offer, added)
    return Basket(packs + least, least, early, is_reachable, reach, program.amount(chosen, added, terms), gap,
                  len(ways.part))


def _check(wants, offers, vendors):
    """Refuse what no offer, want or term can be."""
    require.whole_positive("wanted_pcs", wants.wanted_pcs)
    for name in ("useful_pcs", "early_amount", "late_amount"):
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
