"""Reorder rule of every part: the exact single-part optimum, then the owner's word, supply and what is reserved."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.errors import InvalidParameter
from pipeline.kernels import order_up_to, reorder_point, stock_levels
from pipeline.models import shelf_demand, stock

WEEKS_PER_YEAR = 365.25 / 7
UNKNOWN_LEAD_DAYS = 14.0  # where neither quote nor receipts tell
HALF_WEEKS = 60  # lead times laid out to 30 weeks
RESERVE_SHARE = 0.9  # needs are reserved up to the day by which this share of orders would be here, and a week more
MOST_TIMES_DEARER, HALVINGS = 1000.0, 10  # how far holding is made dearer to fit the cash limit, and how finely
LEAST_RATE_SHARE, LEAST_PER_DAY = 0.01, 0.1  # costs of 0 would hold or wait for ever
COLUMNS = ["shelf_rule", "committed_pcs", "known_pcs", "known_jobs", "reorder_point_pcs", "order_up_to_pcs",
           "year_use_pcs", "horizon_days"]


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


def reserve(demand, use, reservations, lead_times, vendors):
    """Pieces reserved for booked and running jobs that need them before an order of next week would be here.

    Parameters
    ----------
    demand : pipeline.models.shelf_demand.ShelfDemand
    use : pipeline.models.use_per_job.UsePerJob
    reservations : pipeline.models.reservations.Reservations
    lead_times : pipeline.models.lead_times.LeadTimes
    vendors : sequence of str or None
        The vendor each part would come from.

    Returns
    -------
    pandas.DataFrame
        One row per part: committed_pcs (written needs and, rounded, expected ones), known_pcs and known_jobs (the
        written ones).
    """
    days = lead_times.quantile_days(vendors, RESERVE_SHARE, UNKNOWN_LEAD_DAYS) + 7
    known = reservations.known_pcs(demand.parts, days)
    expected = np.floor(shelf_demand.booked_pcs(demand.parts, use, reservations, days) + 0.5).astype(int)
    return pd.DataFrame({"committed_pcs": known + expected, "known_pcs": known,
                         "known_jobs": reservations.jobs(demand.parts, days)})


def within_cash(demand, lead_pmf, costs, pack_pcs, prices, limit_amount):
    """Costs with holding made dearer, by one factor for all parts, until the average shelf is within the cash limit.

    Parameters
    ----------
    demand : pipeline.models.shelf_demand.ShelfDemand
    lead_pmf : numpy.ndarray, shape (n_parts, n_values)
        From :func:`lead_pmfs`.
    costs : Costs
    pack_pcs : numpy.ndarray of int
    prices : numpy.ndarray
        Money per piece, 0 for parts the limit does not speak of.
    limit_amount : float or None
        Most money on the shelf on average; None for no limit.

    Returns
    -------
    costs : Costs
    times_dearer : float
        The factor, 1 where the limit does not bind.
    shelf_amount : float
        Average value of the shelf under the rules that follow, money.

    Notes
    -----
    The factor is the price of cash (a Lagrange multiplier): parts give up pieces in the order in which a saved unit of
    money costs least, each still by its own exact optimum. A fuller method counts jobs, not pieces, in that order.
    """
    def shelf(times):
        dearer = Costs(costs.holding * times, costs.waiting, costs.ordering)
        return dearer, _shelf_amount(demand, lead_pmf, dearer, pack_pcs, prices)

    best, amount = shelf(1.0)
    if limit_amount is None or amount <= limit_amount:
        return best, 1.0, amount
    low, high = 0.0, np.log(MOST_TIMES_DEARER)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        _, amount = shelf(np.exp(middle))
        low, high = (middle, high) if amount > limit_amount else (low, middle)
    dearer, amount = shelf(np.exp(high))
    return dearer, float(np.exp(high)), amount


def levels(positions, demand, reserved, costs, lead_pmf, pack_pcs):
    """Reorder point and order-up-to level of every part, net of what is reserved, and its shelf.

    Parameters
    ----------
    positions : pandas.DataFrame
        From :func:`pipeline.models.stock.positions`.
    demand : pipeline.models.shelf_demand.ShelfDemand
        Demand of the parts, in their order.
    reserved : pandas.DataFrame
        committed_pcs, known_pcs and known_jobs of each part: needs that are reserved.
    costs : Costs
    lead_pmf : numpy.ndarray, shape (n_parts, n_values)
        From :func:`lead_pmfs`.
    pack_pcs : numpy.ndarray of int
        Pieces in a pack of it.

    Returns
    -------
    pandas.DataFrame
        In the order of ``positions``: shelf_rule, what is reserved, reorder_point_pcs and order_up_to_pcs for pieces on
        hand and on order less committed_pcs, year_use_pcs, horizon_days.

    Notes
    -----
    The optimum is found for all demand of the lead time, announced or not, so that what is uncertain about a booked
    job has its safety, too; committed_pcs is then taken off both levels. A reserved need is never left uncovered: the
    reorder point is at least -1.
    """
    total_s, total_top = _optimum(demand, lead_pmf, costs, pack_pcs)
    committed = reserved["committed_pcs"].to_numpy()
    frame = reserved.assign(
        reorder_point_pcs=np.maximum(total_s - committed, -1), order_up_to_pcs=np.maximum(total_top - committed, 0),
        year_use_pcs=demand.week_pmf @ np.arange(demand.week_pmf.shape[1]) * WEEKS_PER_YEAR)
    return _with_shelves(frame, positions)[COLUMNS]


def _shelf_amount(demand, lead_pmf, costs, pack_pcs, prices):
    """Average value of the shelf under the optimum for given costs."""
    s, top = _optimum(demand, lead_pmf, costs, pack_pcs)
    moving = np.flatnonzero((demand.week_pmf[:, 1:].sum(axis=1) > 0) & (prices > 0))
    gap = (top - s)[moving]
    single = order_up_to.standing_shares(demand.week_pmf[moving], s[moving], top[moving])
    even = (np.arange(single.shape[1]) < gap[:, None]) / gap[:, None]
    shares = np.where((np.asarray(pack_pcs)[moving] > 1)[:, None], even, single)
    return float((stock_levels.average_left(lead_pmf[moving], top[moving], shares) * prices[moving]).sum())


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
    rule = np.select(
        [keep == "never", supply != "steady", top <= 0, top <= 2],
        ["not_stocked", "when_seen", "not_stocked", "one_or_two"], "by_the_job")
    return frame.assign(reorder_point_pcs=s, order_up_to_pcs=top, shelf_rule=rule, horizon_days=np.nan)
