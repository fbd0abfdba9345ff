"""Rows set aside that still wait: what is wrong with each, what rests on it, and which one mend brings in how many."""

import re
from dataclasses import dataclass

import pandas as pd

from pipeline.decisions import records_weight
from pipeline.store import catalogue, read

ROW_COLUMNS = ["file", "line", "column", "value", "why", "load_no", "decisions", "amount"]
MEND_COLUMNS = ["file", "lines", "column", "value", "why", "rows", "decisions", "amount"]
_MEANT = re.compile(r"did you mean (.+?)(?: or |, |\?)")
_KEY = ["file", "line"]
_GENERATIONS = 4  # a family keeps out a machine, that a job, that its parts


@dataclass(frozen=True)
class Waiting:
    """Rows that wait, those on which most decisions rest first.

    Attributes
    ----------
    rows : pandas.DataFrame
        One row each: file, line (below 0: the row was in the store before), column, value, why (all that is wrong with
        it, and what was wanted), load_no (load that brought its file), decisions, amount.
    mends : pandas.DataFrame
        One row per cause: a name that no table lists keeps out every row that bears it, and a row set aside those that
        name it. file, lines (list of int), column, value, why, rows (brought in by this one mend), decisions, amount.
    named : pandas.DataFrame
        The names that the rows bear, for :mod:`pipeline.decisions.records_weight`; item is a row of ``rows``.
    """

    rows: pd.DataFrame
    mends: pd.DataFrame
    named: pd.DataFrame


def gather(connection, decisions):
    """Read what waits.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    decisions : pipeline.decisions.records_weight.Decisions
        All that is decided on the records.

    Returns
    -------
    Waiting
        With empty frames where nothing waits. Decisions are those that rest on the part or job a row names; on the
        nearest known name where the load suggested one; a part or job that no table lists yet counts as the one
        decision it would bring.
    """
    entries = read.query(connection, """
        select file, line, "column", value, rule, suggestion from last_load_records where outcome = 'set_aside'""")
    rows = _told(entries).merge(read.frame(connection, "waiting_rows"), how="left", on=_KEY)
    rows = rows.merge(read.query(connection, "select file, load_no from last_load_files"), how="left", on="file")
    named = _named(connection, rows, entries).assign(item=rows.index)
    cause = _causes(rows, entries)
    by_row = records_weight.weighed(decisions, rows, named)
    return Waiting(by_row[ROW_COLUMNS], _mends(decisions, rows.assign(cause=cause), named), named)


def _told(entries):
    """Each row once, with everything that is wrong with it."""
    def together(values):
        return "; ".join(dict.fromkeys(values.dropna().astype(str))) or None

    is_one = ~entries.duplicated(_KEY, keep=False)
    alone = entries[is_one].rename(columns={"suggestion": "why"})[[*_KEY, "column", "value", "why"]]
    told = entries[~is_one].groupby(_KEY, sort=False, dropna=False).agg(
        column=("column", together), value=("value", together), why=("suggestion", together))
    return pd.concat([alone, told.reset_index()], ignore_index=True).sort_values(_KEY, kind="stable", ignore_index=True)


def _named(connection, rows, entries):
    """Names each row bears; a name no table lists is taken for the nearest one, where one was suggested."""
    named = rows.reindex(columns=["holds", *records_weight.NAMES])
    new = pd.Series(None, index=rows.index, dtype=object)
    for column, register in (("part", "parts"), ("job", "jobs")):
        known = set(read.query(connection, f"select {column} from {register}")[column])
        meant = entries.loc[entries["rule"] == f"unknown_{column}"].drop_duplicates(_KEY)
        meant = rows[_KEY].merge(meant.assign(meant=meant["suggestion"].map(_nearest)), how="left", on=_KEY)["meant"]
        own = named[column].where(named[column].isin(known) | ~meant.isin(known), meant)
        is_new = own.notna() & ~own.isin(known)
        if column == "job":  # a job that was never delivered has no margin, and a row of jobs says whether it was
            is_new &= (rows["holds"] != "jobs") | rows["is_delivered"].eq(True)
        named[column] = own
        new = new.where(~is_new, column + " " + own.astype(str))
    # What waits with its job is of the job's family.
    jobs = rows[rows["holds"] == "jobs"].drop_duplicates("job").set_index("job")
    families = {name: named[name].astype(object).where(named[name].notna(), named["job"].map(jobs[name]))
                for name in ("family", "scope")}
    return named.assign(**families, new_name=new, new_amount=rows["invoiced_amount"])


def _nearest(suggestion):
    found = _MEANT.search(suggestion or "")
    return found[1] if found else None


def _causes(rows, entries):
    """Index of the row at the root of each row's trouble: its own, or that of the row or name it waits for."""
    place = pd.Series(rows.index, index=pd.MultiIndex.from_frame(rows[_KEY]))
    entries = entries.assign(place=place.reindex(pd.MultiIndex.from_frame(entries[_KEY])).to_numpy())
    is_child = entries["rule"].str.endswith("_set_aside")
    cause = pd.Series(rows.index, index=rows.index)
    own = set(entries.loc[~is_child, "place"])
    waits = entries[is_child & ~entries["place"].isin(own)].drop_duplicates("place")
    parents = _declared(rows)
    parent = pd.MultiIndex.from_arrays([waits["rule"].str.removesuffix("_set_aside"), waits["value"]])
    found = pd.Series(parents.reindex(parent).to_numpy(), index=waits["place"].to_numpy()).dropna()
    cause[found.index] = found.astype(int)
    for _ in range(_GENERATIONS):
        cause = cause.map(cause)
    return cause.map(_same_stranger(entries[~is_child])).fillna(cause).astype(int)


def _declared(rows):
    """Row that would declare each (column, name)."""
    pairs = [(table.declares, name) for name, table in catalogue.tables().items() if table.declares]
    found = [pd.DataFrame({"column": column, "name": rows.loc[rows["holds"] == name, column]})
             for column, name in pairs if column in rows]
    listed = pd.concat(found).dropna().drop_duplicates() if found else pd.DataFrame({"column": [], "name": []})
    return pd.Series(listed.index, index=pd.MultiIndex.from_frame(listed))


def _same_stranger(own):
    """First row that bears a name no table lists, for each further row that bears it too."""
    strangers = own[own["rule"].str.startswith("unknown_")].drop_duplicates("place")
    alone = strangers[~strangers["place"].isin(own.loc[~own["rule"].str.startswith("unknown_"), "place"])]
    return alone.set_index("place").index.to_series().groupby(
        [alone["column"].to_numpy(), alone["value"].to_numpy()]).transform("first")


def _mends(decisions, rows, named):
    roots = rows[rows["cause"] == rows.index]
    together = rows.groupby("cause")
    is_own = rows["why"].eq(rows["cause"].map(rows["why"]))
    lines = rows[is_own].groupby("cause")["line"].agg(lambda each: sorted(int(line) for line in each.dropna()))
    files = rows[is_own].groupby("cause")["file"].agg(lambda each: ", ".join(dict.fromkeys(each)))
    mends = roots.assign(rows=together.size(), lines=lines, file=files)
    return records_weight.weighed(decisions, mends, named.assign(item=rows["cause"]))[MEND_COLUMNS]
