"""How jobs flow over the bench: when waiting and coming jobs start while places are few, over many runs at once.

Days count from today; what lies behind is negative. A run is one way things may go. Jobs are taken in the order they
were planned for; a job starts when it may, when the bench has a place, and when its scope has one.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import same_length

UNLIMITED = 999  # places where no limit shows
OVERDUE_DAYS = 5.0  # a start this late after its plan waits for a place; less is a matter of days off
LEAST_WAITING_DAYS = 30  # days with jobs waiting that must be seen before they say how many places there are
LEAST_PASSED_STARTS = 5  # starts of other work past a waiting job that show a limit of its own scope


@dataclass(frozen=True)
class PastWork:
    """The course of finished jobs.

    Attributes
    ----------
    scope : ndarray of int, shape (n_past,)
        Scope of each job, from 0.
    duration_days : ndarray of float, shape (n_past,)
        Days from start to delivery, at least 1.
    weight : ndarray of float, shape (n_past,)
        How much each job says of those to come, more than 0.
    taken_share : ndarray of float, shape (n_past, n_days)
        Share of the job's takings of parts up to 0, 1, 2 ... days after its start; rises to 1.
    """

    scope: np.ndarray
    duration_days: np.ndarray
    weight: np.ndarray
    taken_share: np.ndarray

    def of_scope(self, scope, least=4):
        """Rows of a scope's jobs; every row where there are fewer than ``least``."""
        rows = np.flatnonzero(self.scope == scope)
        return rows if rows.size >= least else np.arange(self.scope.size)

    def first_days(self, rows):
        """Days from start to the first taking."""
        return (self.taken_share[rows] <= 1e-12).sum(axis=1).astype(float)

    def since_first(self, rows):
        """Share of takings up to 0, 1, 2 ... days after the first of them, shape (n_rows, n_days)."""
        days = self.first_days(rows).astype(np.int64)[:, None] + np.arange(self.taken_share.shape[1])
        return np.take_along_axis(self.taken_share[rows], np.minimum(days, self.taken_share.shape[1] - 1), axis=1)

    def taken_after(self, rows, days):
        """Share taken within some days of the start (array of the broadcast shape); 0 before it."""
        last = self.taken_share.shape[1] - 1
        place = np.clip(np.floor(np.where(np.isfinite(days), days, -1)), -1, last).astype(np.int64)
        return np.where(place < 0, 0.0, self.taken_share[rows, np.maximum(place, 0)])


@dataclass(frozen=True)
class Queue:
    """Jobs that wait or will come, by run.

    Attributes
    ----------
    scope : ndarray of int, shape (n_runs, n_jobs)
        Scope from 0; -1 where the run has no such job.
    ready_days : ndarray of float, shape (n_runs, n_jobs)
        First day on which the job may start; infinite where it never will.
    order_days : ndarray of float, shape (n_runs, n_jobs)
        Day it is planned for: jobs are taken in this order.
    """

    scope: np.ndarray
    ready_days: np.ndarray
    order_days: np.ndarray


def places_seen(scope, planned_days, start_days, end_days, n_scopes, history_days=730.0):
    """Places on the bench, told by how many jobs were open while others waited.

    Parameters
    ----------
    scope : array_like of int, shape (n_jobs,)
        Scope of each started job, from 0.
    planned_days, start_days, end_days : array_like of float, shape (n_jobs,)
        Planned start (not a number: unknown), start, and delivery (infinite: still open), from today.
    n_scopes : int
        Number of scopes.
    history_days : float
        How far back to look.

    Returns
    -------
    bench : int
        Places for all jobs together; 999 where none shows.
    by_scope : ndarray of int, shape (n_scopes,)
        Places for the jobs of a scope; 999 where none shows: other work must have been started past its waiting jobs
        more often than not.
    turn_days : float
        Days that a place stays empty before the next waiting job, the middle of those seen; 0 where none was seen.

    Raises
    ------
    InvalidParameter
        If lengths differ.

    Notes
    -----
    A job waits on the days from five after its planned start to its real one. The bench is as large as the jobs open
    on nine in ten such days, a scope's part of it as large as its jobs open on the middle one.
    """
    scope, planned, start, end = same_length(
        scope=scope, planned_days=planned_days, start_days=start_days, end_days=end_days)
    due = np.where(np.isnan(planned), np.inf, planned + OVERDUE_DAYS)
    days = np.arange(-float(history_days), 1.0)
    is_open = (start <= days[:, None]) & (end > days[:, None])
    is_waiting = (due < days[:, None]) & (start > days[:, None])
    bench = _level(is_open.sum(axis=1), is_waiting.any(axis=1), 0.9)
    by_scope = np.full(n_scopes, UNLIMITED)
    for place in range(n_scopes):
        own = scope == place
        if _is_passed(due[own], start[own], planned[~own], start[~own], history_days):
            by_scope[place] = _level(is_open[:, own].sum(axis=1), is_waiting[:, own].any(axis=1), 0.5)
    return bench, by_scope, _turn_days(due, start, end)


def _turn_days(due, start, end):
    waited = start[(due < start) & np.isfinite(start)]
    since = waited[:, None] - end
    since = np.where(since >= 0, since, np.inf).min(axis=1, initial=np.inf)
    return float(np.median(since[np.isfinite(since)])) if np.isfinite(since).any() else 0.0


def _level(n_open, is_asked, quantile):
    if is_asked.sum() < LEAST_WAITING_DAYS:
        return UNLIMITED
    return max(int(np.quantile(n_open[is_asked], quantile, method="nearest")), 1)


def _is_passed(due, start, other_planned, other_start, history_days):
    """Whether other jobs, planned later, were mostly started past the waiting ones of a scope."""
    recent = other_start > -history_days
    other_planned, other_start = other_planned[recent, None], other_start[recent, None]
    is_waiting = (due < other_start) & (start > other_start)
    is_passed = is_waiting & (due < other_planned)
    n_passed = is_passed.any(axis=1).sum()
    return n_passed >= LEAST_PASSED_STARTS and n_passed >= is_waiting.any(axis=1).sum() / 2


def start_days(past, queue, free_days, free_scope, places, horizon_days, rng):
    """Start of every waiting and coming job in every run, and the past job whose course it will follow.

    Parameters
    ----------
    past : PastWork
        Finished jobs, at least one.
    queue : Queue
        Jobs to start.
    free_days : array_like of float, shape (n_runs, n_running)
        Days until each running job leaves its place.
    free_scope : array_like of int, shape (n_running,)
        Scope of each running job.
    places : tuple
        Places for all jobs together, places for the jobs of each scope, days that a place stays empty between two:
        as from :func:`places_seen`. Running jobs beyond the places have one all the same.
    horizon_days : float
        Starts later than this are not looked at.
    rng : numpy.random.Generator
        Chooses the courses.

    Returns
    -------
    start : ndarray of float, shape (n_runs, n_jobs)
        Days from today; infinite where the job does not start within the horizon.
    course : ndarray of int, shape (n_runs, n_jobs)
        Row of ``past``.

    Raises
    ------
    InvalidParameter
        If there is no finished job, or shapes differ.
    """
    if past.scope.size == 0:
        raise InvalidParameter("past holds no finished job; wanted at least one whose course others may follow.")
    bench, by_scope, turn_days = places
    free = require.not_negative("free_days", free_days) + turn_days
    course = _courses(past, queue.scope, len(by_scope), rng)
    start = np.full(queue.scope.shape, np.inf)
    whole = _places(free, np.ones(free.shape[1], dtype=bool), bench, queue.scope.shape[1])
    own = [_places(free, np.asarray(free_scope) == place, limit, queue.scope.shape[1])
           for place, limit in enumerate(by_scope)]
    runs = np.arange(len(start))
    for column in np.argsort(queue.order_days, axis=1, kind="stable").T:
        scope, ready = queue.scope[runs, column], queue.ready_days[runs, column]
        is_coming = np.flatnonzero((scope >= 0) & (ready <= horizon_days))
        if is_coming.size:
            at = is_coming, column[is_coming]
            start[at] = _seat(whole, own, is_coming, scope[is_coming], ready[is_coming],
                              past.duration_days[course[at]] + turn_days)
    return np.where(start <= horizon_days, start, np.inf), course


def _courses(past, scope, n_scopes, rng):
    course = np.zeros(scope.shape, dtype=np.int64)
    for place in range(n_scopes):
        rows, is_here = past.of_scope(place), scope == place
        weight = past.weight[rows] / past.weight[rows].sum()
        course[is_here] = rng.choice(rows, is_here.sum(), p=weight)
    return course


def _places(free, is_here, limit, n_jobs):
    """Days on which each place falls free; none where the limit can never bind."""
    here = free[:, is_here]
    if limit >= here.shape[1] + n_jobs:
        return None
    return np.pad(here, ((0, 0), (0, max(int(limit) - here.shape[1], 0))))


def _seat(whole, own, runs, scope, ready, duration):
    """Start one job in each of some runs and take up its places."""
    start = ready.copy()
    groups = [(whole, np.arange(runs.size))] + [(places, np.flatnonzero(scope == s)) for s, places in enumerate(own)]
    groups = [(places, rows) for places, rows in groups if places is not None and rows.size]
    for places, rows in groups:
        start[rows] = np.maximum(start[rows], places[runs[rows]].min(axis=1))
    for places, rows in groups:
        free = places[runs[rows]]
        # The place that fell free last, so that those idle for longer stay open for jobs that may start sooner.
        best = np.where(free <= start[rows, None], free, -np.inf).argmax(axis=1)
        places[runs[rows], best] = start[rows] + duration[rows]
    return start


def counts_in_window(past, start, course, days):
    """Jobs whose use of a part falls within some days, in each run: mean and variance over runs and over chance.

    Parameters
    ----------
    past : PastWork
    start, course : ndarray, shape (n_runs, n_jobs)
        From :func:`start_days`.
    days : float
        Window from today.

    Returns
    -------
    mean, variance : float
        Each job counts with the share of its takings that falls in the window, by chance.
    share : ndarray of float, shape (n_jobs,)
        Mean share of each job over the runs.
    """
    taken = past.taken_after(course, days - start)
    total = taken.sum(axis=1)
    return float(total.mean()), float((taken * (1 - taken)).sum(axis=1).mean() + total.var()), taken.mean(axis=0)
