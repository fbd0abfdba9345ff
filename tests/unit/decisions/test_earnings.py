"""What a job earned, by hand, and what stays unknown."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import earnings
from tests.support import hand_shop

BASE = {
    "shop": "key value\nlabour_cost 30\noverhead_per_hour 10\nlabour_rate 60\ntoday 2026-07-01",
    "families": "family name\nem Electromechanical",
    "parts": "part description unit_cost\ncoil Coil 10\nglass Glass -",
    "jobs": """job family scope status invoiced_amount no_parts_used
        J1 em thorough delivered 1000 -
        J2 em thorough in_progress - -
        J3 em fix_only delivered 200 yes""",
    "job_parts": "job part qty_pcs reason\nJ1 coil 3 failed",
    "job_hours": "job hours stage\nJ1 8 bench\nJ1 2 test\nJ3 4 bench",
}


def _margins(**tables):
    with hand_shop.store(**{**BASE, **tables}) as connection:
        return earnings.job_margins(connection).set_index("job")


def test_a_job_by_hand():
    # 1000 - 3 x 10 - 10 h x 30 - 10 h x 10 - (40 + 15) = 515
    row = _margins(job_costs="job kind amount\nJ1 sublet 40\nJ1 supplies 15\nJ1 tax 99").loc["J1"]
    assert row[["parts_amount", "labour_amount", "overhead_amount", "other_amount"]].tolist() == [
        30,
        300,
        100,
        55,
    ]
    assert_allclose(
        row[["margin_amount", "margin_share", "margin_per_hour"]].astype(float), [515, 0.515, 51.5]
    )


def test_running_jobs_are_work_in_progress():
    assert _margins().index.tolist() == ["J1", "J3"]


def test_call_backs_are_charged_back_to_the_job_that_caused_them():
    # 2 h x (30 + 10) + parts 12 + trip 25 - charged 20 = 97
    calls = "job reported_on part hours parts_cost trip_cost charged_amount\nJ1 2026-06-01 coil 2 12 25 20"
    row = _margins(callbacks=calls).loc["J1"]
    assert row["callback_amount"] == 97
    assert row["hours"] == 12
    assert row["labour_amount"] == 300


def test_call_back_hours_and_parts_written_down_elsewhere_count_once():
    calls = "job reported_on part hours parts_cost trip_cost\nJ1 2026-06-01 coil 2 12 25"
    row = _margins(
        callbacks=calls,
        job_hours=BASE["job_hours"] + "\nJ1 1.5 callback",
        job_parts=BASE["job_parts"] + "\nJ1 coil 1 callback",
    ).loc["J1"]
    # 1.5 h x 40 + the one coil at 10 + trip 25
    assert row["callback_amount"] == 95
    assert row["parts_amount"] == 30


def test_a_call_back_without_hours_is_unknown():
    row = _margins(callbacks="job reported_on part hours\nJ1 2026-06-01 coil -").loc["J1"]
    assert np.isnan(row["callback_amount"])
    assert np.isnan(row["margin_amount"])


def test_deposits_and_goodwill_play_no_part():
    before = _margins().loc["J1", "margin_amount"]
    shop = BASE["shop"] + "\ncallback_goodwill_cost 500"
    assert _margins(shop=shop).loc["J1", "margin_amount"] == before


def test_a_job_that_used_none_costs_none():
    assert _margins().loc["J3", "parts_amount"] == 0


@pytest.mark.parametrize(
    ("tables", "unknown"),
    [
        ({"job_parts": "job part qty_pcs\nJ3 coil 1"}, "parts_amount"),
        ({"job_parts": "job part qty_pcs\nJ1 glass 1"}, "parts_amount"),
        ({"job_hours": "job hours stage\nJ3 4 bench"}, "labour_amount"),
        ({"jobs": BASE["jobs"].replace(" 1000 ", " - ")}, "invoiced_amount"),
    ],
    ids=["no parts written down", "a part without any price", "no hours", "no invoice"],
)
def test_what_is_missing_is_unknown_and_never_zero(tables, unknown):
    row = _margins(**tables).loc["J1"]
    assert np.isnan(row[unknown])
    assert np.isnan(row[["margin_amount", "margin_share", "margin_per_hour"]].astype(float)).all()


def test_a_loss_has_a_negative_margin():
    assert _margins(jobs=BASE["jobs"].replace(" 1000 ", " 300 ")).loc["J1", "margin_amount"] == -130


def test_three_required_files_alone():
    with hand_shop.store(
        families="family name\nem em",
        parts="part description\ncoil Coil",
        jobs="job family scope delivered_on\nJ1 em thorough 2026-01-01",
        job_parts="job part qty_pcs\nJ1 coil 2",
    ) as connection:
        margins = earnings.job_margins(connection)
    assert len(margins) == 1
    assert margins["margin_amount"].isna().all()


def test_columns_are_the_contracts():
    with hand_shop.store(**BASE) as connection:
        assert (
            list(earnings.job_margins(connection).columns)
            == earnings.COLUMNS
            == [
                "job",
                "family",
                "scope",
                "invoiced_amount",
                "parts_amount",
                "labour_amount",
                "overhead_amount",
                "other_amount",
                "callback_amount",
                "margin_amount",
                "margin_share",
                "hours",
                "margin_per_hour",
            ]
        )


def test_markup_stands_beside_margin():
    with hand_shop.store(shop="key value\ntarget_margin_share 0.3\npart_markup_share 0.25") as connection:
        found = earnings.markup_beside_margin(connection).set_index("setting")
    assert_allclose(found.loc["target_margin_share"].astype(float), [0.3, 0.3 / 0.7])
    assert_allclose(found.loc["part_markup_share"].astype(float), [0.2, 0.25])
