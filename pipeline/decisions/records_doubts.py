"""What is in and yet in doubt, or not there at all, each with the decisions that rest on it."""

import pandas as pd

from pipeline.decisions import records_weight
from pipeline.store import read

NOTED_COLUMNS = ["rule", "file", "column", "value", "why", "decisions", "amount"]
JOB_COLUMNS = ["job", "family", "scope", "delivered_on", "lacks", "decisions", "amount"]
PART_COLUMNS = ["part", "description", "used_pcs", "year_pcs", "jobs", "decisions", "amount"]
MISSING_COLUMNS = ["file", "unlocks", "decisions", "amount"]
# What a delivered job lacks, and the table of which it stands for a missing row.
_LACKS = {"parts": "jobs", "hours": "job_hours", "invoice": "job_costs"}
# Tables that speak of single parts or jobs only (view lacking_rows), with the kind of decision that a row of them would
# bring where none is there to inform; the others would inform all that reads them.
_OF_SOME = {"receipts": None, "stock_moves": None, "findings": "choice", "quote_lines": "need", "aliases": "order"}
# Remarks that speak of all the rows of their file.
_OF_ALL = ("setting_of_unknown_kind", "day_far_after_all_others")


def noted(connection, decisions):
    """List the remarks on rows that are in, with what rests on the part, job, machine or order each names.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    decisions : pipeline.decisions.records_weight.Decisions
        All that is decided on the records.

    Returns
    -------
    remarks : pandas.DataFrame
        rule, file, column, value, why, decisions, amount; both missing where a remark names none of them: unknown.
    named : pandas.DataFrame
        What they bear on, for :mod:`pipeline.decisions.records_weight`; item is a row of ``remarks``.
    """
    entries = read.query(connection, """
        select rule, file, "column", value, suggestion as why from last_load_records where outcome = 'noted'""")
    files = read.query(connection, "select distinct file, holds from load_files").set_index("file")["holds"]
    holds = entries["file"].map(files).fillna(entries["file"].str.replace(r"\.\w+$", "", regex=True))
    of_all = entries.index[entries["rule"].isin(_OF_ALL)]
    named = pd.concat([_named(connection, entries), pd.DataFrame({"item": of_all})], ignore_index=True)
    named = named.assign(holds=named["item"].map(holds))
    made = records_weight.weighed(decisions, entries, named)
    made = made.assign(decisions=made["decisions"].astype("Int64").where(made.index.isin(named["item"])))
    return made[NOTED_COLUMNS], named


def lacking_jobs(connection, decisions):
    """List delivered jobs that lack their parts, hours or invoice.

    Parameters
    ----------
    connection, decisions
        As for :func:`noted`.

    Returns
    -------
    jobs : pandas.DataFrame
        job, family, scope, delivered_on, lacks (in words), decisions, amount.
    named : pandas.DataFrame
        What they bear on, as for :func:`noted`.
    """
    jobs = read.frame(connection, "delivered_job_gaps")
    lacking = {what: jobs[f"lacks_{what}"].astype(bool) for what in _LACKS}
    words = [", ".join(what for what, lacks in zip(_LACKS, row, strict=True) if lacks)
             for row in zip(*lacking.values(), strict=True)]
    jobs = jobs.assign(lacks=pd.Series(words, index=jobs.index, dtype="str"))
    named = [jobs.loc[lacking[what], ["job"]].assign(holds=holds) for what, holds in _LACKS.items()]
    named = pd.concat(named).reset_index(names="item")
    return records_weight.weighed(decisions, jobs, named)[JOB_COLUMNS], named


def unpriced_parts(connection, decisions):
    """List parts that were used and have no price, with what is reckoned from it and the margins of their jobs.

    Parameters
    ----------
    connection, decisions
        As for :func:`noted`.

    Returns
    -------
    parts : pandas.DataFrame
        part, description, used_pcs, year_pcs (within a year of today), jobs, decisions, amount.
    named : pandas.DataFrame
        What they bear on, as for :func:`noted`.
    """
    parts = read.frame(connection, "unpriced_parts")
    used = read.query(
        connection, "select distinct part, job from job_parts where part in (select part from unpriced_parts)")
    of_part = pd.Series(parts.index, index=parts["part"])
    named = pd.concat([
        pd.DataFrame({"item": parts.index, "holds": "offers", "part": parts["part"]}),
        pd.DataFrame({"item": used["part"].map(of_part), "holds": "offers", "job": used["job"]}),
    ], ignore_index=True)
    return records_weight.weighed(decisions, parts, named)[PART_COLUMNS], named


def missing_files(connection, decisions):
    """List the optional files that are not there, with the decisions that each would inform today.

    Parameters
    ----------
    connection, decisions
        As for :func:`noted`.

    Returns
    -------
    files : pandas.DataFrame
        file, unlocks, decisions, amount.
    kinds : pandas.DataFrame
        file, kind, decisions: the same by kind of decision.
    """
    files = read.missing_files(connection)
    named = pd.DataFrame({"item": files.index, "holds": files["file"].str.removesuffix(".csv")})
    lacking = named.merge(read.frame(connection, "lacking_rows"), on="holds")
    lacking = lacking.assign(kind=lacking["holds"].map(_OF_SOME))
    lacking = lacking.assign(new_name=lacking["job"].fillna(lacking["part"]).where(lacking["kind"].notna()))
    named = pd.concat([named[~named["holds"].isin(_OF_SOME)], lacking], ignore_index=True)
    brought = lacking.groupby(["item", "kind"], as_index=False).agg(decisions=("new_name", "nunique"))
    kinds = pd.concat([records_weight.by_kind(decisions, named), brought], ignore_index=True)
    kinds = kinds.assign(file=kinds["item"].map(files["file"]))[["file", "kind", "decisions"]]
    return records_weight.weighed(decisions, files, named)[MISSING_COLUMNS], kinds


def _named(connection, entries):
    """Parts, jobs and vendors that remarks name: what stands before the figures, told apart by commas."""
    known = read.query(connection, """
        select part as token, part, null as job, null as vendor from parts
        union all select job, null, job, null from jobs
        union all select machine, null, job, null from jobs where machine is not null
        union all select order_no, null, null, vendor from orders
        union all select vendor, null, null, vendor from vendors""")
    tokens = entries["value"].str.split(": ", n=1).str[0].str.split(", ").explode()
    tokens = tokens.str.strip().rename("token").rename_axis("item").reset_index()
    named = tokens.merge(known, on="token").drop(columns="token").drop_duplicates()
    is_one = named.groupby("item")["job"].transform("nunique") <= 1
    return pd.concat([named[is_one].groupby("item", as_index=False).first(), named[~is_one]], ignore_index=True)
