"""The shop day by day: jobs take their parts at teardown and wait for what is missing; orders go out and come in.

Many runs side by side, each with jobs and lead times of its own. Two rules are compared fairly by replaying them on
the same jobs and the same lead times (common random numbers).
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require


@dataclass(frozen=True)
class ReplayJobs:
    """Jobs of all runs; days count from the first of the replay.

    Attributes
    ----------
    run, kind : ndarray of int, shape (n_jobs,)
        Run and kind (family and scope) of each job, from 0.
    known_day, planned_day, teardown_day : ndarray of int, shape (n_jobs,)
        Day from which the shop knows of the job, day it is planned for, and day on which its needs show.
    need_pcs : ndarray of int, shape (n_jobs, n_parts)
        Pieces it needs.
    """

    run: np.ndarray
    kind: np.ndarray
    known_day: np.ndarray
    planned_day: np.ndarray
    teardown_day: np.ndarray
    need_pcs: np.ndarray


@dataclass(frozen=True)
class Supply:
    """Where parts come from.

    Attributes
    ----------
    vendor, pack_pcs : ndarray of int, shape (n_parts,)
        Vendor of each part, from 0, and pieces in a pack.
    unit_price : ndarray of float, shape (n_parts,)
        Money a piece.
    lead_days : ndarray of int, shape (n_runs, n_vendors, n_reviews)
        Days that an order sent at each review takes, 1 or more; the same for every rule.
    freight_amount, freight_free_over : ndarray of float, shape (n_vendors,)
        Money an order, and worth of goods from which it is none (infinite: never).
    """

    vendor: np.ndarray
    pack_pcs: np.ndarray
    unit_price: np.ndarray
    lead_days: np.ndarray
    freight_amount: np.ndarray
    freight_free_over: np.ndarray


@dataclass(frozen=True)
class KnownJobs:
    """What the shop knows on a day of jobs that have not been torn down.

    Attributes
    ----------
    run, kind : ndarray of int, shape (n_known,)
        Run and kind of each job.
    ahead_days : ndarray of int, shape (n_known,)
        Days from now to the day it is planned for; negative where that day has passed.
    """

    run: np.ndarray
    kind: np.ndarray
    ahead_days: np.ndarray


class ReorderRule(Protocol):
    """What a rule must tell of itself; see :mod:`pipeline.kernels.reorder_rules`."""

    review_days: int
    opening_pcs: np.ndarray

    def wanted_pcs(self, position_pcs, known):
        """Pieces to order, before packs: ndarray, shape (n_runs, n_parts).

        Parameters
        ----------
        position_pcs : ndarray of int, shape (n_runs, n_parts)
            On hand and on order, less what waiting jobs are owed.
        known : KnownJobs
            Jobs to come.
        """


@dataclass(frozen=True)
class Replay:
    """What came of it.

    Attributes
    ----------
    wait_days : ndarray of float, shape (n_jobs,)
        Days each job waited for its last part; 0: never. Not a number where it still waits on the last day.
    shelf_amount : ndarray of float, shape (n_runs,)
        Average worth of the shelf after the warm-up.
    orders, freight_amount : ndarray of float, shape (n_runs,)
        Orders sent and freight paid after the warm-up.
    shelf_pcs, on_order_pcs, owed_pcs, received_pcs : ndarray of int, shape (n_runs, n_parts)
        On the last day; ``received_pcs`` are all that came in, the opening shelf too.
    found_pcs : ndarray of int32, shape (n_jobs, n_parts), or None
        What lay on the shelf when each job was torn down, before it took anything but after those served
        before it on the same day; only where asked for.
    """

    wait_days: np.ndarray
    shelf_amount: np.ndarray
    orders: np.ndarray
    freight_amount: np.ndarray
    shelf_pcs: np.ndarray
    on_order_pcs: np.ndarray
    owed_pcs: np.ndarray
    received_pcs: np.ndarray
    found_pcs: np.ndarray | None = None


def replay(jobs, supply, rule, n_days, warm_days=0, keep_shelves=False):
    """Run the shop under a reorder rule.

    Parameters
    ----------
    jobs : ReplayJobs
        Jobs of all runs, in any order; those after the last day count for nothing but what a rule makes of them.
    supply : Supply
        Vendors, prices and lead times.
    rule : ReorderRule
        Says at every review what to order; the first is on day 0.
    n_days : int
        Days from 0.
    warm_days : int
        Days before what is held and spent counts.
    keep_shelves : bool
        Whether to keep what each job found on the shelf.

    Returns
    -------
    Replay
        The shelf begins with the rule's opening pieces.

    Raises
    ------
    InvalidParameter
        If shapes do not fit, a pack holds less than one piece, or a lead time is less than a day.

    Notes
    -----
    On each day orders come in, jobs that wait take what they lack in the order of their teardown, jobs of the day
    take theirs, then, on a review day, orders go out: whole packs, one order a vendor.
    """
    shop = _Shop(jobs, supply, rule, int(n_days), keep_shelves)
    for day in range(int(n_days)):
        shop.receive(day)
        shop.tear_down(day)
        if day % rule.review_days == 0:
            shop.order(day, day >= warm_days)
        if day >= warm_days:
            shop.value += shop.shelf @ supply.unit_price
    counted = max(int(n_days) - int(warm_days), 1)
    return Replay(shop.wait, shop.value / counted, shop.orders, shop.freight, shop.shelf, shop.on_order,
                  shop.owed_by_run(), shop.received, shop.found)


class _Shop:
    """State of all runs."""

    def __init__(self, jobs, supply, rule, n_days, keep_shelves):
        n_runs, n_vendors, n_reviews = supply.lead_days.shape
        n_parts = supply.vendor.size
        _check(jobs, supply, rule, n_days)
        self.jobs, self.supply, self.rule = jobs, supply, rule
        self.shelf = np.tile(np.asarray(rule.opening_pcs, dtype=np.int64), (n_runs, 1)).clip(min=0)
        self.received, self.on_order = self.shelf.copy(), np.zeros((n_runs, n_parts), dtype=np.int64)
        self.owed = np.zeros(jobs.need_pcs.shape, dtype=np.int64)
        self.wait = np.full(jobs.run.size, np.nan)
        self.waiting = np.zeros(0, dtype=np.int64)  # jobs, by teardown
        self.value, self.orders, self.freight = (np.zeros(n_runs) for _ in range(3))
        self.found = np.zeros(jobs.need_pcs.shape, dtype=np.int32) if keep_shelves else None
        self.to_come = {}  # day: list of (runs, parts, pieces)
        self.by_teardown = np.argsort(jobs.teardown_day, kind="stable")
        self.next = int(np.searchsorted(jobs.teardown_day[self.by_teardown], 0))

    def receive(self, day):
        """Take in what is due, and give it to the jobs that wait, the first torn down first."""
        deliveries = self.to_come.pop(day, [])
        for run, part, pieces in deliveries:
            np.add.at(self.shelf, (run, part), pieces)
            np.add.at(self.received, (run, part), pieces)
            np.subtract.at(self.on_order, (run, part), pieces)
        if deliveries and self.waiting.size:
            self._serve(self.waiting, day)

    def tear_down(self, day):
        """Let the day's jobs take what is there."""
        until = self.next
        order, teardown = self.by_teardown, self.jobs.teardown_day
        while until < order.size and teardown[order[until]] <= day:
            until += 1
        new, self.next = order[self.next: until], until
        if new.size:
            self.owed[new] = self.jobs.need_pcs[new]
            self.waiting = np.concatenate([self.waiting, new])
            self._serve(new, day, is_new=True)

    def _serve(self, jobs, day, is_new=False):
        """Give jobs what they lack as far as it lies there; of a run's jobs one after the other."""
        run = self.jobs.run[jobs]
        rank = _rank_within(run)
        for place in range(rank.max(initial=-1) + 1):
            one = jobs[rank == place]  # one of each run
            there = self.jobs.run[one]
            if is_new and self.found is not None:
                self.found[one] = self.shelf[there]  # what those before it on the same day left
            given = np.minimum(self.owed[one], self.shelf[there])
            self.owed[one] -= given
            self.shelf[there] -= given
        is_done = ~self.owed[self.waiting].any(axis=1)
        done = self.waiting[is_done]
        self.wait[done] = day - self.jobs.teardown_day[done]
        self.waiting = self.waiting[~is_done]

    def order(self, day, is_counted):
        """Send the orders of a review."""
        supply = self.supply
        position = self.shelf + self.on_order - self.owed_by_run()
        short = self.rule.wanted_pcs(position, self._known(day))
        packs = np.ceil(np.maximum(short, 0) / supply.pack_pcs - 1e-9).astype(np.int64)
        run, part = np.nonzero(packs)
        pieces, vendor = packs[run, part] * supply.pack_pcs[part], supply.vendor[part]
        np.add.at(self.on_order, (run, part), pieces)
        due = day + supply.lead_days[run, vendor, day // self.rule.review_days]
        for when in np.unique(due):
            here = due == when
            self.to_come.setdefault(int(when), []).append((run[here], part[here], pieces[here]))
        if is_counted:
            goods = np.zeros(supply.lead_days.shape[:2])
            np.add.at(goods, (run, vendor), pieces * supply.unit_price[part])
            sent = np.zeros(goods.shape, dtype=bool)
            sent[run, vendor] = True
            self.orders += sent.sum(axis=1)
            self.freight += (sent & (goods < supply.freight_free_over)) @ supply.freight_amount

    def owed_by_run(self):
        """Pieces that the waiting jobs of each run lack."""
        owed = np.zeros_like(self.shelf)
        np.add.at(owed, self.jobs.run[self.waiting], self.owed[self.waiting])
        return owed

    def _known(self, day):
        """Jobs on the books that have not been torn down."""
        jobs, open_jobs = self.jobs, self.by_teardown[self.next:]
        known = open_jobs[jobs.known_day[open_jobs] <= day]
        return KnownJobs(jobs.run[known], jobs.kind[known], jobs.planned_day[known] - day)


def _rank_within(group):
    """Place of each entry among those of its group, in the order given."""
    order = np.argsort(group, kind="stable")
    first = np.searchsorted(group[order], group[order])
    rank = np.empty(group.size, dtype=np.int64)
    rank[order] = np.arange(group.size) - first
    return rank


def _check(jobs, supply, rule, n_days):
    n_runs, n_vendors, n_reviews = supply.lead_days.shape
    n_jobs, n_parts = jobs.need_pcs.shape
    sizes = {"run": jobs.run, "kind": jobs.kind, "known_day": jobs.known_day, "planned_day": jobs.planned_day,
             "teardown_day": jobs.teardown_day}
    for name, values in sizes.items():
        if values.shape != (n_jobs,):
            raise InvalidParameter(f"{name} has shape {values.shape}; wanted one for each of {n_jobs} jobs.")
    for name, values in {"vendor": supply.vendor, "pack_pcs": supply.pack_pcs, "unit_price": supply.unit_price,
                         "opening_pcs": rule.opening_pcs}.items():
        if np.shape(values) != (n_parts,):
            raise InvalidParameter(f"{name} has shape {np.shape(values)}; wanted one for each of {n_parts} parts.")
    require.positive("pack_pcs", supply.pack_pcs)
    require.positive("lead_days", supply.lead_days)
    if n_reviews * rule.review_days < n_days:
        raise InvalidParameter(f"lead_days holds {n_reviews} reviews; wanted one every {rule.review_days} of "
                               f"{n_days} days.")
    if n_jobs and not (0 <= jobs.run.min() and jobs.run.max() < n_runs):
        raise InvalidParameter(f"run goes from {jobs.run.min()} to {jobs.run.max()}; wanted 0 to {n_runs - 1}.")
