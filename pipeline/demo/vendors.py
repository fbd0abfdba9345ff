"""Invented vendors, what they ask and how long they really take."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pipeline.demo import catalogue
from pipeline.demo.world import stream

# Yearly rise of price by wear class; what is not named rises by OTHER_DRIFT.
DRIFT = {"coil": 0.05, "sleeve": 0.03, "opto_pair": 0.04, "switch": 0.045, "ring": 0.03, "lamp": 0.025, "board": 0.07,
         "display": 0.085, "moulding": 0.06, "cosmetic": 0.065, "capacitor": 0.035, "fuse": 0.02}
OTHER_DRIFT = 0.04
RUN_DAYS = 25


@dataclass(frozen=True)
class Vendor:
    """One vendor; ``mean_days`` and ``shape`` of its gamma lead time, and how often an order or a line is late."""

    vendor: str
    name: str
    freight_flat: float
    freight_free_over: float | None
    minimum_order: float
    order_hours: float
    quoted_days: int
    mean_days: float
    shape: float
    late_share: float
    late_extra_days: float
    line_late_share: float
    line_extra_days: float
    price_factor: float
    tax_share: float
    tax_recoverable: str
    duty_share: float
    fit_hours: float
    reject_share: float


VENDORS = {
    "f": Vendor("fennel", "Fennel and Post Mechanics", 11.5, 120.0, 0.0, 0.35, 6, 7.4, 4.0, 0.07, 14.0, 0.05, 24.0,
                1.0, 0.0, "no", 0.0, 0.0, 0.01),
    "m": Vendor("marrow", "Marrow Lane Electrics", 7.9, 85.0, 12.0, 0.3, 4, 4.6, 5.0, 0.05, 9.0, 0.04, 18.0,
                1.0, 0.06, "yes", 0.0, 0.0, 0.005),
    "o": Vendor("otterbeck", "Otterbeck Reproductions", 14.0, None, 20.0, 0.6, 20, 31.0, 2.2, 0.15, 35.0, 0.10, 45.0,
                1.0, 0.0, "no", 0.0, 0.5, 0.04),
    "t": Vendor("tallow", "Tallow Wharf Bulk", 16.5, 150.0, 30.0, 0.5, 12, 15.5, 3.0, 0.10, 20.0, 0.05, 30.0,
                0.86, 0.05, "no", 0.035, 0.0, 0.02),
}


def drift(wear_class):
    """Return the true yearly rise of price of a wear class (float share)."""
    return DRIFT.get(wear_class, OTHER_DRIFT)


def price(part, vendor, years_before_today):
    """Return a vendor's list price per piece so many years before today (float, shop currency)."""
    own = 1 + 0.01 * ((7 * catalogue.part_index()[part.part] + 3 * ord(vendor)) % 9 - 4)
    return part.price * VENDORS[vendor].price_factor * own / (1 + drift(part.wear_class)) ** years_before_today


def break_packs(part):
    """Return from how many packs a lower price holds, and the share off (int, float), or None."""
    if part.price * part.pack_pcs > 60 or part.supply != "steady":
        return None
    return (5, 0.08) if part.price * part.pack_pcs > 4 else (10, 0.12)


def unit_price(part, vendor, packs, years_before_today):
    """Return what one piece costs when so many packs are bought (float)."""
    off = break_packs(part)
    factor = 1 - off[1] if off and packs >= off[0] else 1.0
    return cents(price(part, vendor, years_before_today) * factor)


def cents(unit):
    """Round a price per piece as an invoice prints it: cents, or hundredths of a cent below one unit of currency."""
    return round(unit, 2 if unit >= 1 else 4)


def lead_days(rng, vendor):
    """Draw an order's lead time in days (int)."""
    days = rng.gamma(vendor.shape, vendor.mean_days / vendor.shape)
    if rng.random() < vendor.late_share:
        days += rng.exponential(vendor.late_extra_days)
    return max(1, math.ceil(float(days)))


@lru_cache(maxsize=16)
def runs(seed, world):
    """Return the days on which a run of each scarce part opens (tuple of tuples of int, by part index)."""
    rng = stream(seed, "purchases", 1)
    found = []
    for part in catalogue.parts():
        starts = np.cumsum(rng.uniform(250, 560, 12)) - rng.uniform(250, 500)
        found.append(tuple(int(day) for day in starts) if part.supply == "scarce" else ())
    return tuple(found)


def can_buy(seed, world, part, day):
    """Tell whether a part (index) can be ordered on a day (bool)."""
    supply = catalogue.parts()[part].supply
    if supply == "scarce":
        return any(start <= day < start + RUN_DAYS for start in runs(seed, world)[part])
    return supply == "steady"


def tables(seed, world):
    """Return the vendors' and offers' files (dict of file name to rows)."""
    vendors = [{"vendor": v.vendor, "name": v.name, "freight_flat": v.freight_flat,
                "freight_free_over": v.freight_free_over, "minimum_order": v.minimum_order,
                "order_hours": v.order_hours, "lead_time_days": v.quoted_days} for v in VENDORS.values()]
    rng = stream(seed, "owner", 2)
    offers = [row for i, part in enumerate(catalogue.parts()) for letter in part.vendors
              for row in _offer_rows(rng, seed, world, i, part, letter)]
    return {"vendors": vendors, "offers": offers}


def _offer_rows(rng, seed, world, i, part, letter):
    vendor = VENDORS[letter]
    stale = rng.random() < 0.15
    days_ago = int(rng.integers(250, 600)) if stale else int(rng.integers(5, 120))
    available = {"steady": "yes", "ended": "no"}.get(part.supply) or "run"
    number = f"{vendor.vendor[0].upper()}{'FMOT'.index(letter.upper()) + 2}{i + 101}"
    moulded = part.wear_class in ("moulding", "cosmetic", "bracket")
    row = {"vendor": vendor.vendor, "part": part.part, "vendor_part": number, "pack_pcs": part.pack_pcs,
           "pack_price": 0.0, "from_packs": 1,
           "quoted_on": world.today.fromordinal(world.today.toordinal() - days_ago).isoformat(),
           "fit_hours": vendor.fit_hours if moulded and vendor.fit_hours else None,
           "reject_share": vendor.reject_share, "available": available}
    prices = [(1, 1.0)] + ([(off[0], 1 - off[1])] if (off := break_packs(part)) else [])
    pack_price = price(part, letter, days_ago / 365.25) * part.pack_pcs
    return [row | {"from_packs": packs, "pack_price": round(pack_price * factor, 2)} for packs, factor in prices]
