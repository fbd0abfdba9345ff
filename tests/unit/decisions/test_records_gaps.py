"""Stretches without a record: found where work went on, healed where a count came after, silent for slow keepers."""

import datetime

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions import records_gaps, records_weight
from pipeline.store import connect

FIRST = datetime.date(2031, 1, 1)
TODAY = datetime.date(2032, 1, 1)


def day(number):
    return FIRST + datetime.timedelta(days=number)


@pytest.fixture
def shop():
    """A year of a shop that has one job in at a time, ten days each, and takes one part every other day."""
    with connect.open_memory() as connection:
        connection.execute("insert into families (family, name) values ('em', 'EM')")
        connection.execute("insert into parts (part, description) values ('SLV', 'sleeve'), ('COI', 'coil')")
        jobs = [(f"J-{n}", day(10 * n), day(10 * n + 9)) for n in range(36)]
        connection.executemany("insert into jobs (job, family, scope, started_on, delivered_on, invoiced_amount)"
                               " values (?, 'em', 'fix_only', ?, ?, 100)", jobs)
        take(connection, range(0, 360, 2))
        yield connection


def take(connection, days):
    connection.executemany("insert into job_parts (row_hash, job, part, qty_pcs, used_on, recorded_in) values"
                           " (?, ?, 'SLV', 1, ?, 'folder')", [(str(n), f"J-{min(n // 10, 35)}", day(n)) for n in days])


def record(connection, table, days):
    rows = {
        "job_hours": "(job, hours, row_hash, worked_on, recorded_in) values ('J-1', 1, ?, ?, 'folder')",
        "counts": "(part, qty_pcs, row_hash, counted_on, recorded_in) values ('SLV', 3, ?, ?, 'folder')",
        "callbacks": "(job, row_hash, reported_on, recorded_in) values ('J-1', ?, ?, 'folder')",
    }
    connection.executemany(f"insert into {table} {rows[table]}", [(str(n), day(n)) for n in days])


def find(connection, today=TODAY):
    return records_gaps.find(connection, records_weight.gather(connection), today)


def without(connection, start, end):
    connection.execute("delete from job_parts where used_on between ? and ?", [day(start), day(end)])


def test_a_steady_year_has_no_gap(shop):
    gaps, rhythms, named = find(shop)
    assert len(gaps) == 0 and len(named) == 0 and list(gaps) == records_gaps.COLUMNS
    assert rhythms[["kind", "record_days", "usual_days", "limit_days", "gaps"]].values.tolist() == [
        ["takings", 180, 2.0, 28.0, 0]]


def test_two_months_without_takings_are_told_with_the_jobs_that_ran(shop):
    without(shop, 101, 160)
    gaps, _, _ = find(shop)
    (gap,) = gaps.itertuples()
    assert (gap.kind, gap.place, gap.gap_days) == ("takings", "between", 62)
    assert (gap.from_on, gap.to_on) == (day(100), day(162))
    # J-10 (days 100 to 109) to J-16 (160 to 169) were in the shop on one of the days between.
    assert gap.jobs == 7


def test_on_a_gap_rests_what_the_records_of_those_jobs_inform(shop):
    without(shop, 101, 160)
    gaps, _, named = find(shop)
    # One family: forecast of its one part, hours of no job, job-ready share, choice; and seven margins.
    assert gaps["decisions"].tolist() == [1 + 1 + 1 + 7] and gaps["amount"].tolist() == [700.0]
    assert set(named["holds"]) == {"jobs"} and len(named) == 7


def test_without_a_job_in_the_shop_no_taking_is_missed(shop):
    without(shop, 100, 169)
    shop.execute("delete from jobs where started_on between ? and ?", [day(100), day(160)])
    gaps, _, _ = find(shop)
    assert len(gaps) == 0


def test_a_job_that_ran_into_an_empty_stretch_does_not_make_it_a_gap(shop):
    # J-9 was delivered a day after its last taking, J-17 came a day before its first.
    without(shop, 99, 170)
    shop.execute("delete from jobs where started_on between ? and ?", [day(100), day(160)])
    assert len(find(shop)[0]) == 0
    shop.execute("update jobs set delivered_on = ? where job = 'J-9'", [day(130)])
    (gap,) = find(shop)[0].itertuples()
    assert gap.jobs == 2 and gap.decisions == 4 + 1


def test_records_that_stopped_are_told_until_today(shop):
    record(shop, "job_hours", range(0, 250))
    gaps, _, _ = find(shop)
    (gap,) = gaps.itertuples()
    assert (gap.kind, gap.place, gap.from_on, gap.to_on) == ("hours", "since the last", day(249), TODAY)
    assert gap.jobs == 11  # J-24 was delivered on that last day, J-25 to J-35 followed


def test_records_that_began_late_are_told_from_the_first_job_on(shop):
    record(shop, "job_hours", range(120, 360))
    gaps, _, _ = find(shop)
    (gap,) = gaps.itertuples()
    assert (gap.kind, gap.place, gap.from_on, gap.jobs) == ("hours", "before the first", day(0), 12)


def test_who_counts_twice_a_year_is_left_in_peace(shop):
    record(shop, "counts", [0, 1, 2, 180, 181, 182, 360])
    gaps, rhythms, _ = find(shop)
    assert len(gaps) == 0 and rhythms.set_index("kind")["limit_days"]["counts"] > 365


def test_a_later_count_heals_a_gap_and_an_open_one_bears_on_the_shelf(shop):
    record(shop, "counts", [*range(0, 100, 5), *range(300, 364, 5)])
    gaps, _, _ = find(shop)
    (healed,) = gaps.itertuples()
    assert (healed.kind, healed.place, healed.decisions) == ("counts", "between", 0)
    shop.execute("delete from counts where counted_on > ?", [day(200)])
    gaps, _, _ = find(shop)
    (since,) = gaps.itertuples()
    assert (since.place, since.decisions) == ("since the last", 2)  # both parts' order lines


def test_the_gap_on_which_most_rests_comes_first(shop):
    without(shop, 101, 160)
    record(shop, "counts", [*range(0, 100, 5), *range(300, 364, 5)])
    gaps, _, _ = find(shop)
    assert gaps["kind"].tolist() == ["takings", "counts"]
    assert gaps["decisions"].is_monotonic_decreasing


def test_three_call_backs_tell_no_rhythm(shop):
    record(shop, "callbacks", [30, 31, 300])
    gaps, rhythms, _ = find(shop)
    told = rhythms.set_index("kind").loc["call-backs"]
    assert len(gaps) == 0 and told["record_days"] == 3
    assert np.isnan(told["usual_days"]) and np.isnan(told["limit_days"])
    assert (told["first_on"], told["last_on"]) == (day(30), day(300))


def test_an_empty_store_has_neither_gaps_nor_rhythms():
    with connect.open_memory() as empty:
        gaps, rhythms, named = find(empty)
    assert len(gaps) == 0 and len(rhythms) == 0 and len(named) == 0
    assert list(gaps) == records_gaps.COLUMNS and list(rhythms) == records_gaps.RHYTHM_COLUMNS


def test_a_slip_of_the_year_is_no_gap_while_no_job_was_there(shop):
    shop.execute("update job_parts set used_on = date '0205-03-09' where row_hash = '0'")
    gaps, rhythms, _ = find(shop)
    assert rhythms["first_on"].tolist() == [datetime.date(205, 3, 9)]
    assert len(gaps) == 0


def test_numbers_are_numbers_for_the_page(shop):
    without(shop, 101, 160)
    gaps, _, _ = find(shop)
    assert all(pd.api.types.is_integer_dtype(gaps[column]) for column in ("gap_days", "jobs", "decisions"))
