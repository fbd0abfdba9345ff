"""Quotes as sent: two or three options side by side, a second version once the machine has been opened."""

from pipeline.demo import catalogue, money, use
from pipeline.demo.world import stream

OPTION = {"fix_only": "fix_only", "refresh": "recommended", "thorough": "thorough"}
RECENT_DAYS = 210
LABOUR = "repair labour"


def quote_rows(seed, world, jobs):
    """Return the quote lines of every job asked for lately (list of dict)."""
    rows = []
    for job in jobs:
        if job.asked <= world.n_days - RECENT_DAYS:
            continue
        offered = ["fix_only", "thorough"] if job.scope != "refresh" else ["fix_only", "refresh", "thorough"]
        for scope in offered:
            taken = job.accepted and scope == job.scope and job.answered < world.n_days
            rows += _lines(world, job, 1, scope, money.quote(seed, world, job, scope), job.answered if taken else None)
        if job.scope == "thorough" and job.teardown is not None and job.teardown + 4 < world.n_days:
            rows += _lines(world, job, 2, job.scope, second_quote(seed, world, job), job.teardown + 4)
    return rows


def second_quote(seed, world, job):
    """Return the accepted option again, priced from what teardown found (money.Quote)."""
    first = money.quote(seed, world, job, job.scope)
    fit = use.fitted(seed, world, job.family)
    rng = stream(seed, "money", 6 * 10**6 + job.index)
    hours = round(2 * (first.hours + 0.5 * (job.hours - first.hours)) * float(rng.uniform(0.95, 1.1))) / 2
    lines = []
    for i, qty, _ in job.needs:
        part = catalogue.parts()[fit.part[i]]
        amount = qty * money.piece_price(world, int(fit.part[i]), job.teardown) * (1 + money.MARKUP_SHARE)
        lines.append((str(fit.assembly[i]), part.part, int(qty), round(amount, 2)))
    lines.sort(key=lambda line: (-line[3], line[0], line[1]))
    small = round(sum(line[3] for line in lines[15:]), 2)
    return money.Quote(hours, round(hours * money.labour_rate(world.on(job.asked)), 2), tuple(lines[:15]), small,
                       first.supplies_amount, first.reserve_amount, first.sublet_amount)


def _lines(world, job, version, scope, offered, accepted):
    row = {"job": job.job, "version": version, "option": OPTION[scope], "assembly": "", "part": "", "qty_pcs": None,
           "hours": None, "tax_class": "", "accepted_on": world.on(accepted) if accepted is not None else ""}
    rows = [row | {"kind": "labour", "hours": offered.hours, "amount": offered.labour_amount, "tax_class": LABOUR}]
    rows += [row | {"kind": "part", "assembly": place, "part": part, "qty_pcs": qty, "amount": amount,
                    "tax_class": "parts"} for place, part, qty, amount in offered.parts]
    for kind, amount, tax in (("part", offered.small_parts_amount, "parts"),
                              ("supplies", offered.supplies_amount, "parts"),
                              ("reserve", offered.reserve_amount, LABOUR), ("sublet", offered.sublet_amount, "sublet")):
        if amount:
            rows.append(row | {"kind": kind, "amount": amount, "tax_class": tax})
    return rows
