"""What to keep and what to order today: stock netted of reservations, exact rules, cheapest landed offers, baskets."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions import (
    baskets,
    final_buy,
    offer_book,
    order_reasons,
    shelf_replay,
    shelf_rules,
    stock_facts,
    stock_rules,
)
from pipeline.models import demand, shelf_demand, stock

COLUMNS = ["part", "shelf_rule", "on_hand_pcs", "on_order_pcs", "committed_pcs", "reorder_point_pcs", "order_up_to_pcs",
           "order_pcs", "vendor", "vendor_part", "packs", "pack_pcs", "unit_price", "line_amount", "why"]
LEVELS = ["on_hand_pcs", "on_order_pcs", "committed_pcs", "reorder_point_pcs", "order_up_to_pcs"]
WHOLE = [*LEVELS, "order_pcs", "packs", "pack_pcs"]
METHOD = (
    "A part is ordered when the jobs it would keep from waiting until the next look, a week on, are worth a week of "
    "holding it. Jobs on the books count with the day they are planned for, others by how often they come; the price "
    "of a place is the same for every part. Half of what a wait costs is reckoned to be that it happens, half its "
    "days. How much at once is the exact single-part optimum; a part that will be due soon joins an order that goes "
    "out to its vendor anyhow. Today's orders are weighed at all vendors at once, in one exact program: packs, price "
    "breaks, minimums, freight, your own time, waiting where booked jobs are short, and what to bring forward. A part "
    "is split over two offers at most; freight that a later order may save is not counted."
)


@dataclass(frozen=True)
class StockPlan:
    """The whole plan and what it rests on.

    Attributes
    ----------
    facts : pipeline.decisions.stock_facts.StockFacts
    lines : pandas.DataFrame
        One row per part, in the order of ``facts.positions``: the table's columns, positions, rules, costs and prices.
    baskets : pandas.DataFrame
        One row per vendor that is ordered from today (table ``baskets``).
    lead_pmf : numpy.ndarray, shape (n_parts, n_values)
        Demand over each part's lead time and the week of review.
    notes : tuple of str
        What the owner should know of the whole: the method, and what the cash limit did.
    second_lines : pandas.DataFrame
        The second lines of parts that are bought from two offers, columns of ``lines``.
    shelf : pipeline.decisions.shelf_rules.Shelf
        What the reorder points rest on.
    times_dearer : float
        How many times the owner's own holding cost a place is priced at, to stay within the cash limit.
    """

    facts: stock_facts.StockFacts
    lines: pd.DataFrame
    baskets: pd.DataFrame
    lead_pmf: np.ndarray
    notes: tuple
    second_lines: pd.DataFrame
    shelf: shelf_rules.Shelf
    times_dearer: float

    @property
    def order_lines(self):
        """What is ordered today, one row per part and offer (pandas.DataFrame, columns of ``lines``)."""
        every = pd.concat([self.lines, self.second_lines]) if len(self.second_lines) else self.lines
        return every[(every["order_pcs"] > 0) & every["packs"].notna()]


def make(connection, today=None):
    """Work out the plan.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    today : datetime.date, optional
        Day the plan speaks of; default the shop's today.

    Returns
    -------
    StockPlan
        With offers absent no vendor or price is given, with counts and purchases absent no quantity; ``why`` says
        which file would unlock it.
    """
    facts = stock_facts.gather(connection, today)
    lines, lead_pmf, shelf, times, notes = _ruled(facts)
    lines, filled = _filled(_due(_with_final_buys(lines, facts)), facts)
    is_unpriced = lines["order_pcs"].isna() | (lines["order_pcs"].gt(0) & lines["packs"].isna())
    lines = lines.assign(line_amount=lines["line_amount"].mask(is_unpriced))
    lines = lines.assign(why=order_reasons.explain(lines, set(facts.missing["file"])))
    is_second = lines["is_second"].astype(bool)
    return StockPlan(facts, lines[~is_second], filled, lead_pmf, (METHOD, *notes), lines[is_second], shelf, times)


def table(plan):
    """Table ``order_plan``: what to order first, then the rest by part.

    Parameters
    ----------
    plan : StockPlan
        From :func:`make`.

    Returns
    -------
    pandas.DataFrame
        Columns of the contract; pieces and packs whole or missing, never 0 for unknown. A part bought from two offers
        has two rows; what is on the shelf and its rule stand in the first.
    """
    second = plan.second_lines.assign(**dict.fromkeys(LEVELS, np.nan))
    lines = pd.concat([plan.lines, second]) if len(second) else plan.lines
    lines = lines.assign(is_idle=~(lines["order_pcs"] > 0))
    idle = lines["is_idle"] & lines["order_pcs"].notna()
    lines = lines.assign(packs=lines["packs"].mask(idle, 0.0)).sort_values(["is_idle", "vendor", "part", "is_second"])
    return lines[COLUMNS].astype(dict.fromkeys(WHOLE, "Int64")).reset_index(drop=True)


def _ruled(facts):
    """Positions with the vendor each part usually comes from, its costs and levels; lead-time demand; notes."""
    positions, week = facts.positions, facts.demand.week_pmf
    usual = _usual_offers(positions, week @ np.arange(week.shape[1]), facts.book)
    vendors = [vendor if isinstance(vendor, str) else None for vendor in usual["vendor"]]
    rates = stock_rules.costs(positions, vendors, facts.terms, facts.settings)
    pack_pcs = usual["pack_pcs"].fillna(1).to_numpy(dtype=int)
    lead_pmf = stock_rules.lead_pmfs(facts.demand, facts.lead_times, vendors)
    shelf = shelf_rules.shelf(facts, vendors, rates, lead_pmf, pack_pcs)
    times, notes = _within_cash(facts, shelf)
    lots = shelf.lot_pcs(times)
    written = stock_rules.known(facts.reservations, facts.lead_times, positions["part"], vendors)
    points = shelf_rules.todays_points(shelf, facts, times, lots)
    rules = stock_rules.levels(positions, facts.demand, written, points, lots)
    lines = pd.concat([positions, rules], axis=1).assign(
        vendor=pd.Series(vendors, index=positions.index, dtype=object), vendor_part=usual["vendor_part"],
        pack_pcs=usual["pack_pcs"], landed_price=usual["landed_price"], unit_price=usual["unit_price"],
        known_price=positions["unit_price"], week_use_pcs=rules["year_use_pcs"] / stock_rules.WEEKS_PER_YEAR,
        holding_per_week=rates.holding, waiting_per_week=rates.waiting, ordering_amount=rates.ordering,
        price_from=stock.price_origins(positions), no_price_from=positions["part"].map(facts.book.at_no_price),
        is_made_in_runs=positions["part"].isin(facts.book.in_runs),
        is_at_will=positions["part"].isin(facts.book.rows["part"]),
        is_last_paid=positions["part"].isin(facts.book.rows.loc[facts.book.rows["is_last_paid"].astype(bool), "part"]))
    return lines, lead_pmf, shelf, times, (*notes, *_without_lead_time(lines, facts))


def _usual_offers(positions, week_use_pcs, book):
    """Where each part usually comes from: the cheapest landed offer for a quarter's use."""
    quarter = pd.Series(np.maximum(np.ceil(13 * week_use_pcs), 1), index=positions["part"])
    return offer_book.cheapest(book, quarter, 4 * quarter).set_axis(positions.index)


def _within_cash(facts, shelf):
    """How much dearer a place must be reckoned to keep the shelf within the owner's cash limit, and the words."""
    positions, settings = facts.positions, facts.settings
    if positions["unit_price"].isna().all():
        return 1.0, ("No price of any part is known: all are reckoned alike, and the worth of the shelf is unknown.",)
    if settings.cash_limit_amount is None:
        return 1.0, ()
    # what lies there of scarce and ended parts stays
    stays = np.nansum(np.where(shelf.is_ahead, 0.0, stock.free_pcs(positions) * shelf.price))
    times, amount = shelf_replay.within_cash(shelf, facts, max(settings.cash_limit_amount - stays, 0.0))
    said = f"Parts in steady supply will lie on the shelf for about {amount:,.0f} on average under this plan"
    if times == 1:
        return times, (f"{said}.",)
    kept = f", of which {stays:,.0f} lie in parts that no reorder rule serves," if stays >= 1 else ""
    return times, (f"{said}. The cash limit of {settings.cash_limit_amount:,.0f}{kept} binds: a piece is kept only "
                   f"where it is worth {times:,.3g} times what holding it costs, so jobs wait that more cash would "
                   "serve.",)


def _without_lead_time(lines, facts):
    """Say which parts rest on an assumed lead time, if any are stocked."""
    known = facts.lead_times.frame.dropna(subset=["mean_days"])["vendor"]
    assumed = (lines["order_up_to_pcs"] > 0) & (lines["supply"] == "steady") & ~lines["vendor"].isin(known)
    if not assumed.any():
        return ()
    return (f"For {order_reasons.counted(assumed.sum(), 'stocked part')} no vendor's lead time is known: "
            f"{stock_rules.UNKNOWN_LEAD_DAYS:.0f} days are assumed.",)


def _with_final_buys(lines, facts):
    """Levels of scarce and ended parts from one purchase to their horizon."""
    aims, price = pd.Series(0, index=lines.index), stock.class_prices(facts.positions)
    horizons = final_buy.horizons(lines)
    for days in horizons.dropna().unique():
        rows = lines[horizons == days]
        parts = list(rows["part"])
        taken = demand.predict(shelf_demand.of_parts(facts.use, parts), facts.reservations.others, days)
        pmf = shelf_demand.aligned(taken, parts, facts.reservations.known_pcs(parts, days))
        rates = stock_rules.Costs(*(rows[name].to_numpy() for name in ("holding_per_week", "waiting_per_week",
                                                                       "ordering_amount")))
        aims[rows.index] = final_buy.aims(
            pmf, days, (rows["supply"] == "ended").to_numpy(), rates, price[rows.index].to_numpy())
    return lines.assign(**final_buy.with_aims(lines[stock_rules.COLUMNS], aims, lines))


def _due(lines):
    """What each part is short of its rule today."""
    free = stock.free_pcs(lines)
    position = free + lines["on_order_pcs"] - lines["committed_pcs"]
    short = _wanted(lines, position).where(position <= lines["reorder_point_pcs"], 0.0)
    can_order = ~lines["is_made_in_runs"] & ~((lines["supply"] == "ended") & lines["vendor"].isna())
    short = short.where(can_order, 0.0).where(np.isfinite(free))
    return lines.assign(free_pcs=free, position_pcs=position, short_pcs=short, is_forward=False, is_joined=False,
                        order_pcs=short, packs=np.nan, line_amount=0.0)


def _wanted(lines, position):
    """What an order would bring: whole lots past the point at which it would join; a final buy, all to its aim."""
    lots = np.ceil((lines["join_point_pcs"] + 1 - position) / lines["lot_pcs"]) * lines["lot_pcs"]
    return lots.where(lines["horizon_days"].isna(), lines["order_up_to_pcs"] - position)


def _filled(due, facts):
    """Today's orders of what is due, then again with the parts that join them."""
    lines, filled = baskets.fill(due, facts.terms, facts.book, _wait_amounts(due, facts))
    may_join = (due["short_pcs"].eq(0) & due["position_pcs"].le(due["join_point_pcs"]) & due["supply"].eq("steady")
                & ~due["is_made_in_runs"] & due["vendor"].isin(filled["vendor"]))
    if not may_join.any():
        return lines, filled
    joining = _wanted(due, due["position_pcs"])
    due = due.assign(is_joined=may_join, short_pcs=due["short_pcs"].mask(may_join, joining))
    return baskets.fill(due.assign(order_pcs=due["short_pcs"]), facts.terms, facts.book, _wait_amounts(due, facts))


def _wait_amounts(lines, facts):
    """What waiting for each vendor would cost where jobs already booked are short: one bay, the mean lead time."""
    rows = facts.book.rows[["part", "vendor"]].drop_duplicates()
    days = facts.lead_times.frame.set_index("vendor")["mean_days"].reindex(rows["vendor"]).to_numpy(dtype=float)
    days = np.where(np.isnan(days), stock_rules.UNKNOWN_LEAD_DAYS, days)
    pressing = lines.loc[(lines["short_pcs"] > 0) & (lines["position_pcs"] < 0), "part"]
    amount = np.where(rows["part"].isin(pressing), days * facts.settings.bay_cost_per_day, 0.0)
    return pd.Series(amount, index=pd.MultiIndex.from_frame(rows))
