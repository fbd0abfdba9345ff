"""The shop day by day: machines come in, needs appear at teardown, parts are taken or waited for, machines go home."""

from dataclasses import dataclass, field

from pipeline.demo import catalogue, lives, use
from pipeline.demo import shelf as shelves
from pipeline.demo.purchases import Buyer, open_books
from pipeline.demo.shelf import Need, Shelf
from pipeline.demo.world import World, stream

TEARDOWN_SHARE = 0.2  # of the hours, until it is known what the machine needs
PARTS_SHARE = 0.35  # of the hours, until parts are first fitted
WAIT_SHARE = 0.72  # of the hours that can be worked with parts still missing
HOURS_A_DAY = {"fix_only": 4.0, "refresh": 5.0, "thorough": 6.0}
GIVE_UP_DAYS = {"scarce": 16, "ended": 4, "steady": 10**6}
MADE_CLASSES = ("bracket", "moulding", "cosmetic", "plunger")


@dataclass
class Floor:
    """State of the shop as the days go by, and what it leaves for the records.

    ``callbacks`` are (job, Call, day of visit); ``counts`` are (part, day, pieces written down); ``returns`` are the
    parts that come back to the shelf, one piece each, by day.
    """

    seed: int
    world: World
    jobs: list
    shelf: Shelf
    buyer: Buyer
    watch_days: int
    active: list = field(default_factory=list)
    worked: dict = field(default_factory=dict)
    needs: list[Need] = field(default_factory=list)
    calls: dict[int, list] = field(default_factory=dict)
    callbacks: list = field(default_factory=list)
    counts: list = field(default_factory=list)
    returns: dict[int, list[int]] = field(default_factory=dict)


def run(seed, world, jobs, watch_days):
    """Run every day of the records (Floor); jobs get their dates, takings and work days."""
    shelf = shelves.open_shelf(seed, world)
    floor = Floor(seed, world, jobs, shelf, open_books(seed, world, shelf), watch_days)
    rng = stream(seed, "floor")
    for day in range(world.n_days):
        floor.buyer.receive(day)
        for part in floor.returns.pop(day, []):
            floor.shelf.at_hand[part] += 1
        shelves.odd_moves(rng, shelf, day, world)
        if is_open(world, day):
            _visit(floor, day)
            _start(floor, day)
            _work(floor, rng, day)
        _give_up_waiting(floor, rng, day)
        _take(floor, rng, day)
        if is_open(world, day) or day % 7 == 4:
            floor.buyer.order(day, floor.needs)
        _count(floor, day)
    return floor


def is_open(world, day):
    """Tell whether the bench works on a day: Monday to Friday, save two weeks in August and Christmas (bool)."""
    on = world.on(day)
    return on.weekday() < 5 and not (on.month == 8 and 5 <= on.day <= 18) and not (on.month == 12 and on.day >= 23)


def _start(floor, day):
    waiting = sorted((job for job in floor.jobs if job.started is None and job.accepted and not job.cancelled
                      and job.answered < day and job.planned <= day + 3), key=lambda job: (job.planned, job.index))
    thorough = sum(job.scope == "thorough" for job in floor.active)
    for job in waiting:
        if len(floor.active) >= floor.world.bay_count:
            return
        if job.scope == "thorough" and thorough >= max(1, floor.world.bay_count // 2):
            continue
        job.started = day
        thorough += job.scope == "thorough"
        floor.active.append(job)
        floor.worked[job.index] = 0.0
        return


def _work(floor, rng, day):
    left = floor.world.bench_hours_per_week / 5 * float(rng.uniform(0.8, 1.15))
    order = sorted(floor.active, key=lambda job: (("fix_only", "refresh", "thorough").index(job.scope), job.started))
    for job in order:
        done = floor.worked[job.index]
        missing = any(need.job is job and need.taken is None and need.reason != "callback" for need in floor.needs)
        limit = job.hours if job.teardown is not None and not missing else job.hours * WAIT_SHARE
        hours = min(left, HOURS_A_DAY[job.scope] * max(1.0, floor.world.bench_hours_per_week / 36), limit - done)
        if hours > 0.1:
            floor.worked[job.index] = done + hours
            left -= hours
            job.work_days.append((day, done, done + hours))
        if job.teardown is None and floor.worked[job.index] >= TEARDOWN_SHARE * job.hours:
            _tear_down(floor, job, day)
        if floor.worked[job.index] >= job.hours - 0.1 and not missing and job.teardown is not None:
            _deliver(floor, rng, job, day)


def _tear_down(floor, job, day):
    job.teardown = day
    fit = use.fitted(floor.seed, floor.world, job.family)
    rng = stream(floor.seed, "job", 10**6 + job.index)
    for i, qty, reason in job.needs:
        supply = catalogue.parts()[fit.part[i]].supply
        customer = supply != "steady" and rng.random() < 0.05
        floor.needs.append(Need(job, i, int(fit.part[i]), qty, reason, day, "customer" if customer else "new"))


def _deliver(floor, rng, job, day):
    # An open need that teardown raised today keeps the job in the shop.
    if any(need.job is job and need.taken is None for need in floor.needs):
        return
    job.delivered = day + (int(rng.integers(0, 3)) if job.scope == "fix_only" else int(rng.integers(1, 7)))
    floor.active.remove(job)
    if job.delivered >= floor.world.n_days:
        job.delivered = None
        return
    for call in lives.call_backs(floor.seed, floor.world, job, floor.watch_days):
        if call.reported < floor.world.n_days:
            floor.calls.setdefault(call.reported + call.visit_days, []).append((job, call))


def _visit(floor, day):
    for due in sorted(key for key in floor.calls if key <= day):
        for job, call in floor.calls.pop(due):
            if call.fitting is not None:
                part = int(use.fitted(floor.seed, floor.world, job.family).part[call.fitting])
                floor.needs.append(Need(job, call.fitting, part, 1, "callback", day))
            floor.callbacks.append((job, call, day))


def _give_up_waiting(floor, rng, day):
    for need in floor.needs:
        part = catalogue.parts()[need.part]
        waited = day - need.since
        is_coming = need.source != "new" or need.set_by or floor.shelf.on_order[need.part] > 0
        if is_coming or waited < GIVE_UP_DAYS[part.supply]:
            continue
        if part.wear_class in MADE_CLASSES and rng.random() < 0.6:
            need.source = "made"
            floor.shelf.move(need.part, day, need.qty_pcs, "made", round(0.6 * part.price, 2), owner="shop",
                             note=f"for {need.job.job}")
        else:
            need.source = "salvage"
            floor.shelf.move(need.part, day, need.qty_pcs, "harvested", round(0.35 * part.price, 2), grade="tested",
                             owner="shop", note="from a fellow restorer")
        floor.shelf.set_by[need.part] += need.qty_pcs
        need.set_by = True


def _take(floor, rng, day):
    for need in floor.needs:
        if need.source == "customer":
            need.set_by = True
        elif not need.set_by and floor.shelf.free(need.part) >= need.qty_pcs:
            floor.shelf.set_by[need.part] += need.qty_pcs
            need.set_by = True
        ready = need.reason == "callback" or floor.worked[need.job.index] >= PARTS_SHARE * need.job.hours
        if need.set_by and ready:
            if need.source != "customer":
                floor.shelf.set_by[need.part] -= need.qty_pcs
                floor.shelf.at_hand[need.part] -= need.qty_pcs
                _take_one_too_many(floor, rng, need, day)
            need.taken = day
            need.job.takings.append(need)
    floor.needs = [need for need in floor.needs if need.taken is None]


def _take_one_too_many(floor, rng, need, day):
    is_usual = need.source == "new" and need.reason != "callback" and floor.shelf.free(need.part) >= 1
    if rng.random() < floor.world.habits.returned_share and is_usual and day < floor.world.n_days - 9:
        need.one_back = day + int(rng.integers(1, 8))
        floor.shelf.at_hand[need.part] -= 1
        floor.returns.setdefault(need.one_back, []).append(need.part)


def _count(floor, day):
    on = floor.world.on(day)
    rng = stream(floor.seed, "counts", day)
    n = len(catalogue.parts())
    if (on.month, on.day) == (1, 3):
        which = range(n)
    elif day % 43 == 20:
        weight = floor.shelf.high + 1.0
        which = sorted(int(i) for i in rng.choice(n, size=8, replace=False, p=weight / weight.sum()))
    else:
        return
    for part in which:
        true = int(floor.shelf.at_hand[part])
        seen = true
        if rng.random() < floor.world.habits.count_error_share and true > 0:
            seen = max(0, true + int(rng.choice([-1, 1])) * max(1, round(0.04 * true)))
        floor.counts.append((part, day, seen))
