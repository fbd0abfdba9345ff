"""Row checks: facts that are possible but deserve a look, listed as remarks."""

import pandas as pd

from pipeline.ingest import records
from pipeline.store import read, views


def run(connection):
    """Run every check of ``sql/checks`` and return its offending rows.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection

    Returns
    -------
    pandas.DataFrame
        Columns of :mod:`pipeline.ingest.records`; rule is the name of the check.
    """
    found = []
    for name, select in views.checks():
        rows = read.query(connection, select)
        found.append(records.listed(rows["file"], [pd.NA] * len(rows), rows["column"], rows["value"], name,
                                    rows["suggestion"], "noted"))
    return records.gathered(found)
