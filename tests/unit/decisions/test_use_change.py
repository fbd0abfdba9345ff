"""The change against the year before: its windows, what adds up, jobs half inside, jobs without record."""

import datetime

import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import forecast, use_change
from tests.support import hand_shop

TODAY = datetime.date(2026, 1, 1)
DAY = datetime.timedelta(days=1)
START = datetime.date(2025, 1, 2)  # the windows of a year before begin here: 364 days before today
FAMILIES = "family name\nem Electromechanical\nss Solid-state"
PARTS = "part description wear_class unit_cost\ncoil Coil coil 10\nsleeve Sleeve sleeve 1"
HEAD = "job family scope status booked_on started_on delivered_on no_parts_used"


def made(jobs, taken):
    """Forecast and change of a shop; jobs and takings as lines."""
    with hand_shop.store(families=FAMILIES, parts=PARTS, jobs="\n".join([HEAD, *jobs]),
                         job_parts="\n".join(["job part qty_pcs used_on source reason", *taken])) as connection:
        found = forecast.make(connection, today=TODAY)
        return found, use_change.make(connection, found)


def finished(name, day, scope="thorough", family="em", plain="-"):
    return f"{name} {family} {scope} delivered {day - 20 * DAY} {day - DAY} {day + 20 * DAY} {plain}"


def old():
    """Enough years of records: a thorough job every 60 days, taking a coil and four sleeves; three of them in 2025."""
    days = [START - (60 * back + 30) * DAY for back in range(12)]
    return ([finished(f"O{n}", day) for n, day in enumerate(days)],
            [line for n, day in enumerate(days) for line in (f"O{n} coil 1 {day} - -", f"O{n} sleeve 4 {day} - -")])


def of_window(frame, days=91):
    return frame[frame["days"] == days].iloc[0]


def test_what_was_used_within_the_same_days_a_year_before_is_counted_and_nothing_else():
    jobs, taken = old()
    days = {"before": START - DAY, "first": START, "last": START + 90 * DAY, "after": START + 91 * DAY}
    jobs += [finished(name, day) for name, day in days.items()]
    taken += [f"{name} coil 1 {day} - -" for name, day in days.items()]
    row = of_window(made(jobs, taken)[1].families)
    assert_allclose([row["jobs_before"], row["before_amount"]], [2, 20])


def test_causes_add_up_to_the_change_in_money_and_in_pieces():
    jobs, taken = old()
    jobs += [finished("A", START + 5 * DAY, "fix_only"), finished("B", START + 30 * DAY)]
    taken += [f"A sleeve 1 {START + 5 * DAY} - -", f"B coil 2 {START + 30 * DAY} - -"]
    found, change = made(jobs, taken)
    for frame, unit, first, last in ((change.families, "amount", "before_amount", "expected_amount"),
                                     (change.parts, "pcs", "before_pcs", "expected_pcs")):
        causes = frame[[f"{why}_{unit}" for why in use_change.WHY]].astype(float).sum(axis=1)
        assert_allclose(causes, (frame[last] - frame[first]).astype(float), atol=1e-9)
        assert len(frame) == 2 * (1 if unit == "amount" else 2)
    assert_allclose(change.families["expected_amount"], found.forecast_families["expected_amount"])


def test_a_job_partly_in_the_window_counts_as_that_part():
    jobs, taken = old()
    jobs += [finished("A", START - DAY)]
    taken += [f"A coil 1 {START - DAY} - -", f"A sleeve 1 {START + 3 * DAY} - -"]
    row = of_window(made(jobs, taken)[1].families)
    assert_allclose([row["jobs_before"], row["before_amount"]], [0.5, 1])


def test_a_job_without_a_record_counts_as_what_such_jobs_usually_take_and_is_said():
    jobs, taken = old()
    found, change = made([*jobs, finished("U", START + 5 * DAY)], taken)
    row = of_window(change.families)
    assert_allclose(row["before_amount"], 14, rtol=0.05)  # a coil at 10 and four sleeves at 1
    assert_allclose(row["more_each_amount"], 0, atol=1e-6)  # the year's pieces are summed by quadrature
    assert change.notes[91].startswith("1 of the jobs of a year ago left no record")


def test_a_job_that_really_used_none_pulls_the_use_a_year_ago_down():
    jobs, taken = old()
    row = of_window(made([*jobs, finished("N", START + 5 * DAY, plain="yes")], taken)[1].families)
    assert row["before_amount"] == 0 and row["jobs_before"] == 1
    assert_allclose(row["more_each_amount"], row["expected_amount"] - row["more_jobs_amount"], rtol=1e-9)


@pytest.mark.parametrize(("line", "amount"), [
    (f"A coil 1 {START} customer -", 0), (f"A coil 1 {START} salvage -", 10), (f"A coil 1 {START} - callback", 0)])
def test_what_customers_bring_and_call_backs_take_is_no_money_of_the_jobs(line, amount):
    jobs, taken = old()
    jobs, taken = [*jobs, finished("A", START)], [*taken, line, f"A sleeve 1 {START} - -"]
    assert_allclose(of_window(made(jobs, taken)[1].families)["before_amount"], amount + 1)


def test_a_record_that_begins_later_has_nothing_to_be_held_against():
    found, change = made([finished("A", START + 5 * DAY)], [f"A coil 1 {START + 5 * DAY} - -"])
    assert change.families.empty and change.parts.empty
    assert set(change.notes) == {91, 365}
    assert "written down from 2025-01-07" in change.notes[91] and "wanted from 2025-01-02" in change.notes[91]


def test_a_running_job_counts_as_far_as_it_is_done():
    jobs, taken = old()
    running = f"R em thorough in_progress {TODAY - 60 * DAY} {TODAY - 30 * DAY} - -"
    before = of_window(made(jobs, taken)[1].families, 365)
    after = of_window(made([*jobs, running], [*taken, f"R coil 1 {TODAY - 29 * DAY} - -"])[1].families, 365)
    assert 0 < after["jobs_before"] - before["jobs_before"] <= 1
    assert_allclose(after["before_amount"] - before["before_amount"], 10)
