"""Reorder rules of a whole shelf: the plan's, the equal-share rule's, and where today's jobs put the plan's points."""

from dataclasses import dataclass

import numpy as np

from pipeline.decisions import stock_rules
from pipeline.kernels import equal_share, marginal_reorder
from pipeline.kernels.marginal_rule import MarginalRule, Stock
from pipeline.kernels.reorder_rules import FixedLevels
from pipeline.models import job_kinds, known_needs, shelf_demand, stock

LENGTHS = 6  # equally likely lead times that stand for all
JOIN_SHARE = 0.4  # of what a lot must gain: at that it joins an order that goes out anyhow (found by replays; ours)
REVIEW_DAYS = 7
LOT_POWER = 0.5  # a lot is held at the middle of the own holding cost and the price of a place (ours, by replays)
LEAST_JOBS = 3.0  # jobs of a kind that may come together, beyond those expected: how far the grid reaches


@dataclass(frozen=True)
class Shelf:
    """What the rules of a shelf rest on, arrays over the parts of the plan.

    Attributes
    ----------
    kinds : pipeline.models.job_kinds.JobKinds
        Over the parts of the plan.
    needs : pipeline.kernels.marginal_reorder.Needs
    vendors : list of str or None
    vendor : numpy.ndarray of int, shape (n_parts,)
        Place of each part's vendor in ``vendors``.
    lead_days : numpy.ndarray, shape (n_parts, LENGTHS)
    pack_pcs : numpy.ndarray of int, shape (n_parts,)
    price : numpy.ndarray, shape (n_parts,)
        Money a piece.
    is_ahead : numpy.ndarray of bool, shape (n_parts,)
        Ordered ahead of need: in steady supply, and not kept off the shelf by the owner's word.
    costs : pipeline.decisions.stock_rules.Costs
        The owner's own costs.
    demand : pipeline.models.shelf_demand.ShelfDemand
    order_pmf : numpy.ndarray, shape (n_parts, n_values)
        Demand of the lead time and the week of review, jobs on the books among it.
    lead_pmf : numpy.ndarray, shape (n_parts, n_values)
        The same in bundles, with no job known.
    """

    kinds: job_kinds.JobKinds
    needs: marginal_reorder.Needs
    vendors: list
    vendor: np.ndarray
    lead_days: np.ndarray
    pack_pcs: np.ndarray
    price: np.ndarray
    is_ahead: np.ndarray
    costs: stock_rules.Costs
    demand: shelf_demand.ShelfDemand
    order_pmf: np.ndarray
    lead_pmf: np.ndarray

    def lot_pcs(self, times_dearer=1.0, line_share=stock_rules.LINE_SHARE):
        """Pieces of each part to order at once, where a place is priced at so many times the owner's holding cost.

        All of that price would make many small orders of what freight really costs, none of it idle pieces: the
        geometric mean keeps nearly all of the readiness for half of the freight.
        """
        holding = self.costs.holding * times_dearer**LOT_POWER
        costs = stock_rules.Costs(holding, self.costs.waiting, self.costs.ordering)
        return stock_rules.lots(self.demand, self.order_pmf, costs, self.pack_pcs, line_share)

    def least_gain(self, lot_pcs, times_dearer=1.0):
        """Jobs kept from waiting that a week's holding of a lot must buy.

        A job that stalls costs the bay for the days until the part is there. Half of that is reckoned at the mean of
        all needs (ours): that it stalls at all costs as much as how long, so that parts from slow vendors weigh more,
        but not as much more as they take longer.
        """
        wait = self.lead_days.mean(axis=1) + REVIEW_DAYS / 2
        weight = self.kinds.per_day @ self.kinds.share
        mean = float(weight @ wait / weight.sum()) if weight.sum() > 0 else REVIEW_DAYS
        bay_per_day = self.costs.waiting / 7
        return times_dearer * self.costs.holding * lot_pcs / (bay_per_day * (mean + wait) / 2)


def shelf(facts, vendors, costs, order_pmf, pack_pcs):
    """Gather what the rules rest on.

    Parameters
    ----------
    facts : pipeline.decisions.stock_facts.StockFacts
    vendors : sequence of str or None
        The vendor each part would come from.
    costs : pipeline.decisions.stock_rules.Costs
    order_pmf : numpy.ndarray, shape (n_parts, n_values)
        From :func:`pipeline.decisions.stock_rules.lead_pmfs`.
    pack_pcs : numpy.ndarray of int, shape (n_parts,)

    Returns
    -------
    Shelf
    """
    positions = facts.positions
    kinds = job_kinds.fit(facts.use, facts.pipeline, positions["part"])
    names = list(dict.fromkeys(vendors))
    shares = (np.arange(LENGTHS) + 0.5) / LENGTHS
    lead = np.column_stack([facts.lead_times.quantile_days(vendors, share, stock_rules.UNKNOWN_LEAD_DAYS)
                            for share in shares])
    most = kinds.per_day[:, None] * (lead.max(axis=1, initial=0) + REVIEW_DAYS) + LEAST_JOBS
    needs = marginal_reorder.needs(kinds.share, kinds.pieces_pmf, most)
    is_ahead = ((positions["supply"] == "steady") & (positions["keep"] != "never")).to_numpy()
    vendor = np.array([names.index(one) for one in vendors], dtype=np.int64)
    return Shelf(kinds, needs, names, vendor, lead, pack_pcs, stock.class_prices(positions).to_numpy(float), is_ahead,
                 costs, facts.demand, order_pmf, _lead_pmf(kinds, needs, lead))


def marginal(shelf, times_dearer, n_runs, join_share=JOIN_SHARE, review_days=REVIEW_DAYS):
    """The plan's rule.

    Parameters
    ----------
    shelf : Shelf
    times_dearer : float
        How many times the owner's own holding cost a place on the shelf is priced at.
    n_runs : int
        Runs side by side.
    join_share : float
        See :class:`pipeline.kernels.marginal_rule.Stock`.
    review_days : int
        Days from one look at the shelf to the next.

    Returns
    -------
    pipeline.kernels.marginal_rule.MarginalRule
    """
    lot = shelf.lot_pcs(times_dearer)
    least = np.where(shelf.is_ahead, shelf.least_gain(lot, times_dearer), np.inf)
    return MarginalRule(shelf.needs, shelf.kinds.doubt, shelf.kinds.announcements(),
                        Stock(shelf.vendor, shelf.lead_days, lot, least, join_share), n_runs, review_days)


def equal_share_rule(shelf, share):
    """The equal-share rule: every part the same chance of covering its lead time and the week of review.

    Parameters
    ----------
    shelf : Shelf
    share : float
        That chance, 0 to 1.

    Returns
    -------
    pipeline.kernels.reorder_rules.FixedLevels
        Every part orders for itself, in lots that are the best for an order's whole share of cost; nothing is
        reserved for booked jobs.
    """
    lot = shelf.lot_pcs(line_share=1.0)
    level = equal_share.levels_for_share(shelf.lead_pmf, share) * shelf.needs.bundle_pcs
    point = np.where(shelf.is_ahead, level, 0) - 1
    return fixed(shelf, point, np.where(shelf.is_ahead, point + lot, 0))


def fixed(shelf, reorder_point_pcs, order_up_to_pcs):
    """A rule of fixed levels that knows of no job to come (:class:`pipeline.kernels.reorder_rules.FixedLevels`)."""
    none = np.zeros(shelf.vendor.size, dtype=np.int64)
    return FixedLevels(reorder_point_pcs, order_up_to_pcs, none, np.zeros(shelf.kinds.share.shape), REVIEW_DAYS)


def todays_points(shelf, facts, times_dearer, lot_pcs):
    """Where the plan's rule puts its points today, with the jobs on the books as they stand.

    Parameters
    ----------
    shelf : Shelf
    facts : pipeline.decisions.stock_facts.StockFacts
    times_dearer : float
        As for :func:`marginal`.
    lot_pcs : numpy.ndarray of int, shape (n_parts,)
        Lots at that price.

    Returns
    -------
    base, must, may : numpy.ndarray of int, shape (n_parts,)
        Reorder point if no job were on the books; with them; and the point at which a part joins an order that goes
        out anyhow. Written needs are not in them: they are taken off the position.
    """
    known = known_needs.fit(facts.use, shelf.kinds, facts.reservations.others, shelf.lead_days, REVIEW_DAYS)
    every_least = shelf.least_gain(lot_pcs, times_dearer)
    base, must, may = (np.full(shelf.vendor.size, -1) for _ in range(3))
    for vendor in range(len(shelf.vendors)):
        parts = np.flatnonzero(shelf.vendor == vendor)
        needs, least = shelf.needs.take(parts), every_least[parts]
        alone, with_known = 0.0, 0.0
        for days in shelf.lead_days[parts[0]]:
            stream, stream_needed = known.stream(needs, parts, days, shelf.kinds.share_doubt)
            demand, needed = known.jobs(needs, parts, days)
            alone = alone + np.exp(stream) * stream_needed / LENGTHS
            with_known = with_known + np.exp(stream + demand) * (stream_needed + needed) / LENGTHS
        alone, with_known = marginal_reorder.stall_gain(alone), marginal_reorder.stall_gain(with_known)
        base[parts] = marginal_reorder.reorder_point(alone, least, needs.bundle_pcs)
        must[parts] = marginal_reorder.reorder_point(with_known, least, needs.bundle_pcs)
        may[parts] = marginal_reorder.reorder_point(with_known, least * JOIN_SHARE, needs.bundle_pcs)
    return base, must, may


def _lead_pmf(kinds, needs, lead):
    """Bundles that jobs take over the lead time and the week of review, none of them known."""
    total = np.zeros((lead.shape[0], marginal_reorder.GRID))
    for days in lead.T:
        n_jobs = kinds.per_day[:, None] * (days + REVIEW_DAYS)
        total += marginal_reorder.pmf(marginal_reorder.log_stream(needs, n_jobs, kinds.doubt)) / lead.shape[1]
    return total / total.sum(axis=1, keepdims=True)
