"""Views on the records themselves: their grain, and what they count, by hand."""

import pytest

from pipeline.store import connect, read

LOADS = """
insert into loads values (1, '2031-01-01', 'shop', 'a'), (2, '2031-02-01', 'shop', 'b'), (3, '2031-03-01', 'box', 'c');
insert into load_files values (1, 'jobs.csv', 9, 5, 4, 'jobs'), (1, 'aliases.csv', 2, 2, 0, 'aliases'),
    (2, 'jobs.csv', 10, 10, 0, 'jobs'), (2, 'parts.csv', 4, 1, 3, 'parts'), (3, 'counts.csv', 8, 5, 3, 'counts');
insert into records values
    (1, 'jobs.csv', 2, 'family', 'x', 'unknown_family', 'mend it', 'set_aside'),
    (1, 'jobs.csv', 4, 'scope', 'Fix', 'spelling', 'taken as fix_only', 'repaired'),
    (1, 'aliases.csv', 2, 'alias', 'a ', 'blanks', 'blanks around it dropped: a', 'repaired'),
    (1, 'parts.csv', null, 'unit_cost', 'SLV', 'part_without_price', 'price it', 'noted'),
    (2, 'jobs.csv', 7, 'scope', 'Thorough', 'spelling', 'taken as thorough', 'repaired'),
    (2, 'jobs.csv', 7, 'scope', 'Thorough', 'blanks', 'taken as thorough', 'repaired'),
    (2, 'parts.csv', null, null, 'colour', 'extra_columns', 'kept', 'noted'),
    (2, 'parts.csv', 3, 'unit_cost', 'two', 'number', 'a number', 'set_aside'),
    (2, 'jobs.csv', null, 'job', 'J-2', 'delivered_without_parts', 'add its parts', 'noted'),
    (3, 'parts.csv', 3, 'unit_cost', 'two', 'number', 'a number', 'set_aside'),
    (3, 'jobs.csv', null, 'job', 'J-4', 'delivered_without_parts', 'add its parts', 'noted'),
    (3, 'counts.csv', 5, 'qty_pcs', 'lots', 'whole_number', 'a whole number', 'set_aside');
insert into set_aside_rows values
    (1, 'jobs.csv', 2, '{"job": "J-9", "family": "x"}', 'jobs', '{"job": "J-9", "family": "x"}'),
    (2, 'parts.csv', 3, '{"part": "slv ", "unit_cost": "two"}', 'parts', '{"part": "SLV", "unit_cost": "two"}'),
    (3, 'parts.csv', 3, '{"part": "slv ", "unit_cost": "two"}', 'parts', '{"part": "SLV", "unit_cost": "two"}'),
    (3, 'counts.csv', 5, '{"part": "SLV", "qty_pcs": "lots"}', 'counts', null);
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


def test_each_file_stands_with_its_own_newest_load_and_what_waits_of_it(connection):
    found = read.rows(connection, "select * exclude (loaded_on), loaded_on::varchar from last_load_files")
    assert found == [
        ("counts.csv", 8, 5, 3, 1, 3, "2031-03-01"),
        ("parts.csv", 4, 1, 3, 1, 2, "2031-02-01"),
        ("aliases.csv", 2, 2, 0, 0, 1, "2031-01-01"),
        ("jobs.csv", 10, 10, 0, 0, 2, "2031-02-01"),
    ]


def test_what_waits_and_what_checks_note_is_of_the_newest_load_the_rest_of_the_files_own(connection):
    found = read.rows(connection, "select file, line, value, outcome from last_load_records")
    assert found == [
        ("counts.csv", 5, "lots", "set_aside"),
        ("parts.csv", 3, "two", "set_aside"),
        ("jobs.csv", None, "J-4", "noted"),
        ("parts.csv", None, "colour", "noted"),
        ("aliases.csv", 2, "a ", "repaired"),
        ("jobs.csv", 7, "Thorough", "repaired"),
        ("jobs.csv", 7, "Thorough", "repaired"),
    ]


def test_loads_are_told_in_order_with_all_that_waited_then(connection):
    found = read.rows(connection, "select * exclude (loaded_on) from load_trend")
    assert found == [(1, 2, 11, 7, 4, 2, 1), (2, 2, 14, 11, 3, 1, 1), (3, 1, 8, 5, 3, 0, 2)]


def test_rows_that_wait_bear_their_mended_names_else_those_typed(connection):
    found = read.rows(connection, "select file, line, holds, part, job from waiting_rows order by file")
    assert found == [("counts.csv", 5, "counts", "SLV", None), ("parts.csv", 3, "parts", "SLV", None)]


def waits(connection, holds, cells):
    connection.execute("delete from set_aside_rows")
    connection.execute("insert into set_aside_rows values (3, ?, 2, ?, ?, '')", [f"{holds}.csv", cells, holds])
    return read.query(connection, "from waiting_rows").astype(object).where(lambda each: each.notna(), None).iloc[0]


def test_a_row_that_waits_is_of_its_jobs_family_unless_the_job_was_never_taken_on(connection):
    row = waits(connection, "job_hours", '{"job": "J-1", "hours": "half"}')
    assert (row["family"], row["scope"], row["is_delivered"]) == ("em", "thorough", False)
    connection.execute("update jobs set status = 'declined' where job = 'J-5'")
    assert waits(connection, "job_hours", '{"job": "J-5", "hours": "half"}')["family"] is None
    assert waits(connection, "jobs", '{"job": "J-8", "family": "em", "status": "enquiry"}')["family"] is None


def test_a_row_that_waits_finds_its_family_by_machine_and_its_vendor_by_order(connection):
    connection.execute("insert into machines (machine, family) values ('m1', 'em')")
    connection.execute("insert into vendors (vendor) values ('north')")
    connection.execute("insert into orders (order_no, vendor, ordered_on) values ('P1', 'north', '2031-01-01')")
    cells = '{"job": "J-8", "machine": "m1", "delivered_on": "2031-13-01", "invoiced_amount": "90"}'
    row = waits(connection, "jobs", cells)
    assert (row["family"], row["is_delivered"], row["invoiced_amount"]) == ("em", True, 90.0)
    row = waits(connection, "order_lines", '{"order_no": "P1", "part": "", "qty_pcs": "few"}')
    assert (row["vendor"], row["part"], row["order_no"]) == ("north", None, "P1")


def test_a_row_whose_cells_cannot_be_told_apart_waits_without_a_name(connection):
    row = waits(connection, "job_parts", '{"": "J-1,SLV,1,2,3,4,5"}')
    assert row["part"] is None and row["job"] is None and row["holds"] == "job_parts"


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


def test_days_of_records_are_told_once_a_day_and_kind(connection):
    found = read.rows(connection, "select holds, day::varchar, records from record_days order by all")
    assert found == [
        ("counts", "2031-01-01", 1), ("counts", "2031-02-03", 1), ("job_parts", "2031-01-02", 1),
        ("job_parts", "2031-01-03", 1), ("job_parts", "2031-02-01", 1), ("job_parts", "2031-02-02", 1),
    ]


def test_a_job_is_in_the_shop_from_its_start_or_first_taking_to_its_delivery(connection):
    connection.execute("update jobs set started_on = '2030-12-01' where job = 'J-1'")
    connection.execute("update jobs set started_on = '2031-01-09', booked_on = '2031-01-01' where job = 'J-5'")
    connection.execute("insert into jobs (job, family, scope, booked_on) values ('J-7', 'em', 'refresh', '2031-01-09')")
    found = read.rows(connection, "select job, from_on::varchar, to_on::varchar from job_stays order by job")
    assert found == [
        ("J-1", "2030-12-01", "2031-01-03"), ("J-2", "2031-01-30", "2031-01-30"), ("J-3", "2031-01-31", "2031-01-31"),
        ("J-4", "2031-02-01", "2031-02-01"), ("J-5", "2031-01-09", None),
    ]


def test_delivered_jobs_lack_parts_always_hours_and_invoices_where_others_have_them(connection):
    lacking = "select job, lacks_parts, lacks_hours, lacks_invoice from delivered_job_gaps order by job"
    assert read.rows(connection, lacking) == [("J-2", True, False, False)]
    connection.execute("insert into job_hours (row_hash, job, hours, recorded_in) values ('a', 'J-1', 2, 'folder')")
    connection.execute("update jobs set invoiced_amount = 80 where job in ('J-1', 'J-3')")
    assert read.rows(connection, lacking) == [
        ("J-2", True, True, True), ("J-3", False, True, False), ("J-4", False, True, True)]


def test_hours_of_call_backs_alone_are_no_hours_of_the_job(connection):
    connection.execute("insert into job_hours (row_hash, job, hours, stage, recorded_in) values"
                       " ('a', 'J-1', 2, 'bench', 'folder'), ('b', 'J-4', 1, 'callback', 'folder')")
    found = read.rows(connection, "select job from delivered_job_gaps where lacks_hours order by job")
    assert found == [("J-2",), ("J-3",), ("J-4",)]


def test_a_part_is_without_a_price_until_one_is_known(connection):
    assert read.rows(connection, "from unpriced_parts") == [("SLV", "sleeve", 17, 17, 3)]
    connection.execute("update parts set unit_cost = 0")
    assert len(read.rows(connection, "from unpriced_parts")) == 1  # a price of 0 is no price
    connection.execute("update parts set unit_cost = 0.5")
    assert read.rows(connection, "from unpriced_parts") == []


def test_what_customers_brought_needs_no_price(connection):
    connection.execute("update job_parts set source = 'customer'")
    assert read.rows(connection, "from unpriced_parts") == []


def test_a_year_of_use_ends_with_the_shops_today(connection):
    assert read.rows(connection, "from year_use") == [("SLV", 17, 3)]
    connection.execute("insert into shop (key, value) values ('today', '2031-01-31')")
    assert read.rows(connection, "from year_use") == [("SLV", 13, 1)]
    connection.execute("update shop set value = '2032-02-01'")
    assert read.rows(connection, "from year_use") == [("SLV", 3, 1)]


def test_tables_that_speak_of_single_parts_or_jobs_name_those_that_lack_a_row(connection):
    found = read.rows(connection, "from lacking_rows order by all")
    assert found == [("findings", None, "J-5"), ("quote_lines", None, "J-5")]
    connection.execute("delete from counts")
    connection.execute("insert into findings (job, assembly, part) values ('J-5', 'flipper', 'SLV')")
    assert read.rows(connection, "from lacking_rows order by all") == [("stock_moves", "SLV", None)]


def test_a_line_that_came_short_lacks_a_receipt_and_an_unlisted_name_an_alias(connection):
    connection.execute("insert into vendors (vendor) values ('north')")
    connection.execute("insert into orders (order_no, vendor, ordered_on) values ('P1', 'north', '2031-01-01')")
    connection.execute("insert into order_lines (order_no, part, qty_pcs, unit_price, received_on, received_pcs)"
                       " values ('P1', 'SLV', 10, 1, '2031-01-09', 4)")
    waits(connection, "job_parts", '{"job": "J-1", "part": "sleeeve", "qty_pcs": "1"}')
    found = read.rows(connection, "select holds, part from lacking_rows where part is not null order by all")
    assert found == [("aliases", "sleeeve"), ("receipts", "SLV")]


def test_a_machine_is_weighed_by_list_by_what_was_taken_and_by_what_was_found(connection):
    connection.execute("insert into parts (part, description) values ('COI', 'coil')")
    connection.execute("insert into assemblies (assembly) values ('flipper')")
    connection.execute("insert into family_assemblies (family, assembly, count) values ('em', 'flipper', 2)")
    connection.execute("insert into assembly_parts (assembly, part, qty_pcs) values ('flipper', 'COI', 1)")
    pieces = "select job, assembly, part from weighed_pieces order by all"
    assert read.rows(connection, pieces) == [(None, "flipper", "COI"), (None, None, "SLV")]
    connection.execute("insert into findings (job, assembly, part) values ('J-5', 'trough', 'COI')")
    found = read.rows(connection, "select assembly, part from weighed_pieces where job = 'J-5' order by all")
    assert found == [("flipper", "COI"), ("trough", "COI"), (None, "SLV")]


NEW = ["load_trend", "waiting_rows", "record_days", "job_stays", "delivered_job_gaps", "unpriced_parts", "year_use",
       "lacking_rows", "weighed_pieces", "decision_rows"]


@pytest.mark.parametrize(
    "view", ["last_load_files", "last_load_records", "delivered_job_records", "recorded_at_bench", *NEW]
)
def test_an_empty_store_gives_no_rows_and_no_error(view):
    with connect.open_memory() as empty:
        assert read.rows(empty, f"from {view}") == []
