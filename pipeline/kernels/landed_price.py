"""What a wanted quantity really costs from each offer: packs, price breaks, freight, rejects, fitting."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require


def packs_needed(wanted_pcs, pack_pcs, reject_share=0.0):
    """Whole packs that yield the wanted pieces after the expected rejects.

    Parameters
    ----------
    wanted_pcs : array_like of int, shape (n_offers,)
        Usable pieces wanted, at least 0.
    pack_pcs : array_like of int, shape (n_offers,)
        Pieces in one pack.
    reject_share : array_like of float, shape (n_offers,), optional
        Share of pieces expected to be unusable, below 1.

    Returns
    -------
    ndarray of int, shape (n_offers,)

    Raises
    ------
    InvalidParameter
        If a pack is not a whole number of at least 1 or a share is outside [0, 1).

    Notes
    -----
    Rejects are provided for only where they are expected to cost at least half a piece: one reject in a hundred
    does not double an order of one.

    Examples
    --------
    >>> packs_needed([12, 12, 1], [10, 1, 1], [0.0, 0.2, 0.05])
    array([ 2, 15,  1])
    """
    wanted, pack = require.not_negative("wanted_pcs", wanted_pcs), require.whole_positive("pack_pcs", pack_pcs)
    gross = wanted / (1 - _rejects(reject_share))
    whole = np.where(gross - wanted >= 0.5, np.ceil(gross - 1e-9), np.ceil(wanted))
    return np.ceil(whole / pack - 1e-9).astype(np.int64)


def pack_price(packs, from_packs, pack_prices):
    """Price per pack at the break that a number of packs reaches.

    Parameters
    ----------
    packs : array_like of int, shape (n_offers,)
        Packs bought; 0 is priced as 1.
    from_packs, pack_prices : array_like of float, shape (n_offers, n_breaks)
        Least packs for each price, and the price per pack, in any order; offers with fewer breaks are padded with
        ``inf`` packs.

    Returns
    -------
    ndarray of float, shape (n_offers,)
        Money per pack; the break with the most packs among those reached. ``nan`` where the packs reach none
        (the offer has a least quantity above them).

    Raises
    ------
    InvalidParameter
        If a price that is not padding is not above 0 or shapes differ.

    Examples
    --------
    >>> pack_price([4, 5], [[1, 5], [1, 5]], [[7.5, 6.4], [7.5, 6.4]])
    array([7.5, 6.4])
    """
    packs, from_packs, prices = _breaks(packs, from_packs, pack_prices)
    reached = np.where(from_packs <= np.maximum(packs, 1)[:, None], from_packs, -np.inf)
    price = np.take_along_axis(prices, reached.argmax(axis=1)[:, None], 1)[:, 0]
    return np.where(np.isfinite(reached).any(axis=1), price, np.nan)


def cheapest_packs(packs, from_packs, pack_prices):
    """Packs to buy so that at least the needed packs come at the least outlay: up to a break where that is cheaper.

    Parameters
    ----------
    packs : array_like of int, shape (n_offers,)
        Least packs needed, at least 0.
    from_packs, pack_prices : array_like of float, shape (n_offers, n_breaks)
        As in :func:`pack_price`.

    Returns
    -------
    packs : ndarray of int, shape (n_offers,)
        Packs to buy: the need, or a break above it whose whole amount is no higher (the larger number on a tie).
    amount : ndarray of float, shape (n_offers,)
        Outlay, money. An offer whose least quantity is above the need is raised to it.

    Raises
    ------
    InvalidParameter
        If a price is not above 0 or shapes differ.

    Examples
    --------
    >>> packs, amount = cheapest_packs([4, 2], [[1, 5], [1, 5]], [[10.0, 7.0], [10.0, 7.0]])
    >>> packs, amount
    (array([5, 2]), array([35., 20.]))
    """
    packs, from_packs, prices = _breaks(packs, from_packs, pack_prices)
    own = packs * pack_price(packs, from_packs, prices)
    is_above = np.isfinite(from_packs) & (from_packs > packs[:, None]) & (packs[:, None] > 0)
    raised = np.where(is_above, from_packs, np.nan)
    amounts = np.column_stack([own, raised * prices])
    choices = np.column_stack([packs.astype(float), raised])
    least = np.nanmin(amounts, axis=1)
    most_packs = np.where(amounts <= least[:, None] * (1 + 1e-12), choices, -1.0).max(axis=1)
    return most_packs.astype(np.int64), least


def landed(wanted_pcs, pack_pcs, from_packs, pack_prices, freight_share, reject_share, fit_hours, labour_cost):
    """Outlay, pieces and true cost of a wanted quantity from each of many offers.

    Parameters
    ----------
    wanted_pcs, pack_pcs : array_like of int, shape (n_offers,)
        Usable pieces wanted; pieces per pack.
    from_packs, pack_prices : array_like of float, shape (n_offers, n_breaks)
        As in :func:`pack_price`.
    freight_share : array_like of float, shape (n_offers,)
        Freight per money of goods.
    reject_share : array_like of float, shape (n_offers,)
        Share of pieces expected to be unusable, below 1.
    fit_hours : array_like of float, shape (n_offers,)
        Extra fitting hours per piece.
    labour_cost : float
        Own cost of an hour, money.

    Returns
    -------
    packs : ndarray of int, shape (n_offers,)
        Packs to buy.
    goods_amount : ndarray of float, shape (n_offers,)
        Price of the packs, money.
    landed_amount : ndarray of float, shape (n_offers,)
        Goods plus freight plus fitting of the usable pieces, money.
    landed_price : ndarray of float, shape (n_offers,)
        The same per usable piece bought; pieces beyond the want count, as they will be used.

    Raises
    ------
    InvalidParameter
        If a price, pack, share or hour is out of range, or nothing is wanted.

    Examples
    --------
    >>> packs, goods, total, each = landed([2], [1], [[1, 5]], [[10.0, 9.0]], [0.1], [0.0], [0.5], 30.0)
    >>> packs, goods, total, each
    (array([2]), array([20.]), array([52.]), array([26.]))
    """
    wanted = require.whole_positive("wanted_pcs", wanted_pcs)
    rejects = _rejects(reject_share)
    packs, goods = cheapest_packs(packs_needed(wanted, pack_pcs, rejects), from_packs, pack_prices)
    usable = packs * np.asarray(pack_pcs) * (1 - rejects)
    freight = goods * require.not_negative("freight_share", freight_share)
    fitting = usable * require.not_negative("fit_hours", fit_hours) * require.not_negative("labour_cost", labour_cost)
    total = goods + freight + fitting
    return packs, goods, total, total / usable


def _rejects(reject_share):
    share = require.share("reject_share", reject_share)
    if (share >= 1).any():
        raise InvalidParameter("reject_share is 1; wanted a share below 1: an offer of rejects only yields nothing.")
    return share


def _breaks(packs, from_packs, pack_prices):
    packs = np.atleast_1d(require.not_negative("packs", packs)).astype(np.int64)
    from_packs = np.atleast_2d(np.asarray(from_packs, dtype=float))
    prices = np.atleast_2d(np.asarray(pack_prices, dtype=float))
    if from_packs.shape != prices.shape or len(from_packs) != len(packs):
        raise InvalidParameter(
            f"packs {packs.shape}, from_packs {from_packs.shape} and pack_prices {prices.shape} do not fit; wanted one "
            "row per offer and one column per price break."
        )
    require.positive("pack_prices", prices[np.isfinite(from_packs)])
    return packs, from_packs, prices
