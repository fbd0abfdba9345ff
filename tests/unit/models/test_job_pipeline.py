"""Jobs to come from the store: clocks of known jobs, rates of bookings, windows, and missing days."""

import datetime

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.models import job_pipeline
from tests.support import hand_shop

TODAY = datetime.date(2026, 1, 1)
FAMILIES = "family name\nem Electromechanical\nss Solid-state"
PARTS = "part description\ncoil Coil\nsleeve Sleeve"
# Twenty finished jobs: booked every 30 days, planned 40 days later, started as planned, all parts taken on day 10 of
# the work, delivered on day 20.
DAY = datetime.timedelta(days=1)


def finished(n=20, family="em", scope="thorough", prefix="F"):
    jobs, taken = [], []
    for i in range(n):
        booked = TODAY - (30 * i + 80) * DAY
        start = booked + 40 * DAY
        jobs.append(f"{prefix}{i} {family} {scope} delivered {booked} {start} {start} {start + 20 * DAY}")
        taken.append(f"{prefix}{i} coil 1 {start + 10 * DAY}")
    return jobs, taken


def fitted(jobs, taken, today=TODAY):
    head = "job family scope status booked_on planned_start_on started_on delivered_on\n"
    with hand_shop.store(families=FAMILIES, parts=PARTS, jobs=head + "\n".join(jobs),
                         job_parts="job part qty_pcs used_on\n" + "\n".join(taken)) as connection:
        return job_pipeline.fit(connection, today)


def with_known(*rows, taken=()):
    jobs, used = finished()
    return fitted([*jobs, *rows], [*used, *taken])


def test_each_known_job_is_on_the_clock_that_says_most():
    pipeline = with_known(
        f"K1 em thorough booked {TODAY - 5 * DAY} - - -",
        f"K2 em thorough booked {TODAY - 5 * DAY} {TODAY + 20 * DAY} - -",
        f"K3 em thorough in_progress {TODAY - 50 * DAY} {TODAY - 9 * DAY} {TODAY - 4 * DAY} -",
        f"K4 em thorough in_progress {TODAY - 50 * DAY} {TODAY - 9 * DAY} {TODAY - 8 * DAY} -",
        taken=[f"K4 coil 1 {TODAY - 2 * DAY}"])
    known = pipeline.known.set_index("job")
    assert known["clock"].to_dict() == {"K1": "booking_days", "K2": "planned_days", "K3": "start_days",
                                        "K4": "first_days"}
    assert known["elapsed_days"].to_dict() == {"K1": 5, "K2": -20, "K3": 4, "K4": 2}


def test_a_planned_start_decides_the_window():
    # Parts go out ten days after the planned start: a job planned in 20 days is used in 30, one in 200 not in 91.
    pipeline = with_known(f"K1 em thorough booked {TODAY - DAY} {TODAY + 20 * DAY} - -",
                          f"K2 em thorough booked {TODAY - DAY} {TODAY + 200 * DAY} - -")
    share, done = pipeline.known_share(91)
    assert share[0] > 0.9 and share[1] < 0.05
    assert_allclose(done, 0)
    assert pipeline.known_share(25)[0][0] < 0.05
    assert pipeline.known_share(365)[0][1] > 0.9


def test_a_booking_years_ahead_is_not_counted_now():
    pipeline = with_known(f"K1 em thorough booked {TODAY - DAY} {TODAY + 900 * DAY} - -")
    assert pipeline.known_share(365)[0][0] == 0


def test_a_booked_job_that_has_waited_longest_of_all_is_still_to_come():
    pipeline = with_known(f"K1 em thorough booked {TODAY - 300 * DAY} - - -")
    assert pipeline.known_share(365)[0][0] > 0.9


def test_a_running_job_that_has_taken_its_parts_has_little_before_it():
    pipeline = with_known(f"K1 em thorough in_progress {TODAY - 60 * DAY} - {TODAY - 15 * DAY} -",
                          taken=[f"K1 coil 1 {TODAY - 5 * DAY}"])
    share, done = pipeline.known_share(91)
    assert share[0] < 0.05 and done[0] > 0.95
    assert pipeline.taken.values.tolist() == [["K1", "coil"]]


def test_a_running_job_without_takings_is_still_to_take():
    pipeline = with_known(f"K1 em thorough in_progress {TODAY - 60 * DAY} - {TODAY - 3 * DAY} -")
    assert pipeline.known_share(91)[0][0] > 0.9


def test_bookings_of_a_steady_stream():
    pipeline = fitted(*finished(40))
    yearly = (pipeline.bookings["shape"] / pipeline.bookings["rate_days"] * 365.25).sum()
    assert 9 < yearly < 14.5  # one every thirty days
    assert pipeline.bookings["bookings"].sum() == 40


def test_recent_bookings_weigh_more():
    old = [f"A{i} em thorough delivered {TODAY - (2000 + i) * DAY} - - {TODAY - 1900 * DAY}" for i in range(30)]
    new = [f"B{i} em fix_only delivered {TODAY - (100 + i) * DAY} - - {TODAY - 50 * DAY}" for i in range(30)]
    rates = fitted(old + new, [f"A0 coil 1 {TODAY - 1950 * DAY}"]).bookings.set_index("scope")
    assert rates["bookings"].tolist() == [30, 30]
    mean = rates["shape"] / rates["rate_days"]
    assert mean["fix_only"] > 2.5 * mean["thorough"]


def test_every_family_and_scope_has_a_rate_even_without_a_booking():
    jobs, taken = finished()
    more, _ = finished(5, "ss", "fix_only", "G")
    bookings = fitted(jobs + more, taken).bookings
    assert len(bookings) == 4 and (bookings["shape"] > 0).all()


def test_expected_jobs_add_known_and_unbooked():
    pipeline = with_known(f"K1 em thorough booked {TODAY - DAY} {TODAY + 5 * DAY} - -")
    whole, known, unbooked = (pipeline.expected_jobs(91, source).iloc[0] for source in ("all", "known", "unbooked"))
    assert_allclose(whole["expected_jobs"], known["expected_jobs"] + unbooked["expected_jobs"], rtol=1e-4)
    assert whole["low_jobs"] <= whole["expected_jobs"] <= whole["high_jobs"]
    assert whole["known_jobs"] == 1 and known["expected_jobs"] > 0.9


def test_jobs_booked_late_in_the_window_are_used_after_it():
    # Fifty days from booking to use: of 91 days of bookings about 41 count.
    pipeline = fitted(*finished(40))
    scale = pipeline.unbooked(91)["unbooked_scale"] * pipeline.bookings["rate_days"]
    assert 36 < scale[0] < 44


def test_enquiries_and_declined_jobs_are_not_known_jobs():
    pipeline = with_known(f"K1 em thorough enquiry {TODAY - DAY} - - -", f"K2 em thorough declined {TODAY - DAY} - - -")
    assert pipeline.known.empty
    assert pipeline.known_share(91)[0].size == 0


def test_without_any_taking_day_a_stated_delay_is_assumed():
    with hand_shop.store(families=FAMILIES, parts=PARTS, job_parts="job part qty_pcs\nA coil 1",
                         jobs="job family scope status booked_on\nA em refresh delivered 2025-10-01") as connection:
        pipeline = job_pipeline.fit(connection, TODAY)
    assert any("30 days from booking assumed" in note for note in pipeline.notes)
    assert 0 < pipeline.expected_jobs(91)["expected_jobs"].sum() < 5


def test_jobs_without_a_day_are_counted_and_said():
    jobs, taken = finished()
    pipeline = fitted([*jobs, "N1 em thorough delivered - - - -"], taken)
    assert any(note.startswith("1 jobs without a day") for note in pipeline.notes)


def test_a_booked_job_without_any_day_starts_today():
    pipeline = with_known("K1 em thorough booked - - - -")
    assert pipeline.known.iloc[0][["clock", "elapsed_days"]].tolist() == ["booking_days", 0]


def test_bookings_after_today_are_not_known_yet():
    jobs, taken = finished()
    late = f"L1 em thorough delivered {TODAY + 10 * DAY} - - {TODAY + 30 * DAY}"
    assert fitted([*jobs, late], taken).bookings["bookings"].sum() == 20


def test_an_empty_shop_has_an_empty_pipeline():
    with hand_shop.store(families=FAMILIES) as connection:
        pipeline = job_pipeline.fit(connection, TODAY)
    assert pipeline.known.empty and pipeline.bookings.empty and pipeline.expected_jobs(91).empty


def test_a_scope_seen_a_few_times_borrows_the_delays_of_all():
    jobs, taken = finished()
    one = f"R1 em refresh delivered {TODAY - 400 * DAY} - {TODAY - 399 * DAY} {TODAY - 390 * DAY}"
    pipeline = fitted([*jobs, one], [*taken, f"R1 coil 1 {TODAY - 398 * DAY}"])
    delay = pipeline.delays["refresh", "booking_days"]
    assert delay.days.max() == 50  # not 2, its only own


@pytest.mark.parametrize(("days", "source", "message"), [
    (0, "all", "days is 0"), (-5, "all", "days is -5"), (np.inf, "all", "days is inf"),
    (91, "booked", "source is 'booked'; wanted one of all, known, unbooked")])
def test_a_window_that_is_none_is_refused(days, source, message):
    with pytest.raises(InvalidParameter, match=message):
        fitted(*finished(3)).expected_jobs(days, source)


def test_frames_keep_their_columns():
    pipeline = with_known()
    assert list(pipeline.known.columns) == ["job", "family", "scope", "clock", "elapsed_days"]
    assert {"family", "scope", "bookings", "shape", "rate_days"} <= set(pipeline.bookings.columns)
    assert isinstance(pipeline.takings, pd.DataFrame)
