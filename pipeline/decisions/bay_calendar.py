"""Jobs on the bench and on the books by day: which parts are not there for them yet, and until when they would wait."""

import numpy as np
import pandas as pd
from scipy.stats import gamma

from pipeline.decisions import stock_rules
from pipeline.store import read

COLUMNS = ["job", "family", "scope", "status", "planned_on", "short_parts", "short_pcs", "waits_for", "ready_on",
           "wait_days"]
ARRIVED_SHARE = 0.8  # a delivery is reckoned with from the day by which so many such orders are here
METHOD = (
    f"A part that is not there is reckoned with from the day by which {ARRIVED_SHARE:.0%} of its vendor's orders are "
    "here: counted from the order that is on its way, given that it has not come yet, else from an order sent today. "
    "A job waits for the part that comes last. Where a part has no vendor the day is unknown, and so it is said."
)


def table(picked, plan, connection):
    """Table ``bay_calendar``: one row per running and booked job.

    Parameters
    ----------
    picked : pipeline.decisions.pick_list.PickList
        Today's pick list.
    plan : pipeline.decisions.order_plan.StockPlan
    connection : duckdb.DuckDBPyConnection
        An open store.

    Returns
    -------
    pandas.DataFrame
        short_parts and short_pcs: parts of the pick list that are not on the shelf for it, and their pieces;
        ``waits_for`` the one that comes last; ``ready_on`` the day by which all are likely here (missing where one has
        no vendor; today where nothing is short); wait_days from the planned start, or from today if that has passed,
        to then.
    """
    today = pd.Timestamp(plan.facts.today)
    lines = picked.lines
    short = lines[lines["short_pcs"].fillna(0) > 0]
    short = short.assign(comes_on=_comes_on(short, plan, connection, today))
    jobs = read.query(connection, """
        select job, family, scope, status, coalesce(started_on, planned_start_on) as planned_on
        from running_and_booked_jobs order by planned_on nulls last, job""")
    rows = [_job(job, short[short["job"] == job.job], today) for job in jobs.itertuples(index=False)]
    return pd.DataFrame(rows, columns=COLUMNS).astype({"short_parts": "Int64", "short_pcs": "Int64"})


def _job(job, short, today):
    planned = pd.Timestamp(job.planned_on) if pd.notna(job.planned_on) else pd.NaT
    if short.empty:
        return (*job[:4], planned, 0, 0, None, today, 0.0)
    is_unknown = short["comes_on"].isna().to_numpy()
    last = int(np.argmax(is_unknown)) if is_unknown.any() else int(np.argmax(short["comes_on"].to_numpy()))
    ready = short["comes_on"].iloc[last]
    start = max(planned, today) if pd.notna(planned) else today
    wait = max((ready - start).days, 0) if pd.notna(ready) else np.nan
    return (*job[:4], planned, len(short), int(short["short_pcs"].sum()), str(short["part"].iloc[last]), ready, wait)


def _comes_on(short, plan, connection, today):
    """Day by which what each line lacks is likely here."""
    open_on = read.query(connection, "select part, vendor, min(ordered_on) as ordered_on from open_lines group by all")
    first = open_on.sort_values("ordered_on").drop_duplicates("part").set_index("part").reindex(short["part"])
    is_enough = (short["coming_pcs"].fillna(0) >= short["short_pcs"]).to_numpy(dtype=bool)
    is_coming = is_enough & first["vendor"].notna().to_numpy()
    vendor = np.where(is_coming, first["vendor"].to_numpy(dtype=object), short["vendor"].to_numpy(dtype=object))
    ordered = pd.to_datetime(first["ordered_on"]).to_numpy()
    elapsed = np.where(is_coming, (today.to_numpy() - ordered) / np.timedelta64(1, "D"), 0.0)
    days = _days_to_go(plan.facts.lead_times, vendor, np.nan_to_num(elapsed))
    comes = today + pd.to_timedelta(np.ceil(days), unit="D")
    return pd.Series(comes, index=short.index).where(pd.notna(vendor))


def _days_to_go(lead_times, vendors, elapsed_days):
    """Days from now by which most orders that have taken so long already are here."""
    row = {vendor: place for place, vendor in enumerate(lead_times.frame["vendor"])}
    mean = np.append(lead_times.fitted.mean_days, np.nan)
    shape = np.append(lead_times.fitted.shape, np.nan)
    place = np.array([row.get(vendor, len(row)) for vendor in vendors], dtype=int)
    mean = np.where(np.isfinite(mean[place]), mean[place], stock_rules.UNKNOWN_LEAD_DAYS)
    shape = np.where(np.isfinite(shape[place]), shape[place], 1.0)
    still_out = gamma.sf(elapsed_days, shape, scale=mean / shape)
    reached = gamma.isf((1 - ARRIVED_SHARE) * np.maximum(still_out, 1e-12), shape, scale=mean / shape)
    return np.maximum(reached - elapsed_days, 1.0)
