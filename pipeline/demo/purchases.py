"""Ordering by habit: what is short for a job goes off soon, the rest on every second Saturday."""

from dataclasses import dataclass, field

import numpy as np

from pipeline.demo import catalogue
from pipeline.demo.vendors import VENDORS, can_buy, cents, lead_days, unit_price
from pipeline.demo.world import stream


@dataclass
class Line:
    """One order line; ``due`` is the day it will come, ``received_pcs`` what will come."""

    part: int
    qty_pcs: int
    unit_price: float
    due: int
    received_pcs: int


@dataclass
class Order:
    """One order to one vendor."""

    order_no: str
    letter: str
    ordered: int
    lines: list[Line]
    freight: float
    duty: float
    tax: float
    discount: float


@dataclass
class Buyer:
    """The owner as a buyer: open orders and everything ordered so far."""

    seed: int
    world: object
    shelf: object
    rng: np.random.Generator
    orders: list[Order] = field(default_factory=list)
    arriving: dict[int, list[Line]] = field(default_factory=dict)

    def receive(self, day):
        """Put what arrives on a day on the shelf; a few pieces go straight back."""
        for letter, line in self.arriving.pop(day, []):
            self.shelf.on_order[line.part] -= line.qty_pcs
            self.shelf.at_hand[line.part] += line.received_pcs
            bad = self.rng.random() < VENDORS[letter].reject_share and line.received_pcs > 0
            if bad:
                self.shelf.move(line.part, day, -1, "returned_to_vendor", line.unit_price, round(line.unit_price, 2),
                                note="did not fit")

    def order(self, day, open_needs):
        """Order what is short for jobs, and by habit on checking days."""
        short = self._short(day, open_needs)
        is_check = day % self.world.habits.check_every_days == 4
        for letter in VENDORS:
            wanted = {part: qty for part, (qty, since) in short.items()
                      if self._vendor(part) == letter and (is_check or day - since >= 2)}
            basket = dict(wanted)
            if is_check or wanted:
                for part, qty in self._due(day, letter).items():
                    basket[part] = max(basket.get(part, 0), qty)
            if basket and not self._too_small(day, letter, basket, bool(wanted)):
                self._send(day, letter, basket)

    def _vendor(self, part):
        return catalogue.parts()[part].vendors[0]

    def _short(self, day, open_needs):
        wanted, since = {}, {}
        for need in open_needs:
            if not need.set_by and need.source == "new":
                wanted[need.part] = wanted.get(need.part, 0) + need.qty_pcs
                since[need.part] = min(since.get(need.part, day), need.since)
        short = {part: qty - self.shelf.free(part) - int(self.shelf.on_order[part]) for part, qty in wanted.items()}
        return {part: (qty, since[part]) for part, qty in short.items()
                if qty > 0 and can_buy(self.seed, self.world, part, day)}

    def _due(self, day, letter):
        due = {}
        for part in range(len(catalogue.parts())):
            position = self.shelf.free(part) + int(self.shelf.on_order[part])
            if (self._vendor(part) == letter and position <= self.shelf.low[part]
                    and self.shelf.high[part] > position and can_buy(self.seed, self.world, part, day)):
                due[part] = int(self.shelf.high[part]) - position
        return due

    def _goods(self, day, letter, basket):
        years = (self.world.n_days - 1 - day) / 365.25
        total = 0.0
        for part, qty in basket.items():
            own, packs = catalogue.parts()[part], self._packs(part, qty)
            total += packs * own.pack_pcs * unit_price(own, letter, packs, years)
        return total

    def _packs(self, part, qty):
        return -(-qty // catalogue.parts()[part].pack_pcs)

    def _too_small(self, day, letter, basket, is_pressing):
        # Below the vendor's minimum: wait if nothing presses, else fill up with what goes most.
        minimum = VENDORS[letter].minimum_order
        if not is_pressing:
            return self._goods(day, letter, basket) < max(minimum, 15.0)
        fillers = [part for part in np.argsort(-self.shelf.high, kind="stable").tolist()
                   if self._vendor(part) == letter and can_buy(self.seed, self.world, part, day)]
        for part in fillers + list(basket):
            while self._goods(day, letter, basket) < minimum and (part in fillers[:8] or part in basket):
                basket[part] = basket.get(part, 0) + catalogue.parts()[part].pack_pcs
                if part in fillers and basket[part] >= 2 * max(1, self.shelf.high[part]):
                    break
        return False

    def _send(self, day, letter, basket):
        vendor = VENDORS[letter]
        rng, years = self.rng, (self.world.n_days - 1 - day) / 365.25
        lead = lead_days(rng, vendor)
        lines = []
        for part in sorted(basket):
            packs = self._packs(part, basket[part])
            qty = packs * catalogue.parts()[part].pack_pcs
            jitter = float(rng.lognormal(0, 0.015))
            due = day + lead
            if rng.random() < vendor.line_late_share:
                due += 1 + int(rng.exponential(vendor.line_extra_days))
            sent = qty - catalogue.parts()[part].pack_pcs if packs > 1 and rng.random() < 0.02 else qty
            price = cents(unit_price(catalogue.parts()[part], letter, packs, years) * jitter)
            line = Line(part, qty, price, due, sent)
            lines.append(line)
            self.shelf.on_order[part] += qty
            self.arriving.setdefault(due, []).append((letter, line))
        self.orders.append(self._order(day, letter, lines))

    def _order(self, day, letter, lines):
        vendor = VENDORS[letter]
        goods = round(sum(line.qty_pcs * line.unit_price for line in lines), 2)
        free = vendor.freight_free_over is not None and goods >= vendor.freight_free_over
        discount = round(0.04 * goods, 2) if letter == "f" and goods > 300 else 0.0
        return Order("", letter, day, lines, 0.0 if free else vendor.freight_flat, round(vendor.duty_share * goods, 2),
                     round(vendor.tax_share * (goods - discount), 2), discount)


def open_books(seed, world, shelf):
    """Return the buyer on the first day, with nothing on order (Buyer)."""
    return Buyer(seed, world, shelf, stream(seed, "purchases"))


def number_orders(orders, world):
    """Give every order its number, in order of day."""
    seen = {}
    for order in orders:
        year = world.on(order.ordered).year
        seen[year] = seen.get(year, 0) + 1
        order.order_no = f"P{year % 100}{seen[year]:03d}"
