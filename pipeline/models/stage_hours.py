"""Hours of delivered jobs by stage of the work: shares by scope, and by family and scope."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels.stage_shares import lean_jobs, stage_shares
from pipeline.models import seeds
from pipeline.models.hours import LEVEL, SCOPES
from pipeline.store import read

# A job tells of its stages where so much of its hours stands with one; hours without a stage may belong to any.
LEAST_STAGED_SHARE = 0.8
# The shares from memory count as so many jobs of each scope.
SEED_JOBS = 1.0
_ALL = "of all families"  # stands in the index; the table leaves the cell empty


@dataclass(frozen=True)
class StageHours:
    """Shares of stages, fitted; call-backs are not among them.

    Attributes
    ----------
    table : pandas.DataFrame
        One row per family, scope and stage: ``family`` (empty for all families), ``scope``, ``stage``,
        ``jobs_seen``, ``mean_hours``, ``share`` with its 80 % interval (``share_low``, ``share_high``). Every scope
        for all families, and each family and scope with a job whose hours stand with their stages. ``mean_hours``
        is empty where no delivered job of the scope has hours.
    lean_jobs : float
        How many of its own jobs a family needs before they count as much as those of its scope.
    """

    table: pd.DataFrame
    lean_jobs: float


def fit(connection, mean_hours):
    """Fit the shares of stages in the hours of one more job.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    mean_hours : pandas.Series
        Mean clock hours of one more job by ``family`` and ``scope``.

    Returns
    -------
    StageHours
        A family leans on its scope, a scope on the shares from memory (as one job), so that a shop that never
        wrote a stage has an answer, with no job seen.
    """
    lean = seeds.stages()
    entries = read.query(
        connection,
        """
        select jobs.job, jobs.family, jobs.scope, clock.stage, sum(clock.hours) as hours
        from tidy_jobs as jobs inner join tidy_job_hours as clock on jobs.job = clock.job
        where jobs.status = 'delivered' and clock.stage <> 'callback' and clock.hours > 0
        group by all order by jobs.job, clock.stage""",
    )
    jobs = entries.pivot_table(index=["job", "family", "scope"], columns="stage", values="hours", fill_value=0.0)
    of_all = jobs.sum(axis=1).groupby("scope").mean().reindex(SCOPES)
    staged = jobs.reindex(columns=lean.index, fill_value=0.0)
    staged = staged[(staged.sum(axis=1) >= LEAST_STAGED_SHARE * jobs.sum(axis=1)).to_numpy(dtype=bool)]
    return _fitted(staged, lean, of_all, mean_hours)


def _fitted(staged, lean, of_all, mean_hours):
    hours = staged.to_numpy(dtype=float)
    scope = pd.Index(SCOPES).get_indexer(staged.index.get_level_values("scope"))
    of_scope = stage_shares(hours, lean.to_numpy(), SEED_JOBS, scope, len(SCOPES), level=LEVEL)
    of_job = staged.index.droplevel("job")
    groups = of_job.unique().sort_values()
    group = groups.get_indexer(of_job)
    kind = pd.Index(SCOPES).get_indexer(groups.get_level_values("scope"))
    weight = lean_jobs(hours, group, kind)
    of_family = stage_shares(hours, of_scope.share[kind], weight, group, kind.size, of_scope.sd[kind], level=LEVEL)
    all_families = pd.MultiIndex.from_product([[_ALL], SCOPES], names=["family", "scope"])
    parts = [
        _rows(all_families, lean.index, of_scope, of_all.to_numpy(dtype=float)),
        _rows(groups, lean.index, of_family, mean_hours.reindex(groups).to_numpy(dtype=float)),
    ]
    table = pd.concat([part for part in parts if len(part)], ignore_index=True)
    return StageHours(table.assign(family=table["family"].where(table["family"] != _ALL)), weight)


def _rows(groups, stages, found, mean_hours):
    n_stages = len(stages)
    return pd.DataFrame(
        {
            "family": np.repeat(groups.get_level_values("family").to_numpy(dtype=object), n_stages),
            "scope": np.repeat(groups.get_level_values("scope").to_numpy(dtype=object), n_stages),
            "stage": np.tile(stages.to_numpy(dtype=object), len(groups)),
            "jobs_seen": np.repeat(found.jobs, n_stages),
            "mean_hours": (mean_hours[:, None] * found.share).ravel(),
            "share": found.share.ravel(),
            "share_low": found.low.ravel(),
            "share_high": found.high.ravel(),
        }
    )
