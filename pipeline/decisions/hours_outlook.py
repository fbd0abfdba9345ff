"""What hours to expect of a job, and how far past quotes were off."""

from pipeline.models import hours

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
]


def job_hours_outlook(connection):
    """Hours of one more job of each family and scope: the mean is what adds up over jobs.

    The bias of past quotes (hours taken for every hour quoted, 80 % interval) is shown and never applied unasked.

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
    return table[table["mean_hours"].notna() | (table["jobs_seen"] > 0)][COLUMNS].reset_index(drop=True)
