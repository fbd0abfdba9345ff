"""Pieces of each part that a job takes, by family and scope: shares and sizes shrunk, with n and intervals."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import pieces_per_use, use_per_job
from pipeline.kernels.compound import UseRows
from pipeline.store import read

KEYS = ["family", "scope", "part"]
NEVER_DONE_JOBS = 2.0  # jobs that the family's other scopes are worth to a scope nobody has done yet


@dataclass(frozen=True)
class UsePerJob:
    """Use of parts per job, fitted.

    Attributes
    ----------
    rates : pandas.DataFrame
        One row per family, scope and part that the family can take: ``jobs_seen``, ``jobs_with_use``; ``use_share``
        with its 80 % interval (``use_low_share``, ``use_high_share``); ``pcs_if_used``; ``expected_pcs_per_job`` with
        its 80 % interval (``low_pcs_per_job``, ``high_pcs_per_job``); ``others_weight_share``: how much of the
        answer other families and parts decide, 1 where the cell has no job of its own.
    beliefs : pipeline.kernels.compound.UseRows
        The same as distributions, in the rows of ``rates``.
    readings : pandas.DataFrame
        Family and scope under both readings of jobs whose use is unknown (view ``use_readings``).
    """

    rates: pd.DataFrame
    beliefs: UseRows
    readings: pd.DataFrame


def fit(connection):
    """Fit the use per job on delivered jobs whose use is known; unknown jobs are left out.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    UsePerJob
        With no rows where no job ever took a part.
    """
    return _fit(connection, "jobs_seen")


def fit_unknown_as_none(connection):
    """Fit the use per job counting every unknown job as one that used nothing: the other reading.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    UsePerJob
        ``jobs_seen`` counts the unknown jobs too.
    """
    return _fit(connection, "jobs_delivered")


def _fit(connection, jobs_column):
    cells = read.query(connection, """
        select cells.*, tidy_parts.wear_class
        from use_by_cell as cells inner join tidy_parts on cells.part = tidy_parts.part
        order by cells.family, cells.scope, cells.part""")
    cells["jobs_seen"] = cells[jobs_column]
    beliefs = _beliefs(cells)
    readings = read.query(connection, "from use_readings order by family, scope")
    return UsePerJob(_rates(cells, beliefs), beliefs, readings)


def _beliefs(cells):
    """Shares are pooled over families within part and scope, these within wear class and scope; pieces likewise."""
    if cells.empty:
        return UseRows(*np.empty((5, 0)))
    numbers = cells[["jobs_with_use", "jobs_seen", "extra_pcs", "extra_square_pcs"]].to_numpy(dtype=float).T
    used, seen, extra, squares = numbers
    pool, stratum = _group(cells, ["part", "scope"]), _group(cells, ["wear_class", "scope"])
    before_alpha, before_beta, _ = use_per_job.cell_prior(used, seen, pool, stratum)
    alpha, beta = use_per_job.posterior(used, seen, before_alpha, before_beta)
    alpha, beta = _where_never_done(cells, alpha, beta)
    part = _group(cells, ["part"])
    size = pieces_per_use.fit_size(extra, squares, used, part)[part]
    start = pieces_per_use.typical_extra(extra, used, part, stratum)
    most = np.fmax(cells["machine_pcs"], cells["most_pcs"]).to_numpy(dtype=float)  # what one machine holds, or took
    most = np.where(cells["machine_pcs"].isna(), np.inf, np.maximum(most, 1))
    centre = np.minimum(pieces_per_use.nested_mean(extra, used, start, part, pool), most - 1)
    weight = np.full(used.size, pieces_per_use.fit_pseudo_uses(extra, used, centre, size))
    return UseRows(alpha, beta, *pieces_per_use.extra_posterior(extra, used, centre, size, weight), size)


def _where_never_done(cells, alpha, beta):
    """In a scope no known job was ever of, a part is taken to be used as in the family's other scopes, and doubtful."""
    shares = cells.assign(weighted=alpha / (alpha + beta) * cells["jobs_seen"])
    family = shares.groupby(["family", "part"])[["weighted", "jobs_seen"]].transform("sum")
    scope_jobs = cells.groupby("scope")["jobs_seen"].transform("sum")
    mean = (family["weighted"] / family["jobs_seen"].where(family["jobs_seen"] > 0)).to_numpy(dtype=float)
    is_new = ((scope_jobs == 0) & (family["jobs_seen"] > 0)).to_numpy()
    return (np.where(is_new, mean * NEVER_DONE_JOBS, alpha), np.where(is_new, (1 - mean) * NEVER_DONE_JOBS, beta))


def _rates(cells, beliefs):
    rates = cells[[*KEYS, "jobs_seen", "jobs_with_use"]].astype({"jobs_seen": int, "jobs_with_use": int})
    if cells.empty:
        columns = ["use_share", "use_low_share", "use_high_share", "pcs_if_used", "expected_pcs_per_job",
                   "low_pcs_per_job", "high_pcs_per_job", "others_weight_share"]
        return rates.reindex(columns=[*rates.columns, *columns])
    total = beliefs.alpha + beliefs.beta
    low, high = use_per_job.share_interval(beliefs.alpha, beliefs.beta)
    mean, low_pcs, high_pcs = pieces_per_use.expected_pcs_interval(beliefs)
    return rates.assign(
        use_share=beliefs.alpha / total, use_low_share=low, use_high_share=high,
        pcs_if_used=mean * total / beliefs.alpha, expected_pcs_per_job=mean, low_pcs_per_job=low_pcs,
        high_pcs_per_job=high_pcs,
        others_weight_share=1 - rates["jobs_seen"] / total)


def _group(cells, columns):
    """Number of each row's group, from 0."""
    return cells.groupby(columns, sort=False).ngroup().to_numpy()
