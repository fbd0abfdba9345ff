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
    # A check names a file of the folder; what came out of a workbook alone stands on a sheet.
    borne = dict(read.rows(connection, "select holds || '.csv', arg_min(file, load_no) from load_files group by holds"
                                       " having not bool_or(file = holds || '.csv')"))
    for name, select in views.checks():
        rows = read.query(connection, select)
        files = [borne.get(file, file) for file in rows["file"]]
        found.append(records.listed(files, [pd.NA] * len(rows), rows["column"], rows["value"], name,
                                    rows["suggestion"], "noted"))
    return records.gathered(found)
