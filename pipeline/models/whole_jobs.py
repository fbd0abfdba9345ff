"""Whole past jobs drawn again: parts are needed together, and rough machines take more of everything."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.errors import InvalidParameter
from pipeline.store import read

BORROWED_JOBS = 1.0  # jobs' worth of weight that the same scope of other families brings in


@dataclass(frozen=True)
class JobHistory:
    """Known jobs as rows of pieces.

    Attributes
    ----------
    jobs : pandas.DataFrame
        One row per delivered job whose use is known: job, family, scope.
    parts : ndarray of str, shape (n_parts,)
        Every part that any family can take.
    used_pcs : ndarray of int64, shape (n_jobs, n_parts)
        Pieces used, whatever their source, returns taken off.
    own_pcs : ndarray of int64, shape (n_jobs, n_parts)
        The same without what customers brought.
    family_parts : dict of str to ndarray of bool, shape (n_parts,)
        Parts that a machine of the family can take.
    """

    jobs: pd.DataFrame
    parts: np.ndarray
    used_pcs: np.ndarray
    own_pcs: np.ndarray
    family_parts: dict


def history(connection):
    """Read the known jobs of the store.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    JobHistory
        With no jobs where none was delivered.
    """
    jobs = read.query(connection, "select job, family, scope from known_jobs order by job")
    possible = read.query(connection, "from family_parts order by family, part")
    parts = np.unique(possible["part"].to_numpy(dtype=str))
    used = read.query(connection, "select job, part, used_pcs, own_pcs from job_work_use where status = 'delivered'")
    row = pd.Index(jobs["job"]).get_indexer(used["job"])
    column = np.searchsorted(parts, used["part"].to_numpy(dtype=str))
    pieces = np.zeros((2, len(jobs), parts.size), dtype=np.int64)
    pieces[0, row, column], pieces[1, row, column] = used["used_pcs"], used["own_pcs"]
    family_parts = {family: np.isin(parts, here["part"].to_numpy(dtype=str))
                    for family, here in possible.groupby("family")}
    return JobHistory(jobs, parts, pieces[0], pieces[1], family_parts)


def draw_weights(history, family, scope, n_draws, rng):
    """Bayesian-bootstrap weights of the past jobs that a job of a family and scope may turn out like.

    Parameters
    ----------
    history : JobHistory
        Past jobs.
    family, scope : str
        Kind of job asked about.
    n_draws : int
        Rows wanted: each is one belief about what such jobs take.
    rng : numpy.random.Generator
        Source of the draws.

    Returns
    -------
    weight : ndarray of float, shape (n_draws, n_candidates)
        Rows sum to 1.
    candidates : ndarray of int64, shape (n_candidates,)
        Rows of ``history.jobs``.

    Notes
    -----
    Own jobs have weight 1 each; jobs of the same scope in other families share one job's worth between them, so that
    three own jobs are not taken for all there is. A scope that was never delivered takes what other scopes took.

    References
    ----------
    Rubin (1981), Annals of Statistics 9, 130-134.
    """
    candidates, concentration = _candidates(history, family, scope)
    weight = rng.gamma(concentration, size=(n_draws, candidates.size)) + 1e-300
    return weight / weight.sum(axis=1, keepdims=True), candidates


def draw_jobs(history, family, scope, n_draws, n_jobs, rng):
    """Draw whole jobs, every draw under its own belief about what such jobs take.

    Parameters
    ----------
    history : JobHistory
        Past jobs.
    family, scope : str
        Kind of job.
    n_draws, n_jobs : int
        Draws, and jobs in each; jobs of one draw share the draw's belief and so are alike.
    rng : numpy.random.Generator
        Source of the draws.

    Returns
    -------
    ndarray of int64, shape (n_draws, n_jobs, n_parts)
        Pieces used, in the order of ``history.parts``; parts that no machine of the family can take are 0, but a
        family nothing is known of takes what others took.

    Raises
    ------
    InvalidParameter
        If no delivered job says what it used: there is nothing to draw from.
    """
    weight, candidates = draw_weights(history, family, scope, n_draws, rng)
    if candidates.size == 0:
        raise InvalidParameter("no delivered job says what it used; wanted at least one to draw from.")
    chosen = (rng.random((n_draws, n_jobs, 1)) > np.cumsum(weight, axis=1)[:, None, :-1]).sum(axis=2)
    return history.used_pcs[candidates[chosen]] * _possible(history, family)


def _candidates(history, family, scope):
    """Rows of the past jobs that such a job may turn out like, and the jobs' worth of weight that each has."""
    is_scope = history.jobs["scope"].to_numpy(dtype=object) == scope
    is_scope = is_scope if is_scope.any() else np.ones(len(history.jobs), dtype=bool)
    candidates = np.flatnonzero(is_scope)
    own = history.jobs["family"].to_numpy(dtype=object)[candidates] == family
    return candidates, np.where(own, 1.0, BORROWED_JOBS / max((~own).sum(), 1))


def _possible(history, family):
    """Parts a family can take; every part where nothing at all is known of it, for missing is not zero."""
    return history.family_parts.get(family, np.ones(history.parts.size, dtype=bool))
