"""Share of jobs that find every part: against shelves whose answer is known, and what must hold for any."""

import datetime
from functools import cache
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.stats import poisson

from pipeline.decisions import job_ready, order_plan, shelf_replay, shelf_rules
from pipeline.kernels import order_up_to
from pipeline.kernels.reorder_rules import FixedLevels
from pipeline.kernels.shop_replay import ReplayJobs, Supply
from tests.support import hand_shop

MONTHS = range(1, 13)
BASE = {
    "shop": "key value\ntoday 2026-01-10\nlabour_cost 30\nbay_cost_per_day 10",
    "families": "family name\nem EM\nss SS",
    "parts": "part description\nsleeve Sleeve\ncoil Coil\nboard Board",
    # every em job takes six sleeves; the same half takes a coil and a board
    "jobs": "job family scope booked_on started_on delivered_on\n"
    + "\n".join(f"D{n} em thorough 2025-{n:02d}-01 2025-{n:02d}-08 2025-{n:02d}-25" for n in MONTHS),
    "job_parts": "job part qty_pcs used_on\n"
    + "\n".join(
        f"D{n} sleeve 6 2025-{n:02d}-08"
        + (f"\nD{n} coil 1 2025-{n:02d}-08\nD{n} board 1 2025-{n:02d}-08" if n % 2 else "")
        for n in MONTHS
    ),
    "vendors": "vendor order_hours lead_time_days\nnorth 0.4 6",
    "offers": "vendor part pack_price\nnorth sleeve 1\nnorth coil 18\nnorth board 60",
    "counts": "part counted_on qty_pcs\nsleeve 2026-01-05 6\ncoil 2026-01-05 1\nboard 2026-01-05 0",
}


@cache
def ready_of(**tables):
    with hand_shop.store(**(BASE | tables)) as connection:
        return job_ready.readiness(order_plan.make(connection)).table.set_index(["family", "scope"])


@pytest.fixture(scope="module")
def made():
    with hand_shop.store(**BASE) as connection:
        plan = order_plan.make(connection)
    readiness = job_ready.readiness(plan)
    return SimpleNamespace(plan=plan, readiness=readiness, table=readiness.table.set_index(["family", "scope"]))


def test_columns_are_those_of_the_table(made):
    found = made.table.reset_index()
    assert list(found.columns) == job_ready.COLUMNS


def test_today_is_judged_by_what_jobs_need(made):
    # six sleeves are there, one coil, no board: jobs that take no board find everything, about every second one
    assert_allclose(made.table.loc[("em", "thorough"), "today_share"], 0.5, atol=0.12)


def test_expected_jobs_are_those_of_the_coming_year(made):
    expected = made.plan.facts.pipeline.expected_jobs(365.0).set_index(["family", "scope"])["expected_jobs"]
    pd.testing.assert_series_equal(made.table["expected_jobs"], expected, check_names=False)
    assert 6 < made.table["expected_jobs"].sum() < 20


def test_shares_lie_between_none_and_all_and_the_range_holds_the_plan(made):
    shares = made.table[
        ["today_share", "planned_share", "planned_low_share", "planned_high_share", "equal_share_rule_share"]
    ]
    assert ((shares >= 0) & (shares <= 1)).all().all()
    assert (made.table["planned_low_share"] <= made.table["planned_share"]).all()
    assert (made.table["planned_share"] <= made.table["planned_high_share"]).all()


def test_the_plan_beats_an_empty_shelf(made):
    assert made.table.loc[("em", "thorough"), "planned_share"] > made.table.loc[("em", "thorough"), "today_share"]


def test_the_worst_part_is_one_that_such_jobs_take(made):
    assert made.table.loc[("em", "thorough"), "worst_part"] in {"sleeve", "coil", "board", None}
    nothing_kept = ready_of(parts="part description keep\nsleeve Sleeve -\ncoil Coil -\nboard Board never")
    assert nothing_kept.loc[("em", "thorough"), "worst_part"] == "board"


def test_a_part_never_kept_stalls_the_jobs_that_take_it():
    found = ready_of(parts="part description keep\nsleeve Sleeve -\ncoil Coil -\nboard Board never")
    assert found.loc[("em", "thorough"), "planned_share"] < 0.8


def test_without_any_count_today_is_unknown_and_the_plan_still_stands():
    with hand_shop.store(**{name: text for name, text in BASE.items() if name != "counts"}) as connection:
        found = job_ready.readiness(order_plan.make(connection)).table.set_index(["family", "scope"])
    assert np.isnan(found.loc[("em", "thorough"), "today_share"])
    assert found.loc[("em", "thorough"), "planned_share"] > 0.3


def test_without_any_delivered_job_nothing_is_claimed():
    tables = {name: BASE[name] for name in ("shop", "families", "parts")}
    with hand_shop.store(**tables, jobs="job family scope booked_on\nB1 em thorough 2026-01-02") as connection:
        found = job_ready.readiness(order_plan.make(connection)).table
    assert len(found) == 1
    assert found.loc[0, ["today_share", "planned_share", "planned_low_share", "equal_share_rule_share"]].isna().all()


def test_the_same_store_gives_the_same_shares(made):
    with hand_shop.store(**BASE) as connection:
        again = job_ready.readiness(order_plan.make(connection)).table.set_index(["family", "scope"])
    pd.testing.assert_frame_equal(again, made.table)


class TestCurve:
    def test_the_plan_stands_on_it_and_the_worst_parts_are_those_jobs_take(self, made):
        curve = made.readiness.curve
        assert list(curve.columns) == job_ready.CURVE_COLUMNS
        assert set(curve["shelf"]) == {"plan", "equal_share_rule", "today"}
        assert (curve["shelf"] == "plan").sum() == 1 + len(job_ready.CURVE_TIMES)
        stalling = made.readiness.stalling
        assert list(stalling.columns) == job_ready.STALLING_COLUMNS
        assert set(stalling["part"]) <= {"sleeve", "coil", "board"}
        assert (stalling["alone_share"] <= stalling["stalls_share"] + 1e-12).all()

    def test_more_cash_makes_more_jobs_ready(self, made):
        for _, line in made.readiness.curve.query("shelf != 'today'").groupby("shelf"):
            line = line.sort_values("cash_amount")
            assert line["ready_share"].iloc[-1] >= line["ready_share"].iloc[0]

    def test_today_is_worth_what_lies_there(self, made):
        today = made.readiness.curve.query("shelf == 'today'")["cash_amount"].iloc[0]
        assert_allclose(today, 6 * 1 + 1 * 18)


def test_the_equal_share_rule_gets_no_more_cash_than_the_plan(made):
    shop = shelf_replay.believed_shop(made.plan.shelf, made.plan.facts, 6, 1)
    for amount in (110.0, 160.0):  # less than lots alone tie up cannot be had
        rule = job_ready.equal_at(made.plan.shelf, shop, amount)
        assert shelf_replay.run(shop, rule).shelf_amount.mean() <= amount


def test_what_is_promised_is_what_a_longer_replay_of_the_same_beliefs_shows(made):
    shop = shelf_replay.believed_shop(made.plan.shelf, made.plan.facts, 60, 2, np.random.default_rng(77))
    found = shelf_replay.run(shop, shelf_rules.marginal(made.plan.shelf, made.plan.times_dearer, 60))
    ready = (shelf_replay.wait_days(found)[shop.is_counted] == 0).mean()
    assert_allclose(made.table["planned_share"].iloc[0], ready, atol=0.05)  # a dozen runs of twenty jobs here


def test_a_rule_of_fixed_levels_agrees_with_the_exact_share():
    # every job takes one coil, none is announced, orders take ten days: the share of jobs that find one is
    # P(level - demand of ten days and up to a week >= 1) over the levels the rule stands at
    rng, rate, n_runs, n_days = np.random.default_rng(8), 1 / 12, 80, 203 + 730
    count = rng.poisson(rate, (n_runs, n_days))
    run, day = (np.repeat(axis, count.ravel()) for axis in np.indices(count.shape).reshape(2, -1))
    jobs = ReplayJobs(run, np.zeros_like(run), day, day, day, np.ones((run.size, 1), dtype=np.int64))
    supply = Supply(np.zeros(1, int), np.ones(1, int), np.ones(1), np.full((n_runs, 1, -(-n_days // 7)), 10),
                    np.zeros(1), np.full(1, np.inf))
    shop = shelf_replay.shop(jobs, supply, n_days)
    levels = FixedLevels(np.zeros(1, int), np.full(1, 3), np.zeros(1, int), np.zeros((1, 1)))
    found = shelf_replay.run(shop, levels, keep_shelves=True)
    ready = (found.found_pcs[shop.is_counted, 0] >= 1).mean()
    week = poisson.pmf(np.arange(12), 7 * rate)[None]
    standing = order_up_to.standing_shares(week, [0], [3])[0]
    # a job of the same day as another finds what that one left: days of lead and review count from the order on
    demand = np.mean([poisson.cdf(np.arange(3), days * rate) for days in np.arange(10, 17)], axis=0)
    exact = sum(share * demand[2 - below] for below, share in enumerate(standing))
    assert_allclose(ready, exact, atol=0.02)


def test_the_same_needs_hold_more_jobs_to_account_without_bias(made):
    # the shelves a kind of job found, against its own needs and against others drawn under the same belief
    shop = shelf_replay.believed_shop(made.plan.shelf, made.plan.facts, 40, 2)
    replayed = shelf_replay.run(shop, shelf_rules.marginal(made.plan.shelf, 30.0, 40), keep_shelves=True)
    own = (shop.jobs.need_pcs <= replayed.found_pcs).all(axis=1)[shop.is_counted].mean()
    found = job_ready.found(shop, replayed, np.full((1, len(made.plan.lines)), -1))
    assert_allclose(found.overall(made.plan.shelf.kinds.per_day), own, atol=0.05)


def test_today_is_a_date_of_the_shop(made):
    assert made.plan.facts.today == datetime.date(2026, 1, 10)
