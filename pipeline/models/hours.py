"""Clock hours of delivered jobs by family and scope, and how past quotes of hours compared."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels.hours import HoursFit, hours_fit, quote_bias
from pipeline.store import read

SCOPES = ("fix_only", "refresh", "thorough")
LEVEL = 0.8
ESTIMATES = ("median_hours", "median_low_hours", "median_high_hours", "mean_hours", "q80_hours")


@dataclass(frozen=True)
class JobHours:
    """Hours per job, fitted; call-back hours are not among them.

    Attributes
    ----------
    table : pandas.DataFrame
        One row per family and scope: ``jobs_seen``, ``median_hours`` with its 80 % interval (``median_low_hours``,
        ``median_high_hours``), ``mean_hours``, ``q80_hours``; ``quote_bias`` with its 80 % interval
        (``quote_bias_low``, ``quote_bias_high``) and ``quotes_seen``. Empty cells are unknown.
    fitted : HoursFit or None
        In the rows of ``table``; None where fewer than two jobs more than scopes have hours.
    """

    table: pd.DataFrame
    fitted: HoursFit | None


def fit(connection):
    """Fit the hours of one more job of each family and scope.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    JobHours
        Every family of the shop with every scope; a family with few jobs leans on the others of that scope.
    """
    jobs = read.query(
        connection,
        """
        select jobs.job, jobs.family, jobs.scope, clock.job_hours, jobs.quoted_hours
        from tidy_jobs as jobs inner join job_clock_hours as clock on jobs.job = clock.job
        where jobs.status = 'delivered' and clock.job_hours > 0 order by jobs.job""",
    )
    families = read.query(connection, "select family from families order by family")["family"]
    groups = pd.MultiIndex.from_product([families, SCOPES], names=["family", "scope"])
    group = groups.get_indexer(pd.MultiIndex.from_frame(jobs[["family", "scope"]]))
    kind = np.tile(np.arange(len(SCOPES)), len(families))
    return JobHours(*_table(groups, jobs, group, kind))


def _table(groups, jobs, group, kind):
    quoted = jobs["quoted_hours"].to_numpy(dtype=float)
    is_quoted = quoted > 0
    bias, low, high, quotes = quote_bias(
        jobs["job_hours"].to_numpy(dtype=float)[is_quoted],
        quoted[is_quoted],
        group[is_quoted],
        len(groups),
        LEVEL,
    )
    table = groups.to_frame(index=False).assign(
        quote_bias=bias, quote_bias_low=low, quote_bias_high=high, quotes_seen=quotes
    )
    if len(jobs) - np.unique(kind[group]).size < 2:
        jobs_seen = np.bincount(group, minlength=len(groups))
        return table.assign(jobs_seen=jobs_seen, **dict.fromkeys(ESTIMATES, np.nan)), None
    fitted = hours_fit(jobs["job_hours"], group, kind)
    median_low, median_high = fitted.median_interval(LEVEL)
    return table.assign(
        jobs_seen=fitted.jobs_seen,
        median_hours=fitted.median_hours,
        median_low_hours=median_low,
        median_high_hours=median_high,
        mean_hours=fitted.mean_hours,
        q80_hours=fitted.quantile_hours(LEVEL),
    ), fitted
