"""Starts of the jobs on the books and of those still to be booked, drawn over many runs of the bench."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import job_arrivals, job_flow, job_pipeline
from pipeline.models.bench_work import EARLY_QUANTILE
from pipeline.store import read

HORIZON_DAYS = 400.0
N_RUNS = 300
HALF_LIFE_DAYS = 730.0
LOST_JOBS, KEPT_JOBS = 1.0, 30.0  # belief about cancelled bookings before any is looked at: one in 31
TURNED_DOWN, TAKEN_ON = 1.0, 2.0  # the same for enquiries: one in three comes to nothing


@dataclass(frozen=True)
class BenchFlow:
    """Runs over the bench.

    Attributes
    ----------
    jobs : pandas.Index
        Known jobs that have not begun, in the first columns of the arrays.
    scopes : list of str
        Names behind the scope index.
    scope, start_days, course : numpy.ndarray, shape (n_runs, n_jobs)
        Scope, start from today (infinite: not within the horizon) and row of past work, known jobs first.
    rate_doubt : numpy.ndarray of float, shape (n_scopes,)
        Squared coefficient of variation of each scope's rate of bookings: in the counts already.
    """

    jobs: pd.Index
    scopes: list
    scope: np.ndarray
    start_days: np.ndarray
    course: np.ndarray
    rate_doubt: np.ndarray

    def known_share(self, jobs, past, days):
        """Share of the takings of some known jobs that falls in the window (ndarray, the order of ``jobs``)."""
        place = self.jobs.get_indexer(jobs)
        return job_flow.counts_in_window(past, self.start_days[:, place], self.course[:, place], days)[2]

    def unbooked(self, past, days):
        """Jobs not yet booked whose use falls in the window, by scope.

        Returns
        -------
        pandas.DataFrame
            Index scope; ``mean``, ``excess`` (variance over mean, less 1), ``rate_doubt``.
        """
        new = slice(len(self.jobs), None)
        rows = []
        for place in range(len(self.scopes)):
            start = np.where(self.scope[:, new] == place, self.start_days[:, new], np.inf)
            mean, variance, _ = job_flow.counts_in_window(past, start, self.course[:, new], days)
            rows.append((mean, variance / mean - 1 if mean > 0 else 0.0, self.rate_doubt[place]))
        return pd.DataFrame(rows, index=self.scopes, columns=["mean", "excess", "rate_doubt"])


def known_jobs(connection, waiting, work, today):
    """Jobs on the books with their stage, and the chance that they come about.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    waiting : pandas.DataFrame
        View ``running_and_booked_jobs`` of the same store.
    work : pipeline.models.bench_work.BenchWork
        The course of past work.
    today : datetime.date

    Returns
    -------
    pandas.DataFrame
        As ``JobPipeline.known``; ``elapsed_days`` counts from the first taking where ``is_begun``, else from the start
        of a running job; from the planned start of another where ``has_plan``, else from its booking.
    """
    now = pd.Timestamp(today)
    # An enquiry without a planned start says nothing of when: it is left to the stream of bookings.
    asked = read.query(connection, "from open_enquiries where planned_start_on is not null order by job")
    asked = asked.assign(status="enquiry")
    known = pd.concat([waiting, asked], ignore_index=True) if len(asked) else waiting.copy()
    known["stage"] = known["status"].replace({"in_progress": "running"})
    since = known["planned_start_on"].fillna(known["booked_on"])
    known["is_begun"] = known["first_used_on"].notna() & (known["stage"] == "running")
    since = since.where(known["stage"] != "running", known["first_used_on"].fillna(known["started_on"]))
    elapsed = (now - pd.to_datetime(since)).dt.days.fillna(0).to_numpy(dtype=float)
    known["elapsed_days"] = np.where(known["stage"] == "running", np.maximum(elapsed, 0), elapsed)
    known["has_plan"] = known["planned_start_on"].notna()
    # Only what the shop ever does is followed: an enquiry in a scope never taken on has nothing to go by.
    known = known[known["scope"].isin(work.scopes)].reset_index(drop=True)
    known["come_share"] = _come_share(connection, work, known)
    return known[["job", "family", "scope", "stage", "is_begun", "elapsed_days", "has_plan", "come_share"]]


def _come_share(connection, work, known):
    (taken_on, turned_down, lost, finished), = read.rows(
        connection, "select taken_on, turned_down, lost, finished from enquiry_endings")
    lost_share = (lost + LOST_JOBS) / (lost + finished + LOST_JOBS + KEPT_JOBS)
    taken_share = (taken_on + TAKEN_ON) / (taken_on + turned_down + TAKEN_ON + TURNED_DOWN)
    share = np.ones(len(known))
    for place, row in enumerate(known.itertuples(index=False)):
        if row.stage != "running":
            waits = work.days_seen("slip_days" if row.has_plan else "wait_days", work.scopes.index(row.scope))
            share[place] = job_arrivals.come_share(waits, row.elapsed_days, lost_share)
        if row.stage == "enquiry":
            share[place] = taken_share * (1 - lost_share)
    return share


def simulate(work, known, bookings, booked_ages, rng):
    """Draw the runs.

    Parameters
    ----------
    work : pipeline.models.bench_work.BenchWork
    known : pandas.DataFrame
        From :func:`known_jobs`.
    bookings : pandas.DataFrame
        As :attr:`pipeline.models.job_pipeline.JobPipeline.bookings`.
    booked_ages : numpy.ndarray of float
        Days since each booking so far.
    rng : numpy.random.Generator

    Returns
    -------
    BenchFlow
    """
    running = known[known["stage"] == "running"]
    waiting = known[known["stage"] != "running"].reset_index(drop=True)
    scope, booked, rate_doubt = _arrivals(work, waiting, bookings, booked_ages, rng)
    coming = _coming(work, scope, booked, rng)
    queue = job_flow.Queue(*(np.concatenate(pair, axis=1) for pair in zip(_waiting(work, waiting, rng), coming,
                                                                           strict=True)))
    free_scope = pd.Index(work.scopes).get_indexer(running["scope"])
    start, course = job_flow.start_days(work.past, queue, _free_days(work, running, free_scope, rng), free_scope,
                                        work.places, HORIZON_DAYS, rng)
    return BenchFlow(pd.Index(waiting["job"]), work.scopes, queue.scope, start, course, rate_doubt)


def _free_days(work, running, free_scope, rng):
    free = np.ones((N_RUNS, len(running)))
    for here, rows, is_begun in running_groups(work, running, free_scope):
        first, duration = work.past.first_days(rows), work.past.duration_days[rows]
        elapsed = running["elapsed_days"].to_numpy(dtype=float)[here]
        span, whole = (np.maximum(duration - first, 0),) * 2 if is_begun else (first, duration)
        free[:, here] = job_pipeline.days_left(elapsed, span, whole, work.past.weight[rows], N_RUNS, rng)
    return free


def running_groups(work, running, scope_index):
    """Yield the running jobs that stand alike: rows, the past jobs of their scope, whether parts were taken."""
    is_begun = running["is_begun"].to_numpy(dtype=bool)
    for place in np.unique(scope_index):
        for begun in (False, True):
            here = np.flatnonzero((scope_index == place) & (is_begun == begun))
            if here.size:
                yield here, work.past.of_scope(place), begun


def running_share(work, running, days):
    """Shares of running jobs' takings that fall in the window, and that lie behind.

    Parameters
    ----------
    work : pipeline.models.bench_work.BenchWork
    running : pandas.DataFrame
        Rows of ``JobPipeline.known`` in the stage ``running``.
    days : float
        Window from today.

    Returns
    -------
    share, done : numpy.ndarray of float, shape (n_running,)
        A job that has taken parts is compared with past ones from their first taking on; one that has not, from the
        start of work on, with those that had taken none by then either.
    """
    share, done = np.zeros(len(running)), np.zeros(len(running))
    past, scope_index = work.past, pd.Index(work.scopes).get_indexer(running["scope"])
    for here, rows, is_begun in running_groups(work, running, scope_index):
        first, elapsed = past.first_days(rows), running["elapsed_days"].to_numpy(dtype=float)[here]
        taken, span = past.taken_share[rows], first
        if is_begun:
            taken, span = past.since_first(rows), np.maximum(past.duration_days[rows] - first, 0)
        share[here], done[here] = job_pipeline.work_to_come(elapsed, float(days), taken, span, past.weight[rows])
    return share, done


def _waiting(work, waiting, rng):
    """Scope, first possible start and order of the jobs on the books."""
    shape = N_RUNS, len(waiting)
    ready, order = np.full(shape, np.inf), np.zeros(shape)
    index = pd.Index(work.scopes).get_indexer(waiting["scope"])
    for place, row in enumerate(waiting.itertuples(index=False)):
        ready[:, place], order[:, place] = _ready(work, index[place], row, rng)
    is_lost = rng.random(shape) >= waiting["come_share"].to_numpy(dtype=float)
    return np.broadcast_to(index, shape), np.where(is_lost, np.inf, ready), order


def _ready(work, scope_index, row, rng):
    slips = work.days_seen("slip_days", scope_index)
    if not row.has_plan:
        left = job_arrivals.draw_waits(work.days_seen("wait_days", scope_index), row.elapsed_days, N_RUNS, rng)
        return left, left
    if work.is_limited and slips.size:
        return max(_early(slips) - row.elapsed_days, 1.0), -row.elapsed_days
    return job_arrivals.draw_waits(slips, row.elapsed_days, N_RUNS, rng), -row.elapsed_days


def _early(slips):
    return float(np.quantile(slips, EARLY_QUANTILE))


def _arrivals(work, waiting, bookings, booked_ages, rng):
    """Scope and day of the bookings to be made, and how much doubt about their rates is in them."""
    alive = bookings["alive_share"]
    each = pd.DataFrame({"mean": alive * bookings["shape"] / bookings["rate_days"],
                         "variance": alive**2 * bookings["shape"] / bookings["rate_days"] ** 2})
    mean, variance = (told.reindex(work.scopes) for _, told in each.groupby(bookings["scope"]).sum().items())
    mean, variance = mean.to_numpy(dtype=float), variance.to_numpy(dtype=float)
    rate = rng.gamma(mean**2 / variance, variance / mean, (N_RUNS, len(mean)))
    trend = np.zeros(N_RUNS)
    if booked_ages.size:
        history = max(booked_ages.max(), 1.0)
        trend = rng.normal(*job_arrivals.log_trend(booked_ages, history), N_RUNS)
        # The rate is that of the middle of the weighted record: it has moved on since.
        middle = job_arrivals.mean_age_days(history, HALF_LIFE_DAYS)
        rate *= np.exp(trend * middle / job_arrivals.DAYS_A_YEAR)[:, None]
    # The bookings of the first days are those of the enquiries at hand.
    asked = waiting.loc[waiting["stage"] == "enquiry", "come_share"].sum()
    first = min(asked / mean.sum(), HORIZON_DAYS) if mean.sum() > 0 else 0.0
    return *job_arrivals.draw_arrivals(rate, trend, first, HORIZON_DAYS, rng), variance / mean**2


def _coming(work, scope, booked, rng):
    """Scope, first possible start and order of jobs to be booked."""
    ready, order = np.full(scope.shape, np.inf), np.full(scope.shape, np.inf)
    for place in range(len(work.scopes)):
        here = scope == place
        plans, waits = work.days_seen("plan_days", place), work.days_seen("wait_days", place)
        slips = work.days_seen("slip_days", place)
        if plans.size and slips.size:
            order[here] = booked[here] + rng.choice(plans, here.sum())
            slip = _early(slips) if work.is_limited else rng.choice(slips, here.sum())
            ready[here] = np.maximum(order[here] + slip, booked[here])
        else:
            wait = rng.choice(np.maximum(waits, 0), here.sum()) if waits.size else 0.0
            ready[here] = order[here] = booked[here] + wait
    return scope, ready, order
