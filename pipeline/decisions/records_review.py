"""Everything there is to say about the records themselves, and what to mend first."""

from dataclasses import dataclass

import pandas as pd

from pipeline.decisions import (
    records_doubts,
    records_gaps,
    records_repaired,
    records_stock,
    records_waiting,
    records_weight,
)
from pipeline.store import catalogue, read

FIRST_COLUMNS = ["what", "where", "what_to_do", "rows", "decisions", "amount"]
TO_DO = {
    "parts": "add the parts they took to job_parts, or write no_parts_used = yes in jobs",
    "hours": "add their hours to job_hours",
    "invoice": "write their invoiced_amount in jobs",
    "price": "write what a piece costs: its purchase, an offer, or unit_cost in parts",
    "negative": "see the likely cause in their list, mend it or count them",
    "gap": "write down what was done meanwhile, as far as it is still known",
}
# Remarks that a list of their own tells better.
_TOLD_APART = ("delivered_without_parts", "delivered_without_hours", "delivered_without_invoice", "part_without_price",
               "more_taken_than_was_there")


@dataclass(frozen=True)
class Review:
    """The records, looked through.

    Attributes
    ----------
    rows_in : int
        Rows of the shop folder that are in the store.
    decisions : pipeline.decisions.records_weight.Decisions
    waiting : pipeline.decisions.records_waiting.Waiting
    repaired_kinds, repaired_cells : pandas.DataFrame
        As :func:`pipeline.decisions.records_repaired.gather` gives them.
    noted, jobs, parts, missing : pandas.DataFrame
        Remarks, delivered jobs that lack something, parts without a price, optional files that are not there, as
        :mod:`pipeline.decisions.records_doubts` gives them.
    missing_kinds : pandas.DataFrame
        file, kind, decisions.
    negatives, ledger : pandas.DataFrame
        As :mod:`pipeline.decisions.records_stock` gives them.
    gaps, rhythms : pandas.DataFrame
        As :func:`pipeline.decisions.records_gaps.find` gives them.
    first : pandas.DataFrame
        What to mend in the records that are there, that on which most decisions rest first: what, where, what_to_do,
        rows, decisions, amount.
    in_doubt : int
        Decisions that rest on any record that waits, lacks or is noted.
    """

    rows_in: int
    decisions: records_weight.Decisions
    waiting: records_waiting.Waiting
    repaired_kinds: pd.DataFrame
    repaired_cells: pd.DataFrame
    noted: pd.DataFrame
    jobs: pd.DataFrame
    parts: pd.DataFrame
    missing: pd.DataFrame
    missing_kinds: pd.DataFrame
    negatives: pd.DataFrame
    ledger: pd.DataFrame
    gaps: pd.DataFrame
    rhythms: pd.DataFrame
    first: pd.DataFrame
    in_doubt: int


def make(connection):
    """Look the records through.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    Review
        With empty frames where there is nothing to say.
    """
    decisions = records_weight.gather(connection)
    waiting = records_waiting.gather(connection, decisions)
    kinds, cells = records_repaired.gather(connection, decisions)
    noted, noted_named = records_doubts.noted(connection, decisions)
    noted = noted[~noted["rule"].isin(_TOLD_APART)]
    jobs, jobs_named = records_doubts.lacking_jobs(connection, decisions)
    parts, parts_named = records_doubts.unpriced_parts(connection, decisions)
    negatives, negatives_named = records_stock.negatives(connection, decisions)
    gaps, rhythms, gaps_named = records_gaps.find(connection, decisions, read.settings(connection).today)
    missing, missing_kinds = records_doubts.missing_files(connection, decisions)
    groups = [
        _grouped(decisions, jobs, jobs_named, jobs["lacks"].str.split(", ").str[0], "job", _job_words),
        _grouped(decisions, parts, parts_named, parts["part"].notna(), "part", _part_words),
        _grouped(decisions, negatives, negatives_named, negatives["is_below_now"], "part", _negative_words),
        _grouped(decisions, noted, noted_named, noted["rule"], "value", _note_words),
    ]
    first = pd.concat([_mends(waiting.mends), *groups, _gaps(gaps)], ignore_index=True)
    first = first.astype({"rows": "Int64", "decisions": "int64", "amount": "float64"})
    first = records_weight.by_weight(first[first["decisions"] > 0])
    named = [waiting.named, jobs_named, parts_named, gaps_named, negatives_named,
             noted_named[noted_named["item"].isin(noted.index)]]
    in_doubt = records_weight.touched(decisions, pd.concat(named, ignore_index=True))
    return Review(_rows_in(connection), decisions, waiting, kinds, cells, noted, jobs, parts, missing, missing_kinds,
                  negatives, records_stock.ledger(connection, decisions), gaps, rhythms, first[FIRST_COLUMNS], in_doubt)


def told(count, one, many, names):
    """Return a number with its noun and the first names (str): "8 jobs: J-1; J-2 and 6 more"."""
    shown = "; ".join(map(str, names[:2]))
    return f"{count:,} {one if count == 1 else many}: {shown}" + (f" and {count - 2:,} more" if count > 2 else "")


def lines_told(lines, most=4):
    """Return lines of a file in words (str), without thousands: "lines 34, 1214 and 9 more"."""
    known = [str(line) for line in lines if line > 0]
    if not known:
        return "in the store before"
    shown = ", ".join(known[:most]) + (f" and {len(known) - most:,} more" if len(known) > most else "")
    return f"line {shown}" if len(known) == 1 else f"lines {shown}"


def value_told(column, value):
    """Return what was found in words (str): "qty_pcs is 'lots'"."""
    if pd.isna(column):
        return "the whole row"
    return f"{column} is empty" if pd.isna(value) else f"{column} is '{value}'"


def _rows_in(connection):
    """Rows in all tables; a register that other files imply and nobody wrote has none of its own."""
    implied = {file.removesuffix(".csv") for file in read.missing_files(connection)["file"]}
    counts = " union all ".join(f'select count(*) as rows from "{name}"' for name in catalogue.tables()
                                if name not in implied)
    return int(read.rows(connection, f"select sum(rows) from ({counts})")[0][0])


def _grouped(decisions, frame, named, key, name, words):
    """One line per group of like rows, with the decisions that rest on the whole group."""
    if frame.empty:
        return pd.DataFrame(columns=FIRST_COLUMNS)
    number = frame.groupby(key, sort=False).ngroup()
    weight = records_weight.together(decisions, named, number)
    rows = []
    for _, members in frame.groupby(number):
        what, (one, many), what_to_do = words(members.iloc[0], key[members.index[0]])
        rows.append((what, told(len(members), one, many, members[name].tolist()), what_to_do, len(members)))
    made = pd.DataFrame(rows, columns=FIRST_COLUMNS[:4])
    weight = weight.reindex(made.index)
    return made.assign(decisions=weight["decisions"].fillna(0), amount=weight["amount"])


def _job_words(_, lacks):
    return f"delivered without {lacks}", ("job", "jobs"), TO_DO[lacks]


def _part_words(*_):
    return "used without a price", ("part", "parts"), TO_DO["price"]


def _negative_words(_, is_below_now):
    return "shelf below none" if is_below_now else "shelf once below none", ("part", "parts"), TO_DO["negative"]


def _note_words(remark, rule):
    return rule.replace("_", " "), ("remark", "remarks"), remark["why"]


def _mends(mends):
    where = [f"{mend.file} {lines_told(mend.lines)}: {value_told(mend.column, mend.value)}"
             for mend in mends.itertuples()]
    return mends.assign(what="set aside", where=where, what_to_do=mends["why"])[FIRST_COLUMNS]


def _gaps(gaps):
    where = [f"{gap.from_on} to {gap.to_on}, {gap.gap_days:,} days" for gap in gaps.itertuples()]
    return gaps.assign(what="no " + gaps["kind"], where=where, what_to_do=TO_DO["gap"], rows=pd.NA)[FIRST_COLUMNS]

