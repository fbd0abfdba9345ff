"""What each running and booked job needs, part by part: written down, or expected of such a job."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.models import demand
from pipeline.store import read

WHOLE_WORK_DAYS = 400.0  # a window that any job on the bench is over in
EXPECTED = "expected use"
WANTS = ["job", "family", "assembly", "part", "want_pcs", "known_from", "chance_share"]


@dataclass(frozen=True)
class JobNeeds:
    """Needs of the jobs on the bench and on the books.

    Attributes
    ----------
    jobs : pandas.DataFrame
        job, family, scope, status, planned_on (start of work, else the day planned for it; missing where neither is
        written) in the order in which they are served: earliest first, those without a day last.
    wants : pandas.DataFrame
        job, family, assembly (missing: nobody said), part, want_pcs (whole pieces over the whole job), known_from
        (``findings``, ``accepted lines`` or ``expected use``), chance_share (1 for what is written).
    taken : pandas.DataFrame
        job, part, taken_pcs: pieces each job has taken so far.
    """

    jobs: pd.DataFrame
    wants: pd.DataFrame
    taken: pd.DataFrame


def fit(connection, use, pipeline, least_share):
    """List what each job needs: its findings, else its accepted lines and the use expected beyond them.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    use : pipeline.models.use_per_job.UsePerJob
        Use per job.
    pipeline : pipeline.models.job_pipeline.JobPipeline
        Jobs to come, none left out.
    least_share : float
        Chance of use, 0 to 1, from which an expected part is listed.

    Returns
    -------
    JobNeeds
        The same needs as :mod:`pipeline.models.reservations` reserves, job by job.
    """
    jobs = read.query(connection, """
        select job, family, scope, status, coalesce(started_on, planned_start_on) as planned_on
        from running_and_booked_jobs order by planned_on nulls last, booked_on nulls last, job""")
    written = read.query(connection, "from wanted_pieces order by job, part, assembly").assign(chance_share=1.0)
    found = set(read.query(connection, "select distinct job from findings")["job"])
    taken = read.query(connection, """
        select job, part, cast(sum(qty_pcs) as bigint) as taken_pcs from tidy_job_parts
        where job in (select job from running_and_booked_jobs) group by job, part order by job, part""")
    rest = expected(use, pipeline)
    rest = rest[~rest["job"].isin(found) & (rest["chance_share"] >= least_share)]
    # Accepted lines settle their own parts alone: nobody has looked into the machine yet.
    settled = pd.MultiIndex.from_frame(written[["job", "part"]])
    rest = rest[~pd.MultiIndex.from_frame(rest[["job", "part"]]).isin(settled)]
    wants = pd.concat([part for part in (written[WANTS], rest[WANTS]) if len(part)] or [written[WANTS]],
                      ignore_index=True)
    return JobNeeds(jobs, wants.astype({"want_pcs": np.int64, "chance_share": float}), taken)


def expected(use, pipeline):
    """Parts that running and booked jobs may still take, each with its chance.

    Parameters
    ----------
    use : pipeline.models.use_per_job.UsePerJob
        Use per job.
    pipeline : pipeline.models.job_pipeline.JobPipeline
        Jobs to come.

    Returns
    -------
    pandas.DataFrame
        Columns of the wants; one row per job and part that it has not taken yet. chance_share falls as a job's work
        lies behind it, and rises for a job that has proved rough; want_pcs is the usual number if it is taken at all.
    """
    done = pipeline.known_share(WHOLE_WORK_DAYS)[1] if len(pipeline.known) else np.zeros(0)
    known = pipeline.known.assign(done=done)
    known = known.loc[known["stage"] != "enquiry", ["job", "family", "scope", "done"]]
    rates = use.rates[["family", "scope", "part", "use_share", "pcs_if_used"]]
    cells = known.merge(rates, on=["family", "scope"])
    cells = cells.merge(pipeline.taken.assign(is_taken=True), on=["job", "part"], how="left")
    share = cells["use_share"].to_numpy(dtype=float)
    odds = demand.odds_of_use(cells, use.factor.expected) if len(cells) else np.ones(0)
    chance = share * odds / (1 - share + share * odds)
    left = 1 - cells["done"].to_numpy(dtype=float)
    usual = np.maximum(np.floor(cells["pcs_if_used"].to_numpy(dtype=float) + 0.5), 1)
    cells = cells.assign(assembly=None, known_from=EXPECTED, want_pcs=usual,
                         chance_share=chance * left / (1 - chance * (1 - left)))
    return cells.loc[cells["is_taken"].isna(), WANTS].reset_index(drop=True)
