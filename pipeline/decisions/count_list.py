"""Bins worth counting this week: where the book cannot be right, or much money rests on an old count."""

import numpy as np
import pandas as pd

from pipeline.models import stock
from pipeline.store import read

COLUMNS = ["part", "shelf", "book_pcs", "last_counted_on", "worth_amount", "why"]
LARGE_SHARE = 0.8  # parts that together are this share of the shelf's worth are of large value
FAR_OFF_WORDS = "the last count was {found:.0f} where the book had {book:.0f}"
METHOD = (
    "First come bins whose book is below none, then those with takings that cannot be right, then what was never "
    f"counted though jobs use it, then dear bins (together {LARGE_SHARE:.0%} of the shelf's worth) not counted for a "
    "year; within each the most money first."
)


def table(plan, connection):
    """Table ``count_list``: what to count, the most doubtful first.

    Parameters
    ----------
    plan : pipeline.decisions.order_plan.StockPlan
        Today's plan.
    connection : duckdb.DuckDBPyConnection
        An open store.

    Returns
    -------
    pandas.DataFrame
        `COLUMNS`. book_pcs and last_counted_on are missing where nobody knows them; worth_amount is the book's pieces,
        those below none too, at the price to buy them today. ``why`` says every reason, the first one first, and how
        old the count is where it is older than a year.
    """
    lines = plan.lines
    worth = (lines["on_hand_pcs"].abs() * lines["known_price"]).round(2)
    reasons = [_below_none(lines), _doubtful_takings(lines, connection), _never_counted(lines),
               _dear_and_old(lines, plan.facts.today), _far_off(lines, connection)]
    told = pd.concat(reasons, axis=1)
    is_listed = told.iloc[:, :4].notna().any(axis=1)
    made = pd.DataFrame({
        "part": lines["part"], "shelf": lines["shelf"], "book_pcs": lines["on_hand_pcs"].astype("Int64"),
        "last_counted_on": pd.to_datetime(lines["counted_on"]), "worth_amount": worth,
        "why": told.apply(lambda row: "; ".join(row.dropna()), axis=1),
        "rank": np.argmax(told.iloc[:, :4].notna().to_numpy(), axis=1)})
    made = made[is_listed].sort_values(["rank", "worth_amount", "part"], ascending=[True, False, True])
    return made[COLUMNS].reset_index(drop=True)


def _below_none(lines):
    """Words for a book below none, with the likely cause."""
    books = zip(lines["on_hand_pcs"], lines["doubt"], strict=True)
    words = [f"the book says {pcs:.0f}: {doubt}" for pcs, doubt in books]
    return pd.Series(words, index=lines.index, dtype=object).where(lines["on_hand_pcs"] < 0)


def _doubtful_takings(lines, connection):
    """Words for takings since the last count that cannot be right, and for doubts of the book itself."""
    far = read.frame(connection, "takings_above_holding").drop_duplicates("part").set_index("part")
    far = far.reindex(lines["part"]).set_axis(lines.index)
    is_since = pd.to_datetime(far["first_used_on"]).isna() | ~(
        pd.to_datetime(far["first_used_on"]) <= pd.to_datetime(lines["counted_on"]))
    words = [f"job {job} took {taken:.0f} of a machine's {held:.0f}: a pack entered as a piece?"
             for job, taken, held in zip(far["job"], far["used_pcs"].astype(float), far["machine_pcs"].astype(float),
                                         strict=True)]
    taken = pd.Series(words, index=lines.index, dtype=object).where(far["job"].notna() & is_since)
    is_doubt = lines["doubt"].notna() & (lines["on_hand_pcs"] >= 0) & lines["counted_on"].notna()
    is_old = lines["doubt"].astype(str).str.startswith("last counted")  # said on its own
    return taken.where(taken.notna(), lines["doubt"].astype(object).where(is_doubt & ~is_old))


def _never_counted(lines):
    """Words for bins nobody ever counted though something is decided on them."""
    is_needed = (lines["year_use_pcs"] > 0) | (lines["committed_pcs"] > 0) | (lines["keep"] == "always")
    return lines["doubt"].astype(object).where(lines["counted_on"].isna() & is_needed & ~(lines["on_hand_pcs"] < 0))


def _dear_and_old(lines, today):
    """Words for a count older than a year of a bin of large value."""
    age_days = (pd.Timestamp(today) - pd.to_datetime(lines["counted_on"])).dt.days
    words = [f"last counted {days / 30.4375:.0f} months ago" for days in age_days.fillna(0)]
    value = (lines["free_pcs"] * lines["known_price"]).fillna(0.0)
    dearest = value.sort_values(ascending=False)
    before = (dearest.cumsum() - dearest).reindex(lines.index)
    is_large = (value > 0) & (before < LARGE_SHARE * value.sum())
    is_old = age_days > stock.STALE_COUNT_DAYS
    is_said = is_old & (is_large | (lines["on_hand_pcs"] < 0))
    return pd.Series(words, index=lines.index, dtype=object).where(is_said)


def _far_off(lines, connection):
    """Words, for bins that are listed anyway, where the last count was far off the book."""
    far = read.frame(connection, "counts_far_off").sort_values("counted_on").drop_duplicates("part", keep="last")
    far = far.set_index("part").reindex(lines["part"]).set_axis(lines.index)
    is_last = pd.to_datetime(far["counted_on"]) == pd.to_datetime(lines["counted_on"])
    words = [FAR_OFF_WORDS.format(found=found, book=book) for found, book in
             zip(far["counted_pcs"].astype(float), far["book_pcs"].astype(float), strict=True)]
    return pd.Series(words, index=lines.index, dtype=object).where(is_last)
