"""Today's orders by counting out every possibility: slow, plain, without a line of the program it is held against."""

import itertools
import math

import numpy as np

from pipeline.kernels.basket_choices import Offers, Wants
from pipeline.kernels.basket_pruning import Vendors

NEAR = 1e-9


def random_shop(seed):
    """Two or three vendors and three or four parts with breaks, packs, rejects, minimums and thresholds.

    Of odd seeds packs are large and holding is dear, so that splitting a part pays more often.
    """
    rng = np.random.default_rng(seed)
    n_vendors, n_parts = rng.integers(2, 4), rng.integers(3, 5)
    is_due = np.arange(n_parts) < rng.integers(2, 4)
    part, vendor = np.nonzero(rng.random((n_parts, n_vendors)) < 0.75)
    n_offers, piece = len(part), rng.uniform(1, 9, n_parts).round(1)
    pack = rng.choice([1, 1, 4, 5] if seed % 2 else [1, 1, 2, 3], n_offers)
    price = (piece[part] * pack * rng.uniform(0.8, 1.3, n_offers)).round(2)
    wants = Wants(rng.integers(4, 9, n_parts) if seed % 2 else rng.integers(1, 6, n_parts),
                  rng.integers(0, 2 if seed % 2 else 6, n_parts).astype(float),
                  rng.uniform(0.01, 0.8, n_parts).round(2), np.where(is_due, rng.integers(1, 4, n_parts), np.inf),
                  rng.choice([0.0, 0.4, 2.0], n_parts), is_due)
    second = np.where(rng.random(n_offers) < 0.5, rng.integers(2, 6, n_offers), np.inf)
    offers = Offers(
        part, vendor, pack, np.column_stack([rng.choice([1.0, 1.0, 1.0, 2.0], n_offers), second + 1]),
        np.column_stack([price, (price * rng.uniform(0.6, 1.05, n_offers)).round(2)]),
        rng.choice([0.0, 0.0, 0.15], n_offers), rng.choice([0.0, 0.0, 0.7], n_offers),
        rng.choice([0.0, 3.0, 6.0], n_offers) * is_due[part])
    return wants, offers, Vendors(
        rng.choice([0.0, 0.0, 20.0, 35.0], n_vendors), rng.choice([0.0, 6.0, 11.0], n_vendors),
        rng.choice([np.inf, 15.0, 30.0, 50.0], n_vendors), rng.choice([0.0, 2.0], n_vendors))


def least_amount(wants, offers, vendors):
    """What the cheapest orders cost, money, by trying all; parts nobody within reach offers are left out."""
    every = [_vectors(wants, offers, part) for part in range(len(wants.is_due))]
    reach = np.zeros(len(vendors.own_amount))
    for vector in every:
        best = np.zeros(len(reach))
        for packs in vector:
            if len(packs) == 1:
                (offer, n_packs), = packs.items()
                best[offers.vendor[offer]] = max(best[offers.vendor[offer]], _price(offers, offer, n_packs) * n_packs)
        reach += best
    is_reachable = reach >= vendors.minimum_amount - NEAR
    amount, goods, is_used = np.zeros(1), np.zeros((1, len(reach))), np.zeros((1, len(reach)), dtype=bool)
    for part, vectors in enumerate(every):
        kept = [packs for packs in vectors if all(is_reachable[offers.vendor[offer]] for offer in packs)]
        piece = _piece_amount(wants, offers, part, is_reachable)
        rows = [_row(wants, offers, part, packs, piece, len(reach)) for packs in kept]
        if not wants.is_due[part] or not rows:
            rows = [(0.0, np.zeros(len(reach))), *rows]
        amount = np.add.outer(amount, [row[0] for row in rows]).ravel()
        their = np.array([row[1] for row in rows])
        goods = (goods[:, None, :] + their).reshape(-1, len(reach))
        is_used = (is_used[:, None, :] | (their > 0)).reshape(-1, len(reach))
    freight = np.where(goods >= vendors.free_over_amount - NEAR, 0.0, vendors.freight_amount)
    total = amount + ((freight + vendors.own_amount) * is_used).sum(axis=1)
    return total[(~is_used | (goods >= vendors.minimum_amount - NEAR)).all(axis=1)].min()


def _single_pcs(wants, offers, offer):
    """Single pieces that bring what is wanted after the expected rejects."""
    wanted = wants.wanted_pcs[offers.part[offer]]
    gross = wanted / (1 - offers.reject_share[offer])
    return math.ceil(gross - NEAR) if gross - wanted >= 0.5 else wanted


def _good(wants, offers, offer, n_packs):
    wanted = wants.wanted_pcs[offers.part[offer]]
    return n_packs * offers.pack_pcs[offer] * wanted / _single_pcs(wants, offers, offer)


def _break(offers, offer, n_packs):
    reached = [k for k, least in enumerate(offers.from_packs[offer]) if least <= n_packs]
    return reached[-1] if reached else None


def _price(offers, offer, n_packs):
    return offers.pack_prices[offer, _break(offers, offer, n_packs)]


def _vectors(wants, offers, part):
    """Every allowed purchase of a part: packs by offer."""
    theirs = np.flatnonzero(offers.part == part)
    most = {offer: range(1, 1 + int(max(20, offers.from_packs[offer][np.isfinite(offers.from_packs[offer])].max())))
            for offer in theirs}
    singles = [{offer: n} for offer in theirs for n in most[offer]]
    pairs = [{one: n, other: m} for one, other in itertools.combinations(theirs, 2) for n in most[one]
             for m in most[other]] if wants.is_due[part] else []
    allowed = _is_allowed_due if wants.is_due[part] else _is_allowed_early
    return [packs for packs in singles + pairs
            if all(_break(offers, offer, n) is not None for offer, n in packs.items())
            and allowed(wants, offers, part, packs)]


def _is_allowed_due(wants, offers, part, packs):
    wanted = wants.wanted_pcs[part]
    good = {offer: _good(wants, offers, offer, n) for offer, n in packs.items()}
    total = sum(good.values())
    if total < wanted - NEAR or (len(good) == 2 and max(good.values()) >= wanted - NEAR):
        return False
    return total - wanted <= wants.useful_pcs[part] + NEAR or not any(
        n > 1 and _break(offers, offer, n - 1) == _break(offers, offer, n)
        and total - good[offer] / n >= wanted - NEAR for offer, n in packs.items())


def _is_allowed_early(wants, offers, part, packs):
    (offer, n), = packs.items()
    alone = math.ceil(_single_pcs(wants, offers, offer) / offers.pack_pcs[offer] - NEAR)
    return n <= alone and (n == 1 or _good(wants, offers, offer, n) <= wants.useful_pcs[part] + NEAR)


def _pack_amount(offers, offer, price):
    return price + offers.pack_pcs[offer] * (1 - offers.reject_share[offer]) * offers.fit_amount[offer]


def _piece_amount(wants, offers, part, is_reachable):
    """The cheapest price of a good piece at a break that pieces of use reach."""
    of_use = wants.useful_pcs[part] + wants.wanted_pcs[part] * wants.is_due[part]
    each = [(_good(wants, offers, offer, least) <= of_use + NEAR,
             _pack_amount(offers, offer, price) / _good(wants, offers, offer, 1))
            for offer in np.flatnonzero((offers.part == part) & is_reachable[offers.vendor])
            for least, price in zip(offers.from_packs[offer], offers.pack_prices[offer], strict=True)
            if np.isfinite(least) and (wants.is_due[part] or _is_allowed_early(wants, offers, part, {offer: least}))]
    reached = [amount for is_reached, amount in each if is_reached]
    return min(reached or [amount for _, amount in each], default=0.0)


def _row(wants, offers, part, packs, piece_amount, n_vendors):
    """Cost and goods by vendor of a purchase."""
    goods, amount, good = np.zeros(n_vendors), 0.0, 0.0
    for offer, n in packs.items():
        price = _price(offers, offer, n)
        goods[offers.vendor[offer]] += n * price
        amount += n * _pack_amount(offers, offer, price)
        good += _good(wants, offers, offer, n)
    over = good - (wants.wanted_pcs[part] if wants.is_due[part] else 0)
    amount += max(offers.wait_amount[offer] for offer in packs) + wants.early_amount[part] * over
    amount += wants.late_amount[part] * max(over - wants.next_pcs[part], 0.0)
    return amount - piece_amount * min(over, wants.useful_pcs[part]), goods
