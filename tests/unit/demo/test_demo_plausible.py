"""The committed demo looks like a shop of the trade.

The bounds are the trade's seed figures: mostly from memory, or common practice without a source.
"""

import csv
from collections import Counter, defaultdict
from datetime import date

import numpy as np
import pytest


@pytest.fixture(scope="module")
def read(demo_folder):
    def rows(name):
        with open(demo_folder / f"{name}.csv", encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    return rows


@pytest.fixture(scope="module")
def delivered(read):
    return {row["job"]: row for row in read("jobs") if row["status"] == "delivered"}


def number(text):
    try:
        return float(text)
    except ValueError:
        return 0.0


def per_scope(delivered, value):
    found = defaultdict(list)
    for job, row in delivered.items():
        found[row["scope"]].append(value.get(job, 0.0))
    return {scope: np.array(values) for scope, values in found.items()}


def test_about_sixty_jobs_a_year_most_of_them_small(delivered):
    scopes = Counter(row["scope"] for row in delivered.values())
    assert 48 <= len(delivered) / 4 <= 72
    assert 8 <= scopes["thorough"] / 4 <= 20
    assert scopes["fix_only"] > scopes["refresh"] > scopes["thorough"]


def test_hours_by_scope(read, delivered):
    hours = Counter()
    for row in read("job_hours"):
        if row["stage"] != "callback":
            hours[row["job"]] += number(row["hours"])
    typical = {scope: np.median(values) for scope, values in per_scope(delivered, hours).items()}
    assert 3 <= typical["fix_only"] <= 9
    assert 10 <= typical["refresh"] <= 20
    assert 50 <= typical["thorough"] <= 100


def test_call_backs_by_scope(read, delivered):
    called = {row["job"]: 1.0 for row in read("callbacks")}
    share = {scope: values.mean() for scope, values in per_scope(delivered, called).items()}
    assert 0.18 <= share["fix_only"] <= 0.27
    assert 0.05 <= share["thorough"] <= 0.14


def test_parts_of_a_thorough_job_cost_a_few_hundred(read, delivered):
    cost = {row["part"]: number(row["unit_cost"]) for row in read("parts")}
    spent = Counter()
    for row in read("job_parts"):
        spent[row["job"]] += number(row["qty_pcs"]) * cost.get(row["part"], 0.0)
    typical = {scope: np.median(values) for scope, values in per_scope(delivered, spent).items()}
    assert 200 <= typical["thorough"] <= 700
    assert typical["fix_only"] < 0.15 * typical["thorough"]


def test_sleeves_go_by_the_dozen(read, delivered):
    wear = {row["part"]: row["wear_class"] for row in read("parts")}
    sleeves = Counter()
    for row in read("job_parts"):
        if wear.get(row["part"]) == "sleeve":
            sleeves[row["job"]] += number(row["qty_pcs"])
    assert 8 <= np.median(per_scope(delivered, sleeves)["thorough"]) <= 22


def test_quotes_miss_both_ways_and_a_little_low_on_average(read, delivered):
    hours = Counter()
    for row in read("job_hours"):
        if row["stage"] != "callback":
            hours[row["job"]] += number(row["hours"])
    ratio = np.array([hours[job] / float(row["quoted_hours"]) for job, row in delivered.items()])
    assert 1.0 < ratio.mean() < 1.25
    assert 0.1 < np.mean(ratio > 1.2) < 0.5
    assert np.mean(ratio < 0.9) > 0.05


def test_most_parts_move_seldom(read):
    used = Counter()
    for row in read("job_parts"):
        used[row["part"]] += number(row["qty_pcs"])
    a_year = np.array([used[row["part"]] / 4 for row in read("parts")])
    assert np.mean(a_year <= 3) > 0.25
    assert a_year.max() > 300


def test_the_day_the_books_end_finds_work_at_every_stage(read):
    status = Counter(row["status"] for row in read("jobs"))
    assert status["in_progress"] >= 4 and status["booked"] >= 4 and status["enquiry"] >= 1
    running = [row for row in read("jobs") if row["status"] == "in_progress"]
    assert any(row["scope"] == "thorough" for row in running)
    found = {row["job"] for row in read("findings")}
    assert any(row["job"] in found for row in running)


def test_some_orders_are_still_on_their_way_and_some_came_late(read):
    ordered = {
        row["order_no"]: (row["vendor"], date.fromisoformat(row["ordered_on"])) for row in read("orders")
    }
    quoted = {row["vendor"]: float(row["lead_time_days"]) for row in read("vendors")}
    lines = read("order_lines")
    assert any(row["received_on"] == "" for row in lines)
    late = [
        (date.fromisoformat(row["received_on"]) - ordered[row["order_no"]][1]).days
        > 2 * quoted[ordered[row["order_no"]][0]]
        for row in lines
        if row["received_on"]
    ]
    assert 0.05 < np.mean(late) < 0.4


def test_the_shop_earns_something_but_not_on_every_job(read, delivered):
    cost = {row["part"]: number(row["unit_cost"]) for row in read("parts")}
    margin = Counter({job: float(row["invoiced_amount"]) for job, row in delivered.items()})
    for row in read("job_parts"):
        margin[row["job"]] -= 1.15 * number(row["qty_pcs"]) * cost.get(row["part"], 0.0)
    for row in read("job_hours"):
        margin[row["job"]] -= (34 + 12) * number(row["hours"])
    for row in read("job_costs"):
        margin[row["job"]] -= number(row["amount"])
    own = np.array([margin[job] for job in delivered])
    sold = sum(float(row["invoiced_amount"]) for row in delivered.values())
    assert 0.03 < own.sum() / sold < 0.3
    assert 0.05 < np.mean(own < 0) < 0.45


def test_orders_often_pay_freight(read):
    paid = np.mean([float(row["freight"]) > 0 for row in read("orders")])
    assert 0.5 < paid < 0.95


def test_the_shop_and_its_vendors_are_invented_names(read):
    named = {row["key"]: row["value"] for row in read("shop")}
    assert named["name"] == "Saltbush Row Pinball Workshop"
    assert len({row["name"] for row in read("vendors")}) == 4
