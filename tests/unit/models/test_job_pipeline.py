"""Jobs to come from the store: clocks of known jobs, rates of bookings, windows, and missing days."""

import datetime

import numpy as np
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


def test_each_known_job_counts_from_the_day_that_says_most():
    pipeline = with_known(
        f"K1 em thorough booked {TODAY - 5 * DAY} - - -",
        f"K2 em thorough booked {TODAY - 5 * DAY} {TODAY + 20 * DAY} - -",
        f"K3 em thorough in_progress {TODAY - 50 * DAY} {TODAY - 9 * DAY} {TODAY - 4 * DAY} -",
        f"K4 em thorough in_progress {TODAY - 50 * DAY} {TODAY - 9 * DAY} {TODAY - 8 * DAY} -",
        f"K5 em thorough enquiry - {TODAY + 9 * DAY} - -",
        taken=[f"K4 coil 1 {TODAY - 2 * DAY}"])
    known = pipeline.known.set_index("job")
    assert known["elapsed_days"].to_dict() == {"K1": 5, "K2": -20, "K3": 4, "K4": 2, "K5": -9}
    assert known["stage"].to_dict() == {"K1": "booked", "K2": "booked", "K3": "running", "K4": "running",
                                        "K5": "enquiry"}
    assert known["is_begun"].to_dict() == {"K1": False, "K2": False, "K3": False, "K4": True, "K5": False}


def test_an_enquiry_comes_as_often_as_enquiries_did():
    # Twenty taken on; ten more turned down: 22 in 33 by the weak belief of two in three, few of them lost later.
    turned_down = [f"D{i} em thorough declined - {TODAY - 90 * DAY} - -" for i in range(10)]
    pipeline = with_known(f"K1 em thorough enquiry - {TODAY + 9 * DAY} - -", *turned_down)
    assert_allclose(pipeline.known.iloc[0]["come_share"], 22 / 33 * (1 - 1 / 51))
    assert_allclose(pipeline.known_share(91)[0][0], 22 / 33, atol=0.1)


def test_an_enquiry_without_a_planned_start_is_left_to_the_stream():
    pipeline = with_known("K1 em thorough enquiry - - - -")
    assert pipeline.known.empty
    assert_allclose(pipeline.unbooked(91)["unbooked_mean"], with_known().unbooked(91)["unbooked_mean"])


def test_an_enquiry_at_hand_takes_the_place_of_the_next_bookings():
    alone = fitted(*finished(40)).unbooked(91)["unbooked_mean"].sum()
    asked = fitted([*finished(40)[0], f"K1 em thorough enquiry - {TODAY + 9 * DAY} - -"],
                   finished(40)[1]).unbooked(91)["unbooked_mean"].sum()
    assert asked < alone - 0.4  # one job, but for those lost and those used later


def test_a_full_bench_lets_one_job_follow_the_other():
    # One place, forty days a job, always one waiting: three booked jobs do not all fall in one quarter.
    jobs, taken = [], []
    for i in range(24):
        start = TODAY - (40 * (24 - i)) * DAY
        jobs.append(f"F{i} em thorough delivered {start - 120 * DAY} {start - 60 * DAY} {start} {start + 40 * DAY}")
        taken.append(f"F{i} coil 1 {start + 5 * DAY}")
    waiting = [f"K{i} em thorough booked {TODAY - 90 * DAY} {TODAY - (30 - i) * DAY} - -" for i in range(5)]
    pipeline = fitted([*jobs, *waiting], taken)
    assert pipeline.work.places[0] == 1
    assert any("1 jobs at once" in note for note in pipeline.notes)
    assert 1.8 <= pipeline.known_share(91)[0].sum() <= 3.2
    assert pipeline.known_share(365)[0].min() > 0.9


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


def test_a_booked_job_that_has_waited_longest_of_all_may_be_lost():
    # One in 31 jobs is lost before any record is looked at, one in 51 after twenty that came; one wait in 21 is longer
    # than all twenty seen.
    pipeline = with_known(f"K1 em thorough booked {TODAY - 300 * DAY} - - -")
    lost, longer = 1 / 51, 1 / 21
    assert_allclose(pipeline.known.iloc[0]["come_share"], (1 - lost) * longer / ((1 - lost) * longer + lost))
    assert_allclose(pipeline.known_share(365)[0][0], pipeline.known.iloc[0]["come_share"], atol=0.1)


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
    per_day = pipeline.bookings["shape"] / pipeline.bookings["rate_days"]
    assert_allclose(pipeline.unbooked(91)["unbooked_mean"][0] / per_day[0], 41, rtol=0.15)


def test_in_the_long_run_every_booking_takes_its_parts():
    pipeline = fitted(*finished(40)).steady()
    per_day = pipeline.bookings["shape"] / pipeline.bookings["rate_days"]
    assert_allclose(pipeline.unbooked(7)["unbooked_mean"], 7 * per_day * pipeline.bookings["alive_share"])
    assert pipeline.known.empty


def test_a_family_nobody_asks_for_any_more_fades_before_the_year_is_out():
    # A job a month, as of 80 days after the last booking, and as of a year later.
    lively, silent = (fitted(*finished(40), today=TODAY + later * DAY) for later in (0, 365))
    assert lively.bookings["alive_share"].min() > 0.9
    assert silent.bookings["alive_share"].max() < 0.2
    assert silent.unbooked(365)["unbooked_mean"].sum() < 0.3 * lively.unbooked(365)["unbooked_mean"].sum()


def test_beyond_what_is_drawn_jobs_come_at_their_rate():
    pipeline = fitted(*finished(40))
    per_day = pipeline.bookings["shape"] / pipeline.bookings["rate_days"] * pipeline.bookings["alive_share"]
    gained = pipeline.unbooked(1000)["unbooked_mean"] - pipeline.unbooked(500)["unbooked_mean"]
    assert_allclose(gained, 500 * per_day)


def test_declined_jobs_are_not_known_jobs():
    pipeline = with_known(f"K2 em thorough declined {TODAY - DAY} - - -")
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
    assert pipeline.known.iloc[0][["stage", "elapsed_days"]].tolist() == ["booked", 0]


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
    assert list(pipeline.known.columns) == ["job", "family", "scope", "stage", "is_begun", "elapsed_days", "has_plan",
                                            "come_share"]
    assert {"family", "scope", "bookings", "shape", "rate_days"} <= set(pipeline.bookings.columns)
