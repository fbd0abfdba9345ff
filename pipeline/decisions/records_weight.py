"""How many decisions rest on a record.

What a decision is, and which records it reads, two views of the store say: ``decision_rows``, ``informed_kinds``.
"""

from dataclasses import dataclass

import pandas as pd

from pipeline.store import read

NAMES = ("part", "job", "family", "scope", "assembly", "vendor", "wear_class")


@dataclass(frozen=True)
class Decisions:
    """All decisions that read the records.

    Attributes
    ----------
    rows : pandas.DataFrame
        View ``decision_rows``: decision (number), kind, `NAMES` (missing where it bears none), amount.
    reads : pandas.DataFrame
        View ``informed_kinds``: holds (table of the shop folder), kind, shared_name.
    jobs : pandas.DataFrame
        job, family, scope of every job taken on.
    """

    rows: pd.DataFrame
    reads: pd.DataFrame
    jobs: pd.DataFrame

    @property
    def kinds(self):
        """Decisions of each kind, the most numerous first (pandas.DataFrame: kind, decisions, amount)."""
        kinds = self.rows.groupby("kind", as_index=False).agg(decisions=("decision", "size"), amount=("amount", _sum))
        return kinds.sort_values(["decisions", "kind"], ascending=[False, True], ignore_index=True)


def gather(connection):
    """Read all decisions, without working out a single one.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    Decisions
    """
    rows = read.frame(connection, "decision_rows")
    jobs = read.query(connection, """
        select job, family, scope from tidy_jobs where status not in ('enquiry', 'declined')""")
    return Decisions(_texts(rows), read.frame(connection, "informed_kinds"), jobs.astype("str"))


def weigh(decisions, named):
    """Count the decisions that rest on each item, each once.

    A decision rests on a row of a table that it reads, where the name by which such rows find their decisions is the
    same and no other name that both bear differs; a row that names a job bears its family and scope, too. A row
    without any name speaks for its whole table.

    Parameters
    ----------
    decisions : Decisions
    named : pandas.DataFrame
        Columns ``item`` (int), ``holds`` (table of the shop folder), any of `NAMES`, and ``new_name`` where the row
        names a part or job that is in no table yet: it counts as the one decision it would bring, about ``new_amount``
        where that is known. The rows of an item are taken together.

    Returns
    -------
    pandas.DataFrame
        By item: ``decisions``; ``amount``, the money these decisions are about (missing where none is known).
    """
    return _weigh_alike_once(decisions, named) if named["item"].is_unique else _weigh(decisions, named)


def weighed(decisions, frame, named):
    """Put the decisions beside each row of a frame, and those on which most rests first.

    Parameters
    ----------
    decisions : Decisions
    frame : pandas.DataFrame
        Rows with an index of their own.
    named : pandas.DataFrame
        As for :func:`weigh`; ``item`` is the row's index.

    Returns
    -------
    pandas.DataFrame
        The rows with ``decisions`` and ``amount``, by both from the most down, with their old index; ties in their
        old order.
    """
    weight = weigh(decisions, named)
    made = frame.assign(
        decisions=frame.index.map(weight["decisions"]).fillna(0).astype(int),
        amount=frame.index.map(weight["amount"]).astype(float),
    )
    return by_weight(made)


def by_weight(frame):
    """Put the rows on which most decisions rest first, then the dearest (pandas.DataFrame); ties in their old order."""
    return frame.sort_values(["decisions", "amount"], ascending=False, kind="stable")


def together(decisions, named, group):
    """Count the decisions that rest on whole groups of items, each once a group.

    Parameters
    ----------
    decisions : Decisions
    named : pandas.DataFrame
        As for :func:`weigh`.
    group : pandas.Series
        Number of each item's group, by item; items that are not in it are left out.

    Returns
    -------
    pandas.DataFrame
        By group: ``decisions``, ``amount``.
    """
    member = named["item"].isin(group.index)
    return weigh(decisions, named[member].assign(item=named.loc[member, "item"].map(group)))


def touched(decisions, named):
    """Count the decisions that rest on any of the items (int); ``new_name`` plays no part."""
    return len(_rests(decisions, named.assign(item=0)))


def by_kind(decisions, named):
    """Count the decisions of each kind that rest on each item.

    Parameters
    ----------
    decisions : Decisions
    named : pandas.DataFrame
        As for :func:`weigh`; ``new_name`` plays no part.

    Returns
    -------
    pandas.DataFrame
        item, kind, decisions; the most numerous kind of an item first.
    """
    found = _rests(decisions, named).groupby(["item", "kind"], as_index=False).agg(decisions=("decision", "size"))
    return found.sort_values(["item", "decisions", "kind"], ascending=[True, False, True], ignore_index=True)


def _weigh_alike_once(decisions, named):
    """Weigh rows that bear the same names once: a thousand cells may name twenty parts."""
    alike = named.reindex(columns=["holds", *NAMES, "new_name", "new_amount"])
    number = alike.astype(object).groupby(list(alike), dropna=False, sort=False).ngroup()
    weight = _weigh(decisions, named.assign(item=number)[~number.duplicated()])
    return weight.reindex(number.to_numpy()).set_axis(pd.Index(named["item"], name="item", dtype="int64"))


def _weigh(decisions, named):
    found = _rests(decisions, named)
    weight = found.groupby("item").agg(decisions=("decision", "size"), amount=("amount", _sum))
    brought = named.reindex(columns=["item", "new_name", "new_amount"]).dropna(subset="new_name")
    brought = brought.astype({"new_amount": float}).groupby(["item", "new_name"])["new_amount"].max().groupby("item")
    items = pd.Index(named["item"].unique(), name="item", dtype="int64")
    return pd.DataFrame({
        "decisions": weight["decisions"].reindex(items).add(brought.size(), fill_value=0).fillna(0).astype(int),
        "amount": weight["amount"].reindex(items).astype(float).add(brought.agg(_sum).astype(float), fill_value=0.0),
    }, index=items)


def _rests(decisions, named):
    """Pairs of item and decision, each once, with the decision's kind and amount."""
    named = _with_families(decisions, _texts(named.reindex(columns=["item", "holds", *NAMES]))).drop_duplicates()
    reads = decisions.reads[["holds", "kind"]].drop_duplicates()
    whole = named.loc[named[list(NAMES)].isna().all(axis=1), ["item", "holds"]].merge(reads, on="holds")
    found = [whole.merge(decisions.rows[["kind", "decision", "amount"]], on="kind")]
    for shared, reads in decisions.reads.groupby("shared_name"):
        bearing = named[named[shared].notna()].merge(reads[["holds", "kind"]], on="holds")
        read_by = decisions.rows[decisions.rows[shared].notna()]
        both = bearing.merge(read_by, on=["kind", shared], suffixes=("", "_read"))
        found.append(both[_agree(both, [name for name in NAMES if name != shared])])
    pairs = pd.concat([each[["item", "decision", "kind", "amount"]] for each in found], ignore_index=True)
    return pairs.drop_duplicates(["item", "decision"])


def _with_families(decisions, named):
    """Family and scope of the job a row names, where the row does not say them itself."""
    known = named[["job"]].merge(decisions.jobs, how="left", on="job").set_axis(named.index)
    return named.assign(family=named["family"].fillna(known["family"]), scope=named["scope"].fillna(known["scope"]))


def _agree(both, names):
    agree = pd.Series(True, index=both.index)
    for name in names:
        mine, theirs = both[name], both[f"{name}_read"]
        agree &= mine.isna() | theirs.isna() | (mine == theirs)
    return agree


def _texts(frame):
    return frame.astype({name: "str" for name in ("holds", *NAMES) if name in frame})


def _sum(amounts):
    return amounts.sum(min_count=1)
