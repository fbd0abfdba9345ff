"""Pieces of each part that a job takes, by family and scope: shares and sizes shrunk, with n and intervals."""

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import job_roughness, piece_belief, pieces_per_use, use_per_job, use_share
from pipeline.kernels.compound import UseRows
from pipeline.kernels.job_factor import Loading
from pipeline.models import job_factor, whole_jobs
from pipeline.store import read

KEYS = ["family", "scope", "part"]
NEVER_DONE_JOBS = 2.0  # jobs that the family's other scopes are worth to a scope nobody has done yet
REASONS = ("failed", "policy", "companion")
SCOPES = ("fix_only", "refresh", "thorough")
RATES = ["use_share", "use_low_share", "use_high_share", "pcs_if_used", "expected_pcs_per_job", "low_pcs_per_job",
         "high_pcs_per_job", "others_weight_share"]
INTERVALS = ["use_low_share", "use_high_share", "low_pcs_per_job", "high_pcs_per_job"]
_ACTION = ["scope", "meant_action"]


@dataclass(frozen=True)
class UsePerJob:
    """Use of parts per job, fitted.

    Attributes
    ----------
    rates : pandas.DataFrame
        One row per family, scope and part that the family can take: ``jobs_seen``, ``jobs_with_use``; ``use_share``
        with its 80 % interval (``use_low_share``, ``use_high_share``); ``pcs_if_used``; ``expected_pcs_per_job`` with
        its 80 % interval (``low_pcs_per_job``, ``high_pcs_per_job``); ``others_weight_share``: how much of the
        answer other families and parts decide, 1 where the cell has no job of its own. The intervals are left out
        of a brief fit. ``failed_uses``,
        ``policy_uses`` and ``companion_uses`` of ``jobs_with_use`` were mainly for that reason,
        ``unknown_reason_uses`` for one nobody wrote; ``failed_share``, ``policy_share`` and ``companion_share`` are of
        the uses whose reason is known, empty without one (the rest broke in the work, had no cure, or were upgrades).
        Call-backs are left out throughout.
    beliefs : pipeline.kernels.compound.UseRows
        The same as distributions, in the rows of ``rates``.
    factor : pipeline.kernels.job_factor.Loading
        How strongly the uses of one job hang together.
    readings : pandas.DataFrame or None
        Family and scope under both readings of jobs whose use is unknown (view ``use_readings``); None in a brief fit.
    roughness_variance : float
        Variance between jobs of one family and scope of what a job adds to the logit of every share at once; not a
        number where no job was seen.
    """

    rates: pd.DataFrame
    beliefs: UseRows
    factor: Loading
    readings: pd.DataFrame | None
    roughness_variance: float = math.nan


def fit(connection, history=None, is_brief=False):
    """Fit the use per job on delivered jobs whose use is known; unknown jobs are left out.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    history : pipeline.models.whole_jobs.JobHistory, optional
        The store's known jobs, where they have been read already.
    is_brief : bool
        Leave out what only pages show and what takes long: the intervals of ``rates``, and ``readings``.

    Returns
    -------
    UsePerJob
        With no rows where no job ever took a part.
    """
    return _fit(connection, "jobs_seen", history, is_brief)


def fit_unknown_as_none(connection, history=None, is_brief=False):
    """Fit the use per job counting every unknown job as one that used nothing: the other reading.

    Parameters
    ----------
    connection, history, is_brief
        As for :func:`fit`.

    Returns
    -------
    UsePerJob
        ``jobs_seen`` counts the unknown jobs too.
    """
    return _fit(connection, "jobs_delivered", history, is_brief)


def _fit(connection, jobs_column, history, is_brief):
    cells = read.query(connection, """
        select cells.*, tidy_parts.wear_class, prices.unit_price,
            case cells.scope
                when 'thorough' then lists.thorough_action
                when 'fix_only' then lists.fix_only_action
                else coalesce(lists.thorough_action, '-') || ' or ' || coalesce(lists.fix_only_action, '-')
            end as meant_action
        from use_by_cell as cells
        inner join tidy_parts on cells.part = tidy_parts.part
        left join machine_pieces as lists on cells.family = lists.family and cells.part = lists.part
        left join part_prices as prices on cells.part = prices.part
        order by cells.family, cells.scope, cells.part""")
    cells["jobs_seen"] = cells[jobs_column]
    beliefs, others, roughness = _beliefs(cells, _parts_by_job(connection, jobs_column))
    readings = None if is_brief else read.query(connection, "from use_readings order by family, scope")
    rates = _rates(cells, beliefs, others, is_brief)
    factor = job_factor.fit(whole_jobs.history(connection) if history is None else history, rates)
    return UsePerJob(rates, beliefs, factor, readings, roughness)


def _parts_by_job(connection, jobs_column):
    """Different parts that each job counted in the column used: family, scope, parts_used."""
    jobs = read.query(connection, """
        select jobs.job, jobs.family, jobs.scope, jobs.is_use_known, count(used.part) as parts_used
        from delivered_jobs as jobs left join job_work_use as used on jobs.job = used.job
        group by jobs.job, jobs.family, jobs.scope, jobs.is_use_known
        order by jobs.job""")
    return jobs if jobs_column == "jobs_delivered" else jobs[jobs["is_use_known"]]


def _beliefs(cells, jobs):
    """Beliefs about shares and pieces; weight that others have in the share; variance between jobs."""
    if cells.empty:
        return UseRows(np.empty(0), np.empty(0), np.empty((0, 1, 2)), np.empty((0, 1))), np.empty(0), math.nan
    used, seen = cells[["jobs_with_use", "jobs_seen"]].to_numpy(dtype=float).T
    found = use_share.fit(used, seen, _in_common(cells))
    before = use_share.beta_belief(found.other_mean, found.other_variance)
    alpha, beta = use_per_job.posterior(used, seen, *before)
    roughness = _roughness(cells, jobs, pd.Series(alpha / (alpha + beta), cells.index))
    others = 1 - seen / (alpha + beta)
    # Rough jobs moved all parts of their kind together: that doubt does not average out over the parts.
    shared = np.where(seen > 0, roughness / np.maximum(seen, 1), 0)
    alpha, beta = job_roughness.with_shared_doubt(alpha, beta, shared)
    return UseRows(*_where_never_done(cells, alpha, beta), *_pieces(cells)), others, roughness


def _roughness(cells, jobs, share):
    variance = (share * (1 - share)).groupby([cells["family"], cells["scope"]]).sum()
    kind = variance.index.get_indexer(pd.MultiIndex.from_frame(jobs[["family", "scope"]]))
    is_known = kind >= 0  # a family that can take none of the parts has no cell
    return job_roughness.roughness_variance(
        jobs["parts_used"].to_numpy(dtype=float)[is_known], kind[is_known], variance.to_numpy())


def _in_common(cells):
    """What a cell's share has in common with others: wear class, part, family, what the owner means to do; slopes."""
    is_scope = np.eye(len(SCOPES))[pd.Categorical(cells["scope"], SCOPES).codes]
    price, held = (_centred_log(cells[column]) for column in ("unit_price", "machine_pcs"))
    factors = [["wear_class"], ["wear_class", "scope"], ["part"], ["family", "scope"], ["family", "wear_class"],
               _ACTION]
    slopes = np.hstack([is_scope, is_scope * held, is_scope * price])
    return use_share.Cells(_group(cells, ["part", "scope"]), tuple(_group(cells, by) for by in factors), slopes)


def _centred_log(values):
    """Log in units of its spread, one column; 0, which tells a slope nothing, where the value is not known."""
    log = np.log(values.where(values > 0).to_numpy(dtype=float, na_value=np.nan))
    is_known = np.isfinite(log)
    if not is_known.any():
        return np.zeros((log.size, 1))
    spread = log[is_known].std()
    return np.where(is_known, (log - log[is_known].mean()) / (spread if spread > 1e-9 else 1.0), 0)[:, None]


def _pieces(cells):
    """Pieces given use: whole sets shrunk to what the owner means to do, the others to the part in other families."""
    columns = ["jobs_with_use", "set_uses", "extra_pcs", "extra_square_pcs", "most_pcs"]
    used, sets, extra, squares, most = cells[columns].to_numpy(dtype=float).T
    part, pool = _group(cells, ["part"]), _group(cells, ["part", "scope"])
    machine = cells["machine_pcs"].to_numpy(dtype=float, na_value=np.nan)
    machine = np.where((machine >= 1) & (most <= machine), machine, np.inf)  # a job that took more proves a list short
    set_alpha, set_beta = piece_belief.set_belief(
        sets, used, (machine > 1) & np.isfinite(machine), _group(cells, _ACTION), pool)
    others = used - sets
    size = pieces_per_use.fit_size(extra, squares, others, part)[part]
    start = pieces_per_use.typical_extra(extra, others, part, _group(cells, ["wear_class", "scope"]))
    centre = np.minimum(pieces_per_use.nested_mean(extra, others, start, part, pool), machine - 1)
    weight = np.full(used.size, pieces_per_use.fit_pseudo_uses(extra, others, centre, size))
    fewer = pieces_per_use.extra_posterior(extra, others, centre, size, weight)
    return piece_belief.pieces_given_use(*fewer, size, set_alpha, set_beta, machine)


def _where_never_done(cells, alpha, beta):
    """In a scope no known job was ever of, a part is taken to be used as in the family's other scopes, and doubtful."""
    shares = cells.assign(weighted=alpha / (alpha + beta) * cells["jobs_seen"])
    family = shares.groupby(["family", "part"])[["weighted", "jobs_seen"]].transform("sum")
    scope_jobs = cells.groupby("scope")["jobs_seen"].transform("sum")
    mean = (family["weighted"] / family["jobs_seen"].where(family["jobs_seen"] > 0)).to_numpy(dtype=float)
    is_new = ((scope_jobs == 0) & (family["jobs_seen"] > 0)).to_numpy()
    return (np.where(is_new, mean * NEVER_DONE_JOBS, alpha), np.where(is_new, (1 - mean) * NEVER_DONE_JOBS, beta))


def _rates(cells, beliefs, others, is_brief):
    counts = ["jobs_seen", "jobs_with_use", *(f"{reason}_uses" for reason in REASONS), "unknown_reason_uses"]
    rates = cells[[*KEYS, *counts]].astype(dict.fromkeys(counts, int))
    known = (rates["jobs_with_use"] - rates["unknown_reason_uses"]).astype(float)
    rates = rates.assign(**{f"{reason}_share": rates[f"{reason}_uses"] / known.where(known > 0) for reason in REASONS})
    left_out = INTERVALS if is_brief else []
    told = [name for name in RATES if name not in left_out]
    if cells.empty:
        return rates.reindex(columns=[*rates.columns, *told])
    total, mean = beliefs.alpha + beliefs.beta, pieces_per_use.expected_pcs(beliefs)
    found = {"use_share": beliefs.alpha / total, "pcs_if_used": mean * total / beliefs.alpha,
             "expected_pcs_per_job": mean, "others_weight_share": others}
    if not is_brief:
        low_high = (*use_per_job.share_interval(beliefs.alpha, beliefs.beta),
                    *pieces_per_use.expected_pcs_interval(beliefs)[1:])
        found |= dict(zip(INTERVALS, low_high, strict=True))
    return rates.assign(**{name: found[name] for name in told})


def _group(cells, columns):
    """Number of each row's group, from 0."""
    return cells.groupby(columns, sort=False, dropna=False).ngroup().to_numpy()
