"""Cells that were mended by a stated rule: as written, as taken, and what rests on them."""

import pandas as pd

from pipeline.decisions import records_weight
from pipeline.store import catalogue, read

CELL_COLUMNS = ["file", "line", "column", "value", "taken_as", "rule", "decisions", "amount"]
KIND_COLUMNS = ["rule", "file", "column", "cells", "samples", "decisions", "amount"]
SAMPLES = 3
_TAKEN = r"(?:^taken as |dropped: )(.*?)(?:, as machine .* is listed)?$"
_CELL = ["file", "line", "column"]
_NAMING = {"part": "part", "adds_part": "part", "job": "job", "family": "family", "vendor": "vendor",
           "assembly": "assembly"}


def gather(connection, decisions):
    """List the cells that were mended in each file's newest load.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    decisions : pipeline.decisions.records_weight.Decisions
        All that is decided on the records.

    Returns
    -------
    kinds : pandas.DataFrame
        One row per rule (several that mended the same cells together), file and column: cells, samples in words,
        decisions, amount.
    cells : pandas.DataFrame
        One row per cell, a cell mended twice told once: file, line, column, value (as written), taken_as, rule,
        decisions, amount. The store keeps which cell was mended, not whose row it was: the row is found again by the
        name it was mended to, else by the mended value where so many rows bear it as cells were mended to it. Where
        neither tells, decisions and amount are missing: unknown, not none. Those on which most rests first.
    """
    entries = read.query(connection, """
        select file, line, "column", value, rule, suggestion from last_load_records where outcome = 'repaired'""")
    cells = _cells(entries, _holds(connection))
    named = _named(connection, cells)
    weight = records_weight.weigh(decisions, named)
    cells = cells.assign(decisions=cells.index.map(weight["decisions"]).astype("Int64"),
                         amount=cells.index.map(weight["amount"]).astype(float))
    return _kinds(decisions, cells, named), records_weight.by_weight(cells)[CELL_COLUMNS]


def _holds(connection):
    files = read.query(connection, "select distinct file, holds from load_files")
    return dict(zip(files["file"], files["holds"], strict=True))


def _cells(entries, holds):
    entries = entries.assign(taken_as=entries["suggestion"].str.extract(_TAKEN)[0])
    is_one = ~entries.duplicated(_CELL, keep=False)
    twice = entries[~is_one].groupby(_CELL, sort=False, dropna=False).agg(
        value=("value", "first"), taken_as=("taken_as", "last"),
        rule=("rule", lambda each: ", ".join(dict.fromkeys(each))))
    alone = entries.loc[is_one, [*_CELL, "value", "taken_as", "rule"]]
    cells = pd.concat([alone, twice.reset_index()], ignore_index=True).sort_values(_CELL[:2], kind="stable")
    return cells.assign(holds=cells["file"].map(holds)).reset_index(drop=True)


def _named(connection, cells):
    """The names in the rows of the mended cells, where it is sure whose they are."""
    found = []
    for (holds, column), group in cells.groupby(["holds", "column"]):
        if column in _NAMING:
            found.append(group[["holds"]].assign(item=group.index, **{_NAMING[column]: group["taken_as"]}))
        elif holds in catalogue.tables():
            found.append(_by_value(connection, holds, column, group))
    columns = ["item", "holds", *records_weight.NAMES]
    return pd.concat(found, ignore_index=True).reindex(columns=columns) if found else pd.DataFrame(columns=columns)


def _by_value(connection, holds, column, group):
    """Rows of a table that bear the mended values, where there are no more of them than cells."""
    table = catalogue.tables()[holds]
    kind = next((found.type for found in table.columns if found.name == column), None)
    names = [found.name for found in table.columns if found.name in records_weight.NAMES]
    if kind is None or not names:
        return pd.DataFrame(columns=["item", "holds"])
    rows = read.query(connection, f"""
        select taken.value as taken_as, {", ".join(f"stored.{name}" for name in names)}
        from (select unnest(?) as value) as taken
        inner join {holds} as stored on stored."{column}" = try_cast(taken.value as {kind})""",
        [group["taken_as"].dropna().unique().tolist()])
    bearing, mended = rows["taken_as"].value_counts(), group["taken_as"].value_counts()
    sure = rows["taken_as"].map(bearing) <= rows["taken_as"].map(mended)
    cells = group[["taken_as"]].assign(item=group.index, holds=holds)
    return cells.merge(rows[sure], on="taken_as").drop(columns="taken_as")


def _kinds(decisions, cells, named):
    keys = ["rule", "file", "column"]
    number = cells.groupby(keys, sort=False, dropna=False).ngroup()
    kinds = cells.groupby(number).agg(
        rule=("rule", "first"), file=("file", "first"), column=("column", "first"), cells=("line", "size"))
    kinds = kinds.assign(samples=[_samples(cells[number == each]) for each in kinds.index])
    return records_weight.weighed(decisions, kinds, named.assign(item=named["item"].map(number)))[KIND_COLUMNS]


def _samples(cells):
    different = cells.drop_duplicates(["value", "taken_as"])
    shown = [f"'{value}' as '{taken}'" if value else f"empty as '{taken}'"
             for value, taken in different[["value", "taken_as"]].fillna("").head(SAMPLES).itertuples(index=False)]
    more = len(different) - len(shown)
    return ", ".join(shown) + (f", and {more:,} more spellings" if more > 0 else "")
