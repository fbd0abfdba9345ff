"""Row checks: facts that are possible but deserve a look, listed as remarks."""

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
        found.append(records.listed(rows["file"], [None] * len(rows), rows["column"], rows["value"], name, rows["suggestion"], "noted"))
    return records.gathered(found)


def keep(connection, found):
    """Put the remarks beside the newest load's other records."""
    connection.register("found_rows", found)
    connection.execute("insert into records by name select (select max(load_no) from loads) as load_no, * from found_rows")
    connection.unregister("found_rows")
