"""What will be used more or less than in the same window a year before, and why: jobs, their mix, use per job."""

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import change_split
from pipeline.models import family_amounts
from pipeline.store import read

BACK_DAYS = 365
WHY = ["more_jobs", "more_thorough", "more_each"]
METHOD = (
    "Held against the same days a year before. Number of jobs: its change, at what jobs of the mix of a year ago "
    "usually take. How thorough they are: the change of the mix of scopes. Use per job: the rest, by and large what "
    "jobs usually take less what those of a year ago took; with few jobs it is mostly their luck. "
    "With N jobs, share m of each scope and usual use u: (N now - N then) x sum of m then x u; N now x sum of (m now - "
    "m then) x u; and the rest, so that the three add up to the change. A job whose takings only partly fall in the "
    "window counts as that part; money is at today's prices; what customers brought is left out of money."
)


@dataclass(frozen=True)
class UseChange:
    """Change against the year before.

    Attributes
    ----------
    families : pandas.DataFrame
        family, to_on, days, jobs_before, jobs_now, before_amount, expected_amount, and the change split:
        more_jobs_amount, more_thorough_amount, more_each_amount.
    parts : pandas.DataFrame
        The same by part, all families together, in pieces: part, to_on, days, before_pcs, expected_pcs, q10_pcs,
        q90_pcs, change_amount (money; missing without a price), more_jobs_pcs, more_thorough_pcs, more_each_pcs.
    notes : dict of int to str
        By length of the window: why nothing is said, or how many jobs of a year ago left no record; may be empty.
    """

    families: pd.DataFrame
    parts: pd.DataFrame
    notes: dict


def make(connection, made):
    """Hold the forecast against the same window a year before.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    made : pipeline.decisions.forecast.Forecast
        The forecast.

    Returns
    -------
    UseChange
        Without rows of a window that the records do not reach.
    """
    families, parts, notes = [], [], {}
    (first_on,), = read.rows(connection, "select min(used_on) from use_days where not is_callback")
    for days in made.basis.predicted:
        start = made.today - datetime.timedelta(days=BACK_DAYS - 1)
        if first_on is None or pd.Timestamp(first_on).date() > start:
            notes[days] = (f"Nothing to hold the next {days} days against: use is written down from "
                           f"{first_on or 'no day'} on, wanted from {start}.")
            continue
        before = _before(connection, made, start, start + datetime.timedelta(days=days - 1))
        families.append(_families(made, before, days))
        parts.append(_parts(made, before, days))
        notes[days] = _note(before.unknown_jobs)
    return UseChange(*(pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=columns)
                       for frames, columns in ((families, FAMILY_COLUMNS), (parts, PART_COLUMNS))), notes)


FAMILY_COLUMNS = ["family", "to_on", "days", "jobs_before", "jobs_now", "before_amount", "expected_amount",
                  *(f"{why}_amount" for why in WHY)]
PART_COLUMNS = ["part", "to_on", "days", "before_pcs", "expected_pcs", "q10_pcs", "q90_pcs", "change_amount",
                *(f"{why}_pcs" for why in WHY)]


@dataclass(frozen=True)
class _Before:
    """The window a year before: jobs by family and scope, those without record among them, own and all pieces."""

    jobs: pd.Series
    unknown_jobs: pd.Series
    pieces: pd.DataFrame


def _before(connection, made, start, end):
    jobs = read.query(connection, """
        select jobs.family, jobs.scope, jobs.is_use_known, coalesce(delays.weight_share, 1) as jobs
        from delivered_jobs as jobs left join job_delays as delays on jobs.job = delays.job
        where coalesce(delays.used_on, jobs.delivered_on) between ? and ?""", [start, end])
    pieces = read.query(connection, """
        select jobs.family, takings.part, sum(takings.qty_pcs) as used_pcs,
            coalesce(sum(takings.qty_pcs) filter (takings.source <> 'customer'), 0) as own_pcs
        from tidy_job_parts as takings inner join tidy_jobs as jobs on takings.job = jobs.job
        where takings.reason is distinct from 'callback' and jobs.status in ('in_progress', 'delivered')
            and coalesce(takings.used_on, jobs.delivered_on) between ? and ?
        group by jobs.family, takings.part""", [start, end])
    cells = ["family", "scope"]
    counted = pd.concat([jobs, _running(connection, made, start, end)]).groupby(cells)["jobs"].sum()
    return _Before(counted, jobs[~jobs["is_use_known"]].groupby(cells)["jobs"].sum(), pieces)


def _running(connection, made, start, end):
    """Jobs not finished yet, as far as their work lies behind and fell in the window."""
    share = read.query(connection, """
        select job, count(*) filter (used_on between ? and ?) / count(*) as inside_share
        from tidy_job_parts where used_on is not null and reason is distinct from 'callback' group by job""",
                       [start, end]).set_index("job")["inside_share"]
    _, done = made.basis.pipeline.known_share(min(made.basis.predicted))
    known = made.basis.pipeline.known
    inside = known["job"].map(share).fillna(0.0).to_numpy(dtype=float)
    return known[["family", "scope"]].assign(jobs=done * inside)


def _note(unknown_jobs):
    n_jobs = int(round(unknown_jobs.sum()))
    return "" if n_jobs == 0 else (f"{n_jobs} of the jobs of a year ago left no record of parts: each counts as what "
                                   "such jobs usually take.")


def _families(made, before, days):
    jobs, unit_price = _in_window(made, made.expected_jobs, days), made.basis.prices
    grid = jobs.set_index(["family", "scope"]).index.union(before.jobs.index)
    usual = family_amounts.mean_per_job(made.basis.use, made.basis.costs).reindex(grid)
    counts = _counts(jobs, before, grid)
    pieces = before.pieces
    amount = (pieces["own_pcs"] * pieces["part"].map(unit_price)).groupby(pieces["family"]).sum(min_count=1)
    unrecorded = (before.unknown_jobs.reindex(grid, fill_value=0.0) * usual).groupby("family").sum()
    rows = counts["now"].index
    first = amount.reindex(rows, fill_value=0.0) + unrecorded.reindex(rows, fill_value=0.0)
    wide = usual.unstack("scope").reindex(rows)
    last = _in_window(made, made.forecast_families, days).set_index("family")["expected_amount"].reindex(
        rows, fill_value=0.0).astype(float)
    split = change_split.split_change(counts["before"], counts["now"], wide, first, last)
    return pd.DataFrame({
        "family": rows, "to_on": made.today + datetime.timedelta(days=days), "days": days,
        "jobs_before": counts["before"].sum(axis=1).to_numpy(), "jobs_now": counts["now"].sum(axis=1).to_numpy(),
        "before_amount": first.to_numpy(), "expected_amount": last.to_numpy(),
        **{f"{why}_amount": effect for why, effect in zip(WHY, split, strict=True)}})


def _parts(made, before, days):
    """By family and part first, then the families added up; the range is that of all families together."""
    jobs, rates = _in_window(made, made.expected_jobs, days), made.basis.use.rates
    predicted = made.basis.predicted[days]
    cells = predicted.by_family[["family", "part"]]
    grid = jobs.set_index(["family", "scope"]).index.union(before.jobs.index)
    counts = _counts(jobs, before, grid)
    scopes = counts["now"].columns
    usual = rates.pivot_table(index=["family", "part"], columns="scope", values="expected_pcs_per_job")
    usual = usual.reindex(index=pd.MultiIndex.from_frame(cells), columns=scopes).fillna(0.0).to_numpy()
    n_before, n_now, n_unknown = (table.reindex(cells["family"], fill_value=0.0).to_numpy(dtype=float) for table in (
        counts["before"], counts["now"], before.unknown_jobs.unstack("scope").reindex(columns=scopes).fillna(0.0)
        if len(before.unknown_jobs) else counts["now"] * 0.0))
    recorded = before.pieces.set_index(["family", "part"])["used_pcs"].reindex(
        pd.MultiIndex.from_frame(cells), fill_value=0).to_numpy(dtype=float)
    first = recorded + (n_unknown * usual).sum(axis=1)
    last = predicted.by_family["expected_pcs"].to_numpy(dtype=float)
    split = change_split.split_change(n_before, n_now, usual, first, last) if len(cells) else (np.zeros(0),) * 3
    added = pd.DataFrame({"part": cells["part"], "before_pcs": first,
                          **{f"{why}_pcs": effect for why, effect in zip(WHY, split, strict=True)}})
    added = added.groupby("part", as_index=False).sum()
    told = predicted.by_part[["part", "expected_pcs", "q10_pcs", "q90_pcs"]].merge(added, on="part")
    told["change_amount"] = (told["expected_pcs"] - told["before_pcs"]) * told["part"].map(made.basis.prices)
    return told.assign(to_on=made.today + datetime.timedelta(days=days), days=days)[PART_COLUMNS]


def _counts(jobs, before, grid):
    """Jobs then and now, families by scopes."""
    now = jobs.set_index(["family", "scope"])["expected_jobs"]
    return {name: counted.reindex(grid, fill_value=0.0).unstack("scope", fill_value=0.0)
            for name, counted in (("before", before.jobs), ("now", now))}


def _in_window(made, frame, days):
    return frame[frame["to_on"] == made.today + datetime.timedelta(days=days)]
