"""What waits for the owner: found, told, and the dearest first."""

from functools import cache

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions import attention, order_plan
from tests.support import hand_shop

BASE = {
    "shop": "key value\ntoday 2026-01-10",
    "families": "family name\nem EM",
    "parts": "part description shelf\ncoil Coil B2\nlamp Lamp C3",
    "jobs": "job family scope booked_on started_on delivered_on promised_on\n"
    + "\n".join(f"D{n} em thorough 2025-{n:02d}-01 2025-{n:02d}-03 2025-{n:02d}-25 -" for n in range(1, 13))
    + "\nR1 em thorough 2025-11-01 2025-12-01 - 2026-03-01",
    "job_parts": "job part qty_pcs used_on\n"
    + "\n".join(f"D{n} lamp 10 2025-{n:02d}-05\nD{n} coil 1 2025-{n:02d}-05" for n in range(1, 13)),
    "vendors": "vendor freight_flat lead_time_days order_hours\nnorth 9 6 0.4",
    "offers": "vendor part pack_price quoted_on\nnorth coil 18 2025-06-01\nnorth lamp 0.3 2025-06-01",
    "counts": "part counted_on qty_pcs\ncoil 2026-01-01 50\nlamp 2026-01-01 900",
}


@cache
def attention_of(**tables):
    """The list of the base shop with these tables in place of its own, made once; nobody changes it."""
    with hand_shop.store(**(BASE | tables)) as connection:
        return attention.table(order_plan.make(connection), connection)


def rows(what, **tables):
    found = attention_of(**tables)
    return found[found["what"] == what]


def test_a_quiet_day_has_nothing_on_the_list():
    found = attention_of()
    assert list(found.columns) == attention.COLUMNS
    assert found.empty


class TestWaitingJobs:
    findings = "job assembly part qty_pcs condition\nR1 flip coil 3 failed\nR1 light lamp 5 missing"

    def test_a_job_short_of_a_written_need_is_listed_with_its_days(self):
        found = rows(
            "job waits for parts",
            findings=self.findings,
            counts="part counted_on qty_pcs\ncoil 2026-01-01 1\nlamp 2026-01-01 900",
        )
        assert found[["where", "days", "what_to_do"]].values.tolist() == [["R1", 40, "1 part short: coil"]]

    def test_each_day_of_waiting_costs_a_day_in_the_bay(self):
        found = rows(
            "job waits for parts",
            shop=BASE["shop"] + "\nbay_cost_per_day 7",
            findings=self.findings,
            counts="part counted_on qty_pcs\ncoil 2026-01-01 1\nlamp 2026-01-01 900",
        )
        assert found["amount"].tolist() == [40 * 7]

    def test_what_is_on_its_way_is_said(self):
        found = rows(
            "job waits for parts",
            findings=self.findings,
            counts="part counted_on qty_pcs\ncoil 2026-01-01 1\nlamp 2026-01-01 900",
            orders="order_no vendor ordered_on\nP1 north 2026-01-08",
            order_lines="order_no part qty_pcs unit_price\nP1 coil 9 18",
        )
        assert found["what_to_do"].tolist() == ["1 part short: coil (on order)"]

    def test_the_shelf_goes_to_who_needed_it_first(self):
        jobs = BASE["jobs"] + "\nR2 em thorough 2025-11-01 2025-12-20 - -"
        found = rows(
            "job waits for parts",
            jobs=jobs,
            findings=self.findings + "\nR2 flip coil 1 failed",
            counts="part counted_on qty_pcs\ncoil 2026-01-01 3\nlamp 2026-01-01 900",
        )
        assert found["where"].tolist() == ["R2"]

    def test_a_job_whose_day_has_not_come_does_not_wait(self):
        jobs = (
            BASE["jobs"]
            .replace("promised_on", "promised_on planned_start_on")
            .replace(" -\n", " - -\n")
            .replace(
                "R1 em thorough 2025-11-01 2025-12-01 - 2026-03-01",
                "R1 em thorough 2025-11-01 - - 2026-03-01 2026-02-01",
            )
        )
        assert rows(
            "job waits for parts",
            jobs=jobs,
            findings=self.findings,
            counts="part counted_on qty_pcs\ncoil 2026-01-01 0",
        ).empty

    def test_unknown_stock_is_no_claim(self):
        assert rows(
            "job waits for parts", findings=self.findings, counts="part counted_on qty_pcs\nlamp 2026-01-01 900"
        ).empty


def test_a_promised_day_that_passed_is_listed():
    found = rows("promised day passed", jobs=BASE["jobs"].replace("2026-03-01", "2026-01-02"))
    assert found[["where", "days"]].values.tolist() == [["R1", 8]]


def test_orders_due_are_listed_with_what_they_come_to():
    found = rows("order due", counts="part counted_on qty_pcs\ncoil 2026-01-01 0\nlamp 2026-01-01 900")
    assert found["where"].tolist() == ["north"]
    assert found["amount"].iloc[0] > 18
    assert found["what_to_do"].iloc[0].startswith("send 1 line")


def test_an_order_longer_under_way_than_nine_in_ten_is_late():
    tables = {
        "orders": "order_no vendor ordered_on\nP1 north 2025-11-01\nP2 north 2026-01-08",
        "order_lines": "order_no part qty_pcs unit_price\nP1 coil 4 18\nP1 lamp 6 1\nP2 coil 1 18",
    }
    found = rows("delivery late", **tables)
    assert found["where"].tolist() == ["P1 (north)"]
    assert "ask north about 10 pieces: ordered 70 days ago" in found["what_to_do"].iloc[0]


class TestDoubts:
    def test_stock_that_nothing_rests_on_is_not_listed(self):
        tables = {"parts": BASE["parts"] + "\nidle Idle D4", "counts": BASE["counts"] + "\nidle 2023-01-01 4"}
        assert rows("stock in doubt", **tables).empty

    def test_a_doubtful_part_that_is_ordered_is_listed_with_its_bin(self):
        found = rows("stock in doubt", counts="part counted_on qty_pcs\ncoil 2024-06-01 0\nlamp 2026-01-01 900")
        assert found["where"].tolist() == ["coil"]
        assert found["what_to_do"].iloc[0].startswith("count it in B2: ")

    def test_many_doubts_are_one_line(self):
        parts = [f"p{n}" for n in range(12)]
        found = rows(
            "stock in doubt", parts=BASE["parts"] + "".join(f"\n{part} x -" for part in parts), counts=BASE["counts"]
        )
        assert found["where"].tolist() == ["12 parts"]
        assert found["what_to_do"].iloc[0] == "count them; 12 parts: never counted"


class TestQuotes:
    past = {
        "orders": "order_no vendor ordered_on\nP1 north 2025-12-01",
        "order_lines": "order_no part qty_pcs unit_price received_on\nP1 coil 4 {} 2025-12-07",
    }

    def prices(self, price):
        tables = self.past | {"order_lines": self.past["order_lines"].format(price)}
        return rows("quote out of line", **tables)

    def test_a_price_paid_far_above_the_quote_is_listed_with_a_years_worth(self):
        found = self.prices("25")
        assert found["where"].tolist() == ["coil (north)"]
        assert found["what_to_do"].iloc[0] == "quoted 18.00, last paid 25.00: ask for a new quote"
        assert 50 < found["amount"].iloc[0] < 130  # about 12 coils a year, 7.00 each

    def test_a_price_near_the_quote_is_not(self):
        assert self.prices("19").empty

    def test_a_vendor_far_slower_than_its_quote_is_listed(self):
        orders = "\n".join(f"P{n} north 2025-0{n}-01" for n in range(1, 9))
        lines = "\n".join(f"P{n} lamp 1 0.3 2025-0{n}-25" for n in range(1, 9))
        found = rows(
            "quote out of line",
            orders=f"order_no vendor ordered_on\n{orders}",
            order_lines=f"order_no part qty_pcs unit_price received_on\n{lines}",
        )
        assert found["where"].tolist() == ["north"]
        assert (
            found["what_to_do"].iloc[0].startswith("slower than its quote of 6 days; 8 receipts; the plan reckons with")
        )


def test_the_dearest_to_leave_waiting_comes_first():
    found = attention_of(
        jobs=BASE["jobs"].replace("2026-03-01", "2026-01-02"),
        findings=TestWaitingJobs.findings,
        counts="part counted_on qty_pcs\ncoil 2024-01-01 1\nlamp 2026-01-01 3",
    )
    assert found["rank"].tolist() == list(range(1, len(found) + 1))
    kinds = [attention.URGENCY.index(what) for what in found["what"]]
    assert kinds == sorted(kinds)
    assert {"job waits for parts", "promised day passed", "order due", "stock in doubt"} <= set(found["what"])


@pytest.mark.parametrize("column", ["amount", "days"])
def test_each_line_tells_money_or_days(column):
    found = attention_of(findings=TestWaitingJobs.findings, counts="part counted_on qty_pcs\ncoil 2026-01-01 1")
    assert found[["amount", "days"]].notna().any(axis=1).sum() >= 1
    assert pd.api.types.is_float_dtype(found[column])


def test_an_empty_store_has_nothing_on_the_list():
    with hand_shop.store() as connection:
        found = attention.table(order_plan.make(connection), connection)
    assert found.empty and list(found.columns) == attention.COLUMNS
    assert np.issubdtype(found["rank"].dtype, np.integer)
