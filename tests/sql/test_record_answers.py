"""Views on the records themselves: their grain, and what they count, by hand."""

import pytest

from pipeline.store import connect, read

LOADS = """
insert into loads values (1, '2031-01-01', 'shop', 'a'), (2, '2031-02-01', 'shop', 'b');
insert into load_files values (1, 'jobs.csv', 9, 5, 4), (2, 'jobs.csv', 10, 10, 0), (2, 'parts.csv', 4, 1, 3),
    (2, 'counts.csv', 8, 5, 3);
insert into records values
    (1, 'jobs.csv', 2, 'family', 'x', 'unknown_family', 'mend it', 'set_aside'),
    (2, 'jobs.csv', 7, 'scope', 'Thorough', 'spelling', 'taken as thorough', 'repaired'),
    (2, 'parts.csv', 3, 'unit_cost', 'two', 'number', 'a number', 'set_aside'),
    (2, 'jobs.csv', null, 'job', 'J-2', 'delivered_without_parts', 'add its parts', 'noted'),
    (2, 'counts.csv', 5, 'qty_pcs', 'lots', 'whole_number', 'a whole number', 'set_aside');
"""
JOBS = """
insert into families (family, name) values ('em', 'Electromechanical');
insert into parts (part, description) values ('SLV', 'sleeve');
insert into jobs (job, family, scope, delivered_on, no_parts_used) values
    ('J-1', 'em', 'thorough', '2031-01-03', null), ('J-2', 'em', 'fix_only', '2031-01-30', null),
    ('J-3', 'em', 'fix_only', '2031-01-31', 'yes'), ('J-4', 'em', 'fix_only', '2031-02-01', null),
    ('J-5', 'em', 'thorough', null, null);
insert into job_parts (row_hash, job, part, qty_pcs, used_on, recorded_in) values
    ('a', 'J-1', 'SLV', 12, '2031-01-02', 'folder'), ('b', 'J-1', 'SLV', 1, '2031-01-03', 'notebook'),
    ('c', 'J-4', 'SLV', 1, '2031-02-01', 'folder'), ('d', 'J-5', 'SLV', 3, '2031-02-02', 'notebook');
insert into counts (row_hash, part, counted_on, qty_pcs, recorded_in) values
    ('a', 'SLV', '2031-02-03', 0, 'notebook'), ('b', 'SLV', '2031-01-01', 9, 'folder');
"""


@pytest.fixture
def connection():
    with connect.open_memory() as opened:
        opened.execute(JOBS)
        opened.execute(LOADS)
        yield opened


def test_files_of_the_newest_load_come_worst_first(connection):
    assert read.rows(connection, "from last_load_files") == [
        ("counts.csv", 8, 5, 3),
        ("parts.csv", 4, 1, 3),
        ("jobs.csv", 10, 10, 0),
    ]


def test_records_are_those_of_the_newest_load_set_aside_first(connection):
    found = read.rows(connection, "select file, line, outcome from last_load_records")
    assert found == [
        ("counts.csv", 5, "set_aside"),
        ("parts.csv", 3, "set_aside"),
        ("jobs.csv", None, "noted"),
        ("jobs.csv", 7, "repaired"),
    ]


def test_records_have_the_columns_of_the_contract(connection):
    columns = list(read.frame(connection, "last_load_records"))
    assert columns == ["file", "line", "column", "value", "rule", "suggestion", "outcome"]


def test_delivered_jobs_are_counted_once_each_by_month_and_record(connection):
    found = read.rows(connection, "select month_on::varchar, record, jobs from delivered_job_records")
    assert found == [
        ("2031-01-01", "no parts recorded", 1),
        ("2031-01-01", "parts recorded", 1),
        ("2031-01-01", "really used none", 1),
        ("2031-02-01", "parts recorded", 1),
    ]


def test_the_grain_is_one_row_per_month_and_record(connection):
    rows = read.rows(connection, "select month_on, record from delivered_job_records")
    assert len(rows) == len(set(rows))


def test_a_delivered_job_without_a_day_is_counted_without_a_month(connection):
    connection.execute(
        "insert into jobs (job, family, scope, status) values ('J-6', 'em', 'refresh', 'delivered')"
    )
    found = read.rows(connection, "select record, jobs from delivered_job_records where month_on is null")
    assert found == [("no parts recorded", 1)]


def test_only_what_was_recorded_at_the_bench_is_listed_latest_first(connection):
    found = read.rows(connection, "select record, recorded_on::varchar, job, qty_pcs from recorded_at_bench")
    assert found == [
        ("counted", "2031-02-03", None, 0),
        ("taken", "2031-02-02", "J-5", 3),
        ("taken", "2031-01-03", "J-1", 1),
    ]


@pytest.mark.parametrize(
    "view", ["last_load_files", "last_load_records", "delivered_job_records", "recorded_at_bench"]
)
def test_an_empty_store_gives_no_rows_and_no_error(view):
    with connect.open_memory() as empty:
        assert read.rows(empty, f"from {view}") == []
