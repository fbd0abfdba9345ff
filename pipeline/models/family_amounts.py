"""Worth of the parts that each family's jobs use in a window: draws, for the parts of a job hang together."""

import math

import numpy as np
import pandas as pd

from pipeline.kernels import job_arrivals
from pipeline.kernels.job_amounts import JobDraws, draw_shares

OWN_PCS = 20.0  # pieces that the shop's whole record is worth to one part's share of pieces that customers brought


def draw(use, pipeline, cost, days, n_draws, rng):
    """Draw the worth of the parts used in the next days, by family.

    Parameters
    ----------
    use : pipeline.models.use_per_job.UsePerJob
        Use per job.
    pipeline : pipeline.models.job_pipeline.JobPipeline
        Jobs to come.
    cost : pandas.Series
        What a piece costs the shop, by part (:func:`own_cost`).
    days : float
        Length of the window from the pipeline's today.
    n_draws : int
        Draws.
    rng : numpy.random.Generator
        Source of the draws.

    Returns
    -------
    dict of str to ndarray of float, shape (n_draws,)
        By family. Parts without a price are left out; not a number where none of a kind of job that may come has one.
        Of a family nothing is known of, each draw takes what such jobs of another family take, more often of one
        with more jobs.
    """
    rows = use.rates.reset_index(names="row")
    cells = dict(list(rows.groupby(["family", "scope"])))
    share, done = pipeline.known_share(days)
    known = pipeline.known.assign(share=share, done=done)
    amounts = {}
    for stream in pipeline.unbooked(days).itertuples(index=False):
        here = known[(known["family"] == stream.family) & (known["scope"] == stream.scope)]
        is_begun = here["done"] > 0
        n_jobs = (job_arrivals.draw_counts(stream.unbooked_mean, stream.unbooked_excess, n_draws, rng)
                  + (rng.random((n_draws, (~is_begun).sum())) < here.loc[~is_begun, "share"].to_numpy()).sum(axis=1))
        for cell, jobs, is_own in _shared_out(cells, stream, n_jobs, rng):
            begun = here[is_begun] if is_own else here[:0]
            drawn = _of_cell(use, cell, cost, jobs, begun, pipeline.taken, rng)
            amounts[stream.family] = amounts.get(stream.family, 0.0) + drawn
    return amounts


def own_cost(history, unit_price):
    """What a piece costs the shop on average: its price, and nothing where a customer brought it.

    Parameters
    ----------
    history : pipeline.models.whole_jobs.JobHistory
        Known jobs: how many of a part's pieces customers brought. A part leans on all parts together.
    unit_price : pandas.Series
        Price of a piece by part.

    Returns
    -------
    pandas.Series
        By part; missing where no price is known.
    """
    used, own = (pcs.sum(axis=0).astype(float) for pcs in (history.used_pcs, history.own_pcs))
    overall = own.sum() / used.sum() if used.sum() > 0 else 1.0
    share = pd.Series((own + OWN_PCS * overall) / (used + OWN_PCS), index=history.parts)
    return (unit_price * share.reindex(unit_price.index).fillna(overall)).dropna()


def mean_per_job(use, cost):
    """Expected worth of the parts that one job uses.

    Parameters
    ----------
    use : pipeline.models.use_per_job.UsePerJob
        Use per job.
    cost : pandas.Series
        As for :func:`draw`.

    Returns
    -------
    pandas.Series
        By family and scope; parts without a price are left out, missing where none has one.
    """
    rates = use.rates
    worth = rates["expected_pcs_per_job"] * rates["part"].map(cost).astype(float)
    return worth.groupby([rates["family"], rates["scope"]]).sum(min_count=1)


def _shared_out(cells, stream, n_jobs, rng):
    """Kinds of job whose use stands for that of a stream, the jobs each stands for, and whether it is its own."""
    key = (stream.family, stream.scope)
    if key in cells or not cells:
        return [(cells.get(key), n_jobs, True)]
    others = [cell for (_, scope), cell in cells.items() if scope == stream.scope] or list(cells.values())
    seen = np.array([cell["jobs_seen"].max() + 1.0 for cell in others])
    chosen = rng.choice(len(others), n_jobs.size, p=seen / seen.sum())
    return [(cell, np.where(chosen == place, n_jobs, 0), False) for place, cell in enumerate(others)]


def _of_cell(use, cell, cost, n_jobs, begun, taken, rng):
    """Amounts of one kind of job: the jobs to come, and the rest of jobs begun."""
    price = cell["part"].map(cost).to_numpy(dtype=float) if cell is not None else np.full(1, math.nan)
    if np.isnan(price).all():
        return np.where(n_jobs > 0, math.nan, 0.0)
    beliefs, row = use.beliefs, cell["row"].to_numpy()
    shared = use.roughness_variance / max(float(cell["jobs_seen"].max()), 1.0)
    share = draw_shares(beliefs.alpha[row], beliefs.beta[row], shared, n_jobs.size, rng)
    draws = JobDraws(share, use.factor.expected, beliefs.pieces[row], beliefs.piece_weight[row], np.nan_to_num(price),
                     rng)
    amount = draws.of_jobs(n_jobs)
    for job in begun.itertuples(index=False):
        is_taken = cell["part"].isin(taken.loc[taken["job"] == job.job, "part"]).to_numpy()
        amount += draws.of_rest(is_taken, job.share, min(job.done, 1 - job.share))
    return amount
