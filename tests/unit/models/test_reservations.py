"""What booked and running jobs reserve."""

import datetime

import pytest
from numpy.testing import assert_array_equal

from pipeline.models import job_pipeline, reservations
from tests.support import hand_shop

TODAY = datetime.date(2026, 3, 1)
PARTS = ["bat", "coil", "lamp"]
BASE = {
    "families": "family name\nem EM",
    "parts": "part description\nbat Bat\ncoil Coil\nlamp Lamp",
    "jobs": """job family scope booked_on planned_start_on started_on delivered_on
        D1 em thorough 2025-06-01 2025-06-20 2025-07-01 2025-08-01
        R1 em thorough 2026-01-10 2026-02-10 2026-02-12 -
        B1 em thorough 2026-02-01 2026-03-20 - -
        B2 em fix_only 2026-02-20 2026-06-01 - -""",
    "job_parts": "job part qty_pcs used_on\nD1 coil 2 2025-07-10\nR1 lamp 5 2026-02-20",
    "findings": "job assembly part qty_pcs condition\nR1 flip coil 3 failed\nR1 light lamp 9 missing",
    "quote_lines": "job version option kind part qty_pcs amount accepted_on\nB1 1 thorough part bat 2 20 2026-02-02",
}


@pytest.fixture
def reserved():
    with hand_shop.store(**BASE) as connection:
        yield reservations.fit(connection, job_pipeline.fit(connection, TODAY))


def test_written_needs_are_known_to_the_piece_less_what_was_taken(reserved):
    needs = reserved.known.set_index(["job", "part"])["still_pcs"].to_dict()
    assert needs == {("R1", "coil"): 3, ("R1", "lamp"): 4, ("B1", "bat"): 2}


def test_needs_count_from_the_day_they_fall_due(reserved):
    assert_array_equal(reserved.known_pcs(PARTS, 0), [0, 3, 4])
    assert_array_equal(reserved.known_pcs(PARTS, 18), [0, 3, 4])
    assert_array_equal(reserved.known_pcs(PARTS, 19), [2, 3, 4])


def test_each_part_may_look_ahead_as_far_as_its_own_lead_time(reserved):
    assert_array_equal(reserved.known_pcs(PARTS, [30, 0, 0]), [2, 3, 4])
    assert_array_equal(reserved.known_pcs(PARTS, [3, 0, 0]), [0, 3, 4])


def test_the_jobs_behind_the_needs_are_counted(reserved):
    assert_array_equal(reserved.jobs(PARTS, 60), [1, 1, 1])
    assert_array_equal(reserved.jobs(["never"], 60), [0])


def test_a_job_with_findings_is_not_expected_to_need_more(reserved):
    assert "R1" not in set(reserved.others.known["job"])


def test_accepted_lines_settle_their_own_parts_alone(reserved):
    assert "B1" in set(reserved.others.known["job"])
    settled = reserved.others.taken[reserved.others.taken["job"] == "B1"]
    assert list(settled["part"]) == ["bat"]


def test_a_job_with_nothing_written_is_left_to_expectation(reserved):
    assert "B2" in set(reserved.others.known["job"])
    assert "B2" not in set(reserved.known["job"])


def test_a_shop_without_jobs_reserves_nothing():
    with hand_shop.store(parts=BASE["parts"]) as connection:
        found = reservations.fit(connection, job_pipeline.fit(connection, TODAY))
    assert found.known.empty
    assert_array_equal(found.known_pcs(PARTS, 30), [0, 0, 0])
