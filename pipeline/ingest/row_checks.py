"""Row checks: facts that are possible but deserve a look, listed as remarks."""

from functools import cache

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
    # A check names a file of the folder; what came out of a workbook alone stands on a sheet.
    borne = dict(read.rows(connection, "select holds || '.csv', arg_min(file, load_no) from load_files group by holds"
                                       " having not bool_or(file = holds || '.csv')"))
    found = sorted(read.rows(connection, _every_check()), key=lambda row: row[0])
    if not found:
        return records.gathered([])
    _, rules, files, columns, values, suggestions = zip(*found, strict=True)
    return records.gathered([records.listed([borne.get(file, file) for file in files], [pd.NA] * len(files), columns,
                                            values, rules, suggestions, "noted")])


@cache
def _every_check():
    """All checks in one question: the views that many of them read are reckoned once."""
    checks = views.checks()
    steps = ",\n".join(f"check_{name} as (\n{select}\n)" for name, select in checks)
    found = " union all ".join(f'select {n} as place, \'{name}\' as rule, file, "column", value, suggestion'
                               f" from check_{name}" for n, (name, _) in enumerate(checks))
    return f"with {steps}\n{found}"
