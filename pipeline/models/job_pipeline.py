"""Jobs to come: running and booked ones with the chance that their use of parts falls in a window, and bookings."""

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.errors import InvalidParameter
from pipeline.kernels import compound, delays, discrete, job_pipeline
from pipeline.store import read

HALF_LIFE_DAYS = 730.0  # recent bookings weigh more: half after two years
DELAY_HALF_LIFE_DAYS = 365.0  # a queue comes and goes faster than the trade changes
LEAST_HISTORY_DAYS = 182.0  # a shorter history is taken to be this long: two jobs in a week are no yearly hundred
LEAST_JOBS = 8  # jobs of a scope that must show a delay before the scope is asked alone
NO_DELAY_DAYS = 30.0  # from booking to use, where no record has both days
SOURCES = ("all", "known", "unbooked")


@dataclass(frozen=True)
class JobPipeline:
    """Jobs of the shop still to come, as of one day.

    Attributes
    ----------
    today : datetime.date
        Day from which windows run.
    known : pandas.DataFrame
        Running and booked jobs: job, family, scope, ``clock`` (which delay it is on: ``booking_days``,
        ``planned_days``, ``start_days`` or ``first_days``), ``elapsed_days`` on that clock.
    taken : pandas.DataFrame
        job, part of what known jobs have taken already.
    bookings : pandas.DataFrame
        One row per family and scope: ``bookings`` counted, ``shape`` and ``rate_days`` of the gamma rate per day.
    delays : dict
        (scope, clock) to :class:`pipeline.kernels.delays.Delay`.
    takings : pandas.DataFrame
        Takings of past jobs, for the work still before running ones (view ``job_delays``).
    notes : tuple of str
        What had to be assumed.
    """

    today: datetime.date
    known: pd.DataFrame
    taken: pd.DataFrame
    bookings: pd.DataFrame
    delays: dict
    takings: pd.DataFrame
    notes: tuple

    def known_share(self, days):
        """Return (share in the window, share already done) of each known job, in the rows of ``known``."""
        share, done = np.zeros(len(self.known)), np.zeros(len(self.known))
        for (scope, clock), jobs in self.known.reset_index(drop=True).groupby(["scope", "clock"]):
            place, elapsed = jobs.index.to_numpy(), jobs["elapsed_days"].to_numpy(dtype=float)
            if clock == "first_days":
                share[place], done[place] = _work_to_come(self.takings, scope, elapsed, days)
            else:
                share[place] = delays.window_share(self.delays[scope, clock], elapsed, days)
        return share, done

    def unbooked(self, days):
        """Return ``bookings`` with ``unbooked_shape``, ``unbooked_scale``: gamma mean of new jobs in the window."""
        exposure = {scope: float(delays.exposure_days(self.delays[scope, "booking_days"], float(days)))
                    for scope in self.bookings["scope"].unique()}
        scale = self.bookings["scope"].map(exposure).astype(float) / self.bookings["rate_days"]
        return self.bookings.assign(unbooked_shape=self.bookings["shape"], unbooked_scale=scale)

    def expected_jobs(self, days, source="all"):
        """Jobs whose use of parts falls in the window, by family and scope.

        Parameters
        ----------
        days : float
            Length of the window from today.
        source : {"all", "known", "unbooked"}
            Which jobs to count.

        Returns
        -------
        pandas.DataFrame
            family, scope, known_jobs (on the books or running), expected_jobs, low_jobs, high_jobs (80 % interval).

        Raises
        ------
        InvalidParameter
            If the window or the source is not valid.
        """
        check_window(days, source)
        share, _ = self.known_share(days)
        streams = self.unbooked(days)
        rows = []
        for family, scope, shape, scale in streams[["family", "scope", "unbooked_shape", "unbooked_scale"]].itertuples(
                index=False):
            is_here = ((self.known["family"] == family) & (self.known["scope"] == scope)).to_numpy()
            known = share[is_here] if source != "unbooked" else np.zeros(0)
            pmf = compound.job_count_pmf(known, shape if source != "known" else 0.0, scale)
            low, high = discrete.quantiles(pmf, [0.1, 0.9])
            rows.append((family, scope, int(is_here.sum()), float(discrete.mean(pmf)), int(low), int(high)))
        return pd.DataFrame(rows, columns=["family", "scope", "known_jobs", "expected_jobs", "low_jobs", "high_jobs"])


def fit(connection, today):
    """Learn the pipeline of jobs from the store.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    today : datetime.date
        Day from which windows run; bookings after it are not counted.

    Returns
    -------
    JobPipeline
        With no rows where the shop has no job.
    """
    takings = read.query(connection, "from job_delays order by job, used_on")
    jobs = read.query(connection, "from job_bookings order by job")
    waiting = read.query(connection, "from running_and_booked_jobs order by job")
    scopes = sorted(jobs["scope"].unique())
    clocks, notes = _clocks(takings, waiting, scopes, pd.Timestamp(today))
    known = _known(waiting, clocks, pd.Timestamp(today))
    taken = read.query(connection, """
        select job, part from job_use where job in (select job from running_and_booked_jobs) order by job, part""")
    bookings, more = _bookings(jobs, scopes, pd.Timestamp(today))
    return JobPipeline(today, known, taken, bookings, clocks, takings, (*notes, *more))


def _clocks(takings, waiting, scopes, today):
    """Delay of each scope on each clock, and what had to be assumed."""
    found, notes = {}, []
    for scope in scopes:
        own = takings[takings["scope"] == scope]
        if own["job"].nunique() < LEAST_JOBS:
            own = takings
        for clock in ("booking_days", "start_days", "planned_days"):
            waits = own.dropna(subset=[clock])
            if len(waits):
                found[scope, clock] = _delay(waits, clock, _still_waiting(waiting, scope, clock, today), today)
    for scope in scopes:
        if (scope, "booking_days") not in found:
            found[scope, "booking_days"] = delays.fit_delay([NO_DELAY_DAYS], [True])
            notes.append(f"no {scope} job says when it took parts: {NO_DELAY_DAYS:.0f} days from booking assumed")
    return found, notes


def _delay(waits, clock, censored, today):
    """Delay on one clock, recent jobs weighing more; parts taken before the clock began count as taken when it did."""
    days = np.maximum(np.append(waits[clock].to_numpy(dtype=float), censored), 0)
    age = np.maximum((today - waits["used_on"]).dt.days.to_numpy(dtype=float), 0)
    weight = waits["weight_share"].to_numpy(dtype=float) * job_pipeline.recency_weight(age, DELAY_HALF_LIFE_DAYS)
    return delays.fit_delay(days, np.arange(days.size) < len(waits), np.append(weight, np.ones(len(censored))))


def _still_waiting(waiting, scope, clock, today):
    """Days so far of this scope's jobs that are on the clock and have taken nothing yet."""
    since = {"booking_days": "booked_on", "planned_days": "planned_start_on", "start_days": "started_on"}[clock]
    here = waiting[(waiting["scope"] == scope) & waiting["first_used_on"].isna()].dropna(subset=[since])
    if clock == "start_days":
        here = here[here["status"] == "in_progress"]
    return np.maximum((today - here[since]).dt.days.to_numpy(dtype=float), 0)


def _known(waiting, clocks, today):
    """Each known job with the clock that says most about it: first taking, start, planned start, booking."""
    rows = []
    for row in waiting.itertuples(index=False):
        options = [("first_days", row.first_used_on), ("start_days", row.started_on),
                   ("planned_days", row.planned_start_on), ("booking_days", row.booked_on)]
        clock, since = next(
            ((clock, day) for clock, day in options
             if not pd.isna(day) and (clock == "first_days" or (row.scope, clock) in clocks)),
            ("booking_days", today))
        rows.append((row.job, row.family, row.scope, clock, (today - pd.Timestamp(since)).days))
    known = pd.DataFrame(rows, columns=["job", "family", "scope", "clock", "elapsed_days"])
    late = known["clock"].isin(["first_days", "start_days"]) & (known["elapsed_days"] < 0)
    return known.assign(elapsed_days=known["elapsed_days"].where(~late, 0))


def _bookings(jobs, scopes, today):
    """Gamma rate of bookings of every family and scope, recent ones weighing more."""
    families = sorted(jobs["family"].unique())
    grid = pd.MultiIndex.from_product([families, scopes], names=["family", "scope"])
    dated = jobs[jobs["booked_on"].notna() & (jobs["booked_on"] <= today)]
    counts = dated.groupby(["family", "scope"]).size().reindex(grid, fill_value=0)
    if grid.empty:
        return pd.DataFrame(columns=["family", "scope", "bookings", "shape", "rate_days"]), []
    age = (today - dated["booked_on"]).dt.days.to_numpy(dtype=float)
    weight = pd.Series(job_pipeline.recency_weight(age, HALF_LIFE_DAYS), index=dated.index)
    weighted = weight.groupby([dated["family"], dated["scope"]]).sum().reindex(grid, fill_value=0.0)
    history = age.max(initial=0)
    exposure = job_pipeline.weighted_days(max(history, LEAST_HISTORY_DAYS), HALF_LIFE_DAYS)
    shape, rate_days, _ = job_pipeline.booking_rate(weighted.to_numpy(), exposure, *grid.codes)
    bookings = grid.to_frame(index=False).assign(bookings=counts.to_numpy(), shape=shape, rate_days=rate_days)
    return bookings, _history_notes(len(jobs) - len(dated), len(dated), history)


def _history_notes(undated, dated, history_days):
    """What the days of the bookings cannot tell."""
    if not dated:
        return ["no job has a day: how often jobs come is not known, hardly any but those on the books are counted"]
    notes = [f"{undated} jobs without a day, or after today, say nothing about how often jobs come"] if undated else []
    if history_days < LEAST_HISTORY_DAYS:
        notes.append(f"bookings go back {history_days:.0f} days only: taken as {LEAST_HISTORY_DAYS:.0f} days' worth")
    return notes


def _work_to_come(takings, scope, elapsed, days):
    """Shares of running jobs' use in the window and behind them, asked of past jobs of the scope, else of all."""
    past = takings[takings["scope"] == scope]
    past = past if past["job"].nunique() >= LEAST_JOBS else takings
    if past.empty:
        return np.full(elapsed.size, 0.5), np.full(elapsed.size, 0.5)
    job, names = pd.factorize(past["job"])
    duration = past.groupby("job")["duration_days"].first().reindex(names).to_numpy(dtype=float)
    return job_pipeline.work_to_come(elapsed, float(days), past["first_days"].to_numpy(dtype=float),
                                     past["weight_share"].to_numpy(dtype=float), job, duration)


def check_window(days, source):
    """Refuse a window or a source of jobs that is not valid.

    Parameters
    ----------
    days : float
        Length of the window, more than 0.
    source : str
        One of ``SOURCES``.

    Raises
    ------
    InvalidParameter
        Naming what was found and what was wanted.
    """
    if not 0 < days < np.inf:
        raise InvalidParameter(f"days is {days}; wanted a window of more than 0 days.")
    if source not in SOURCES:
        raise InvalidParameter(f"source is {source!r}; wanted one of {', '.join(SOURCES)}.")
