"""Share of jobs that find every part they need on the shelf: today's shelf, the plan's, the equal-share rule's."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions import seed, stock_rules
from pipeline.kernels import equal_share, kit, order_up_to, shelf_draws
from pipeline.models import stock, whole_jobs

COLUMNS = ["family", "scope", "expected_jobs", "today_share", "planned_share", "planned_low_share",
           "planned_high_share", "equal_share_rule_share", "worst_part"]
SHELVES, BELIEFS = 800, 400  # draws of the shelf, and of what a kind of job takes
YEAR_DAYS = 365.0
METHOD = (
    "Whole past jobs are drawn again and held against whole shelves: a job is ready when every piece it took is there. "
    "Parts run out together, because the same jobs drained them, so rates of single parts must not be multiplied. The "
    "plan's shelf stands anywhere between its levels, drained by the jobs of one lead time; what booked jobs were "
    "expected to take was ordered for them, where they were booked that long before. Parts made in runs stand anywhere "
    "up to what is aimed at. The range is over what is believed about such jobs (80 %)."
)


@dataclass(frozen=True)
class Shelves:
    """Draws of the shelf in the long run, parts in the order of the job history.

    Attributes
    ----------
    planned, equal_share : numpy.ndarray, shape (n_draws, n_parts)
        Pieces under the plan and under the equal-share rule at the same average cash.
    lead_days : numpy.ndarray, shape (n_draws, n_parts)
        Days that orders took, and since the last look at the shelf.
    cash_amount : float
        Value of the average shelf under the plan, money.
    """

    planned: np.ndarray
    equal_share: np.ndarray
    lead_days: np.ndarray
    cash_amount: float


def table(plan, connection, rng=None):
    """Table ``job_ready``: one row per family and scope that jobs come in.

    Parameters
    ----------
    plan : pipeline.decisions.order_plan.StockPlan
        The plan.
    connection : duckdb.DuckDBPyConnection
        An open store.
    rng : numpy.random.Generator, optional
        Default the decisions' one seed.

    Returns
    -------
    pandas.DataFrame
        expected_jobs in the next year; shares 0 to 1, missing where no job was ever delivered (and
        ``today_share`` where nothing was ever counted). A part whose pieces today are unknown is taken as not there.
        ``worst_part`` is the one that alone stalls most such jobs under the plan.
    """
    rng = rng or seed.generator()
    history = whole_jobs.history(connection)
    expected = plan.facts.pipeline.expected_jobs(YEAR_DAYS)
    lines = plan.lines.set_index("part").reindex(history.parts)
    shelves = draw_shelves(plan, lines, history, rng) if len(history.jobs) else None
    rows = [(*cell, *_shares(cell, plan, lines, history, shelves, rng))
            for cell in expected[["family", "scope"]].itertuples(index=False, name=None)]
    made = pd.DataFrame(rows, columns=[name for name in COLUMNS if name != "expected_jobs"])
    return made.assign(expected_jobs=expected["expected_jobs"].to_numpy(dtype=float))[COLUMNS]


def draw_shelves(plan, lines, history, rng):
    """Draw the shelf as it stands in the long run.

    Parameters
    ----------
    plan : pipeline.decisions.order_plan.StockPlan
    lines : pandas.DataFrame
        The plan's lines in the order of ``history.parts``.
    history : pipeline.models.whole_jobs.JobHistory
    rng : numpy.random.Generator

    Returns
    -------
    Shelves
    """
    lead = _lead_days(plan, lines, rng)
    recent = _recent_jobs(plan, history, lead.max(), rng)
    draw, age, notice, taken, expected = recent
    drained = -shelf_draws.drained_shelf(np.zeros(lead.shape, dtype=np.int64), lead, draw, age, taken)
    ahead = shelf_draws.announced_pcs(lead, draw, age, notice, expected)
    rows = plan.lines.reset_index().set_index("part")["index"].reindex(history.parts).to_numpy()
    week = plan.facts.demand.week_pmf[rows]
    is_run = (lines["shelf_rule"].eq("when_seen") & ~lines["is_at_will"].eq(True)).to_numpy()
    below, place = _pieces_below_top(lines, week, rng)
    top = lines["order_up_to_pcs"].to_numpy(dtype=float)
    in_runs = np.floor(place * (top + 1))  # anywhere between none and the aim
    planned = np.where(is_run, in_runs, top - below - drained + ahead)
    price = stock.class_prices(lines.assign(unit_price=lines["known_price"])).to_numpy()
    steady_price = np.where(is_run, 0.0, price)
    order = np.maximum(top - lines["reorder_point_pcs"].to_numpy(dtype=float), 1.0)
    cash = float(np.maximum(planned, 0).mean(axis=0) @ steady_price)
    above = np.floor(place * order)
    lowest, _, _ = equal_share.levels_for_cash(plan.lead_pmf[rows], steady_price, cash, above, drained)
    return Shelves(planned, np.where(is_run, in_runs, lowest + above - drained), lead, cash)


def _shares(cell, plan, lines, history, shelves, rng):
    """Today's, planned (middle, low, high) and equal-share job-ready share, and the worst part, of one kind of job."""
    weight, candidates = whole_jobs.draw_weights(history, *cell, BELIEFS, rng)
    if candidates.size == 0:
        return np.nan, np.nan, np.nan, np.nan, np.nan, None
    need = _needs(history, candidates, cell[0])
    mean_weight = weight.mean(axis=0)
    notice = _delays(plan.facts.pipeline.delays[cell[1], "booking_days"], len(shelves.planned), rng)
    planned = shelves.planned + (notice[:, None] >= shelves.lead_days) * (mean_weight @ need)
    ready = weight @ kit.ready_jobs(planned, need).mean(axis=0)
    low, high = np.quantile(ready, [0.1, 0.9])
    equal = mean_weight @ kit.ready_jobs(shelves.equal_share, need).mean(axis=0)
    worst = _worst(planned, need, mean_weight, history)
    return _today_share(lines, need, mean_weight), ready.mean(), low, high, equal, worst


def _today_share(lines, need, weight):
    free = stock.free_pcs(lines)
    if np.isnan(free).all():
        return np.nan
    return float(kit.ready_jobs(np.nan_to_num(free)[None], need)[0] @ weight)


def _worst(shelf, need, weight, history):
    stalls, alone = kit.stalls_by_part(shelf, need, weight)
    if stalls.max(initial=0.0) == 0:
        return None
    return str(history.parts[np.lexsort((stalls, alone))[-1]])


def _pieces_below_top(lines, week_pmf, rng):
    """How far below its top each part's level stands in each draw, and the even draw behind it."""
    place = rng.random((SHELVES, len(lines)))
    s, top = (lines[name].to_numpy(dtype=np.int64) for name in ("reorder_point_pcs", "order_up_to_pcs"))
    gap = np.maximum(top - s, 1)
    below = np.floor(place * gap)  # packs: anywhere in the run of one order
    is_single = (lines["pack_pcs"].fillna(1).to_numpy() == 1) & (week_pmf[:, 1:].sum(axis=1) > 0)
    rows = np.flatnonzero(is_single & (gap > 1))
    if rows.size:
        reached = np.cumsum(order_up_to.standing_shares(week_pmf[rows], s[rows], top[rows]), axis=1)
        for share, row in zip(reached, rows, strict=True):
            below[:, row] = np.searchsorted(share[: gap[row] - 1], place[:, row])
    return below, place


def _lead_days(plan, lines, rng):
    """Days each part's order took and the days since the shelf was last looked at, one row per draw."""
    known = plan.facts.lead_times
    fitted = dict(zip(known.frame["vendor"], zip(known.fitted.mean_days, known.fitted.shape, strict=True), strict=True))
    days = np.full((SHELVES, len(lines)), stock_rules.UNKNOWN_LEAD_DAYS)
    for vendor, (mean, shape) in fitted.items():
        if np.isfinite(mean):
            theirs = lines["vendor"].eq(vendor).to_numpy()
            days[:, theirs] = rng.gamma(shape, mean / shape, SHELVES)[:, None]
    return days + rng.uniform(0, 7, SHELVES)[:, None]


def _recent_jobs(plan, history, longest_days, rng):
    """Jobs that took their parts within the longest lead time: draw, age, notice, pieces taken, pieces expected."""
    n_parts = len(history.parts)
    found = [(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0), np.zeros((0, n_parts), dtype=np.int64),
              np.zeros((0, n_parts)))]
    pipeline = plan.facts.pipeline
    for row in pipeline.bookings.itertuples(index=False):
        weight, candidates = whole_jobs.draw_weights(history, row.family, row.scope, SHELVES, rng)
        if candidates.size == 0:
            continue
        n_jobs = rng.poisson(rng.gamma(row.shape, longest_days / row.rate_days, SHELVES))
        draw = np.repeat(np.arange(SHELVES), n_jobs)
        chosen = (rng.random((len(draw), 1)) > np.cumsum(weight[draw], axis=1)[:, :-1]).sum(axis=1)
        need = _needs(history, candidates, row.family)
        expected = np.broadcast_to(weight.mean(axis=0) @ need, (len(draw), need.shape[1]))
        found.append((draw, rng.uniform(0, longest_days, len(draw)),
                      _delays(pipeline.delays[row.scope, "booking_days"], len(draw), rng), need[chosen], expected))
    return [np.concatenate(column) for column in zip(*found, strict=True)]


def _needs(history, candidates, family):
    """Pieces past jobs used, of parts that a machine of the family can take."""
    return history.used_pcs[candidates] * history.family_parts.get(family, np.zeros(len(history.parts), dtype=bool))


def _delays(delay, n_draws, rng):
    """Draws of a delay: its steps, and the tail beyond the longest seen."""
    step = np.searchsorted(np.cumsum(delay.share), rng.random(n_draws))
    days = np.append(delay.days, delay.days[-1])[step]
    return days + np.where(step == len(delay.days), rng.exponential(delay.tail_days, n_draws), 0.0)
