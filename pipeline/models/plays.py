"""Whether the play counter helps to foretell what a job will take: asked of the shop's own jobs, and answered."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import logit

from pipeline.kernels import plays_slope
from pipeline.store import read

LEAST_JOBS = 20  # with a counter that was read; fewer hold out too little to judge by


@dataclass(frozen=True)
class PlaysEffect:
    """The answer, and what it rests on.

    Attributes
    ----------
    slopes : pandas.DataFrame
        By scope: ``jobs`` with a counter that was read, ``slope`` of the logit of use on log plays, in units of
        its spread; no rows where there were too few jobs to ask.
    gain, gain_error : float
        Gain in log score per job held out, and its standard error; not a number where not asked.
    jobs : int
        Jobs with a counter that was read.
    is_used : bool
        Whether plays help by more than the standard error; otherwise they are left out.
    note : str
        The same as a sentence.
    """

    slopes: pd.DataFrame
    gain: float
    gain_error: float
    jobs: int
    is_used: bool
    note: str


def fit(connection, use):
    """Ask the shop's delivered jobs whether plays foretell use beyond family, scope and part.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    use : pipeline.models.use_per_job.UsePerJob
        Shares expected without the counter.

    Returns
    -------
    PlaysEffect
        Refused where fewer than 20 jobs have a counter with ``plays_quality`` ``read``.
    """
    rows = _rows(connection, use)
    n_jobs = rows["job"].nunique()
    if n_jobs < LEAST_JOBS or rows["log_plays"].std() < 1e-9:
        note = f"Plays are left out: {n_jobs} jobs with a counter that was read; wanted {LEAST_JOBS} that differ."
        return PlaysEffect(pd.DataFrame(columns=["scope", "jobs", "slope"]), np.nan, np.nan, n_jobs, False, note)
    scope, scopes = pd.factorize(rows["scope"], sort=True)
    numbers = [rows[name].to_numpy(dtype=float) for name in ("is_used", "offset", "log_plays")]
    gain, error = plays_slope.held_out_gain(*numbers, scope, pd.factorize(rows["job"])[0])
    slopes = pd.DataFrame({"scope": scopes, "jobs": rows.groupby("scope")["job"].nunique().to_numpy(),
                           "slope": plays_slope.fit_slopes(*numbers, scope)})
    is_used = gain > error
    note = (f"Plays {'help' if is_used else 'are left out: they do not help'} to foretell use: log score per job held "
            f"out {gain:+.3f}, standard error {error:.3f}, {n_jobs} jobs with a counter that was read.")
    return PlaysEffect(slopes, gain, error, n_jobs, is_used, note)


def _rows(connection, use):
    """One row per job with a counter and part it can take: job, scope, is_used, offset, log_plays within the scope."""
    jobs = read.query(connection, """
        select known_jobs.job, known_jobs.family, known_jobs.scope, ln(tidy_jobs.plays) as log_plays
        from known_jobs inner join tidy_jobs on known_jobs.job = tidy_jobs.job
        where tidy_jobs.plays_quality = 'read' and tidy_jobs.plays > 0
        order by known_jobs.job""")
    # Centred within family and scope: the shares already differ by these.
    jobs["log_plays"] -= jobs.groupby(["family", "scope"])["log_plays"].transform("mean")
    spread = jobs["log_plays"].std(ddof=0)
    jobs["log_plays"] /= spread if spread > 1e-9 else 1.0
    used = read.query(connection, "select job, part from job_work_use").assign(is_used=True)
    shares = use.rates[["family", "scope", "part", "use_share"]]
    rows = jobs.merge(shares, on=["family", "scope"]).merge(used, on=["job", "part"], how="left")
    return rows.assign(is_used=rows["is_used"].notna(), offset=logit(rows["use_share"].clip(1e-6, 1 - 1e-6)))
