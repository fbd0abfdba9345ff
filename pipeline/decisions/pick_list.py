"""What to fetch for each running and booked job: what lies there and where, what is short, and by when to order it."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions import companions, stand_ins, stock_rules
from pipeline.models import job_needs

COLUMNS = ["job", "part", "need_pcs", "on_shelf_pcs", "shelf", "short_pcs", "substitute", "condition", "order_by_on"]
WORTH_LISTING_SHARE = 0.5  # an expected part is listed if the job is at least as likely to need it as not
ARRIVED_SHARE = 0.8  # orders sent on the day to order by are here in time this often
METHOD = (
    "A job's findings say what it needs; before the teardown its accepted lines do, and beyond them parts are listed "
    f"that such a job needs with a chance of {WORTH_LISTING_SHARE:.0%} or more. What the job has taken already is off. "
    "Where jobs compete for the same pieces, the one planned first is served first. A day to order by leaves the "
    f"vendor the time in which {ARRIVED_SHARE:.0%} of its orders are here; it is given for what neither lies there nor "
    "is on its way."
)


@dataclass(frozen=True)
class PickList:
    """The list and what stands behind each line.

    Attributes
    ----------
    lines : pandas.DataFrame
        One row per job and part, jobs in the order in which they are served, a companion behind the part that brings
        it: `COLUMNS`; family, scope, status, planned_on of the job; known_from, chance_share, with_part of the need;
        coming_pcs (of the short ones, on order for this job), substitute_shelf, vendor.
    """

    lines: pd.DataFrame


def make(plan, connection):
    """Work out the pick list.

    Parameters
    ----------
    plan : pipeline.decisions.order_plan.StockPlan
        Today's plan.
    connection : duckdb.DuckDBPyConnection
        An open store.

    Returns
    -------
    PickList
        Without counts on_shelf_pcs and short_pcs are missing: unknown, not zero.
    """
    facts = plan.facts
    needs = job_needs.fit(connection, facts.use, facts.pipeline, WORTH_LISTING_SHARE)
    wants = companions.beside(connection, needs.wants, WORTH_LISTING_SHARE)
    lines = _in_order(_still(wants, needs.taken), needs.jobs)
    lines = _served(lines, plan.lines.set_index("part"))
    lines = stand_ins.offered(connection, lines, plan.lines)
    return PickList(lines.assign(order_by_on=_order_by(lines, facts.lead_times)))


def table(made):
    """Table ``pick_list``.

    Parameters
    ----------
    made : PickList
        From :func:`make`.

    Returns
    -------
    pandas.DataFrame
        Columns of the contract; on_shelf_pcs are of the pieces needed those that lie there for this job, so that they
        and short_pcs are need_pcs.
    """
    return made.lines[COLUMNS]


def _still(wants, taken):
    """Pieces each job still needs of each part, all assemblies together, less what it took."""
    by_part = wants.groupby(["job", "part"], as_index=False).agg(
        want_pcs=("want_pcs", "sum"), known_from=("known_from", "first"), chance_share=("chance_share", "max"),
        is_own=("with_part", lambda parts: parts.isna().any()), with_part=("with_part", "first"))
    by_part = by_part.merge(taken, on=["job", "part"], how="left")
    need = (by_part["want_pcs"] - by_part["taken_pcs"].fillna(0)).clip(lower=0).astype(np.int64)
    with_part = by_part["with_part"].astype(object).where(~by_part["is_own"].astype(bool), None)
    still = by_part.assign(need_pcs=need, with_part=with_part)[need > 0]
    return still.drop(columns=["want_pcs", "taken_pcs", "is_own"])


def _in_order(needs, jobs):
    """Needs with their jobs, first served first, companions behind what brings them."""
    lines = needs.merge(jobs.reset_index(names="place"), on="job")
    brings = lines["with_part"].where(lines["with_part"].notna(), lines["part"])
    lines = lines.assign(brings=brings, is_companion=lines["with_part"].notna())
    order = ["place", "brings", "is_companion", "part"]
    return lines.sort_values(order).drop(columns=["place", "brings", "is_companion"]).reset_index(drop=True)


def _served(lines, stock):
    """Give the pieces on the shelf, then those on order, to the jobs in their order."""
    at = stock.reindex(lines["part"]).reset_index(drop=True)
    here = _shared_out(lines["part"], lines["need_pcs"], at["free_pcs"])
    short = lines["need_pcs"] - here
    coming = _shared_out(lines["part"], short.fillna(0.0), at["on_order_pcs"].fillna(0.0)).where(short.notna())
    return lines.assign(on_shelf_pcs=here.astype("Int64"), short_pcs=short.astype("Int64"),
                        coming_pcs=coming.astype("Int64"), shelf=at["shelf"], vendor=at["vendor"])


def _shared_out(part, asked_pcs, there_pcs):
    """Of the pieces there, how many each row gets in the order of the rows; missing where they are unknown."""
    before = asked_pcs.groupby(part).cumsum() - asked_pcs
    return np.minimum((there_pcs - before).clip(lower=0), asked_pcs).where(there_pcs.notna())


def _order_by(lines, lead_times):
    """Day by which what is short must be ordered, where it is not on its way and somebody sells it."""
    days = lead_times.quantile_days(list(lines["vendor"]), ARRIVED_SHARE, stock_rules.UNKNOWN_LEAD_DAYS)
    planned = pd.to_datetime(lines["planned_on"])
    by = planned - pd.to_timedelta(np.ceil(days), unit="D")
    is_to_order = (lines["short_pcs"] > lines["coming_pcs"]).fillna(False).astype(bool)
    return by.where(is_to_order & lines["vendor"].notna())
