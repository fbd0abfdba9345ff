"""Records that say little or odd things: the forecast gives a stated answer to each, never a traceback."""

import datetime
from functools import cache

import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import forecast
from tests.support import hand_shop

TODAY = datetime.date(2026, 1, 1)
FAMILIES = "family name\nem Electromechanical\nss Solid-state"
PARTS = "part description unit_cost\ncoil Coil 12\nsleeve Sleeve 0.5"
JOBS = ["job family scope status booked_on planned_start_on started_on delivered_on"] + [
    f"J{n} em thorough delivered 2025-{n + 1:02}-01 - 2025-{n + 1:02}-05 2025-{n + 1:02}-25" for n in range(8)]
TAKEN = ["job part qty_pcs used_on"] + [f"J{n} coil 1 2025-{n + 1:02}-10" for n in range(8)]


def made(jobs=JOBS, taken=TAKEN, **more):
    tables = {"families": FAMILIES, "parts": PARTS, "jobs": "\n".join(jobs), "job_parts": "\n".join(taken)} | more
    with hand_shop.store(**tables) as connection:
        return forecast.make(connection, today=TODAY)


@cache
def plain():
    """The forecast of the plain records, made once; nobody changes it."""
    return made()


def year(found, part="coil"):
    rows = found.forecast_parts
    return rows[(rows["part"] == part) & (rows["to_on"] == TODAY + datetime.timedelta(days=365))].iloc[0]


def test_a_part_never_used_is_left_out_because_nothing_is_known():
    assert set(plain().forecast_parts["part"]) == {"coil"}


def test_one_job_gives_a_wide_answer_that_says_so():
    found = made(JOBS[:2], TAKEN[:2])
    row = year(found)
    assert row["jobs_seen"] == 1 and row["method"] == forecast.BY_OTHERS
    assert row["q05_pcs"] == 0 and row["q95_pcs"] >= 2 * max(row["q50_pcs"], 1)


def test_a_family_without_jobs_is_in_no_table():
    found = plain()
    assert set(found.forecast["family"]) == set(found.forecast_families["family"]) == {"em"}


def test_a_booking_years_ahead_adds_nothing_to_this_year():
    ahead = [*JOBS, "B1 em thorough booked 2025-12-01 2029-06-01 - -"]
    planned_past = [line.replace(" - 2025", " 2025-03-01 2025") if line.startswith("J") else line for line in ahead]
    with_booking, without = made(planned_past), made(planned_past[:-1])
    rate = 1 / 8  # the booking itself tells that jobs come, and no more
    assert year(with_booking)["expected_pcs"] < (1 + 2 * rate) * year(without)["expected_pcs"]


def test_a_job_planned_and_never_begun_for_years_is_still_to_come():
    stale = [*JOBS, "B1 em thorough booked 2021-01-01 2021-02-01 - -"]
    found = made(stale)
    jobs = found.expected_jobs
    assert jobs[jobs["family"] == "em"]["known_jobs"].iloc[0] == 1
    assert year(found)["expected_pcs"] > 0


def test_jobs_without_any_day_are_said_and_the_rest_stands():
    found = made([*JOBS, "N1 em thorough delivered - - - -"], [*TAKEN, "N1 coil 2 -"])
    assert any("1 jobs without a day" in note for note in found.notes)
    assert year(found)["jobs_seen"] == 9


def test_no_job_with_any_day_is_answered_and_said():
    jobs = [JOBS[0], *(f"J{n} em thorough delivered - - - -" for n in range(8))]
    found = made(jobs, ["job part qty_pcs used_on", *(f"J{n} coil 1 -" for n in range(8))])
    assert len(found.notes) == 2  # nothing of delays, nothing of how often jobs come
    assert any("how often jobs come is not known" in note for note in found.notes)
    assert year(found)["expected_pcs"] < 2


def test_two_jobs_in_a_week_are_no_yearly_hundred():
    jobs = [JOBS[0], *(f"J{n} em thorough delivered 2025-12-2{n} - 2025-12-2{n} 2025-12-30" for n in range(5, 7))]
    found = made(jobs, [TAKEN[0], *(f"J{n} coil 1 2025-12-28" for n in range(5, 7))])
    assert any("bookings go back 7 days only" in note for note in found.notes)
    assert found.expected_jobs["expected_jobs"].max() < 8


def test_returns_beyond_use_count_as_no_use():
    found = made(taken=[*TAKEN, "J0 coil -3 2025-01-20"])
    assert year(found)["jobs_seen"] == year(plain())["jobs_seen"]
    assert year(found)["expected_pcs"] < year(plain())["expected_pcs"]


def test_an_enquiry_in_a_scope_nobody_did_is_said_and_left_out():
    found = made([*JOBS, "E1 em refresh enquiry 2025-12-20 2026-02-01 - -"])
    assert [note for note in found.notes if "E1" in note] == [
        "E1 asks for refresh, a scope that no job was ever of: nothing to go by, left out"]
    assert_allclose(year(found)["expected_pcs"], year(plain())["expected_pcs"])


def test_an_enquiry_of_a_new_family_is_said_and_left_out():
    found = made([*JOBS, "E1 ss thorough enquiry 2025-12-20 2026-02-01 - -"])
    assert [note for note in found.notes if "E1" in note] == [
        "E1 asks for ss, a family that no job was ever of: nothing to go by, left out"]
    assert set(found.forecast["family"]) == set(found.coming_jobs["family"]) == {"em"}


def test_an_enquiry_of_a_known_kind_counts_and_is_not_remarked_on():
    found = made([*JOBS, "E1 em thorough enquiry 2025-12-20 2026-02-01 - -"])
    assert not any("E1" in note for note in found.notes)
    assert found.coming_jobs["on_books_jobs"].tolist() == [1, 1]


def test_jobs_declined_or_only_asked_for_change_nothing():
    more = [*JOBS, "D1 ss refresh declined 2025-12-01 - - -", "E1 ss refresh enquiry 2025-12-20 - - -"]
    assert_allclose(year(made(more))["expected_pcs"], year(plain())["expected_pcs"])


def test_parts_taken_before_the_job_was_booked_do_not_upset_it():
    found = made(taken=[line.replace("2025-01-10", "2024-11-10") for line in TAKEN])
    assert 0 < year(found)["expected_pcs"] < 20


def test_a_day_after_today_is_not_known_yet():
    late = [*JOBS, "L1 em thorough delivered 2026-02-01 - 2026-02-02 2026-02-20"]
    assert any("after today" in note for note in made(late).notes)


@pytest.mark.parametrize("pieces", [1, 5000])
def test_one_enormous_taking_widens_the_answer_and_does_not_break_it(pieces):
    found = made(taken=[*TAKEN[:-1], f"J7 coil {pieces} 2025-08-10"])
    row = year(found)
    assert row["q95_pcs"] >= row["q50_pcs"] >= 0
    assert row["expected_pcs"] > 100 if pieces > 1 else row["expected_pcs"] < 40


def test_a_part_given_a_price_of_zero_has_no_price():
    found = made(parts="part description unit_cost\ncoil Coil 0\nsleeve Sleeve 0.5")
    assert found.unpriced["part"].tolist() == ["coil"]


def test_a_job_in_progress_without_a_start_day_is_still_counted():
    running = [*JOBS, "R1 em thorough in_progress - - - -"]
    jobs = made(running).expected_jobs
    assert jobs[jobs["scope"] == "thorough"]["known_jobs"].iloc[0] == 1
