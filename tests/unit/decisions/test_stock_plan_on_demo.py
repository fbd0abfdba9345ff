"""The stock decisions on the demo shop: whole, within their hard constraints, and better than the rule they replace."""

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions import attention, job_ready, lead_times, order_plan, shelf_replay, shelf_rules
from pipeline.store import connect, read


@pytest.fixture(scope="module")
def demo(demo_shop):
    with connect.open_read(demo_shop.store) as connection:
        yield connection


@pytest.fixture(scope="module")
def plan(demo):
    return order_plan.make(demo)


@pytest.fixture(scope="module")
def table(plan):
    return order_plan.table(plan).set_index("part")


def test_every_part_is_planned_with_a_reason(demo, table):
    assert len(table) == read.rows(demo, "select count(*) from parts")[0][0]
    assert (table["why"].str.len() > 20).all()
    assert set(table["shelf_rule"]) == {"by_the_job", "one_or_two", "when_seen", "not_stocked"}


def test_orders_are_in_whole_packs_at_todays_prices(demo, table):
    ordered = table[table["order_pcs"] > 0]
    assert len(ordered) > 10
    assert (ordered["packs"] * ordered["pack_pcs"] == ordered["order_pcs"]).all()
    offers = read.frame(demo, "tidy_offers")
    known = offers.groupby(["part", "vendor"])["unit_price"].agg(["min", "max"])
    price = known.reindex(pd.MultiIndex.from_arrays([ordered.index, ordered["vendor"]]))
    assert (ordered["unit_price"].to_numpy() >= price["min"].to_numpy() - 1e-9).all()
    assert (ordered["unit_price"].to_numpy() <= price["max"].to_numpy() + 1e-9).all()


def test_nothing_is_ordered_that_cannot_be_had(demo, table):
    none = read.query(
        demo, "select part from tidy_parts where part not in (select part from tidy_offers where available = 'yes')"
    )
    assert (table.loc[none["part"], "order_pcs"] == 0).all()
    assert table.loc[none["part"], "vendor"].isna().all()


def test_the_owners_word_is_kept(demo, table):
    keep = read.query(demo, "select part, keep from tidy_parts where keep <> 'auto'").set_index("part")["keep"]
    levels = table.loc[keep.index, "order_up_to_pcs"]
    assert (levels[keep == "never"] == 0).all() and (levels[keep == "always"] >= 1).all()


def test_every_basket_meets_its_vendors_minimum_and_terms(demo, plan):
    terms = read.frame(demo, "vendor_terms").set_index("vendor").reindex(plan.baskets["vendor"]).reset_index()
    goods = plan.baskets["goods_amount"]
    assert (goods >= terms["minimum_order"]).all()
    is_free = goods >= terms["freight_free_over"].fillna(np.inf)
    np.testing.assert_allclose(plan.baskets["freight_amount"], terms["freight_flat"].where(~is_free, 0.0))


def test_the_cash_limit_is_kept(plan):
    limit = plan.facts.settings.cash_limit_amount
    assert f"cash limit of {limit:,.0f}" in plan.notes[1]


def test_written_needs_of_running_jobs_are_reserved(demo, plan, table):
    needs = plan.facts.reservations.known
    running = needs[needs["status"] == "in_progress"].groupby("part")["still_pcs"].sum()
    assert len(running) > 5
    assert (table.loc[running.index, "committed_pcs"] >= running).all()


def test_more_jobs_find_their_parts_than_under_the_equal_share_rule_at_the_same_cash(demo, plan):
    ready = job_ready.readiness(plan).table
    weight = ready["expected_jobs"] / ready["expected_jobs"].sum()
    planned, equal = ((ready[name] * weight).sum() for name in ("planned_share", "equal_share_rule_share"))
    assert planned > equal + 0.02
    assert planned > (ready["today_share"] * weight).sum()
    assert set(ready["worst_part"].dropna()) <= set(plan.lines["part"])


def test_what_is_promised_is_what_the_believed_shop_shows_and_a_product_of_item_rates_is_not(plan):
    shelf, n_runs = plan.shelf, 60
    brief = shelf_replay.believed_shop(shelf, plan.facts, job_ready.RUNS, job_ready.YEARS)
    none = np.where(shelf.is_ahead, -1, 10**6)[None]  # parts outside any rule are never short
    rule = shelf_rules.marginal(shelf, plan.times_dearer, job_ready.RUNS)
    found = job_ready.found(brief, shelf_replay.run(brief, rule, keep_shelves=True), none, with_parts=True)
    promised = found.overall(shelf.kinds.per_day)
    shop = shelf_replay.believed_shop(shelf, plan.facts, n_runs, 1, np.random.default_rng(404))
    replayed = shelf_replay.run(shop, shelf_rules.marginal(shelf, plan.times_dearer, n_runs))
    seen = shelf_replay.wait_days(replayed)[shop.is_counted] == 0
    by_run = np.bincount(shop.jobs.run[shop.is_counted], seen) / np.bincount(shop.jobs.run[shop.is_counted])
    assert abs(promised - seen.mean()) < 0.01 + 2 * by_run.std() * np.sqrt(1 / n_runs + 1 / job_ready.RUNS)
    # as if the parts of a job were there or not each for itself
    product = np.prod(1 - found.stalls, axis=1) @ shelf.kinds.per_day / shelf.kinds.per_day.sum()
    assert product < promised - 0.015


def test_lead_times_are_listed_fastest_first(demo, plan):
    found = lead_times.table(demo, plan.facts.today)
    assert list(found["mean_days"]) == sorted(found["mean_days"])
    assert set(found["vendor"]) == set(read.frame(demo, "vendor_terms")["vendor"])


def test_the_day_has_something_to_look_at(demo, plan):
    found = attention.table(plan, demo)
    assert {"job waits for parts", "order due"} <= set(found["what"])
    assert found["what_to_do"].str.len().min() > 5
    assert found["rank"].is_monotonic_increasing


def test_records_kept_the_way_a_person_keeps_them_give_a_plan_too(alder_lane):
    with connect.open_read(alder_lane.store) as connection:
        plan = order_plan.make(connection)
        ready = job_ready.readiness(plan).table
        assert len(attention.table(plan, connection)) > 0
    table = order_plan.table(plan)
    assert (table["order_pcs"] > 0).sum() > 10
    assert ready["planned_share"].between(0, 1).all()
