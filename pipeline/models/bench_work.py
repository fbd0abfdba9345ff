"""The course of work on the bench, from the store: how long jobs run, when they take parts, how many places it has."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import job_flow
from pipeline.kernels.job_pipeline import recency_weight
from pipeline.store import read

COURSE_DAYS = 400  # days of a job's course that are told apart; what comes later counts as the last of them
COURSE_HALF_LIFE_DAYS = 730.0
NO_DELAY_DAYS = 30.0  # from booking to use, where no record has both days
EARLY_QUANTILE = 0.15  # of the days from planned to real start: what a job that waits for no place shows


@dataclass(frozen=True)
class BenchWork:
    """What past jobs show of the way over the bench.

    Attributes
    ----------
    scopes : list of str
        Scopes of the shop's jobs, in the order of every scope index.
    past : pipeline.kernels.job_flow.PastWork
        Finished jobs.
    places : tuple
        Places for all jobs together and (numpy.ndarray of int) for each scope's, 999 where no limit shows; days that a
        place stays empty between two jobs.
    slips : pandas.DataFrame
        scope_index, slip_days (planned to real start), wait_days (booking to start), plan_days (booking to planned
        start), missing where a day is not known; one row per started or booked job.
    notes : tuple of str
        What had to be assumed.
    """

    scopes: list
    past: job_flow.PastWork
    places: tuple
    slips: pd.DataFrame
    notes: tuple

    @property
    def is_limited(self):
        """Whether jobs were seen to wait for a place."""
        return min(self.places[0], int(self.places[1].min(initial=job_flow.UNLIMITED))) < job_flow.UNLIMITED

    def days_seen(self, column, scope_index, least=4):
        """Values of a column of ``slips`` for one scope, for all where fewer than ``least`` are known."""
        days = self.slips[column].to_numpy(dtype=float)
        is_known = ~np.isnan(days)
        is_own = is_known & (self.slips["scope_index"].to_numpy() == scope_index)
        return days[is_own if is_own.sum() >= least else is_known]


@dataclass(frozen=True)
class JobRecords:
    """What the records say of jobs, read once for all that rests on it.

    Attributes
    ----------
    bookings : pandas.DataFrame
        View ``job_bookings``.
    waiting : pandas.DataFrame
        View ``running_and_booked_jobs``.
    takings : pandas.DataFrame
        View ``job_delays``.
    """

    bookings: pd.DataFrame
    waiting: pd.DataFrame
    takings: pd.DataFrame


def records(connection):
    """Read the :class:`JobRecords` of an opened store."""
    return JobRecords(read.query(connection, "from job_bookings order by job"),
                      read.query(connection, "from running_and_booked_jobs order by job"),
                      read.query(connection, "from job_delays order by job, used_on"))


def fit(connection, told, today):
    """Learn the course of past work.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    told : JobRecords
        Of the same store.
    today : datetime.date
        Day from which everything is counted.

    Returns
    -------
    BenchWork
        Where no job says when it took parts, one stands in that takes them all 30 days after its start.
    """
    today = pd.Timestamp(today)
    scopes = sorted(told.bookings["scope"].unique())
    finished = _finished(connection)
    jobs = pd.concat([finished, told.waiting], ignore_index=True)
    jobs = jobs.drop(columns="booked_on").merge(told.bookings[["job", "booked_on"]], on="job", how="left")
    jobs["scope_index"] = pd.Index(scopes).get_indexer(jobs["scope"])
    past, notes = _past(told.takings, jobs[: len(finished)], scopes, today)
    return BenchWork(scopes, past, _places(jobs, len(scopes), today), _slips(jobs), notes)


def _finished(connection):
    """Delivered jobs with the day their work began and ended, as well as the records tell."""
    return read.query(connection, """
        select job, scope, booked_on, planned_start_on, started_on, greatest(delivered_on, started_on) as delivered_on
        from delivered_jobs where started_on is not null order by job""")


def _past(takings, finished, scopes, today):
    takings = takings[takings["start_days"].notna()]
    notes = tuple(f"no {scope} job says when it took parts: {NO_DELAY_DAYS:.0f} days from booking assumed"
                  for scope in scopes if takings.empty)
    place = pd.Index(finished["job"]).get_indexer(takings["job"])
    takings = takings[place >= 0]
    if takings.empty:
        taken = (np.arange(COURSE_DAYS) >= NO_DELAY_DAYS).astype(float)[None]
        return job_flow.PastWork(np.zeros(1, dtype=np.int64), np.full(1, NO_DELAY_DAYS), np.ones(1), taken), notes
    day = np.clip(takings["start_days"].to_numpy(dtype=float), 0, COURSE_DAYS - 1).astype(np.int64)
    taken = np.zeros((len(finished), COURSE_DAYS))
    np.add.at(taken, (place[place >= 0], day), takings["weight_share"].to_numpy(dtype=float))
    has_taken = taken.sum(axis=1) > 0
    finished, taken = finished[has_taken], np.cumsum(taken[has_taken], axis=1)
    duration = _days(finished["delivered_on"], finished["started_on"])
    taken = np.minimum(taken / taken[:, -1:], 1.0)
    last = (taken < 1 - 1e-9).sum(axis=1) + 1.0  # a job whose delivery has no day ends with its takings
    duration = np.where(np.isnan(duration), last, np.maximum(duration, 1.0))
    age = np.maximum(_days(pd.Series(today, finished.index), finished["started_on"]), 0)
    return job_flow.PastWork(finished["scope_index"].to_numpy(), duration, recency_weight(age, COURSE_HALF_LIFE_DAYS),
                             taken), notes


def _places(jobs, n_scopes, today):
    started = jobs.dropna(subset=["started_on"])
    now = pd.Series(today, started.index)
    # A delivered job whose delivery has no day leaves with its start: it says nothing about places.
    end = np.where(started["status"].isna(), _days(started["delivered_on"].fillna(started["started_on"]), now), np.inf)
    return job_flow.places_seen(started["scope_index"].to_numpy(), _days(started["planned_start_on"], now),
                                _days(started["started_on"], now), end, n_scopes)


def _slips(jobs):
    made = {"slip_days": ("started_on", "planned_start_on"), "wait_days": ("started_on", "booked_on"),
            "plan_days": ("planned_start_on", "booked_on")}
    return jobs[["scope_index"]].assign(**{name: _days(jobs[end], jobs[start]) for name, (end, start) in made.items()})


def _days(end, start):
    """Days from one column of days to another (ndarray of float); not a number where either is unknown."""
    return (pd.to_datetime(end) - pd.to_datetime(start)).dt.days.to_numpy(dtype=float)
