"""Landed cost and first-in-first-out layers from records, to the cent."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from pipeline.models.landed import parts_ledger, unit_costs_on
from tests.support import hand_shop

BASE = {
    "families": "family name\nem Electromechanical",
    "parts": "part description\ncoil Coil\nsleeve Sleeve",
    "vendors": "vendor\nnorth",
    "jobs": "job family scope booked_on delivered_on\nJ1 em thorough 2026-01-10 2026-02-10",
}


def _ledger(**tables):
    with hand_shop.store(**{**BASE, **tables}) as connection:
        return parts_ledger(connection)


def _arrival(ledger, **where):
    found = ledger.arrivals
    for column, value in where.items():
        found = found[found[column] == value]
    assert len(found) == 1
    return found.iloc[0]


ORDERS = {
    # goods 4 x 15.00 + 10 x 2.00 = 80.00; freight 6.00 + duty 2.00 + lost tax 4.00 - discount 4.00 = 8.00, a tenth
    "orders": "order_no vendor ordered_on freight duty tax tax_recoverable discount\nP1 north 2026-01-01 6 2 4 no 4",
    "order_lines": "order_no part qty_pcs unit_price received_on\nP1 coil 4 15 2026-01-05\nP1 sleeve 10 2 2026-01-05",
}


def test_freight_duty_and_lost_tax_less_discount_are_shared_by_value():
    ledger = _ledger(**ORDERS)
    assert _arrival(ledger, part="coil")["cost_amount"] == 66.00
    assert _arrival(ledger, part="sleeve")["cost_amount"] == 22.00


def test_tax_that_can_be_recovered_is_no_cost():
    orders = ORDERS["orders"].replace(" no ", " yes ")
    ledger = _ledger(**{**ORDERS, "orders": orders})
    assert ledger.arrivals["cost_amount"].sum() == 84.00


def test_a_line_still_on_order_keeps_its_part_of_the_freight():
    lines = "order_no part qty_pcs unit_price received_on\nP1 coil 4 15 2026-01-05\nP1 sleeve 10 2 -"
    ledger = _ledger(**{**ORDERS, "order_lines": lines})
    assert _arrival(ledger, part="coil")["cost_amount"] == 66.00
    assert not (ledger.arrivals["part"] == "sleeve").any()


def test_part_deliveries_of_one_line_add_up_to_its_landed_cost():
    # 10 sleeves land at 22.00; 3 came first: 6.60, 7 later: 15.40
    receipts = "order_no part received_on received_pcs\nP1 sleeve 2026-01-05 3\nP1 sleeve 2026-01-20 7"
    ledger = _ledger(**ORDERS, receipts=receipts)
    sleeves = ledger.arrivals[ledger.arrivals["part"] == "sleeve"]
    assert sleeves["cost_amount"].tolist() == [6.60, 15.40]


def test_a_job_uses_the_oldest_layer_first():
    # opening 2 coils at 10, then 4 at 16.50 landed; J1 takes 3: 2 x 10 + 16.50
    ledger = _ledger(
        **ORDERS,
        stock_moves="part moved_on qty_pcs kind unit_cost\ncoil 2025-12-01 2 opening 10",
        job_parts="job part qty_pcs used_on\nJ1 coil 3 2026-01-12",
    )
    assert ledger.issues.iloc[0]["cost_amount"] == 36.50
    assert _arrival(ledger, kind="received", part="coil")["left_pcs"] == 3


def test_what_went_back_to_the_shelf_was_not_used():
    uses = "job part qty_pcs used_on\nJ1 coil 3 2026-01-12\nJ1 coil -1 2026-01-20"
    ledger = _ledger(**ORDERS, job_parts=uses)
    assert ledger.issues["pcs"].tolist() == [2]
    assert ledger.issues["cost_amount"].tolist() == [33.00]


def test_more_brought_back_than_taken_is_an_arrival():
    ledger = _ledger(**ORDERS, job_parts="job part qty_pcs used_on\nJ1 coil -1 2026-02-01")
    back = _arrival(ledger, kind="put_back")
    assert (back["pcs"], back["cost_amount"]) == (1, 16.50)
    assert ledger.issues.empty


def test_call_back_pieces_stand_apart_from_the_jobs_own():
    uses = "job part qty_pcs used_on reason\nJ1 coil 2 2026-01-12 -\nJ1 coil 1 2026-03-12 callback"
    issues = _ledger(**ORDERS, job_parts=uses).issues
    assert issues.set_index("is_callback")["pcs"].to_dict() == {False: 2, True: 1}


@pytest.mark.parametrize("source", ["customer", "salvage", "made"])
def test_pieces_that_never_lay_on_the_shelf_cost_nothing_here(source):
    uses = f"job part qty_pcs used_on source\nJ1 coil 2 2026-01-12 {source}"
    assert _ledger(**ORDERS, job_parts=uses).issues.empty


def test_salvage_put_on_the_shelf_is_free_and_leaves_it():
    ledger = _ledger(
        stock_moves="part moved_on qty_pcs kind\ncoil 2026-01-01 2 harvested",
        job_parts="job part qty_pcs used_on source\nJ1 coil 1 2026-01-12 salvage",
    )
    issue = ledger.issues.iloc[0]
    assert (issue["cost_amount"], issue["is_known"], issue["provisional_pcs"]) == (0.0, True, 0)


def test_use_before_cover_is_provisional_and_the_next_delivery_settles_it():
    # J1 takes 2 coils with 1 in at 10.00: the second is booked at 10.00 and settles at 16.50
    ledger = _ledger(
        orders=ORDERS["orders"],
        order_lines=ORDERS["order_lines"].replace("2026-01-05", "2026-02-20"),
        stock_moves="part moved_on qty_pcs kind unit_cost\ncoil 2025-12-01 1 opening 10",
        job_parts="job part qty_pcs used_on\nJ1 coil 2 2026-01-12",
    )
    issue = ledger.issues.iloc[0]
    assert (issue["booked_amount"], issue["cost_amount"]) == (20.00, 26.50)
    assert (issue["provisional_pcs"], issue["unsettled_pcs"]) == (1, 0)


def test_a_part_never_bought_costs_what_is_remembered_and_says_it_is_unsettled():
    ledger = _ledger(
        parts="part description unit_cost\ncoil Coil 12\nsleeve Sleeve -",
        job_parts="job part qty_pcs used_on\nJ1 coil 2 2026-01-12",
    )
    issue = ledger.issues.iloc[0]
    assert (issue["cost_amount"], issue["unsettled_pcs"], issue["is_known"]) == (24.00, 2, True)


def test_a_cost_nobody_knows_is_marked():
    issue = _ledger(job_parts="job part qty_pcs used_on\nJ1 coil 2 2026-01-12").issues.iloc[0]
    assert not issue["is_known"]


def test_an_opening_without_cost_is_an_unknown_layer():
    ledger = _ledger(
        stock_moves="part moved_on qty_pcs kind\ncoil 2025-12-01 1 opening",
        job_parts="job part qty_pcs used_on\nJ1 coil 1 2026-01-12",
    )
    assert not ledger.issues.iloc[0]["is_known"]


def test_sold_and_written_off_pieces_leave_too():
    moves = (
        "part moved_on qty_pcs kind unit_cost\ncoil 2025-12-01 5 opening 10\ncoil 2026-01-02 -1 sold -\n"
        "coil 2026-01-03 -1 written_off -"
    )
    ledger = _ledger(stock_moves=moves)
    assert ledger.issues["kind"].tolist() == ["sold", "written_off"]
    assert ledger.arrivals["left_pcs"].sum() == 3


def test_customers_own_pieces_are_not_the_shops_stock():
    moves = "part moved_on qty_pcs kind unit_cost owner\ncoil 2025-12-01 5 harvested - customer"
    assert _ledger(stock_moves=moves).arrivals.empty


def test_an_empty_shop_has_an_empty_ledger():
    ledger = _ledger()
    assert ledger.arrivals.empty
    assert ledger.issues.empty


def test_a_use_without_a_day_counts_on_the_day_of_delivery():
    ledger = _ledger(**ORDERS, job_parts="job part qty_pcs used_on\nJ1 coil 1 -")
    assert str(ledger.issues.iloc[0]["used_on"])[:10] == "2026-02-10"
    assert ledger.issues.iloc[0]["provisional_pcs"] == 0


def test_unit_cost_on_a_day_is_that_of_the_newest_arrival_by_then():
    moves = (
        "part moved_on qty_pcs kind unit_cost\ncoil 2025-12-01 2 opening 10\ncoil 2026-02-01 1 harvested -"
    )
    ledger = _ledger(**ORDERS, stock_moves=moves)
    found = unit_costs_on(
        ledger,
        ["coil", "coil", "coil", "sleeve", "nobody"],
        ["2025-11-30", "2025-12-01", "2026-03-01", "2026-03-01", "2026-03-01"],
    )
    assert_array_equal(found, [np.nan, 10.0, 16.5, 2.2, np.nan])
