"""Whether the shelf adds up: parts with fewer than none on it, and what only counts could put right."""

import pandas as pd

from pipeline.decisions import records_weight
from pipeline.store import read

NEGATIVE_COLUMNS = ["part", "on_hand_pcs", "lowest_pcs", "below_since_on", "until_on", "is_below_now", "after_job",
                    "likely_cause", "decisions", "amount"]
LEDGER_COLUMNS = ["part", "came_pcs", "gain_pcs", "went_pcs", "loss_pcs", "on_hand_pcs", "decisions", "amount"]
_CAME = ["opening_pcs", "implied_opening_pcs", "received_pcs", "made_pcs", "harvested_pcs", "found_pcs", "kit_in_pcs"]
_WENT = ["used_pcs", "sold_pcs", "written_off_pcs", "returned_to_vendor_pcs", "kit_out_pcs"]


def negatives(connection, decisions):
    """List parts whose book is or was below none, with the likely cause in words.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    decisions : pipeline.decisions.records_weight.Decisions
        All that is decided on the records.

    Returns
    -------
    parts : pandas.DataFrame
        `NEGATIVE_COLUMNS`, from the view ``negative_positions``. On a part below none now rest its order line and the
        jobs that wait for it; on any, the margin of the job after whose taking it fell: what it took was not there.
    named : pandas.DataFrame
        What they bear on, for :mod:`pipeline.decisions.records_weight`; item is a row of ``parts``.
    """
    parts = read.frame(connection, "negative_positions")
    parts = parts.assign(is_below_now=parts["is_below_now"].astype(bool))
    costed = pd.DataFrame({"item": parts.index, "holds": "order_lines", "job": parts["after_job"]})
    named = pd.concat([_named(parts[parts["is_below_now"]]), costed[costed["job"].notna()]], ignore_index=True)
    return records_weight.weighed(decisions, parts, named)[NEGATIVE_COLUMNS], named


def ledger(connection, decisions):
    """Every part's pieces in and out, those whose counts differed most in money first.

    Parameters
    ----------
    connection, decisions
        As for :func:`negatives`.

    Returns
    -------
    pandas.DataFrame
        part; came_pcs (all that came, counts apart) + gain_pcs (found at counts) = went_pcs (all that went, counts
        apart) + loss_pcs (missed at counts) + on_hand_pcs; decisions; amount, gains and losses together at the part's
        price (missing where it has none). Where nothing ever came, came_pcs and on_hand_pcs are missing: unknown.
    """
    parts = read.query(connection, """
        select book.*, prices.unit_price from stock_ledger as book
        left join part_prices as prices on book.part = prices.part order by book.part""")
    parts = parts.assign(
        came_pcs=parts[_CAME].astype(float).sum(axis=1).where(parts["implied_opening_pcs"].notna()),
        went_pcs=parts[_WENT].astype(float).sum(axis=1),
        gain_pcs=parts["count_gain_pcs"], loss_pcs=parts["count_loss_pcs"],
    )
    weight = records_weight.weigh(decisions, _named(parts))
    differ_pcs = parts["gain_pcs"] + parts["loss_pcs"]
    made = parts.assign(decisions=weight["decisions"], amount=(differ_pcs * parts["unit_price"]).astype(float))
    return made.sort_values(["amount", "decisions"], ascending=False, kind="stable")[LEDGER_COLUMNS]


def adds_up(parts):
    """Whether each part's pieces add up (pandas.Series of bool, missing where its start is unknown).

    Parameters
    ----------
    parts : pandas.DataFrame
        As :func:`ledger` gives it.

    Examples
    --------
    >>> adds_up(pd.DataFrame({"came_pcs": [5.0, 5.0], "gain_pcs": [0, 1], "went_pcs": [3.0, 3.0], "loss_pcs": [0, 0],
    ...                       "on_hand_pcs": [2.0, 2.0]})).tolist()
    [True, False]
    """
    left = parts["came_pcs"] + parts["gain_pcs"] - parts["went_pcs"] - parts["loss_pcs"] - parts["on_hand_pcs"]
    return left.eq(0).astype("boolean").mask(left.isna())


def _named(parts):
    return pd.DataFrame({"item": parts.index, "holds": "counts", "part": parts["part"]})
