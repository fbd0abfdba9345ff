"""Rows the records imply: registers nobody wrote down, and a family known through its machine."""

import pandas as pd

from pipeline.ingest import records
from pipeline.ingest.identifiers import distinct
from pipeline.ingest.raw_table import RawTable
from pipeline.store import catalogue, read

USED_BY = {"families": ("jobs", "machines"), "vendors": ("orders", "offers"),
           "assemblies": ("family_assemblies", "assembly_parts")}


def given_before(connection):
    """Return the tables that files of earlier loads held rows of (set of str)."""
    return {name for (name,) in read.rows(connection, "select distinct holds from load_files where rows_in > 0")}


def implied(tables, given):
    """Add registers that no file gives (families, vendors, assemblies) from the rows that use them.

    Parameters
    ----------
    tables : dict of str to RawTable
        Changed in place.
    given : set of str
        Tables once given by file: a register among them is not added to.

    Returns
    -------
    list of pandas.DataFrame
        One remark for each register added.
    """
    remarks = []
    for name, column in catalogue.REGISTERS.items():
        # Rows that wait implied theirs when they came.
        users = [tables[user] for user in USED_BY[name]
                 if user in tables and tables[user].is_given and column in tables[user].columns]
        is_filled = name in tables and len(tables[name].frame)
        if is_filled or name in given or not users:
            continue
        ids = distinct(pd.concat([user.frame.loc[~user.frame["file_line"].isin(user.beside), column]
                                  for user in users]))
        if ids.empty:
            continue
        frame = pd.DataFrame({"file_line": range(len(ids)), column: ids, "name": ids, "extra": None})
        tables[name] = RawTable(name, f"{name}.csv", frame, {column, "name"})
        sources = " and ".join(user.file for user in users)
        remarks.append(records.of_file(f"{name}.csv", ", ".join(ids), "file_absent",
                                       f"taken from {sources} as written"))
    return remarks


def family_from_machine(connection, jobs, frame):
    """Fill a job's empty family from its machine.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With the accepted machines.
    jobs : RawTable
    frame : pandas.DataFrame
        The jobs, mended.

    Returns
    -------
    frame : pandas.DataFrame
        With a column family, filled where it was empty and the machine is listed.
    listed_family : pandas.Series of str
        By line, the family of each job's machine where that is listed.
    mends : pandas.DataFrame
    """
    by_machine = dict(read.rows(connection, "select machine, family from accepted_machines"))
    frame = frame.assign(family=frame["family"] if "family" in frame else "")
    listed_family = frame["machine"].map(by_machine) if "machine" in frame else pd.Series(None, index=frame.index)
    listed_family = listed_family.astype(object)
    filled = (frame["family"] == "") & listed_family.notna()
    meant = pd.DataFrame({"family": listed_family, "machine": frame.get("machine")})[filled]
    words = [f"taken as {family}, as machine {machine} is listed" for family, machine in meant.to_numpy()]
    mends = records.listed(jobs.file, frame.loc[filled, "file_line"], "family", [""] * len(words),
                           "family_from_machine", words, "repaired")
    frame["family"] = frame["family"].where(~filled, listed_family)
    return frame, listed_family.set_axis(frame["file_line"]).dropna(), mends
