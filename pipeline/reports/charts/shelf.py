"""Charts of the shelf: what is there, what should be, what it costs and whether jobs can start."""

import altair as alt
import pandas as pd

from pipeline.reports import theme
from pipeline.reports.charts import axes, marks

_STOCK = {"there and coming": theme.MAIN, "to order today": theme.BESIDE}
_BASKET = {"goods due": theme.MAIN, "goods brought forward": theme.LAGOON, "freight": theme.BESIDE}
_CURVES = {"plan": ("the plan", theme.MAIN, "diamond"), "equal_share_rule": ("equal-share rule", theme.INK, "cross"),
           "today": ("today's shelf", theme.BESIDE, "circle")}
_SHELVES = {
    "today's shelf": ("today_share", theme.BESIDE, "circle"),
    "the plan": ("planned_share", theme.MAIN, "diamond"),
    "equal-share rule": ("equal_share_rule_share", theme.INK, "cross"),
}


def stock_against_reorder_point(plan):
    """Stock there and coming, and pieces to order (bars), against the point of ordering (tick), as shares of the aim.

    Parts are held by the piece and by the hundred; as shares of the level aimed at they are read side by side.

    Parameters
    ----------
    plan : pandas.DataFrame
        Rows of ``order_plan`` with ``part_name`` and a known ``order_up_to_pcs``; that and committed_pcs above 0.

    Returns
    -------
    altair.LayerChart
        One row per part in the order of ``plan``.
    """
    bars = alt.Chart(_shares_of_the_aim(plan)).mark_bar(height=13).encode(
        axes.rows(plan, "part_name"),
        alt.X("from_share:Q", title="share of the most that booked work and the shelf ask for",
              axis=alt.Axis(format=".0%")),
        alt.X2("to_share"),
        alt.Color("where:N", **axes.named_colours(_STOCK)),
        tooltip=["part_name", "where", "pcs"],
    )
    ordered_at = (plan["committed_pcs"] + plan["reorder_point_pcs"]).clip(lower=0)
    known = plan.assign(ordered_at_pcs=ordered_at, share=ordered_at / _aim(plan)).dropna(subset=["share"])
    points = alt.Chart(known).mark_tick(color=theme.INK, thickness=3, height=19).encode(
        axes.rows(plan, "part_name"), alt.X("share:Q"),
        tooltip=["part_name", "committed_pcs", "reorder_point_pcs", "order_up_to_pcs"]
    )
    told = ["black tick: ordered when no more than that is there and coming; what is kept for booked work is in it",
            "parts to order that stand above it join an order that goes out anyhow"]
    title = alt.Title("Stock against the reorder point", subtitle=told)
    return (bars + points).properties(height=axes.step(), title=title)


def _aim(plan):
    """The most that booked work and the shelf ask for, at least a piece."""
    return (plan["committed_pcs"] + plan["order_up_to_pcs"]).clip(lower=1)


def _shares_of_the_aim(plan):
    there = plan["on_hand_pcs"].clip(lower=0) + plan["on_order_pcs"]
    spans = {"there and coming": (there * 0, there), "to order today": (there, there + plan["order_pcs"])}
    aim = _aim(plan)
    parts = [
        plan[["part_name"]].assign(where=where, pcs=end - start, from_share=start / aim, to_share=end / aim)
        for where, (start, end) in spans.items()
    ]
    shares = pd.concat(parts, ignore_index=True).dropna(subset=["to_share"])
    return shares[shares["pcs"] != 0]


def baskets_by_vendor(baskets, currency):
    """What each vendor's basket costs: goods due, goods brought forward, freight.

    Parameters
    ----------
    baskets : pandas.DataFrame
        Rows of ``baskets``.
    currency : str
        Currency code of the shop.

    Returns
    -------
    altair.Chart
        One row per vendor in the order of ``baskets``.
    """
    forward = baskets["brought_forward_amount"].astype(float).fillna(0)
    split = baskets.assign(forward=forward, due=baskets["goods_amount"].astype(float) - forward)
    columns = dict(zip(_BASKET, ("due", "forward", "freight_amount"), strict=True))
    long = marks.long_form(split, "vendor", columns, "amount")
    chart = marks.stacked_bars(long, baskets, "vendor", _BASKET, f"today's orders, {currency}", 18)
    return chart.properties(height=alt.Step(30), title="What today's baskets cost, by vendor")


def ready_shares(ready):
    """Chance that a job finds every part it needs: today's shelf, the plan, the equal-share rule.

    Parameters
    ----------
    ready : pandas.DataFrame
        Rows of ``job_ready`` with ``job_type`` (family and scope in words).

    Returns
    -------
    altair.LayerChart
        One row per kind of job in the order of ``ready``.
    """
    axis = {"title": "chance that no part is missing", "axis": alt.Axis(format=".0%")}
    axis["scale"] = alt.Scale(domain=[0, 1])
    base = alt.Chart(ready).encode(axes.rows(ready, "job_type"))
    ranges = marks.range_bars(base, "planned_low_share", "planned_high_share", **axis)
    points = marks.named_points(ready, "job_type", _SHELVES, "share", **axis)
    title = alt.Title("Can a job start without waiting for a part?", subtitle="bar: 10-90 % range of the plan")
    return (ranges + points).properties(height=alt.Step(26), title=title)


def ready_curve(curve, currency):
    """Cash on the shelf against the share of jobs that find every part: the plan, the equal-share rule, today's shelf.

    Parameters
    ----------
    curve : pandas.DataFrame
        Rows of ``ready_curve``.
    currency : str
        Currency code of the shop.

    Returns
    -------
    altair.LayerChart
        A line for each rule, each point a price of a place on the shelf.
    """
    named = curve.assign(rule=curve["shelf"].map({shelf: name for shelf, (name, _, _) in _CURVES.items()}))
    colours = {name: colour for name, colour, _ in _CURVES.values()}
    shapes = {name: shape for name, _, shape in _CURVES.values()}
    share = alt.Y("ready_share:Q", title="share of jobs that find every part",
                  scale=alt.Scale(domain=[0, 1]), axis=alt.Axis(format=".0%"))
    cash = alt.X("cash_amount:Q", title=f"average worth of parts in steady supply on the shelf, {currency}",
                 scale=alt.Scale(zero=True), axis=alt.Axis(format=",.0f"))
    base = alt.Chart(named).encode(cash, share, alt.Color("rule:N", **axes.named_colours(colours)))
    points = base.mark_point(size=80, filled=True, opacity=1).encode(
        alt.Shape("rule:N", scale=axes.named_shapes(shapes)), tooltip=["rule", "cash_amount", "ready_share"])
    title = alt.Title("What cash on the shelf buys", subtitle="at the same cash, the higher line has more jobs ready")
    return (base.mark_line() + points).properties(height=260, title=title)


def waiting_jobs(jobs, today):
    """Jobs on the bench and on the books by day, and until when they would wait for parts.

    Parameters
    ----------
    jobs : pandas.DataFrame
        Rows of ``bay_calendar`` with ``job_name`` and a known ``planned_on``.
    today : datetime.date
        The shop's today.

    Returns
    -------
    altair.LayerChart
        One row per job in the order of ``jobs``.
    """
    axis = {"title": None, "axis": alt.Axis(format="%d %b", labelOverlap="greedy", labelSeparation=14)}
    now = pd.Timestamp(today)
    jobs = jobs.assign(wait_from=jobs["planned_on"].clip(lower=now), words=jobs["waits_for"])
    late = jobs[jobs["ready_on"] > jobs["wait_from"]]
    unknown = jobs[jobs["waits_for"].notna() & jobs["ready_on"].isna()]
    unknown = unknown.assign(ready_on=unknown["wait_from"], words=unknown["words"] + ", day unknown")
    tips = ["job_name", "planned_on", "short_parts", "waits_for", "ready_on"]
    waits = alt.Chart(late).mark_bar(color=theme.BESIDE, height=9).encode(
        axes.rows(jobs, "job_name"), alt.X("wait_from:T", **axis), alt.X2("ready_on"), tooltip=tips)
    words = alt.Chart(pd.concat([late, unknown])).mark_text(align="left", dx=8, color=theme.INK).encode(
        axes.rows(jobs, "job_name"), alt.X("ready_on:T"), alt.Text("words:N"))
    starts = alt.Chart(jobs).mark_point(color=theme.MAIN, filled=True, size=90, opacity=1, shape="diamond").encode(
        axes.rows(jobs, "job_name"), alt.X("planned_on:T", **axis), tooltip=tips)
    today_line = alt.Chart(pd.DataFrame({"today": [now]})).encode(alt.X("today:T"))
    today_line = today_line.mark_rule(color=theme.INK, strokeDash=[4, 3])
    told = ["diamond: start of work; bar: from then, or from today (dashed), until the last part is likely here",
            "beside it the part that comes last"]
    return (waits + starts + today_line + words).properties(
        height=axes.step(), title=alt.Title("Which jobs wait for parts", subtitle=told))


def lead_times(times):
    """Days from order to receipt by vendor: mean and 10-90 % range.

    Parameters
    ----------
    times : pandas.DataFrame
        Rows of ``lead_times``.

    Returns
    -------
    altair.LayerChart
        One row per vendor in the order of ``times``.
    """
    base = alt.Chart(times).encode(axes.rows(times, "vendor"))
    days = {"title": "days from order to receipt", "scale": alt.Scale(zero=True)}
    ranges = marks.range_bars(base, "q10_days", "q90_days", **days)
    medians = base.mark_tick(color=theme.INK, height=16).encode(alt.X("q50_days:Q"))
    tips = ["vendor", "mean_days", "receipts", "open_orders", "note"]
    means = base.mark_point(color=theme.MAIN, size=90).encode(alt.X("mean_days:Q"), tooltip=tips)
    title = alt.Title("How long vendors take", subtitle="dot: mean; tick: median; bar: 8 orders in 10")
    return (ranges + medians + means).properties(height=alt.Step(30), title=title)
