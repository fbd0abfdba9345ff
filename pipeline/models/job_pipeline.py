"""Jobs to come: running and booked ones and enquiries, bookings still to be made, and when their parts are taken."""

import datetime
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipeline.errors import InvalidParameter
from pipeline.kernels import compound, discrete, job_flow, job_pipeline
from pipeline.kernels.delays import fit_delay
from pipeline.models import bench_flow, bench_work
from pipeline.store import read

HALF_LIFE_DAYS = 730.0  # recent bookings weigh more: half after two years
LEAST_HISTORY_DAYS = 182.0  # a shorter history is taken to be this long: two jobs in a week are no yearly hundred
LEAST_JOBS = 8  # jobs of a scope that must show a delay before the scope is asked alone
SEED = 11  # of the runs over the bench, so that the same records always give the same figures
SOURCES = ("all", "known", "unbooked")


@dataclass(frozen=True)
class JobPipeline:
    """Jobs of the shop still to come, as of one day.

    Attributes
    ----------
    today : datetime.date
        Day from which windows run.
    known : pandas.DataFrame
        Jobs on the books: job, family, scope, ``stage`` (``running``, ``booked``, ``enquiry``), ``elapsed_days`` since
        the first taking or the start of work, or past the day it was planned for (before it: negative), and
        ``come_share``, the chance that it comes about at all.
    taken : pandas.DataFrame
        job, part of what known jobs have taken already.
    bookings : pandas.DataFrame
        One row per family and scope: ``bookings`` counted, ``shape`` and ``rate_days`` of the gamma rate per day while
        the family is asked for at all, and ``alive_share``, the chance that it still is.
    delays : dict
        (scope, "booking_days") to :class:`pipeline.kernels.delays.Delay`: booking to the taking of parts.
    work : pipeline.models.bench_work.BenchWork
        The course of past work.
    flow : pipeline.models.bench_flow.BenchFlow or None
        Starts of the jobs not begun, over many runs; None for a shop in the long run (:meth:`steady`).
    notes : tuple of str
        What had to be assumed.
    """

    today: datetime.date
    known: pd.DataFrame
    taken: pd.DataFrame
    bookings: pd.DataFrame
    delays: dict
    work: bench_work.BenchWork
    flow: bench_flow.BenchFlow | None
    notes: tuple

    def steady(self):
        """Return the pipeline as if no job were known and every booking took its parts at once: the long run."""
        return replace(self, known=self.known[:0], flow=None)

    def known_share(self, days):
        """Return (share in the window, share already done) of each known job, in the rows of ``known``."""
        share, done = np.zeros(len(self.known)), np.zeros(len(self.known))
        is_running = (self.known["stage"] == "running").to_numpy()
        if is_running.any():
            share[is_running], done[is_running] = bench_flow.running_share(self.work, self.known[is_running], days)
        if not is_running.all():
            share[~is_running] = self.flow.known_share(self.known["job"].to_numpy()[~is_running], self.work.past, days)
        return share, done

    def unbooked(self, days):
        """Return ``bookings`` with ``unbooked_mean``, ``unbooked_excess``: new jobs whose use falls in the window.

        The excess is the variance of their number over its mean, less 1.
        """
        shape, alive = self.bookings["shape"], self.bookings["alive_share"]
        per_day = shape / self.bookings["rate_days"]
        if self.flow is None:
            mean = per_day * float(days)
            return self.bookings.assign(unbooked_mean=mean * alive, unbooked_excess=mean / shape + mean * (1 - alive))
        number = self.flow.unbooked(self.work.past, days).reindex(self.bookings["scope"]).reset_index(drop=True)
        expected = per_day * alive
        family_share = expected / expected.groupby(self.bookings["scope"]).transform("sum")
        mean = number["mean"] * family_share
        # Doubt about the family's own rate beyond what its scope's rate is in doubt, and whether it comes at all.
        doubt = np.maximum(1 / shape - number["rate_doubt"], 0.0) + (1 - alive) / alive
        excess = number["excess"] * family_share + mean * doubt
        # Beyond what was drawn, jobs come at their rate.
        later = expected * max(float(days) - bench_flow.HORIZON_DAYS, 0.0)
        return self.bookings.assign(unbooked_mean=mean + later, unbooked_excess=excess + later / shape)

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
        columns = ["family", "scope", "unbooked_mean", "unbooked_excess"]
        rows = []
        for family, scope, mean, excess in self.unbooked(days)[columns].itertuples(index=False):
            is_here = ((self.known["family"] == family) & (self.known["scope"] == scope)).to_numpy()
            known = share[is_here] if source != "unbooked" else np.zeros(0)
            pmf = compound.job_count_pmf(known, mean if source != "known" else 0.0, excess)
            low, high = discrete.quantiles(pmf, [0.1, 0.9])
            rows.append((family, scope, int(is_here.sum()), float(discrete.mean(pmf)), int(low), int(high)))
        return pd.DataFrame(rows, columns=["family", "scope", "known_jobs", "expected_jobs", "low_jobs", "high_jobs"])


def fit(connection, today, rng=None):
    """Learn the pipeline of jobs from the store.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    today : datetime.date
        Day from which windows run; bookings after it are not counted.
    rng : numpy.random.Generator, optional
        For the runs over the bench; default the model's one seed.

    Returns
    -------
    JobPipeline
        With no rows where the shop has no job.
    """
    rng = rng or np.random.default_rng(SEED)
    told = bench_work.records(connection)
    work = bench_work.fit(connection, told, today)
    bookings, notes = _bookings(told.bookings, work.scopes, pd.Timestamp(today))
    known = bench_flow.known_jobs(connection, told.waiting, work, today)
    taken = read.query(connection, """
        select job, part from job_use where job in (select job from running_and_booked_jobs) order by job, part""")
    ages = _booked_ages(told.bookings, today)
    flow = bench_flow.simulate(work, known, bookings, ages, rng) if len(bookings) else None
    notes = (*work.notes, *notes, *_place_notes(work))
    return JobPipeline(today, known, taken, bookings, _delays(told.takings, work.scopes), work, flow, notes)


def _delays(takings, scopes):
    """Booking to taking of parts, by scope; from all scopes where a scope shows too little."""
    takings = takings[takings["booking_days"].notna()]
    found = {}
    for scope in scopes:
        own = takings[takings["scope"] == scope]
        waits = own if own["job"].nunique() >= LEAST_JOBS else takings
        days = np.maximum(waits["booking_days"].to_numpy(dtype=float), 0) if len(waits) else [bench_work.NO_DELAY_DAYS]
        weight = waits["weight_share"].to_numpy(dtype=float) if len(waits) else [1.0]
        found[scope, "booking_days"] = fit_delay(days, np.ones(len(days), dtype=bool), weight)
    return found


def _booked_ages(jobs, today):
    ages = (pd.Timestamp(today) - jobs["booked_on"]).dt.days.dropna().to_numpy(dtype=float)
    return ages[ages >= 0]


def _bookings(jobs, scopes, today):
    """Gamma rate of bookings of every family and scope, recent ones weighing more."""
    families = sorted(jobs["family"].unique())
    grid = pd.MultiIndex.from_product([families, scopes], names=["family", "scope"])
    dated = jobs[jobs["booked_on"].notna() & (jobs["booked_on"] <= today)]
    counts = dated.groupby(["family", "scope"]).size().reindex(grid, fill_value=0)
    if grid.empty:
        return pd.DataFrame(columns=["family", "scope", "bookings", "shape", "rate_days", "alive_share"]), []
    age = (today - dated["booked_on"]).dt.days.to_numpy(dtype=float)
    weight = pd.Series(job_pipeline.recency_weight(age, HALF_LIFE_DAYS), index=dated.index)
    weighted = weight.groupby([dated["family"], dated["scope"]]).sum().reindex(grid, fill_value=0.0)
    history = age.max(initial=0)
    exposure = job_pipeline.weighted_days(max(history, LEAST_HISTORY_DAYS), HALF_LIFE_DAYS)
    shape, rate_days, _ = job_pipeline.booking_rate(weighted.to_numpy(), exposure, *grid.codes)
    bookings = grid.to_frame(index=False).assign(bookings=counts.to_numpy(), shape=shape, rate_days=rate_days)
    bookings["alive_share"] = bookings["family"].map(_alive(dated, families, age, history))
    return bookings, _history_notes(len(jobs) - len(dated), len(dated), history)


def _alive(dated, families, age, history):
    """Chance of each family that it is still asked for."""
    if history <= 0:
        return dict.fromkeys(families, 1.0)
    told = pd.Series(age, dated.index).groupby(dated["family"]).agg(["size", "min"]).reindex(families)
    count, silent = told["size"].fillna(0).to_numpy(dtype=float), told["min"].fillna(0).to_numpy(dtype=float)
    typical = max(count.sum(), 1.0) / len(families) / history
    alive = np.maximum(job_pipeline.alive_share(count, history - silent, history, typical), 1e-9)
    return dict(zip(families, alive, strict=True))


def _history_notes(undated, dated, history_days):
    """What the days of the bookings cannot tell."""
    if not dated:
        return ["no job has a day: how often jobs come is not known, hardly any but those on the books are counted"]
    notes = [f"{undated} jobs without a day, or after today, say nothing about how often jobs come"] if undated else []
    if history_days < LEAST_HISTORY_DAYS:
        notes.append(f"bookings go back {history_days:.0f} days only: taken as {LEAST_HISTORY_DAYS:.0f} days' worth")
    return notes


def _place_notes(work):
    """What limits the bench, in words."""
    if not work.is_limited:
        return []
    bench, by_scope, _ = work.places
    bench = [f"{bench} jobs at once"] if bench < job_flow.UNLIMITED else []
    own = [f"{places} {scope} jobs at once" for scope, places in zip(work.scopes, by_scope, strict=True)
           if places < job_flow.UNLIMITED]
    return [f"jobs were seen to wait for a place: {', '.join([*bench, *own])}; the queue is reckoned with that"]


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
