"""Reorder rule of every part: what it costs, how much at once, the owner's word, supply and what is reserved."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.errors import InvalidParameter
from pipeline.kernels import order_up_to, reorder_point
from pipeline.models import shelf_demand, stock

WEEKS_PER_YEAR = 365.25 / 7
UNKNOWN_LEAD_DAYS = 14.0  # where neither quote nor receipts tell
HALF_WEEKS = 60  # lead times laid out to 30 weeks
RESERVE_SHARE = 0.9  # written needs are reserved until so many orders would be here, and a week more
LINE_SHARE = 0.25  # of an order's cost that one more line really adds: most join an order that goes out anyhow (ours)
LEAST_RATE_SHARE, LEAST_PER_DAY = 0.01, 0.1  # costs of 0 would hold or wait for ever
COLUMNS = ["shelf_rule", "committed_pcs", "known_pcs", "known_jobs", "reorder_point_pcs", "order_up_to_pcs",
           "join_point_pcs", "lot_pcs", "year_use_pcs", "horizon_days"]


@dataclass(frozen=True)
class Costs:
    """What a part costs to hold, to wait for and to order, arrays over parts.

    Attributes
    ----------
    holding, waiting : numpy.ndarray
        Money per piece and week.
    ordering : numpy.ndarray
        Money per order line: own time and freight of an order, shared by the lines such orders have.
    """

    holding: np.ndarray
    waiting: np.ndarray
    ordering: np.ndarray


def costs(positions, vendors, terms, settings):
    """Holding, waiting and ordering cost of every part.

    Parameters
    ----------
    positions : pandas.DataFrame
        From :func:`pipeline.models.stock.positions`.
    vendors : sequence of str or None
        The vendor each part would come from.
    terms : pandas.DataFrame
        View ``vendor_terms``.
    settings : pipeline.store.read.Settings

    Returns
    -------
    Costs
        Waiting is the whole bay cost for every piece owed. Only the last missing part delays a job, so this prices a
        part alone and errs to the safe side; what the shelf as a whole is worth stands in the job-ready share.
    """
    price = stock.class_prices(positions).to_numpy()
    rate = max(settings.holding_rate_share, LEAST_RATE_SHARE)
    per_order = terms["order_hours"] * settings.labour_cost + terms["mean_freight_amount"].fillna(
        terms["freight_flat"]).fillna(0.0)
    per_line = (per_order / terms["lines_per_order"].fillna(1.0).clip(lower=1.0)).astype(float)
    per_line = per_line.set_axis(terms["vendor"])
    n_parts = len(positions)
    return Costs(
        np.maximum(rate * price / WEEKS_PER_YEAR, 1e-6),
        np.full(n_parts, 7 * max(settings.bay_cost_per_day, LEAST_PER_DAY)),
        per_line.reindex(list(vendors)).fillna(per_line.mean() if len(per_line) else 0.0).to_numpy(),
    )


def lead_pmfs(demand, lead_times, vendors):
    """Demand over the lead time and the week of review, all jobs counted, the lead time's own spread mixed in.

    Parameters
    ----------
    demand : pipeline.models.shelf_demand.ShelfDemand
    lead_times : pipeline.models.lead_times.LeadTimes
    vendors : sequence of str or None
        The vendor each part would come from.

    Returns
    -------
    numpy.ndarray, shape (n_parts, n_values)
    """
    shares = shelf_demand.window_shares(lead_times.period_shares(vendors, 3.5, HALF_WEEKS, UNKNOWN_LEAD_DAYS))
    return shelf_demand.mixed(demand.coming, shares)


def lots(demand, lead_pmf, costs, pack_pcs, line_share=1.0):
    """Pieces of each part to order at once: the exact single-part optimum.

    Parameters
    ----------
    demand : pipeline.models.shelf_demand.ShelfDemand
    lead_pmf : numpy.ndarray, shape (n_parts, n_values)
        From :func:`lead_pmfs`.
    costs : Costs
    pack_pcs : numpy.ndarray of int
        Pieces in a pack of each part.
    line_share : float
        Share of the ordering cost that a line really adds: ``LINE_SHARE`` where it may join another's order.

    Returns
    -------
    numpy.ndarray of int, shape (n_parts,)
        Whole packs, at least one; beyond that at most half a year's use.
    """
    line = Costs(costs.holding, costs.waiting, costs.ordering * line_share)
    s, top = _optimum(demand, lead_pmf, line, pack_pcs)
    half_year = np.ceil(_year_use_pcs(demand) / 2)
    lot = np.clip(top - s, 1, np.maximum(half_year, 1)).astype(np.int64)
    return -(-lot // np.asarray(pack_pcs)) * np.asarray(pack_pcs)


def known(reservations, lead_times, parts, vendors):
    """Written needs of booked and running jobs that fall due before an order of next week would be here.

    Parameters
    ----------
    reservations : pipeline.models.reservations.Reservations
    lead_times : pipeline.models.lead_times.LeadTimes
    parts : sequence of str
    vendors : sequence of str or None
        The vendor each part would come from.

    Returns
    -------
    pandas.DataFrame
        One row per part: known_pcs and known_jobs.
    """
    days = lead_times.quantile_days(vendors, RESERVE_SHARE, UNKNOWN_LEAD_DAYS) + 7
    return pd.DataFrame({"known_pcs": reservations.known_pcs(parts, days),
                         "known_jobs": reservations.jobs(parts, days)})


def levels(positions, demand, written, points, lot_pcs):
    """Reorder point and order-up-to level of every part, net of what is kept for booked work, and its shelf.

    Parameters
    ----------
    positions : pandas.DataFrame
        From :func:`pipeline.models.stock.positions`.
    demand : pipeline.models.shelf_demand.ShelfDemand
        Demand of the parts, in their order.
    written : pandas.DataFrame
        From :func:`known`.
    points : tuple of numpy.ndarray
        From :func:`pipeline.decisions.shelf_rules.todays_points`.
    lot_pcs : numpy.ndarray of int
        From :func:`lots`.

    Returns
    -------
    pandas.DataFrame
        In the order of ``positions``: shelf_rule, what is kept for booked work, reorder_point_pcs, join_point_pcs and
        order_up_to_pcs for pieces on hand and on order less committed_pcs, lot_pcs, year_use_pcs, horizon_days.

    Notes
    -----
    Kept for booked work is what is written, and the pieces by which jobs on the books raise the reorder point. An
    order brings whole lots, as few as lift a part above the point at which it would join: at most to order_up_to_pcs.
    """
    base, must, may = points
    raised = np.maximum(must - base, 0)
    join = np.maximum(may - raised, base)
    frame = written.assign(
        committed_pcs=written["known_pcs"] + raised, reorder_point_pcs=base, join_point_pcs=join, lot_pcs=lot_pcs,
        order_up_to_pcs=np.maximum(join + lot_pcs, 0), year_use_pcs=_year_use_pcs(demand))
    return _with_shelves(frame, positions)[COLUMNS]


def _year_use_pcs(demand):
    return demand.week_pmf @ np.arange(demand.week_pmf.shape[1]) * WEEKS_PER_YEAR


def _optimum(demand, lead_pmf, costs, pack_pcs):
    """Reorder point and order-up-to level for all demand: (s, S) for single pieces, (r, nQ) for packs.

    A part that no rule can be found for is named: one price or pack out of all measure must not hide among thousands.
    """
    try:
        return _optimum_of(demand.week_pmf, lead_pmf, costs, np.asarray(pack_pcs))
    except InvalidParameter:
        for k, part in enumerate(demand.parts):
            _named_optimum(part, demand.week_pmf[k:k + 1], lead_pmf[k:k + 1],
                           Costs(*(rate[k:k + 1] for rate in vars(costs).values())), np.asarray(pack_pcs)[k:k + 1])
        raise


def _named_optimum(part, week_pmf, lead_pmf, costs, pack_pcs):
    """The optimum of one part, or a refusal that names it."""
    try:
        _optimum_of(week_pmf, lead_pmf, costs, pack_pcs)
    except InvalidParameter as error:
        holding = costs.holding[0] * WEEKS_PER_YEAR
        raise InvalidParameter(
            f"part {part}: packs of {pack_pcs[0]:,} pieces, each {holding:,.4g} a year to hold; wanted a price and a "
            "pack for which a reorder rule can be found. Check its pack_pcs and pack_price in offers.csv, its "
            "unit_price in order_lines.csv and its unit_cost in parts.csv.") from error


def _optimum_of(week_pmf, lead_pmf, costs, pack_pcs):
    """The optimum from demand of a week and of the lead time, rows by part."""
    rates = costs.holding, costs.waiting, costs.ordering
    single = order_up_to.best(week_pmf, lead_pmf, *rates)
    s, top = single.reorder_point_pcs.copy(), single.order_up_to_pcs.copy()
    packed = np.flatnonzero(pack_pcs > 1)
    if packed.size:
        rule = reorder_point.best_in_packs(
            week_pmf[packed], lead_pmf[packed], *(rate[packed] for rate in rates), pack_pcs[packed])
        s[packed], top[packed] = rule.reorder_point_pcs, rule.reorder_point_pcs + rule.order_pcs
    is_used = (week_pmf[:, 1:].sum(axis=1) > 0) | (lead_pmf[:, 1:].sum(axis=1) > 0)
    return np.where(is_used, s, -1), np.where(is_used, top, 0)


def _with_shelves(frame, positions):
    """Respect the owner's word and name the shelf."""
    keep, supply = positions["keep"], positions["supply"]
    s = frame["reorder_point_pcs"].mask(keep == "never", -1)
    top = frame["order_up_to_pcs"].mask(keep == "never", 0)
    s = s.mask(keep == "always", s.clip(lower=0))
    top = pd.concat([top, s + 1], axis=1).max(axis=1)
    join = frame["join_point_pcs"].mask(keep == "never", -1).clip(lower=s)
    rule = np.select(
        [keep == "never", supply != "steady", top <= 0, top <= 2],
        ["not_stocked", "when_seen", "not_stocked", "one_or_two"], "by_the_job")
    return frame.assign(reorder_point_pcs=s, order_up_to_pcs=top, join_point_pcs=join, shelf_rule=rule,
                        horizon_days=np.nan)
