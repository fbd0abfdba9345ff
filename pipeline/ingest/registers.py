"""Rows the records imply: registers nobody wrote down, and a family known through its machine."""

import pandas as pd

from pipeline.ingest import records
from pipeline.ingest.read import RawTable
from pipeline.store import catalogue, read

USED_BY = {"families": ("jobs", "machines"), "vendors": ("orders", "offers"), "assemblies": ("family_assemblies", "assembly_parts")}


def implied(connection, tables):
    """Add registers that no file gives (families, vendors, assemblies) from the rows that use them.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        The store the folder is meant for; a register it was once given by file is not added to.
    tables : dict of str to RawTable
        Changed in place.

    Returns
    -------
    list of pandas.DataFrame
        One remark for each register added.
    """
    given = {file for (file,) in read.rows(connection, "select distinct file from load_files")}
    remarks = []
    for name, column in catalogue.REGISTERS.items():
        users = [tables[user] for user in USED_BY[name] if user in tables and column in tables[user].columns]
        if name in tables or f"{name}.csv" in given or not users:
            continue
        ids = pd.concat([user.frame[column] for user in users]).str.strip()
        ids = ids[ids != ""].drop_duplicates().reset_index(drop=True)
        frame = pd.DataFrame({"file_line": range(len(ids)), column: ids, "name": ids, "extra": None})
        tables[name] = RawTable(name, f"{name}.csv", frame, {column, "name"})
        sources = " and ".join(user.file for user in users)
        remarks.append(records.of_file(f"{name}.csv", f"{len(ids)} {name}", "file_absent", f"taken from {sources} as written"))
    return remarks


def family_from_machine(jobs, frame, machines):
    """Fill a job's empty family from its machine.

    Parameters
    ----------
    jobs : RawTable
    frame : pandas.DataFrame
        The jobs, mended.
    machines : pandas.DataFrame
        Columns machine and family.

    Returns
    -------
    frame : pandas.DataFrame
    mends : pandas.DataFrame
    """
    if "machine" not in frame:
        return frame, records.gathered([])
    frame = frame.assign(family=frame["family"] if "family" in frame else "")
    by_machine = dict(zip(machines["machine"].str.strip().str.casefold(), machines["family"].str.strip(), strict=True))
    known = frame["machine"].str.casefold().map(by_machine)
    filled = (frame["family"] == "") & known.notna()
    mends = records.listed(jobs.file, frame.loc[filled, "file_line"], "family", "", "family_from_machine",
                           "taken as " + known[filled] + ", the family of machine " + frame.loc[filled, "machine"], "repaired")
    return frame.assign(family=frame["family"].where(~filled, known)), mends
