"""Jobs by day and the parts they wait for: what comes last, what is on its way, what nobody sells."""

from functools import cache

import pandas as pd
import pytest
from scipy.stats import gamma

from pipeline.decisions import bay_calendar, order_plan, pick_list
from tests.support import hand_shop

DONE = [f"D{n}" for n in range(1, 13)]
BASE = {
    "shop": "key value\ntoday 2026-01-10",
    "families": "family name\nem EM",
    "parts": "part description wear_class\ncoil Coil coil\nlamp Lamp lamp\nboard Board board",
    "jobs": "job family scope booked_on planned_start_on started_on delivered_on\n"
    + "\n".join(f"{job} em thorough 2025-{n:02d}-01 - 2025-{n:02d}-03 2025-{n:02d}-25" for n, job in enumerate(DONE, 1))
    + "\nR1 em thorough 2025-11-01 2025-12-01 2025-12-05 -\nB1 em thorough 2025-12-20 2026-03-20 - -"
    + "\nB2 em thorough 2025-12-21 2026-04-20 - -",
    "job_parts": "job part qty_pcs used_on\n"
    + "\n".join(f"{job} lamp 4 2025-{n:02d}-05" for n, job in enumerate(DONE, 1)),
    "vendors": "vendor freight_flat lead_time_days order_hours\nnorth 9 6 0.4\nslow 9 40 0.4",
    "offers": "vendor part pack_price quoted_on\nnorth coil 18 2025-06-01\nslow lamp 0.3 2025-06-01",
    "counts": "part counted_on qty_pcs\ncoil 2026-01-09 0\nlamp 2026-01-09 0\nboard 2026-01-09 0",
    "findings": "job assembly part qty_pcs condition action\nR1 flip coil 1 failed -\nR1 flip lamp 2 failed -\n"
    "B1 flip coil 1 failed -\nB2 flip board 1 failed -",
}


@cache
def rows(**tables):
    with hand_shop.store(**(BASE | tables)) as connection:
        plan = order_plan.make(connection)
        made = bay_calendar.table(pick_list.make(plan, connection), plan, connection)
    return made.set_index("job"), plan


def day_of(plan, vendor, elapsed=0.0):
    """Days to go of an order that has taken so long, by the vendor's gamma."""
    place = plan.facts.lead_times.frame["vendor"].tolist().index(vendor)
    fitted = plan.facts.lead_times.fitted
    shape, mean = float(fitted.shape[place]), float(fitted.mean_days[place])
    still = gamma.sf(elapsed, shape, scale=mean / shape)
    return gamma.isf(0.2 * still, shape, scale=mean / shape) - elapsed


def test_the_columns_and_the_order_are_those_of_the_table():
    found, _ = rows()
    assert [found.index.name, *found.columns] == bay_calendar.COLUMNS
    assert found.index.tolist() == ["R1", "B1", "B2"]


def test_a_job_waits_for_the_part_that_comes_last():
    found, plan = rows()
    row = found.loc["R1"]
    assert (row["short_parts"], row["short_pcs"], row["waits_for"]) == (2, 3, "lamp")
    days = -(-day_of(plan, "slow") // 1)
    assert row["ready_on"] == pd.Timestamp("2026-01-10") + pd.Timedelta(days=days)
    assert row["wait_days"] == days  # its start has passed: it waits from today


def test_what_comes_before_the_start_makes_nobody_wait():
    row = rows()[0].loc["B1"]
    assert row["waits_for"] is not None and row["ready_on"] < pd.Timestamp("2026-03-20") and row["wait_days"] == 0


def test_a_part_that_nobody_sells_has_no_day():
    row = rows()[0].loc["B2"]
    assert row["waits_for"] == "board" and pd.isna(row["ready_on"]) and pd.isna(row["wait_days"])


def test_an_order_on_its_way_is_reckoned_from_its_own_day():
    found, plan = rows(
        orders="order_no vendor ordered_on\nP1 slow 2025-12-21",
        order_lines="order_no part qty_pcs unit_price\nP1 lamp 50 0.3",
        findings="job assembly part qty_pcs condition action\nR1 flip lamp 2 failed -")
    days = -(-day_of(plan, "slow", 20.0) // 1)
    assert found.loc["R1", "wait_days"] == pytest.approx(days)
    assert days < day_of(plan, "slow")


def test_nothing_short_is_ready_today():
    found, _ = rows(counts="part counted_on qty_pcs\ncoil 2026-01-09 9\nlamp 2026-01-09 99\nboard 2026-01-09 9")
    assert (found["short_parts"] == 0).all() and (found["wait_days"] == 0).all()
    assert (found["ready_on"] == pd.Timestamp("2026-01-10")).all()
