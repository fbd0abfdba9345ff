"""Each row check returns the offending rows, and none where all is well."""

import pytest

from pipeline.ingest import row_checks
from pipeline.store import connect, views

BASE = """
insert into families values ('em', 'EM', null, null), ('ss', 'SS', null, null);
insert into parts (part, description, unit_cost) values ('coil', 'C', 1), ('lamp', 'L', null);
insert into machines (machine, family) values ('M1', 'em');
insert into assemblies (assembly) values ('flipper');
insert into vendors (vendor) values ('north');
insert into orders (order_no, vendor, ordered_on) values ('P1', 'north', date '2025-01-05');
insert into jobs (job, family, scope, started_on, delivered_on, invoiced_amount, machine)
    values ('J1', 'em', 'fix_only', date '2025-01-01', date '2025-01-20', 100, 'M1');
insert into job_parts (row_hash, job, part, qty_pcs, assembly, recorded_in)
    values ('1', 'J1', 'coil', 1, 'flipper', 'folder');
insert into job_hours (row_hash, job, hours, recorded_in) values ('1', 'J1', 2, 'folder')
"""
DELIVERED = (
    "insert into jobs (job, family, scope, delivered_on, invoiced_amount, no_parts_used) values ('J2', 'em',"
    " 'refresh', date '2025-02-01', {invoiced}, {none_used})"
)
# Check: what breaks it, and the one row it returns (file, column, value, some words of the advice).
BROKEN = {
    "callback_before_delivery": (
        "insert into callbacks (row_hash, job, reported_on, recorded_in)"
        " values ('1', 'J1', date '2025-01-15', 'folder')",
        ("callbacks.csv", "reported_on", "J1: 2025-01-15", "reported 5 days before"),
    ),
    "delivered_without_hours": (
        DELIVERED.format(invoiced=1, none_used="'yes'"),
        ("jobs.csv", "job", "J2", "no hours are recorded"),
    ),
    "delivered_without_invoice": (
        DELIVERED.format(invoiced="null", none_used="'yes'")
        + "; insert into job_hours (row_hash, job, hours, recorded_in) values ('2', 'J2', 2, 'folder')",
        ("jobs.csv", "invoiced_amount", "J2", "margin stays unknown"),
    ),
    "delivered_without_parts": (
        DELIVERED.format(invoiced=1, none_used="null")
        + "; insert into job_hours (row_hash, job, hours, recorded_in) values ('2', 'J2', 2, 'folder')",
        ("jobs.csv", "job", "J2", "write no_parts_used = yes"),
    ),
    "part_without_price": (
        "insert into job_parts (row_hash, job, part, qty_pcs, recorded_in) values ('2', 'J1', 'lamp', 1, 'folder')",
        ("parts.csv", "unit_cost", "lamp", "what it costs stays unknown"),
    ),
    "received_before_ordered": (
        "insert into order_lines (order_no, part, qty_pcs, unit_price, received_on) values"
        " ('P1', 'coil', 5, 1, date '2025-01-04')",
        ("order_lines.csv", "received_on", "P1, coil: 2025-01-04", "before it was ordered on 2025-01-05"),
    ),
    "received_more_than_ordered": (
        "insert into order_lines (order_no, part, qty_pcs, unit_price, received_on, received_pcs) values"
        " ('P1', 'coil', 5, 1, date '2025-01-06', 50)",
        ("order_lines.csv", "received_pcs", "P1, coil: 50", "ordered were 5; a pack entered as a piece?"),
    ),
    "received_without_day": (
        "insert into order_lines (order_no, part, qty_pcs, unit_price, received_pcs) values ('P1', 'coil', 5, 1, 3)",
        ("order_lines.csv", "received_on", "P1, coil: 3 received", "all 5 count as still on order"),
    ),
    "returned_more_than_taken": (
        "insert into job_parts (row_hash, job, part, qty_pcs, recorded_in) values ('2', 'J1', 'coil', -3, 'folder')",
        ("job_parts.csv", "qty_pcs", "J1, coil: -2", "more pieces went back"),
    ),
    "setting_of_unknown_kind": (
        "insert into shop values ('bays', 'two', null)",
        ("shop.csv", "bays", "two", "wanted a number, 0 or more, as 12.5; until then the default 2 is used"),
    ),
    "family_differs_from_machine": (
        "insert into jobs (job, family, scope, machine) values ('J2', 'ss', 'refresh', 'M1')",
        ("jobs.csv", "family", "J2: ss", "machine M1 is of family em"),
    ),
    "machine_not_listed": (
        "insert into jobs (job, family, scope, machine)"
        " values ('J2', 'ss', 'refresh', 'M9'), ('J3', 'ss', 'refresh', 'M9')",
        ("jobs.csv", "machine", "M9", "its 2 jobs"),
    ),
    "assembly_not_listed": (
        "insert into job_parts (row_hash, job, part, qty_pcs, assembly, recorded_in)"
        " values ('2', 'J1', 'coil', 3, 'flapper', 'folder')",
        ("job_parts.csv", "assembly", "flapper", "1 rows: add it there or mend the spelling"),
    ),
    "day_far_after_all_others": (
        "insert into job_parts (row_hash, job, part, qty_pcs, used_on, recorded_in)"
        " values ('2', 'J1', 'coil', 3, date '2052-01-10', 'folder')",
        ("job_parts.csv", "used_on", "2052-01-10", "is 2025-01-20; a slip in the year?"),
    ),
}


@pytest.fixture
def shop():
    """A small store in memory with nothing to remark on."""
    with connect.open_memory() as connection:
        connection.execute(BASE)
        yield connection


def test_every_check_has_a_case_here():
    assert set(BROKEN) == {name for name, _ in views.checks()}


def test_a_sound_shop_and_an_empty_one_have_no_remarks(shop):
    assert row_checks.run(shop).empty
    with connect.open_memory() as empty:
        assert row_checks.run(empty).empty


@pytest.mark.parametrize("check", BROKEN)
def test_a_check_returns_the_offending_row_and_no_other_check_speaks(shop, check):
    breaks, (file, column, value, words) = BROKEN[check]
    shop.execute(breaks)
    found = row_checks.run(shop)
    assert found[["file", "column", "value", "rule", "outcome"]].values.tolist() == [
        [file, column, value, check, "noted"]
    ]
    assert words in found["suggestion"].iloc[0] and found["line"].isna().all()


def test_without_any_hours_or_machines_or_assemblies_nobody_asks_for_them(shop):
    shop.execute("delete from job_hours; delete from machines; delete from assemblies")
    assert row_checks.run(shop).empty


def test_a_day_ahead_of_the_others_by_less_than_half_a_year_is_no_slip(shop):
    shop.execute("insert into counts values ('1', 'coil', date '2025-07-22', 3, null, 'folder', null)")
    assert row_checks.run(shop).empty
    shop.execute("update counts set counted_on = date '2025-07-24'")
    assert row_checks.run(shop)["rule"].tolist() == ["day_far_after_all_others"]


@pytest.mark.parametrize(("key", "value", "words"), [
    ("holding_rate_share", "20", "wanted a share from 0 to 1, as 0.25; until then the default 0.20"),
    ("today", "1.2.2025", "wanted a day as 2025-03-09; until then its default is used"),
    ("warranty_days", "-5", "wanted a number, 0 or more, as 12.5; until then the default 90 is used")])
def test_a_setting_in_doubt_is_told_what_is_wanted_and_used(shop, key, value, words):
    shop.execute("insert into shop values (?, ?, null)", [key, value])
    assert words in row_checks.run(shop)["suggestion"].iloc[0]
