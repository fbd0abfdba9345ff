"""What hours to expect of a job and of its stages, how far past quotes were off, and hours to restore assemblies."""

from pipeline.errors import InvalidParameter
from pipeline.kernels import stage_shares
from pipeline.kernels.hours import contingency_hours
from pipeline.models import hours, seeds
from pipeline.models import stage_hours as stage_model

COLUMNS = [
    "family",
    "scope",
    "jobs_seen",
    "median_hours",
    "mean_hours",
    "q80_hours",
    "quote_bias",
    "quote_bias_low",
    "quote_bias_high",
    "contingency_hours",
    "quotes_seen",
]
STAGE_COLUMNS = ["family", "scope", "stage", "jobs_seen", "mean_hours", "share", "share_low", "share_high"]


def job_hours_outlook(connection):
    """Hours of one more job of each family and scope: the mean is what adds up over jobs.

    The contingency is what to hold back beyond the mean so that four jobs in five stay within. The bias of past
    quotes (hours taken for every hour quoted, 80 % interval) is shown and never applied unasked.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    pandas.DataFrame
        Columns of the output table ``job_hours_outlook``; a family never seen with a scope stands with no job
        of its own and the hours of its scope; unknown cells are empty.
    """
    table = hours.fit(connection).table
    table = table.assign(contingency_hours=contingency_hours(table["mean_hours"], table["q80_hours"]))
    return table[table["mean_hours"].notna() | (table["jobs_seen"] > 0)][COLUMNS].reset_index(drop=True)


def stage_hours(connection):
    """Hours of one more job by stage of the work: for each scope, and for each family and scope with such records.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    pandas.DataFrame
        Columns of the output table ``stage_hours``; an empty family is all families together. Where no job's
        hours stand with their stages the shares are the seed table's, with no job seen.
    """
    mean_hours = hours.fit(connection).table.set_index(["family", "scope"])["mean_hours"]
    return stage_model.fit(connection, mean_hours).table[STAGE_COLUMNS]


def restored_hours(qty_pcs, assemblies=None, shares=None, fitting_hours=0.0):
    """Hours to restore some assemblies with cleaning, wiring and fitting, of a machine that is stripped already.

    Parameters
    ----------
    qty_pcs : pandas.Series
        How many of each, by ``assembly``.
    assemblies : pandas.DataFrame, optional
        ``assembly`` and its ``bench_hours``; default the seed table.
    shares : pandas.Series, optional
        Share of a job's hours by ``stage`` (``bench``, ``cleaning``, ``wiring`` are asked for); default the seed
        table. Only their ratios count.
    fitting_hours : float
        To make reproduction parts fit, all together.

    Returns
    -------
    float
        Hours.

    Raises
    ------
    InvalidParameter
        If an assembly has no bench hours in the table, or the hours are negative.
    """
    assemblies = seeds.assemblies() if assemblies is None else assemblies
    shares = seeds.stages() if shares is None else shares
    bench = assemblies.set_index("assembly")["bench_hours"].reindex(qty_pcs.index)
    if bench.isna().any():
        unknown = ", ".join(map(str, bench.index[bench.isna()]))
        raise InvalidParameter(f"assemblies holds no bench hours of {unknown}; wanted hours for each one asked for.")
    return float(
        stage_shares.restored_hours(
            (bench * qty_pcs).sum(), *shares[["bench", "cleaning", "wiring"]], fitting_hours=fitting_hours
        )
    )
