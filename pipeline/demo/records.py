"""Turn what happened into the records the owner kept."""

from pipeline.demo import catalogue, money, use
from pipeline.demo.vendors import VENDORS
from pipeline.demo.world import SCOPES, stream

PROMISE_DAYS = {"fix_only": 12, "refresh": 35, "thorough": 85}
WATCH_DAYS = 180


def set_status(world, job):
    """Set what the record says of a job on the last day."""
    if job.answered >= world.n_days:
        job.status = "enquiry"
    elif not job.accepted or job.cancelled:
        job.status = "declined"
    elif job.delivered is not None:
        job.status = "delivered"
    else:
        job.status = "in_progress" if job.started is not None else "booked"


def forgotten(seed, world, jobs):
    """Return the delivered small jobs whose parts nobody wrote down (set of job index)."""
    return {job.index for job in jobs if job.status == "delivered" and job.scope == "fix_only"
            and stream(seed, "owner", 10**6 + job.index).random() < world.habits.forgotten_jobs_share}


def job_row(seed, world, job, offered, invoice):
    """Return a job's line in the book (dict)."""
    rng = stream(seed, "owner", 2 * 10**6 + job.index)
    is_booked = job.accepted and job.answered < world.n_days
    day = {name: world.on(value) if value is not None else "" for name, value in
           (("started", job.started), ("delivered", job.delivered))}
    promised = job.planned + PROMISE_DAYS[job.scope] + int(rng.integers(-4, 8))
    none_used = job.status == "delivered" and not job.needs and rng.random() < 0.75
    return {"job": job.job, "family": job.family, "machine": job.machine.machine, "scope": job.scope,
            "status": job.status, "booked_on": world.on(job.answered) if is_booked else "",
            "planned_start_on": world.on(job.planned),
            "promised_on": world.on(promised) if is_booked and rng.random() < 0.8 else "",
            "started_on": day["started"], "delivered_on": day["delivered"], "setting": job.machine.setting,
            "plays": job.plays if job.started is not None else None,
            "plays_quality": job.plays_quality if job.started is not None else "",
            "no_parts_used": "yes" if none_used else "",
            "price_kind": "fixed" if money.is_fixed_price(seed, job) else "estimate",
            "quoted_amount": offered.amount, "quoted_hours": offered.hours, "quoted_parts_amount": offered.parts_amount,
            "invoiced_amount": invoice, "warranty_days": 90 if job.status == "delivered" else None,
            "customer_ref": job.machine.customer}


def without_bookings(rows):
    """Keep only what a shop knows that writes a job down when it starts."""
    blank = {"booked_on": "", "planned_start_on": "", "promised_on": ""}
    return [row | blank for row in rows if row["started_on"] != ""]


def part_rows(seed, world, jobs, silent):
    """Return every taking that was written down, in order of day (list of dict)."""
    rows = []
    for job in jobs:
        fit = use.fitted(seed, world, job.family)
        if job.index in silent:
            continue
        for need in job.takings:
            row = {"job": job.job, "part": catalogue.parts()[need.part].part, "qty_pcs": need.qty_pcs,
                   "used_on": world.on(need.taken), "line": "", "assembly": str(fit.assembly[need.fitting]),
                   "source": need.source, "reason": need.reason}
            rows.append(row | {"qty_pcs": need.qty_pcs + (need.one_back is not None)})
            if need.one_back is not None:
                rows.append(row | {"qty_pcs": -1, "used_on": world.on(need.one_back)})
    rows.sort(key=lambda row: (row["used_on"], row["job"]))
    return told_apart(rows)


def told_apart(rows):
    """Number the rows that would otherwise be equal in every value (list of dict)."""
    seen = {}
    for row in rows:
        key = tuple(map(str, row.values()))
        seen[key] = seen.get(key, 0) + 1
        if seen[key] > 1:
            row["line"] = seen[key]
    return rows


def order_rows(world, orders):
    """Return orders and their lines as known today (list of dict, list of dict)."""
    heads, lines = [], []
    for order in orders:
        vendor = VENDORS[order.letter]
        heads.append({"order_no": order.order_no, "vendor": vendor.vendor, "ordered_on": world.on(order.ordered),
                      "freight": order.freight, "duty": order.duty, "tax": order.tax,
                      "tax_recoverable": vendor.tax_recoverable, "discount": order.discount})
        for line in order.lines:
            came = line.due < world.n_days
            lines.append({"order_no": order.order_no, "part": catalogue.parts()[line.part].part,
                          "qty_pcs": line.qty_pcs, "unit_price": line.unit_price,
                          "received_on": world.on(line.due) if came else "",
                          "received_pcs": line.received_pcs if came else None})
    return heads, lines


def stock_rows(world, floor, places):
    """Return counts and stock moves (list of dict, list of dict)."""
    parts = catalogue.parts()
    counts = [{"part": parts[part].part, "counted_on": world.on(day), "qty_pcs": qty, "shelf": places[parts[part].part]}
              for part, day, qty in floor.counts]
    moves = [{"part": parts[part].part, "moved_on": world.on(day), "qty_pcs": qty, "kind": kind, "unit_cost": cost,
              "amount": amount, "grade": grade, "owner": owner, "note": note}
             for part, day, qty, kind, cost, amount, grade, owner, note in floor.shelf.moves]
    return counts, _merged(moves)


def _merged(moves):
    # Stock moves have no number to tell equal rows apart: the owner writes two alike as one.
    seen = {}
    for move in moves:
        key = tuple(map(str, move.values()))
        if key in seen:
            seen[key]["qty_pcs"] += move["qty_pcs"]
            seen[key]["amount"] = seen[key]["amount"] and round(seen[key]["amount"] + move["amount"], 2)
        else:
            seen[key] = dict(move)
    return list(seen.values())


def callback_rows(seed, world, floor):
    """Return the call-backs, and the hours of those that also went into the hours book (two lists of dict)."""
    rows, hours = [], []
    for number, (job, call, visit) in enumerate(floor.callbacks):
        rng = stream(seed, "owner", 4 * 10**6 + number)
        part, cost = "", 0.0
        if call.fitting is not None:
            index = int(use.fitted(seed, world, job.family).part[call.fitting])
            part, cost = catalogue.parts()[index].part, money.piece_price(world, index, visit)
        is_late = call.reported - job.delivered > 90
        charged = round(call.hours * 40, 2) if is_late and rng.random() < 0.6 else 0.0
        rows.append({"job": job.job, "reported_on": world.on(call.reported), "assembly": call.assembly, "part": part,
                     "part_was": call.part_was, "cause": call.cause, "hours": call.hours, "parts_cost": round(cost, 2),
                     "trip_cost": float(5 * rng.integers(8, 15)) if call.is_home_visit else 0.0,
                     "charged_amount": charged})
        if rng.random() < 0.5:
            hours.append({"job": job.job, "hours": call.hours, "worked_on": world.on(visit), "line": "",
                          "stage": "callback", "assembly": call.assembly, "billed_hours": None})
    rows.sort(key=lambda row: (row["reported_on"], row["job"]))
    return rows, hours


def finding_rows(seed, world, jobs):
    """Return what teardown found, for running jobs and the thorough ones of the last fifteen months."""
    rows = []
    for job in jobs:
        recent = job.scope == "thorough" and job.delivered is not None and job.delivered > world.n_days - 456
        running = job.status == "in_progress" and job.teardown is not None
        if recent or running:
            rows += _found(seed, world, job)
    return rows


def _found(seed, world, job):
    rng = stream(seed, "owner", 5 * 10**6 + job.index)
    fit = use.fitted(seed, world, job.family)
    needs = {i: (qty, reason) for i, qty, reason in job.needs}
    actions = {(f.assembly, f.part): f.thorough_action for f in catalogue.fittings(job.family)}
    seen = set(fit.assembly.tolist()) if job.scope != "fix_only" else {str(fit.assembly[i]) for i in needs}
    rows = []
    for i, assembly in enumerate(fit.assembly.tolist()):
        if assembly not in seen:
            continue
        part = catalogue.parts()[fit.part[i]].part
        qty, reason = needs.get(i, (0, ""))
        row = {"job": job.job, "assembly": assembly, "part": part}
        if qty:
            bad = {"failed": "failed", "broken_in_work": "good", "no_cure": "unknown"}.get(reason, "worn")
            bad = "missing" if bad == "failed" and rng.random() < 0.06 else bad
            rows.append(row | {"qty_pcs": qty, "condition": bad, "action": "replace"})
        left = int(fit.pieces[i]) - qty
        if left > 0:
            usual = actions[assembly, part]
            is_worn = rng.random() < world.lives.worn_share[SCOPES.index(job.scope)]
            state = "worn" if is_worn and not (qty and rows[-1]["condition"] == "worn") else "good"
            state = "unknown" if state == "good" and qty and rows[-1]["condition"] == "good" else state
            rows.append(row | {"qty_pcs": left, "condition": state,
                               "action": "keep" if usual in ("replace", "make") or job.scope == "fix_only" else usual})
    return rows
