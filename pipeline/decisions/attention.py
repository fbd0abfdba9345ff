"""What waits for the owner today: jobs without parts, orders to send, late deliveries, passed dates, doubtful stock."""

import numpy as np
import pandas as pd

from pipeline.decisions.order_reasons import counted
from pipeline.store import read

COLUMNS = ["rank", "what", "where", "amount", "days", "what_to_do"]
URGENCY = ["job waits for parts", "promised day passed", "order due", "delivery late", "stock in doubt",
           "quote out of line"]
ONE_BY_ONE = 8  # more parts in doubt than this are said in one line
FAR_FROM_QUOTE = 1.15  # a price last paid this many times the quote is out of line


def table(plan, connection):
    """List what waits: the most pressing kind first, the dearest of each kind on top.

    Parameters
    ----------
    plan : pipeline.decisions.order_plan.StockPlan
        Today's plan.
    connection : duckdb.DuckDBPyConnection
        An open store.

    Returns
    -------
    pandas.DataFrame
        rank from 1; what; where (job, vendor, order or part); amount at stake in money and days past, each missing
        where it says nothing; what_to_do. A waiting job has cost its days at ``bay_cost_per_day``. Within a kind the
        largest comes first.
    """
    found = [_waiting_jobs(plan), _passed_dates(plan, connection), _orders_due(plan), _late_orders(plan, connection),
             _doubts(plan), _prices_out_of_line(plan, connection), _lead_times_out_of_line(plan)]
    rows = [row for rows in found for row in rows]
    frame = pd.DataFrame(rows, columns=COLUMNS[1:]).astype({"amount": float, "days": float})
    frame = frame.assign(kind=frame["what"].map(URGENCY.index), size=frame["amount"].fillna(frame["days"]))
    frame = frame.sort_values(["kind", "size", "where"], ascending=[True, False, True]).reset_index(drop=True)
    return frame.assign(rank=np.arange(1, len(frame) + 1))[COLUMNS]


def _waiting_jobs(plan):
    """Jobs whose written needs are due and not on the shelf; the shelf goes to who needed it first."""
    needs, today = plan.facts.reservations.known, pd.Timestamp(plan.facts.today)
    due = needs[pd.to_datetime(needs["needed_on"]) <= today].sort_values(["needed_on", "job"])
    lines = plan.lines.set_index("part")
    free = lines["free_pcs"].reindex(due["part"]).to_numpy()
    due = due.assign(short_pcs=due.groupby("part")["still_pcs"].cumsum().to_numpy() - free)  # unknown stock: no claim
    short = due[due["short_pcs"] > 0]
    for (job, needed_on), parts in short.groupby(["job", "needed_on"]):
        coming = lines["on_order_pcs"].reindex(parts["part"]) > 0
        names = [f"{part} (on order)" if is_coming else part for part, is_coming in coming.items()]
        names = ", ".join(names[:4]) + (" ..." if len(names) > 4 else "")
        days = (today - pd.Timestamp(needed_on)).days
        stalled_amount = days * plan.facts.settings.bay_cost_per_day
        yield "job waits for parts", job, stalled_amount, days, f"{counted(len(parts), 'part')} short: {names}"


def _passed_dates(plan, connection):
    jobs = read.query(connection, """
        select job, promised_on from tidy_jobs
        where status in ('booked', 'in_progress') and promised_on < ? order by job""", [plan.facts.today])
    for job, promised_on in jobs.itertuples(index=False):
        days = (pd.Timestamp(plan.facts.today) - promised_on).days
        yield "promised day passed", job, np.nan, days, "finish it, or agree on a new day with the customer"


def _orders_due(plan):
    lines = plan.order_lines
    pressing = lines[lines["position_pcs"] < 0].groupby("vendor").size()
    for basket in plan.baskets.itertuples(index=False):
        held_up = pressing.get(basket.vendor, 0)
        more = f"; booked jobs are short of {counted(held_up, 'part')} of it" if held_up else ""
        total = basket.total_amount if pd.notna(basket.total_amount) else basket.goods_amount
        yield "order due", basket.vendor, total, np.nan, f"send {counted(basket.lines, 'line')}{more}"


def _late_orders(plan, connection):
    lines = read.frame(connection, "open_lines")
    lead = plan.facts.lead_times
    usual = pd.Series(lead.arrived_q90_days, index=lead.frame["vendor"], dtype=float)
    age = (pd.Timestamp(plan.facts.today) - pd.to_datetime(lines["ordered_on"])).dt.days
    lines = lines.assign(late=age - lines["vendor"].map(usual), age=age)
    for (order_no, vendor), late in lines[lines["late"] > 0].groupby(["order_no", "vendor"]):
        told = (f"ask {vendor} about {counted(late['open_pcs'].sum(), 'piece')}: ordered {late['age'].max():.0f} days "
                "ago, 9 of 10 came sooner")
        yield "delivery late", f"{order_no} ({vendor})", np.nan, late["late"].max(), told


def _doubts(plan):
    """Parts whose stock is in doubt while something is decided on it."""
    lines = plan.lines
    rests = lines["order_pcs"].isna() | (lines["order_pcs"] > 0) | (lines["committed_pcs"] > 0)
    doubtful = lines[lines["doubt"].notna() & rests]
    worth = doubtful["known_price"] * doubtful["order_up_to_pcs"].clip(lower=1)
    if len(doubtful) > ONE_BY_ONE:
        kinds = doubtful["doubt"].value_counts()
        told = f"count them; {counted(kinds.iloc[0], 'part')}: {kinds.index[0]}"
        yield "stock in doubt", counted(len(doubtful), "part"), worth.sum(min_count=1), np.nan, told
        return
    for line, amount in zip(doubtful.itertuples(index=False), worth, strict=True):
        bin_ = f" in {line.shelf}" if pd.notna(line.shelf) else ""
        yield "stock in doubt", line.part, amount, np.nan, f"count it{bin_}: {line.doubt}"


def _prices_out_of_line(plan, connection):
    prices = read.frame(connection, "prices_paid_since_quote")
    prices = prices[prices["paid_price"] > FAR_FROM_QUOTE * prices["high_price"]]
    use = plan.lines.set_index("part")["year_use_pcs"]
    for price in prices.itertuples(index=False):
        extra = (price.paid_price - price.high_price) * use.get(price.part, np.nan)
        yield ("quote out of line", f"{price.part} ({price.vendor})", extra, np.nan,
               f"quoted {price.high_price:.2f}, last paid {price.paid_price:.2f}: ask for a new quote")


def _lead_times_out_of_line(plan):
    for vendor in plan.facts.lead_times.frame.itertuples(index=False):
        if vendor.note.startswith("slower"):
            yield ("quote out of line", vendor.vendor, np.nan, vendor.mean_days,
                   f"{vendor.note}; the plan reckons with {vendor.mean_days:.0f} days")
