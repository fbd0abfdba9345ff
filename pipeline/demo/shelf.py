"""The true shelf: pieces at hand, pieces set by for a job, pieces on their way, and every move of them."""

from dataclasses import dataclass, field

import numpy as np

from pipeline.demo import catalogue, use, vendors
from pipeline.demo.world import FAMILIES, SCOPES, stream


@dataclass
class Need:
    """Pieces one job wants of one part; ``taken`` is the day they left the shelf, ``one_back`` that of one too many."""

    job: object
    fitting: int
    part: int
    qty_pcs: int
    reason: str
    since: int
    source: str = "new"
    set_by: bool = False
    taken: int | None = None
    one_back: int | None = None


@dataclass
class Shelf:
    """Pieces by part index; ``moves`` are (part, day, pieces, kind, unit cost, amount, grade, owner, note)."""

    at_hand: np.ndarray
    set_by: np.ndarray
    on_order: np.ndarray
    low: np.ndarray
    high: np.ndarray
    moves: list[tuple] = field(default_factory=list)

    def free(self, part):
        """Pieces of a part that no job has set by (int)."""
        return int(self.at_hand[part] - self.set_by[part])

    def move(self, part, day, qty, kind, unit_cost=None, amount=None, grade="", owner="", note=""):
        """Record pieces that came or went otherwise than by order or job; never below nothing."""
        self.at_hand[part] += qty
        self.moves.append((part, day, qty, kind, unit_cost, amount, grade, owner, note))


def yearly_use(seed, world):
    """Return the pieces of each part the shop truly uses in a year (ndarray, shape (n_parts,))."""
    total = np.zeros(len(catalogue.parts()))
    for f, family in enumerate(FAMILIES):
        for s, scope in enumerate(SCOPES):
            jobs = world.jobs_per_year * world.bookings.family_shares[f] * world.bookings.scope_shares[f][s]
            for part, numbers in use.by_part(seed, world, family, scope).items():
                total[part] += jobs * numbers[4]
    return total


def open_shelf(seed, world):
    """Return the shelf on the first day, stocked by habit (Shelf); the opening is its first moves."""
    rng = stream(seed, "shelf")
    n = len(catalogue.parts())
    yearly = yearly_use(seed, world)
    # The owner misjudges what goes, buys in months' worth, and leaves dear or odd things to the job.
    guess = yearly * rng.lognormal(0, world.habits.misjudged_sigma, n)
    high = np.ceil(guess / 12 * rng.uniform(*world.habits.months_kept, n))
    low = np.floor(guess / 12 * rng.uniform(*world.habits.months_left, n))
    for i, part in enumerate(catalogue.parts()):
        if part.price > 45 or guess[i] < 1.2 or catalogue.keep_rule(part) == "never":
            high[i], low[i] = 0, -1
        if part.supply == "scarce" and part.price < 45:
            high[i], low[i] = max(high[i], np.ceil(guess[i] * 0.9)), max(low[i], 0)
    at_hand = np.round(high * rng.uniform(0.3, 1.1, n)).astype(int)
    at_hand[rng.choice(n, size=10, replace=False)] += rng.integers(2, 12, 10)
    shelf = Shelf(np.zeros(n, int), np.zeros(n, int), np.zeros(n, int), low.astype(int), high.astype(int))
    for i, part in enumerate(catalogue.parts()):
        if at_hand[i]:
            cost = round(vendors.price(part, part.vendors[0], world.years + 0.8), 2)
            shelf.move(i, 0, int(at_hand[i]), "opening", cost, owner="shop", note="counted when the books began")
    return shelf


def odd_moves(rng, shelf, day, world):
    """Sell, find, spoil or strip a few pieces on some days."""
    parts = catalogue.parts()
    scale = world.jobs_per_year / 60 / 365.25
    if rng.random() < 9 * scale:
        part = _any_part(rng, shelf, 3)
        if part is not None:
            qty = int(rng.integers(1, 3))
            shelf.move(part, day, -qty, "sold", amount=round(qty * parts[part].price * 1.4, 2))
    if rng.random() < 4 * scale:
        part = _any_part(rng, shelf, 2)
        if part is not None:
            shelf.move(part, day, -1, "written_off", note=str(rng.choice(["cracked", "wrong thread", "damp"])))
    if rng.random() < 2 * scale:
        shelf.move(int(rng.integers(len(parts))), day, 1, "found", note="behind the drawer")
    if rng.random() < 3 * scale:
        strip_donor(rng, shelf, day)


def strip_donor(rng, shelf, day):
    """Take what is worth keeping from a machine bought for its parts."""
    family = FAMILIES[int(rng.integers(4))]  # nobody strips a modern machine
    wanted = sorted({catalogue.part_index()[fit.part] for fit in catalogue.fittings(family) if _is_kept(fit.part)})
    for part in sorted(int(i) for i in rng.choice(wanted, size=int(rng.integers(3, 7)), replace=False)):
        grade = str(rng.choice(["tested", "cleaned", "unknown"], p=[0.5, 0.3, 0.2]))
        shelf.move(part, day, int(rng.integers(1, 3)), "harvested", round(0.1 * catalogue.parts()[part].price, 2),
                   grade=grade, owner="shop", note="donor machine")


def _is_kept(part):
    own = catalogue.parts()[catalogue.part_index()[part]]
    return own.wear_class in ("coil", "bracket", "board", "display") and own.part != "leg"


def _any_part(rng, shelf, at_least):
    free = np.flatnonzero(shelf.at_hand - shelf.set_by >= at_least)
    return int(rng.choice(free)) if len(free) else None
