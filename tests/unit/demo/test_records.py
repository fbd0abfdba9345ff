"""The records say what happened, no more and no less, when nobody makes a fault."""

from collections import Counter, defaultdict
from datetime import date

import numpy as np
import pytest

from pipeline.demo import catalogue, generate, records, use
from pipeline.demo.world import World


@pytest.fixture(scope="module")
def book(clean):
    return {row["job"]: row for row in clean.tables["jobs"]}


def days(row):
    names = ("booked_on", "started_on", "delivered_on")
    return [row[name] for name in names if row[name] != ""]


def test_every_status_occurs(shop):
    assert {row["status"] for row in shop.tables["jobs"]} >= {
        "declined",
        "booked",
        "in_progress",
        "delivered",
    }


def test_statuses_agree_with_the_dates(book):
    for row in book.values():
        assert (row["delivered_on"] != "") == (row["status"] == "delivered")
        assert (row["started_on"] != "") == (row["status"] in ("delivered", "in_progress"))
        if row["status"] in ("booked", "in_progress", "delivered"):
            assert row["booked_on"] != ""
        if row["status"] == "enquiry":
            assert row["booked_on"] == ""


def test_days_are_in_order_and_none_lies_ahead_of_today(book, world):
    for row in book.values():
        assert days(row) == sorted(days(row))
        assert all(day <= world.today for day in days(row))
        assert isinstance(row["planned_start_on"], date)


def test_only_delivered_jobs_are_invoiced(book):
    for row in book.values():
        assert (row["invoiced_amount"] is not None) == (row["status"] == "delivered")


def test_plays_are_read_at_intake_only(book):
    for row in book.values():
        if row["started_on"] == "":
            assert row["plays"] is None and row["plays_quality"] == ""
        else:
            assert row["plays_quality"] in ("read", "reset_suspected", "wrapped", "unknown")
            assert (row["plays"] is None) == (row["plays_quality"] == "unknown")


def test_no_parts_used_is_said_only_where_it_is_true(clean, book):
    used = {row["job"] for row in clean.tables["job_parts"] if row["reason"] != "callback"}
    for row in book.values():
        if row["no_parts_used"] == "yes":
            assert row["status"] == "delivered"
            assert row["job"] not in used


def test_parts_written_down_are_those_taken(ran, clean):
    written = Counter()
    for row in clean.tables["job_parts"]:
        written[row["job"], row["part"]] += row["qty_pcs"]
    taken = Counter()
    for job in ran.jobs:
        for need in job.takings:
            taken[job.job, catalogue.parts()[need.part].part] += need.qty_pcs
    assert written == taken


def test_a_piece_brought_back_was_taken_before(clean):
    balance = defaultdict(int)
    for row in sorted(clean.tables["job_parts"], key=lambda row: (row["used_on"], -row["qty_pcs"])):
        key = (row["job"], row["part"], row["assembly"])
        balance[key] += row["qty_pcs"]
        assert balance[key] >= 0
    assert any(row["qty_pcs"] < 0 for row in clean.tables["job_parts"])


def test_records_alone_never_use_what_was_not_there(clean):
    # What the first-in-first-out layers of the ledger will ask.
    daily = defaultdict(Counter)
    for row in clean.tables["stock_moves"]:
        daily[row["part"]][row["moved_on"]] += row["qty_pcs"]
    for row in clean.tables["order_lines"]:
        if row["received_on"] != "":
            daily[row["part"]][row["received_on"]] += row["received_pcs"]
    for row in clean.tables["job_parts"]:
        if row["source"] != "customer":
            daily[row["part"]][row["used_on"]] -= row["qty_pcs"]
    for changes in daily.values():
        held = np.cumsum([changes[day] for day in sorted(changes)])
        assert held.min() >= 0


def test_counts_are_near_what_the_records_say(clean):
    on = defaultdict(list)
    for row in clean.tables["stock_moves"]:
        on[row["part"]].append((row["moved_on"], row["qty_pcs"]))
    for row in clean.tables["order_lines"]:
        if row["received_on"] != "":
            on[row["part"]].append((row["received_on"], row["received_pcs"]))
    for row in clean.tables["job_parts"]:
        if row["source"] != "customer":
            on[row["part"]].append((row["used_on"], -row["qty_pcs"]))
    off = [
        row["qty_pcs"] - sum(qty for day, qty in on[row["part"]] if day <= row["counted_on"])
        for row in clean.tables["counts"]
    ]
    assert np.mean(np.array(off) == 0) > 0.9
    assert 0 < np.mean(np.array(off) != 0) < 0.1


def test_some_small_jobs_have_no_parts_written_down(ran):
    silent = records.forgotten(ran.seed, ran.world, ran.jobs)
    by_index = {job.index: job for job in ran.jobs}
    assert 2 <= len(silent) <= 20
    assert all(by_index[i].scope == "fix_only" and by_index[i].status == "delivered" for i in silent)
    rows = records.part_rows(ran.seed, ran.world, ran.jobs, silent)
    assert {row["job"] for row in rows} & {by_index[i].job for i in silent} == set()


def test_rows_that_would_be_equal_are_told_apart():
    rows = [
        {"job": "a", "line": ""},
        {"job": "a", "line": ""},
        {"job": "b", "line": ""},
        {"job": "a", "line": ""},
    ]
    assert [row["line"] for row in records.told_apart(rows)] == ["", 2, "", 3]


def test_two_moves_alike_are_written_as_one():
    move = {"part": "ball", "moved_on": date(2025, 1, 2), "qty_pcs": -1, "kind": "sold", "amount": 3.1}
    other = move | {"amount": None, "kind": "written_off"}
    merged = records._merged([move, other, dict(move), dict(other)])
    assert [(row["kind"], row["qty_pcs"], row["amount"]) for row in merged] == [
        ("sold", -2, 6.2),
        ("written_off", -2, None),
    ]
    assert move["qty_pcs"] == -1  # what happened stays as it was


@pytest.mark.parametrize(
    "name",
    ["job_parts", "job_hours", "job_costs", "counts", "stock_moves", "callbacks", "payments", "findings"],
)
def test_no_row_stands_twice(clean, name):
    rows = Counter(tuple(map(str, row.values())) for row in clean.tables[name])
    assert max(rows.values()) == 1


def test_an_order_line_is_open_or_received(clean, world):
    open_lines = 0
    for row in clean.tables["order_lines"]:
        assert (row["received_on"] == "") == (row["received_pcs"] is None)
        if row["received_on"] == "":
            open_lines += 1
        else:
            assert row["received_on"] <= world.today
            assert 0 < row["received_pcs"] <= row["qty_pcs"]
    assert open_lines > 0


def test_nothing_is_received_before_it_was_ordered(clean):
    ordered = {row["order_no"]: row["ordered_on"] for row in clean.tables["orders"]}
    for row in clean.tables["order_lines"]:
        assert row["received_on"] == "" or row["received_on"] > ordered[row["order_no"]]


def test_findings_are_about_running_jobs_and_recent_thorough_ones(clean, book, world):
    for job in {row["job"] for row in clean.tables["findings"]}:
        row = book[job]
        is_recent = row["status"] == "delivered" and (world.today - row["delivered_on"]).days <= 456
        assert row["status"] == "in_progress" or (is_recent and row["scope"] == "thorough")


def test_findings_cover_the_machine_piece_by_piece(ran, clean, book):
    by_job = {job.job: job for job in ran.jobs}
    pieces = Counter()
    for row in clean.tables["findings"]:
        assert row["qty_pcs"] > 0
        pieces[row["job"], row["assembly"], row["part"]] += row["qty_pcs"]
    thorough = [
        job for job in {row["job"] for row in clean.tables["findings"]} if book[job]["scope"] == "thorough"
    ]
    assert thorough
    for name in thorough:
        fit = use.fitted(ran.seed, ran.world, by_job[name].family)
        for assembly, part, held in zip(
            fit.assembly.tolist(), fit.part.tolist(), fit.pieces.tolist(), strict=True
        ):
            assert pieces[name, assembly, catalogue.parts()[part].part] == held


def test_what_was_found_bad_is_what_is_replaced(ran, clean):
    by_job = {job.job: job for job in ran.jobs}
    for row in clean.tables["findings"]:
        if row["action"] == "replace":
            job = by_job[row["job"]]
            fit = use.fitted(ran.seed, ran.world, job.family)
            needs = {
                (str(fit.assembly[i]), catalogue.parts()[fit.part[i]].part): qty for i, qty, _ in job.needs
            }
            assert needs[row["assembly"], row["part"]] == row["qty_pcs"]


def test_call_backs_are_of_delivered_jobs_within_the_watch(clean, book):
    for row in clean.tables["callbacks"]:
        after = (row["reported_on"] - book[row["job"]]["delivered_on"]).days
        assert 0 <= after < records.WATCH_DAYS
        assert (row["part"] != "") == (row["part_was"] in ("new", "kept"))
        assert (row["parts_cost"] > 0) == (row["part"] != "")
        assert row["charged_amount"] == 0 or after > 90


def test_about_half_of_the_calls_are_in_the_hours_book_too(clean):
    logged = [row for row in clean.tables["job_hours"] if row["stage"] == "callback"]
    assert 0.25 < len(logged) / len(clean.tables["callbacks"]) < 0.75


def test_a_shop_without_bookings_knows_a_job_when_it_starts():
    shop = generate.simulate(5, World(with_bookings=False))
    assert {row["status"] for row in shop.tables["jobs"]} <= {"delivered", "in_progress"}
    known = {row["job"] for row in shop.tables["jobs"]}
    for row in shop.tables["jobs"]:
        assert (row["booked_on"], row["planned_start_on"], row["promised_on"]) == ("", "", "")
    for name in ("job_hours", "payments", "quote_lines", "approvals", "job_costs", "findings"):
        assert {row["job"] for row in shop.tables[name]} <= known
