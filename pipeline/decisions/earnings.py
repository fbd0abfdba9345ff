"""What each delivered job really earned, call-backs charged back to the job that caused them."""

import numpy as np
import pandas as pd

from pipeline.kernels.group_intervals import margin_for_markup, markup_for_margin
from pipeline.models.landed import parts_ledger
from pipeline.store import read

COLUMNS = [
    "job",
    "family",
    "scope",
    "invoiced_amount",
    "parts_amount",
    "labour_amount",
    "overhead_amount",
    "other_amount",
    "callback_amount",
    "margin_amount",
    "margin_share",
    "hours",
    "margin_per_hour",
]


def job_margins(connection):
    """Reckon the margin of every delivered job; running jobs are work in progress and left out.

    Invoiced before tax - parts at landed first-in-first-out cost - own hours - overhead - sublet, freight, supplies -
    call-backs that came later (their hours, parts and trips, less what was charged for them). Deposits are a
    liability until earned and play no part. Goodwill is no cost paid and plays none either.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    pandas.DataFrame
        Columns of the output table ``job_margins``. ``hours`` are clock hours, call-backs included. A job without
        invoice, hours, recorded parts or a known price of each has no margin: unknown, not zero.
    """
    jobs = read.frame(connection, "jobs_delivered_money")
    settings = read.settings(connection)
    jobs = jobs.merge(_parts_by_job(parts_ledger(connection)), how="left", on="job")
    for column in ("used_amount", "call_used_amount"):
        jobs[column] = jobs[column].fillna(0.0)
    is_priced = jobs["is_priced"].fillna(True).astype(bool)
    hour_cost = settings.labour_cost + settings.overhead_per_hour
    jobs = jobs.assign(
        parts_amount=jobs["used_amount"].where(is_priced & jobs["is_use_known"].astype(bool)),
        labour_amount=jobs["job_hours"] * settings.labour_cost,
        overhead_amount=jobs["job_hours"] * settings.overhead_per_hour,
        hours=jobs["job_hours"] + jobs["callback_hours"],
        callback_amount=(
            jobs["callback_hours"] * hour_cost
            + jobs["call_used_amount"]
            + jobs["call_parts_amount"]
            + jobs["trip_amount"]
            - jobs["charged_amount"]
        ).where(jobs["calls_without_hours"] == 0),
    )
    costs = ["parts_amount", "labour_amount", "overhead_amount", "other_amount", "callback_amount"]
    margin = jobs["invoiced_amount"] - jobs[costs].sum(axis=1, skipna=False)
    return jobs.assign(
        margin_amount=margin,
        margin_share=margin / jobs["invoiced_amount"].where(jobs["invoiced_amount"] > 0),
        margin_per_hour=margin / jobs["hours"].where(jobs["hours"] > 0),
    )[COLUMNS]


def markup_beside_margin(connection):
    """The shop's target margin and part markup, each beside what it means in the other measure.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    pandas.DataFrame
        Rows ``target_margin_share`` and ``part_markup_share``: ``setting``, ``margin_share`` (of the price),
        ``markup_share`` (of the cost).
    """
    settings = read.settings(connection)
    margin = np.array([settings.target_margin_share, margin_for_markup(settings.part_markup_share)])
    return pd.DataFrame(
        {
            "setting": ["target_margin_share", "part_markup_share"],
            "margin_share": margin,
            "markup_share": markup_for_margin(margin),
        }
    )


def _parts_by_job(ledger):
    """Landed cost of the parts each job used, its call-backs' apart."""
    used = ledger.issues[ledger.issues["job"].notna()]
    amount = used.pivot_table(index="job", columns="is_callback", values="cost_amount", aggfunc="sum")
    return pd.DataFrame(
        {
            "used_amount": amount.get(False, pd.Series(dtype=float)).reindex(amount.index),
            "call_used_amount": amount.get(True, pd.Series(dtype=float)).reindex(amount.index),
            "is_priced": used.groupby("job")["is_known"].all().reindex(amount.index),
        }
    ).reset_index()
