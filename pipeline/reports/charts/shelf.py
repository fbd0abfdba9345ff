"""Charts of the shelf: what is there, what should be, what it costs and whether jobs can start."""

import altair as alt
import pandas as pd

from pipeline.reports import theme
from pipeline.reports.charts import axes

_STOCK = {"free": theme.MAIN, "to order today": theme.BESIDE}


def stock_against_reorder_point(plan):
    """Stock left for new work and pieces to order (bars) against the reorder point (tick), as shares of the aim.

    Parts are held by the piece and by the hundred; as shares of the level aimed at they can be read side by side.

    Parameters
    ----------
    plan : pandas.DataFrame
        Rows of ``order_plan`` with ``part_name`` and a known ``order_up_to_pcs`` above 0.

    Returns
    -------
    altair.LayerChart
        One row per part in the order of ``plan``.
    """
    shares = _shares_of_the_aim(plan)
    bars = alt.Chart(shares).mark_bar(height=13).encode(
        axes.rows(plan, "part_name"),
        alt.X("from_share:Q", title="share of the level aimed at", axis=alt.Axis(format=".0%")),
        alt.X2("to_share"), alt.Color("where:N", **axes.named_colours(_STOCK)),
        tooltip=["part_name", "where", "pcs"])
    known = plan.dropna(subset=["reorder_point_pcs"])
    points = alt.Chart(known.assign(share=known["reorder_point_pcs"] / known["order_up_to_pcs"])).mark_tick(
        color=theme.INK, thickness=3, height=19).encode(
        axes.rows(plan, "part_name"), alt.X("share:Q"),
        tooltip=["part_name", "reorder_point_pcs", "order_up_to_pcs"])
    return (bars + points).properties(height=axes.step(), title=alt.Title(
        "Stock against the reorder point",
        subtitle=["free: on the shelf and on order, less what jobs have reserved; left of 0: promised beyond that",
                  "black tick: reorder point"]))


def _shares_of_the_aim(plan):
    free = plan["on_hand_pcs"].clip(lower=0) + plan["on_order_pcs"] - plan["committed_pcs"]
    spans = {"free": (free * 0, free), "to order today": (free, free + plan["order_pcs"])}
    parts = [plan[["part_name"]].assign(
        where=where, pcs=end - start, from_share=start / plan["order_up_to_pcs"],
        to_share=end / plan["order_up_to_pcs"]) for where, (start, end) in spans.items()]
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
    due = baskets["goods_amount"].astype(float) - baskets["brought_forward_amount"].fillna(0).astype(float)
    kinds = {"goods due": (due, theme.MAIN),
             "goods brought forward": (baskets["brought_forward_amount"], theme.LAGOON),
             "freight": (baskets["freight_amount"], theme.BESIDE)}
    money = pd.concat([baskets[["vendor"]].assign(kind=kind, amount=amount.astype(float), layer=layer)
                       for layer, (kind, (amount, _)) in enumerate(kinds.items())], ignore_index=True)
    colours = {kind: colour for kind, (_, colour) in kinds.items()}
    return alt.Chart(money.dropna(subset=["amount"])).mark_bar(height=18).encode(
        axes.rows(baskets, "vendor"), alt.X("amount:Q", title=f"today's orders, {currency}", stack="zero"),
        alt.Color("kind:N", **axes.named_colours(colours)), alt.Order("layer:Q"),
        tooltip=["vendor", "kind", alt.Tooltip("amount", format=",.2f")],
    ).properties(height=alt.Step(30), title="What today's baskets cost, by vendor")


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
    scale = alt.Scale(domain=[0, 1])
    base = alt.Chart(ready).encode(axes.rows(ready, "job_type"))
    ranges = base.mark_rule(color=theme.MAIN, strokeWidth=7, opacity=0.3, strokeCap="round").encode(
        alt.X("planned_low_share:Q", scale=scale, title="chance that no part is missing",
              axis=alt.Axis(format=".0%")),
        alt.X2("planned_high_share"))
    shelves = {"today's shelf": (theme.BESIDE, "circle", "today_share"),
               "the plan": (theme.MAIN, "diamond", "planned_share"),
               "equal-share rule": (theme.INK, "cross", "equal_share_rule_share")}
    long = pd.concat([ready[["job_type"]].assign(shelf=shelf, share=ready[column])
                      for shelf, (_, _,
                                  column) in shelves.items()], ignore_index=True).dropna(subset=["share"])
    points = alt.Chart(long).mark_point(size=85).encode(
        axes.rows(ready, "job_type"), alt.X("share:Q", scale=scale),
        alt.Color("shelf:N", **axes.named_colours({name: look[0] for name, look in shelves.items()})),
        alt.Shape("shelf:N", scale=axes.named_shapes({name: look[1] for name, look in shelves.items()})),
        tooltip=["job_type", "shelf", alt.Tooltip("share", format=".0%")])
    return (ranges + points).properties(height=alt.Step(26), title=alt.Title(
        "Can a job start without waiting for a part?", subtitle="bar: 10-90 % range of the plan"))


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
    ranges = base.mark_rule(color=theme.MAIN, strokeWidth=7, opacity=0.35, strokeCap="round").encode(
        alt.X("q10_days:Q", title="days from order to receipt",
              scale=alt.Scale(zero=True)), alt.X2("q90_days"))
    medians = base.mark_tick(color=theme.INK, height=16).encode(alt.X("q50_days:Q"))
    means = base.mark_point(color=theme.MAIN, size=90).encode(
        alt.X("mean_days:Q"), tooltip=["vendor", "mean_days", "receipts", "open_orders", "note"])
    return (ranges + medians + means).properties(height=alt.Step(30), title=alt.Title(
        "How long vendors take", subtitle="dot: mean; tick: median; bar: 8 orders in 10"))
