"""Share of jobs that find every part they need on the shelf: today's shelf, the plan's, the equal-share rule's."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions import seed, shelf_replay, shelf_rules
from pipeline.kernels import kit
from pipeline.models import stock

COLUMNS = ["family", "scope", "expected_jobs", "today_share", "planned_share", "planned_low_share",
           "planned_high_share", "equal_share_rule_share", "worst_part"]
STALLING_COLUMNS = ["part", "stalls_share", "alone_share", "stalled_jobs_12m"]
CURVE_COLUMNS = ["shelf", "cash_amount", "ready_share"]
RUNS, YEARS, CURVE_RUNS, CURVE_YEARS = 12, 2, 6, 1
AS_LIKE = 16  # jobs held against every shelf that a job of the kind finds
YEAR_DAYS = 365.0
CURVE_TIMES = (8.0, 0.25, 1 / 16)  # prices of a place beside the plan's own, in times
CURVE_SHARES = (0.8, 0.95, 0.99, 0.995)
HALVINGS = 9
WORST_PARTS = 10
USUAL_PARTS = 600  # parts in steady supply up to which every run is affordable
METHOD = (
    "The shop is replayed day by day as the models believe it to be: jobs are booked, announced and torn down, take "
    "their parts together and drain the shelf together, orders come in when the vendors bring them. A job is ready "
    "when every piece it needs is there at its teardown; a product of the parts' own rates would be wrong, since the "
    "same jobs drain them. Parts made in runs stand anywhere up to what is aimed at. The range is over what is "
    "believed about the shop (80 %): each run of the replay holds another belief. Left out: the bench's queue, and "
    "parts fetched from a second vendor in a hurry."
)


@dataclass(frozen=True)
class Readiness:
    """Everything the replays tell.

    Attributes
    ----------
    table : pandas.DataFrame
        Table ``job_ready``.
    stalling : pandas.DataFrame
        Table ``stalling_parts``: the parts whose absence stalls most jobs under the plan.
    curve : pandas.DataFrame
        Table ``ready_curve``.
    """

    table: pd.DataFrame
    stalling: pd.DataFrame
    curve: pd.DataFrame


@dataclass(frozen=True)
class Found:
    """What jobs of a replay found, by kind.

    Attributes
    ----------
    ready : list of numpy.ndarray, shape (n_runs,)
        Share of jobs of each kind that were ready, by run; not a number where a run had none.
    stalls, alone : numpy.ndarray, shape (n_kinds, n_parts)
        Share of jobs that each part stalled, and stalled alone.
    """

    ready: list
    stalls: np.ndarray
    alone: np.ndarray

    def overall(self, weight):
        """Ready share over kinds of job weighed by how often they come."""
        share = np.array([np.nanmean(of) if np.isfinite(of).any() else np.nan for of in self.ready])
        known = np.isfinite(share) & (weight > 0)
        return float(share[known] @ weight[known] / weight[known].sum()) if known.any() else np.nan


def readiness(plan):
    """Replay the plan, and the equal-share rule beside it.

    Parameters
    ----------
    plan : pipeline.decisions.order_plan.StockPlan

    Returns
    -------
    Readiness
        Shares 0 to 1, missing where no job was ever delivered (``today_share`` also where nothing was ever counted).
        A part whose pieces today are unknown is taken as not there. ``worst_part`` is the one that alone stalls most
        such jobs under the plan.
    """
    shelf, facts = plan.shelf, plan.facts
    expected = facts.pipeline.expected_jobs(YEAR_DAYS)
    if not len(shelf.kinds.kinds) or not shelf.kinds.share.any():
        return _nothing(expected)
    n_runs, few_runs = (_affordable(shelf, runs) for runs in (RUNS, CURVE_RUNS))
    shop = shelf_replay.believed_shop(shelf, facts, n_runs, YEARS)
    in_runs = _in_runs(plan)
    rule = shelf_rules.marginal(shelf, plan.times_dearer, n_runs)
    replayed = shelf_replay.run(shop, rule, keep_shelves=True)
    planned = found(shop, replayed, in_runs, with_parts=True)
    amount = float(replayed.shelf_amount.mean())
    brief = shelf_replay.believed_shop(shelf, facts, few_runs, CURVE_YEARS)
    equal = found(shop, shelf_replay.run(shop, equal_at(shelf, brief, amount), keep_shelves=True), in_runs)
    today = _today(plan, shop)
    return Readiness(_table(shelf, expected, planned, equal, today), _stalling(shelf, planned),
                     _curve(plan, brief, in_runs, planned, amount, today))


def _affordable(shelf, runs):
    """Fewer runs for a shop of thousands of parts: each run then holds as much to look at."""
    return max(2, min(runs, runs * USUAL_PARTS // max(int(shelf.is_ahead.sum()), 1)))


def equal_at(shelf, shop, cash_amount):
    """The equal-share rule at the largest common share whose average shelf is worth at most some amount.

    Parameters
    ----------
    shelf : pipeline.decisions.shelf_rules.Shelf
    shop : pipeline.decisions.shelf_replay.Shop
    cash_amount : float
        Money.

    Returns
    -------
    pipeline.kernels.reorder_rules.FixedLevels
    """
    low, high = 0.0, 9.0  # share as 1 - exp(-x)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        rule = shelf_rules.equal_share_rule(shelf, -np.expm1(-middle))
        is_within = shelf_replay.run(shop, rule).shelf_amount.mean() <= cash_amount
        low, high = (middle, high) if is_within else (low, middle)
    return shelf_rules.equal_share_rule(shelf, -np.expm1(-low))


def found(shop, replayed, in_runs, with_parts=False, rng=None):
    """Hold jobs of each kind against the shelves that jobs of that kind found.

    Parameters
    ----------
    shop : pipeline.decisions.shelf_replay.Shop
        With the beliefs behind it.
    replayed : pipeline.kernels.shop_replay.Replay
        With its shelves.
    in_runs : numpy.ndarray of int, shape (n_draws, n_parts)
        Draws of the pieces of parts that no reorder rule serves; -1 for all others.
    with_parts : bool
        Whether to tell which parts stalled them.
    rng : numpy.random.Generator, optional
        Default the decisions' one seed.

    Returns
    -------
    Found

    Notes
    -----
    The shelf was made ready for a job of that kind, not for what it turned out to need: other needs drawn under the
    same belief are as likely, and hold the same shelf to account more often.
    """
    rng = rng or seed.generator()
    n_kinds, n_parts = len(shop.draws.kinds.kinds), shop.jobs.need_pcs.shape[1]
    ready = [np.full(shop.n_runs, np.nan) for _ in range(n_kinds)]
    stalls, alone, shelves = np.zeros((n_kinds, n_parts)), np.zeros((n_kinds, n_parts)), np.zeros(n_kinds)
    for kind in range(n_kinds):
        of_kind = np.flatnonzero(shop.is_counted & (shop.jobs.kind == kind))
        for run in np.unique(shop.jobs.run[of_kind]):
            here = of_kind[shop.jobs.run[of_kind] == run]
            shelf = replayed.found_pcs[here].astype(np.int64)
            drawn = in_runs[rng.integers(len(in_runs), size=here.size)]
            shelf = np.where(drawn >= 0, drawn, shelf)
            need = shop.draws.needs(kind, np.full(AS_LIKE, run))
            ready[kind][run] = kit.ready_jobs(shelf, need).mean()
            if with_parts:
                of_part, only = kit.stalls_by_part(shelf, need)
                stalls[kind] += here.size * of_part
                alone[kind] += here.size * only
        shelves[kind] = of_kind.size
    each = np.maximum(shelves, 1)[:, None]
    return Found(ready, stalls / each, alone / each)


def _table(shelf, expected, planned, equal, today):
    place = {kind: at for at, kind in enumerate(shelf.kinds.kinds)}
    rows = []
    for family, scope, jobs in expected[["family", "scope", "expected_jobs"]].itertuples(index=False):
        kind = place[family, scope]
        ready = planned.ready[kind][np.isfinite(planned.ready[kind])]
        if not ready.size or not shelf.kinds.share[kind].any():
            rows.append((family, scope, jobs, *[np.nan] * 5, None))
            continue
        low, high = np.quantile(ready, [0.1, 0.9])
        rows.append((family, scope, jobs, today[kind], ready.mean(), min(low, ready.mean()), max(high, ready.mean()),
                     np.nanmean(equal.ready[kind]), _worst(planned, kind, shelf.kinds.parts)))
    return pd.DataFrame(rows, columns=COLUMNS)


def _worst(planned, kind, parts):
    if planned.stalls[kind].max(initial=0.0) == 0:
        return None
    return str(parts[np.lexsort((planned.stalls[kind], planned.alone[kind]))[-1]])


def _stalling(shelf, planned):
    """Parts whose absence stalls most jobs, weighed by how often each kind comes."""
    jobs = shelf.kinds.per_day * YEAR_DAYS
    total = max(jobs.sum(), 1e-12)
    frame = pd.DataFrame({"part": shelf.kinds.parts, "stalls_share": jobs @ planned.stalls / total,
                          "alone_share": jobs @ planned.alone / total, "stalled_jobs_12m": jobs @ planned.stalls})
    worst = frame[frame["stalls_share"] > 0].sort_values(["alone_share", "stalls_share", "part"],
                                                         ascending=[False, False, True])
    return worst.head(WORST_PARTS).reset_index(drop=True)[STALLING_COLUMNS]


def _curve(plan, shop, in_runs, planned, amount, today):
    """Cash against job-ready share: today's shelf, the plan at other prices of a place, the equal-share rule."""
    shelf, weight = plan.shelf, plan.shelf.kinds.per_day
    rows = [("plan", amount, planned.overall(weight))]
    rules = [("plan", shelf_rules.marginal(shelf, plan.times_dearer * times, shop.n_runs)) for times in CURVE_TIMES]
    rules += [("equal_share_rule", shelf_rules.equal_share_rule(shelf, share)) for share in CURVE_SHARES]
    for name, rule in rules:
        replayed = shelf_replay.run(shop, rule, keep_shelves=True)
        rows.append((name, float(replayed.shelf_amount.mean()), found(shop, replayed, in_runs).overall(weight)))
    known = np.isfinite(today) & (weight > 0)
    if known.any():
        free = np.nan_to_num(np.asarray(stock.free_pcs(plan.lines), dtype=float))
        worth = float((free * shelf.price)[shelf.is_ahead].sum())
        rows.append(("today", worth, float(today[known] @ weight[known] / weight[known].sum())))
    frame = pd.DataFrame(rows, columns=CURVE_COLUMNS)
    return frame.sort_values(["shelf", "cash_amount"]).reset_index(drop=True)


def _today(plan, shop):
    """Share of jobs of each kind that today's shelf would serve whole."""
    free = np.asarray(stock.free_pcs(plan.lines), dtype=float)
    n_kinds = len(plan.shelf.kinds.kinds)
    if np.isnan(free).all():
        return np.full(n_kinds, np.nan)
    shelf = np.nan_to_num(free)[None]
    runs = np.repeat(np.arange(shop.n_runs), AS_LIKE)
    return np.array([kit.ready_jobs(shelf, shop.draws.needs(kind, runs)).mean() for kind in range(n_kinds)])


def _in_runs(plan, n_draws=64):
    """Draws of what lies there of parts no reorder rule serves: anywhere from none to the aim; -1 for all others."""
    lines, rng = plan.lines, seed.generator()
    is_run = (~plan.shelf.is_ahead & lines["shelf_rule"].eq("when_seen").to_numpy())
    top = np.nan_to_num(lines["order_up_to_pcs"].to_numpy(dtype=float)).clip(min=0)
    drawn = np.floor(rng.random((n_draws, len(lines))) * (top + 1)).astype(np.int64)
    return np.where(plan.shelf.is_ahead, -1, np.where(is_run, drawn, 0))


def _nothing(expected):
    rows = [(family, scope, jobs, *[np.nan] * 5, None)
            for family, scope, jobs in expected[["family", "scope", "expected_jobs"]].itertuples(index=False)]
    return Readiness(pd.DataFrame(rows, columns=COLUMNS), pd.DataFrame(columns=STALLING_COLUMNS),
                     pd.DataFrame(columns=CURVE_COLUMNS))
