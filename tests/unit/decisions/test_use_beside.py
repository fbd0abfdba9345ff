"""Beside the forecast: reasons add up, stand-ins go one way, uses of a job that hang together are found out."""

import datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import forecast, use_beside
from pipeline.models import demand
from tests.support import hand_shop

TODAY = datetime.date(2026, 1, 1)
PARTS = "part description unit_cost\ncoil Coil 10\nsleeve Sleeve 1\nlamp Lamp 1"


def shop(taken, n_jobs=8):
    jobs = ["job family scope booked_on delivered_on",
            *(f"J{n} em thorough 2025-{n + 1:02}-01 2025-{n + 1:02}-25" for n in range(n_jobs))]
    return {"families": "family name\nem Electromechanical\nss Solid-state", "parts": PARTS, "jobs": "\n".join(jobs),
            "job_parts": "\n".join(["job part qty_pcs used_on reason", *taken])}


@pytest.fixture(scope="module")
def beside():
    taken = ["J0 coil 1 2025-01-10 failed", "J1 coil 1 2025-02-10 policy", "J2 coil 1 2025-03-10 companion",
             "J3 coil 1 2025-04-10 upgrade", "J4 coil 1 2025-05-10 -", "J5 sleeve 2 2025-06-10 failed",
             "J0 sleeve 1 2025-03-01 callback", "J1 sleeve 1 2025-04-01 callback", "J1 coil 1 2025-04-01 callback"]
    with hand_shop.store(**shop(taken)) as connection:
        return use_beside.make(connection, forecast.make(connection, today=TODAY))


def test_each_use_has_one_reason_and_call_backs_are_none_of_them(beside):
    (row,) = beside.reasons.to_dict("records")
    assert row == {"family": "em", "failed_uses": 2, "policy_uses": 1, "companion_uses": 1, "other_uses": 1,
                   "unknown_reason_uses": 1, "callback_uses": 3}


def test_counter_sales_and_stand_ins_may_be_none(beside):
    assert {days: sold.by_part.empty for days, sold in beside.counter.items()} == {91: True, 365: True}
    assert beside.stand_ins.empty and list(beside.stand_ins.columns) == use_beside.STAND_IN_COLUMNS
    assert "Plays are left out" in beside.plays_note


def predicted(**pmfs):
    rows = pd.DataFrame({"part": list(pmfs)})
    return SimpleNamespace(basis=SimpleNamespace(predicted={
        91: demand.Demand(91, "all", rows, rows, [], [np.array(pmf) for pmf in pmfs.values()])}))


def stand_ins(rules, made):
    with hand_shop.store(**shop([])) as connection:
        for rule in rules:
            connection.execute("insert into interchange (part, can_replace, condition) values (?, ?, ?)", rule)
        return use_beside.stand_ins(connection, made)


def test_a_stand_ins_shelf_covers_both_and_not_the_other_way_round():
    # Two coins: 0 or 1 each; together 0, 1, 2 with 1/4, 1/2, 1/4, of which 2 is the 90 % level.
    made = predicted(coil=[0.5, 0.5], sleeve=[0.5, 0.5])
    (row,) = stand_ins([("coil", "sleeve", "shimmed")], made).to_dict("records")
    assert (row["part"], row["stands_in_for"], row["condition"]) == ("coil", "sleeve", "shimmed")
    assert_allclose([row["expected_pcs"], row["other_expected_pcs"], row["together_expected_pcs"]], [0.5, 0.5, 1.0])
    assert (row["q90_pcs"], row["together_q90_pcs"]) == (1, 2)


def test_ninety_per_cent_of_both_is_below_the_sum_of_the_two():
    # By hand: each 0 or 10 with 0.85, 0.15 has 10 at 90 %; both are 0 with 0.7225, 10 or less with 0.9775: 10, not 20.
    pmf = [0.85, *[0] * 9, 0.15]
    (row,) = stand_ins([("coil", "sleeve", None)], predicted(coil=pmf, sleeve=pmf)).to_dict("records")
    assert (row["q90_pcs"], row["together_q90_pcs"]) == (10, 10)


def test_a_rule_of_parts_nobody_used_is_left_out_and_of_one_used_kept():
    made = predicted(coil=[0.5, 0.5])
    found = stand_ins([("coil", "sleeve", None), ("sleeve", "lamp", None)], made)
    assert found[["part", "stands_in_for"]].values.tolist() == [["coil", "sleeve"]]
    assert found["other_expected_pcs"].tolist() == [0]
