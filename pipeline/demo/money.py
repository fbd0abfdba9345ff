"""What was quoted, logged, billed and paid for each job."""

from dataclasses import dataclass

from pipeline.demo import catalogue, use
from pipeline.demo.vendors import drift
from pipeline.demo.world import FAMILIES, SCOPES, stream

MARKUP_SHARE = 0.32
RATES = ((2022, 54.0), (2024, 57.0), (2026, 60.0))  # charged per hour, from that year
SUPPLIES = {"fix_only": 12.0, "refresh": 28.0, "thorough": 95.0}
RESERVES = {"fix_only": 40.0, "refresh": 30.0, "thorough": 35.0}
STAGES = {
    "fix_only": (("intake", 0.14), ("teardown", 0.08), ("cleaning", 0.06), ("bench", 0.42), ("wiring", 0.12),
                 ("test", 0.14), ("admin", 0.04)),
    "refresh": (("intake", 0.08), ("teardown", 0.10), ("cleaning", 0.28), ("bench", 0.20), ("wiring", 0.06),
                ("reassembly", 0.16), ("test", 0.10), ("admin", 0.02)),
    "thorough": (("intake", 0.08), ("teardown", 0.12), ("cleaning", 0.23), ("bench", 0.17), ("wiring", 0.11),
                 ("reassembly", 0.19), ("test", 0.08), ("admin", 0.02)),
}
UNBILLED = ("intake", "admin", "callback")


@dataclass(frozen=True)
class Quote:
    """One option offered: hours, amounts, and its largest part lines (assembly, part, pieces, amount)."""

    hours: float
    labour_amount: float
    parts: tuple[tuple[str, str, int, float], ...]
    small_parts_amount: float
    supplies_amount: float
    reserve_amount: float
    sublet_amount: float

    @property
    def parts_amount(self):
        """All parts, the small ones included."""
        return round(sum(line[3] for line in self.parts) + self.small_parts_amount, 2)

    @property
    def amount(self):
        """Price of the whole option."""
        return round(self.labour_amount + self.parts_amount + self.supplies_amount + self.reserve_amount
                     + self.sublet_amount, 2)


def labour_rate(on):
    """Return the rate charged per hour on a date (float)."""
    return [rate for year, rate in RATES if on.year >= year][-1]


def piece_price(world, part, day):
    """Return what a piece costs about a day, by the catalogue (float)."""
    own = catalogue.parts()[part]
    return own.price / (1 + drift(own.wear_class)) ** ((world.n_days - 1 - day) / 365.25)


def quote(seed, world, job, scope):
    """Return what the owner offers for a scope before the machine is open (Quote)."""
    rng = stream(seed, "money", 10 * job.index + SCOPES.index(scope))
    f, s = FAMILIES.index(job.family), SCOPES.index(scope)
    mean = world.work.mean_hours[f][s]
    hint = (job.hours / world.work.mean_hours[f][SCOPES.index(job.scope)]) ** 0.45
    sigma = world.habits.quote_sigma
    hours = max(1.0, round(2 * mean * hint * world.habits.quote_factor * rng.lognormal(-sigma**2 / 2, sigma)) / 2)
    numbers = use.by_part(seed, world, job.family, scope)
    worth = {p: n[4] * piece_price(world, p, max(job.asked, 0)) for p, n in numbers.items()}
    lines = tuple(_part_line(world, job, p, numbers[p][4]) for p in sorted(worth, key=worth.get, reverse=True)[:6]
                  if numbers[p][4] >= 0.5)
    rest = 0.85 * (1 + MARKUP_SHARE) * sum(worth.values()) - sum(line[3] for line in lines)
    sublet = round(float(rng.uniform(110, 330)), 0) if scope == "thorough" and rng.random() < 0.6 else 0.0
    return Quote(hours, round(hours * labour_rate(world.on(job.asked)), 2), lines, round(max(5.0, rest), 2),
                 SUPPLIES[scope], RESERVES[scope], sublet)


def _part_line(world, job, part, mean_pcs):
    own = catalogue.parts()[part]
    place = next(fit.assembly for fit in catalogue.fittings(job.family) if fit.part == own.part)
    qty = max(1, round(mean_pcs))
    return place, own.part, qty, round(qty * piece_price(world, part, max(job.asked, 0)) * (1 + MARKUP_SHARE), 2)


def hour_rows(seed, world, job):
    """Return the job's hours as logged, a row a day and stage (list of dict); quarter hours."""
    rng = stream(seed, "money", 10**6 + job.index)
    bounds, total = [], 0.0
    for stage, share in STAGES[job.scope]:
        bounds.append((stage, total * job.hours, (total + share) * job.hours))
        total += share
    bounds[-1] = (*bounds[-1][:2], job.hours + 1.0)
    fixed = is_fixed_price(seed, job)
    places = [a.assembly for a in catalogue.assemblies() if a.counts[FAMILIES.index(job.family)]]
    rows = []
    for day, start, end in job.work_days:
        for stage, low, high in bounds:
            first, last = max(start, low), min(end, high)
            hours = (round(4 * last) - round(4 * first)) / 4
            if last > first and hours > 0:
                place = str(rng.choice(places)) if stage == "bench" and rng.random() < 0.6 else ""
                rows.append({"job": job.job, "hours": hours, "worked_on": world.on(day), "line": "", "stage": stage,
                             "assembly": place, "billed_hours": None if fixed else 0 if stage in UNBILLED else hours})
    return rows


def is_fixed_price(seed, job):
    """Tell whether the job was sold at a fixed price (bool)."""
    return bool(stream(seed, "money", 2 * 10**6 + job.index).random() < 0.35)


def approvals(seed, world, job):
    """Return what was asked beyond the quote (list of dict)."""
    rng = stream(seed, "money", 3 * 10**6 + job.index)
    if job.teardown is None or rng.random() > {"fix_only": 0.08, "refresh": 0.2, "thorough": 0.5}[job.scope]:
        return []
    asked = job.teardown + int(rng.integers(0, 5))
    answered = asked + int(rng.integers(0, 6))
    if answered >= world.n_days:
        return []
    fit = use.fitted(seed, world, job.family)
    return [{"job": job.job, "asked_on": world.on(asked), "what": f"more than quoted: {rng.choice(fit.assembly)}",
             "amount": float(5 * rng.integers(8, 60)), "answered_on": world.on(answered),
             "answer": "yes" if rng.random() < 0.8 else "no",
             "how": str(rng.choice(["phone", "message", "in person"])), "by": job.machine.customer}]


def freight_amount(seed, job):
    """Return what fetching and bringing back the machine cost (float, 0 where the owner came himself)."""
    rng = stream(seed, "money", 7 * 10**6 + job.index)
    return round(float(rng.uniform(45, 190)), 2) if rng.random() < 0.3 else 0.0


def invoiced(seed, world, job, hours, offered):
    """Return the invoice before tax of a delivered job (float): the quote, or what was spent within reason."""
    agreed = offered.amount + sum(row["amount"] for row in approvals(seed, world, job) if row["answer"] == "yes")
    freight = freight_amount(seed, job)
    if is_fixed_price(seed, job):
        return round(agreed + freight, 2)
    rate = labour_rate(world.on(job.started))
    parts = sum(need.qty_pcs * piece_price(world, need.part, need.taken) for need in job.takings
                if need.reason != "callback" and need.source != "customer")
    spent = (sum(row["billed_hours"] for row in hours) * rate + parts * (1 + MARKUP_SHARE) + offered.supplies_amount
             + offered.reserve_amount + offered.sublet_amount)
    return round(min(spent, 1.12 * agreed) + freight, 2)


def cost_rows(seed, world, job, offered):
    """Return sublet work, freight and supplies of a started job (list of dict)."""
    rng = stream(seed, "money", 4 * 10**6 + job.index)
    end = job.delivered if job.delivered is not None else world.n_days - 1
    rows = []
    row = {"job": job.job, "kind": "", "amount": 0.0, "paid_on": "", "sent_on": "", "due_on": "", "back_on": ""}
    if offered.sublet_amount and job.teardown is not None:
        sent, back = job.teardown + int(rng.integers(1, 5)), job.teardown + int(rng.integers(9, 34))
        if sent < world.n_days:
            done = back < min(world.n_days, end + 1)
            amount = round(offered.sublet_amount * float(rng.uniform(0.7, 1.05)), 2)
            rows.append(row | {"kind": "sublet", "amount": amount,
                               "paid_on": world.on(back) if done else "", "sent_on": world.on(sent),
                               "due_on": world.on(sent + 18), "back_on": world.on(back) if done else ""})
    if job.delivered is not None:
        used = SUPPLIES[job.scope] * float(rng.uniform(0.5, 1.4))
        rows.append(row | {"kind": "supplies", "amount": round(used, 2), "paid_on": world.on(end)})
        if freight := freight_amount(seed, job):
            rows.append(row | {"kind": "freight", "amount": freight, "paid_on": world.on(end)})
    return rows


def payment_rows(seed, world, job, offered, invoice):
    """Return deposit and balance of a job (list of dict); a cancelled one has its deposit back."""
    rng = stream(seed, "money", 5 * 10**6 + job.index)
    rows, deposit, today = [], 0.0, world.n_days - 1
    paid = job.answered + int(rng.integers(0, 6))
    if job.scope != "fix_only" and paid <= today:
        deposit = round(0.4 * offered.amount / 10) * 10.0
        rows.append({"job": job.job, "paid_on": world.on(paid), "amount": deposit, "kind": "deposit"})
    if job.cancelled and deposit and paid + 20 <= today:
        rows.append({"job": job.job, "paid_on": world.on(paid + 20), "amount": -deposit, "kind": "refund"})
    settled = (job.delivered or 0) + int(rng.integers(0, 18))
    if invoice is not None and settled <= today and round(invoice - deposit, 2) > 0:
        rows.append({"job": job.job, "paid_on": world.on(settled), "amount": round(invoice - deposit, 2),
                     "kind": "balance"})
    return rows
