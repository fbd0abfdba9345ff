"""Share of jobs that find every part: against shelves whose answer is known, and what must hold for any."""

import datetime
from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.stats import poisson

from pipeline.decisions import job_ready, order_plan
from pipeline.kernels import kit, order_up_to
from pipeline.models import whole_jobs
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
        history = whole_jobs.history(connection)
        table = job_ready.readiness(plan).table
    lines = plan.lines.set_index("part").reindex(history.parts)
    return SimpleNamespace(plan=plan, history=history, table=table.set_index(["family", "scope"]), lines=lines)


def shelves_of(made, seed=1):
    return job_ready.draw_shelves(made.plan, made.lines, made.history, np.random.default_rng(seed))


def test_columns_are_those_of_the_table(made):
    found = made.table.reset_index()
    assert list(found.columns) == job_ready.COLUMNS


def test_today_is_judged_by_whole_jobs(made):
    # six sleeves are there, one coil, no board: only jobs of the other half find everything, about every second one
    assert_allclose(made.table.loc[("em", "thorough"), "today_share"], 0.5, atol=0.02)


def test_multiplying_item_rates_would_be_wrong(made):
    # item by item: sleeve 1, coil 1, board 1/2. With the coil gone as well the product says 1/4, the jobs still 1/2.
    both_gone = ready_of(counts=BASE["counts"].replace("coil 2026-01-05 1", "coil 2026-01-05 0"))
    assert_allclose(both_gone.loc[("em", "thorough"), "today_share"], 0.5, atol=0.02)


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


class TestShelves:
    def test_no_part_stands_above_its_top_but_for_what_was_ordered_for_booked_jobs(self, made):
        bare = replace(
            made.plan.facts.pipeline,
            delays={
                key: replace(delay, days=np.zeros(1), share=np.ones(1), tail_share=0.0)
                for key, delay in made.plan.facts.pipeline.delays.items()
            },
        )
        plan = replace(made.plan, facts=replace(made.plan.facts, pipeline=bare))  # no job is known ahead
        found = job_ready.draw_shelves(plan, made.lines, made.history, np.random.default_rng(2))
        assert (found.planned <= made.lines["order_up_to_pcs"].to_numpy()).all()

    def test_parts_of_the_same_jobs_run_out_together(self, made):
        # coil and board leave in the same jobs; with levels that stand still only the jobs move the shelf
        still = made.lines.assign(reorder_point_pcs=made.lines["order_up_to_pcs"] - 1)
        found = job_ready.draw_shelves(made.plan, still, made.history, np.random.default_rng(4))
        coil, board = (list(made.history.parts).index(part) for part in ("coil", "board"))
        np.testing.assert_allclose(np.ptp(found.equal_share[:, coil] - found.equal_share[:, board]), 0)
        assert np.ptp(found.equal_share[:, coil]) > 0

    def test_both_rules_tie_up_the_same_cash(self, made):
        found = shelves_of(made)
        price = made.lines["known_price"].to_numpy(dtype=float)
        cash = np.maximum(found.equal_share, 0).mean(axis=0) @ price
        assert cash <= found.cash_amount + 1e-9
        assert_allclose(np.maximum(found.planned, 0).mean(axis=0) @ price, found.cash_amount)

    def test_lead_days_are_the_vendors_and_up_to_a_week(self, made):
        found = shelves_of(made)
        mean = made.plan.facts.lead_times.frame["mean_days"].iloc[0]
        assert_allclose(found.lead_days.mean(), mean + 3.5, rtol=0.1)
        assert_allclose(found.lead_days[:, 0], found.lead_days[:, 1])  # one vendor, one order

    def test_a_longer_lead_time_drains_more(self, made):
        slow = replace(
            made.plan.facts.lead_times, fitted=made.plan.facts.lead_times.fitted._replace(mean_days=np.array([90.0]))
        )
        plan = replace(made.plan, facts=replace(made.plan.facts, lead_times=slow))
        drained = job_ready.draw_shelves(plan, made.lines, made.history, np.random.default_rng(3))
        assert drained.planned.mean() < shelves_of(made, 3).planned.mean()


def test_a_known_shelf_gives_the_share_counted_by_hand(made):
    # four shelves, one job kind that always takes 6 sleeves: ready where there are at least 6
    weight, candidates = whole_jobs.draw_weights(made.history, "em", "thorough", 5, np.random.default_rng(1))
    need = made.history.used_pcs[candidates]
    sleeves = list(made.history.parts).index("sleeve")
    shelf = np.full((4, len(made.history.parts)), 9)
    shelf[:, sleeves] = [5, 6, 7, 0]
    assert_allclose(weight @ kit.ready_jobs(shelf, need).mean(axis=0), 0.5)


def test_a_job_booked_long_before_finds_what_was_ordered_for_it(made):
    # the same levels, every booking ten years ahead: needs are reserved as expected, so more jobs find their parts
    def with_notice(days):
        pipeline = made.plan.facts.pipeline
        ahead = {
            key: replace(delay, days=np.array([days]), share=np.ones(1), tail_share=0.0)
            for key, delay in pipeline.delays.items()
        }
        plan = replace(made.plan, facts=replace(made.plan.facts, pipeline=replace(pipeline, delays=ahead)))
        with hand_shop.store(**BASE) as connection:
            found = job_ready.readiness(plan).table.set_index(["family", "scope"])
        return found.loc[("em", "thorough"), "planned_share"]

    assert with_notice(3650.0) > with_notice(0.0)


def test_today_is_a_date_of_the_shop(made):
    assert made.plan.facts.today == datetime.date(2026, 1, 10)


def test_one_part_one_piece_a_job_agrees_with_the_exact_share():
    # every job takes one coil, none is announced, orders take ten days: the share of jobs that find one is
    # P(level - demand of ten days and up to a week >= 1) over the levels the rule stands at
    tables = {name: text for name, text in BASE.items() if name in ("shop", "families", "vendors", "jobs")} | {
        "parts": "part description\ncoil Coil",
        "job_parts": "job part qty_pcs used_on\n" + "\n".join(f"D{n} coil 1 2025-{n:02d}-08" for n in MONTHS),
        "offers": "vendor part pack_price\nnorth coil 18",
        "counts": "part counted_on qty_pcs\ncoil 2026-01-05 1",
    }
    with hand_shop.store(**tables) as connection:
        plan = order_plan.make(connection)
        pipeline, lead = plan.facts.pipeline, plan.facts.lead_times
        at_once = {
            key: replace(delay, days=np.zeros(1), share=np.ones(1), tail_share=0.0)
            for key, delay in pipeline.delays.items()
        }
        rate = pipeline.bookings.assign(shape=1e6, rate_days=1e6 * 12.0)  # one job in twelve days
        fixed = replace(lead, fitted=lead.fitted._replace(mean_days=np.array([10.0]), shape=np.array([1e6])))
        lines = plan.lines.assign(reorder_point_pcs=0, order_up_to_pcs=3)
        facts = replace(plan.facts, pipeline=replace(pipeline, delays=at_once, bookings=rate), lead_times=fixed)
        ready = job_ready.table(replace(plan, facts=facts, lines=lines), connection, np.random.default_rng(8))
    week = plan.facts.demand.week_pmf
    standing = order_up_to.standing_shares(week, [0], [3])[0]
    demand = np.mean([poisson.cdf(np.arange(3), days / 12.0) for days in np.linspace(10, 17, 400)], axis=0)
    exact = sum(share * demand[2 - below] for below, share in enumerate(standing))
    assert_allclose(ready.loc[0, "planned_share"], exact, atol=0.03)
