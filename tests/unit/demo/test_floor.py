"""The shop's days add up: pieces, hours and days."""

from collections import Counter, defaultdict

import numpy as np
import pytest

from pipeline.demo import catalogue, floor, use


def received_by(ran, day):
    total = np.zeros(len(catalogue.parts()), int)
    for order in ran.buyer.orders:
        for line in order.lines:
            if line.due <= day:
                total[line.part] += line.received_pcs
    return total


def test_every_piece_is_accounted_for_on_the_last_day(ran):
    # opening + received + made + harvested + found - sold - written off - returned - used = at hand
    last = ran.world.n_days - 1
    balance = received_by(ran, last)
    for part, _, qty, *_ in ran.floor.shelf.moves:
        balance[part] += qty
    for job in ran.jobs:
        for need in job.takings:
            if need.source != "customer":
                balance[need.part] -= need.qty_pcs
    np.testing.assert_array_equal(balance, ran.floor.shelf.at_hand)


def test_no_drawer_ever_held_less_than_nothing(ran):
    daily = defaultdict(lambda: np.zeros(ran.world.n_days + 1, int))
    for part, day, qty, *_ in ran.floor.shelf.moves:
        daily[part][day] += qty
    for order in ran.buyer.orders:
        for line in order.lines:
            if line.due < ran.world.n_days:
                daily[line.part][line.due] += line.received_pcs
    for job in ran.jobs:
        for need in job.takings:
            if need.source != "customer":
                daily[need.part][need.taken] -= need.qty_pcs + (need.one_back is not None)
                if need.one_back is not None:
                    daily[need.part][need.one_back] += 1
    assert min(days.cumsum().min() for days in daily.values()) >= 0


def test_what_is_on_order_is_what_has_not_come(ran):
    coming = np.zeros(len(catalogue.parts()), int)
    for order in ran.buyer.orders:
        for line in order.lines:
            if line.due >= ran.world.n_days:
                coming[line.part] += line.qty_pcs
    np.testing.assert_array_equal(coming, ran.floor.shelf.on_order)
    assert coming.sum() > 0


def test_delivered_jobs_took_exactly_what_they_needed(ran):
    for job in ran.jobs:
        if job.delivered is not None:
            taken = Counter({n.fitting: n.qty_pcs for n in job.takings if n.reason != "callback"})
            assert taken == {i: qty for i, qty, _ in job.needs}


def test_a_job_runs_booked_started_opened_fitted_delivered(ran):
    for job in ran.jobs:
        if job.started is None:
            assert job.takings == [] and job.work_days == []
            continue
        assert job.accepted and not job.cancelled
        assert job.answered < job.started
        if job.delivered is not None:
            assert job.started <= job.teardown <= job.delivered
            fitted = [need.taken for need in job.takings if need.reason != "callback"]
            assert all(job.teardown <= day <= job.delivered for day in fitted)
            calls = [need.taken for need in job.takings if need.reason == "callback"]
            assert all(day >= job.delivered for day in calls)


def test_delivered_jobs_have_all_their_hours(ran):
    for job in ran.jobs:
        worked = sum(end - start for _, start, end in job.work_days)
        if job.delivered is not None:
            assert worked == pytest.approx(job.hours, abs=0.11)
        assert worked <= job.hours + 1e-9


def test_the_bench_works_only_on_its_days_and_hours(ran):
    by_day = Counter()
    for job in ran.jobs:
        for day, start, end in job.work_days:
            by_day[day] += end - start
    assert all(floor.is_open(ran.world, day) for day in by_day)
    assert max(by_day.values()) <= 36 / 5 * 1.15 + 1e-9


def test_the_bench_rests_at_weekends_in_august_and_at_christmas(world):
    shut = {world.on(day) for day in range(365) if not floor.is_open(world, day)}
    assert {day.weekday() for day in shut if day.month == 3} == {5, 6}
    assert any(day.month == 8 and day.weekday() == 2 for day in shut)
    assert any(day.month == 12 and day.day == 27 for day in shut)


def test_no_more_machines_are_open_than_there_are_bays(ran):
    opened = np.zeros(ran.world.n_days + 1, int)
    for job in ran.jobs:
        if job.started is not None:
            opened[job.started] += 1
            is_done = sum(end - start for _, start, end in job.work_days) >= job.hours - 0.11
            opened[job.work_days[-1][0] if is_done else ran.world.n_days] -= 1
    assert opened.cumsum().max() <= ran.world.bay_count


def test_jobs_start_no_more_than_three_days_before_the_plan(ran):
    slips = np.array([job.started - job.planned for job in ran.jobs if job.started is not None])
    assert slips.min() >= -3
    assert 0 < np.median(slips) < 25


def test_made_and_scrounged_pieces_are_in_the_moves(ran):
    wanted = Counter()
    for job in ran.jobs:
        for need in job.takings:
            if need.source in ("made", "salvage"):
                wanted[need.part, need.source] += need.qty_pcs
    moved = Counter()
    for part, _, qty, kind, *_ in ran.floor.shelf.moves:
        if kind in ("made", "harvested"):
            moved[part, "made" if kind == "made" else "salvage"] += qty
    assert wanted
    assert all(moved[key] >= qty for key, qty in wanted.items())


def test_only_what_cannot_be_bought_is_made_or_scrounged(ran):
    for job in ran.jobs:
        for need in job.takings:
            if need.source in ("made", "salvage", "customer"):
                assert catalogue.parts()[need.part].supply != "steady"


def test_calls_come_after_delivery_within_the_watch(ran):
    assert ran.floor.callbacks
    for job, call, visit in ran.floor.callbacks:
        assert job.delivered <= call.reported < job.delivered + 180
        assert visit >= call.reported + 2
        assert visit < ran.world.n_days


def test_a_call_for_a_part_takes_that_part(ran):
    for job, call, visit in ran.floor.callbacks:
        if call.fitting is not None:
            part = use.fitted(ran.seed, ran.world, job.family).part[call.fitting]
            taken = [n for n in job.takings if n.reason == "callback" and n.part == part and n.taken >= visit]
            waiting = [n for n in ran.floor.needs if n.job is job and n.part == part]
            assert taken or waiting


def test_every_drawer_is_counted_once_a_year_and_some_between(ran):
    days = Counter(day for _, day, _ in ran.floor.counts)
    full = [day for day, n in days.items() if n == len(catalogue.parts())]
    assert [(ran.world.on(day).month, ran.world.on(day).day) for day in full] == [(1, 3)] * 4
    assert len(days) > 30
    assert all(qty >= 0 for _, _, qty in ran.floor.counts)


def test_the_shop_waits_for_parts_now_and_then(ran):
    waits = [need.taken - need.since for job in ran.jobs for need in job.takings if need.reason != "callback"]
    assert np.mean([wait > 30 for wait in waits]) < 0.2
    assert max(waits) > 30


def test_running_the_same_days_again_changes_nothing(ran):
    from pipeline.demo import jobs

    again = floor.run(ran.seed, ran.world, jobs.arrivals(ran.seed, ran.world), 180)
    np.testing.assert_array_equal(again.shelf.at_hand, ran.floor.shelf.at_hand)
    assert again.counts == ran.floor.counts
