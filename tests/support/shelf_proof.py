"""One world's two years after its records, replayed under the plan, the equal-share rule and the owner's habit."""

import time

import numpy as np
import pandas as pd

from pipeline.decisions import job_ready, order_plan, shelf_replay, shelf_rules
from pipeline.models import habit
from pipeline.store import connect
from tests.support import forecast_worlds, true_shop

SHARES = (0.8, 0.9, 0.95, 0.98, 0.99, 0.995)
TIMES = (6000.0, 2000.0, 700.0, 250.0, 100.0, 45.0, 20.0, 9.0, 4.0, 1.5)  # prices of a place on the shelf
DUE_RUNS = 4


def plan_of(entry, folder):
    """The world's plan, without a cash limit's search, and the owner's habit."""
    path = folder / f"{entry.name}.duckdb"
    if not path.exists():
        forecast_worlds.store(entry, path)
    with connect.open_read(path) as connection:
        plan = order_plan.make(connection)
        return plan, habit.levels(connection, plan.shelf.kinds.parts)


def outcomes(entry, plan, levels, n_runs=16, n_years=2, seed=99):
    """One row per rule and level: what the jobs of the world's own two years found and what it cost.

    Returns
    -------
    pandas.DataFrame
        rule, level, ready (share of thorough and refresh jobs that never wait), all_ready (of all jobs), wait_days (of
        the former, mean), cash, orders and freight a year, and ``waits``: mean wait by run.
    """
    shelf = plan.shelf
    shop = true_shop.shop(entry, shelf, plan.facts.terms, n_runs, n_years, seed)
    rules = [("equal", share, lambda share=share: shelf_rules.equal_share_rule(shelf, share)) for share in SHARES]
    rules += [("plan", times, lambda times=times: shelf_rules.marginal(shelf, times, n_runs)) for times in TIMES]
    rules += [("habit", 0.0, lambda: shelf_rules.fixed(shelf, *levels))]
    rows = [(rule, level, *_outcome(shelf, shop, make(), n_years)) for rule, level, make in rules]
    brief = true_shop.shop(entry, shelf, plan.facts.terms, DUE_RUNS, n_years, seed, review_days=1)
    for times in (TIMES[3], TIMES[5]):
        # a day of holding for a day of readiness
        each = shelf_rules.marginal(shelf, times / shelf_rules.REVIEW_DAYS, DUE_RUNS, join_share=1.0, review_days=1)
        rows.append(("when due", times, *_outcome(shelf, brief, each, n_years)))
    return pd.DataFrame(rows, columns=["rule", "level", "ready", "all_ready", "wait_days", "cash", "orders", "freight",
                                       "waits", "seconds"])


def _outcome(shelf, shop, rule, n_years):
    start = time.process_time()
    found = shelf_replay.run(shop, rule)
    wait = shelf_replay.wait_days(found)
    big = np.array([scope != "fix_only" for _, scope in shelf.kinds.kinds])[shop.jobs.kind] & shop.is_counted
    run = shop.jobs.run[big]
    waits = np.bincount(run, wait[big], shop.n_runs) / np.maximum(np.bincount(run, minlength=shop.n_runs), 1)
    return ((wait[big] == 0).mean(), (wait[shop.is_counted] == 0).mean(), wait[big].mean(), found.shelf_amount.mean(),
            found.orders.mean() / n_years, found.freight_amount.mean() / n_years, waits, time.process_time() - start)


def beside(found):
    """The plan beside the equal-share rule at each of its levels.

    Returns
    -------
    pandas.DataFrame
        level, ready and cash of the equal-share rule; ``cash_ratio``: cash the plan needs for the same ready share;
        ``wait_days`` and, at equal cash, ``plan_wait_days`` and ``wait_saved`` (by run, paired).
    """
    plan, equal = (found[found["rule"] == rule] for rule in ("plan", "equal"))
    by_cash = plan.sort_values("cash")
    log_cash = np.log(by_cash["cash"])
    ready = np.maximum.accumulate(by_cash["ready"])
    waits = np.stack(by_cash["waits"].to_list())
    rows = []
    for row in equal.itertuples():
        needed = np.exp(np.interp(row.ready, ready, log_cash))
        at_cash = np.array([np.interp(np.log(row.cash), log_cash, of_run) for of_run in waits.T])
        rows.append((row.level, row.ready, row.cash, needed / row.cash, row.wait_days, at_cash.mean(),
                     row.waits - at_cash, row.freight, np.interp(np.log(row.cash), log_cash, by_cash["freight"])))
    return pd.DataFrame(rows, columns=["level", "ready", "cash", "cash_ratio", "wait_days", "plan_wait_days",
                                       "wait_saved", "freight", "plan_freight"])


def predicted(plan, times):
    """Ready share of all jobs that the plan promises at a price of a place, by the believed shop."""
    shop = shelf_replay.believed_shop(plan.shelf, plan.facts, job_ready.RUNS, job_ready.YEARS)
    rule = shelf_rules.marginal(plan.shelf, times, job_ready.RUNS)
    replayed = shelf_replay.run(shop, rule, keep_shelves=True)
    served = np.where(plan.shelf.is_ahead, -1, 10**6)[None]  # parts outside any rule are outside the comparison
    return job_ready.found(shop, replayed, served).overall(plan.shelf.kinds.per_day)
