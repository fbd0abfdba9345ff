"""Knowledge of later days planted in a shop must not show as of a day: no table, no view, not one row."""

import dataclasses
import datetime
import shutil

import duckdb
import pytest

from pipeline.demo import generate
from pipeline.demo.world import World
from pipeline.errors import StoreError
from pipeline.store import as_of, catalogue, connect, known_days, read, views
from tests.support import small_shop

DAY = datetime.date(2026, 3, 31)
EVERYTHING = [*catalogue.tables(), *(name for name, _ in views.in_order())]
# What is planted, by table: a thousand pieces or a million of anything, after DAY, or on no day where that is not to be
# trusted. `known` are the jobs of DAY, `come` the orders of which something had come.
PLANTS = {
    "jobs": """
        update jobs set delivered_on = day + 3, status = 'delivered', invoiced_amount = 1000000, no_parts_used = 'yes',
            warranty_days = 7
        from known, given where jobs.job = known.job and known.status = 'in_progress';
        update jobs set started_on = null, delivered_on = null, status = 'declined', plays = 1000000,
            plays_quality = 'read'
        from known where jobs.job = known.job and known.status = 'booked';
        update jobs set started_on = day + 1, status = 'in_progress'
        from given where job = (select min(job) from known where status = 'booked');
        update jobs set booked_on = booked_on + 1 from given where booked_on > day;
        insert into jobs (job, family, scope, status, booked_on, delivered_on)
        select 'planted-' || status || family, family, 'thorough', status, booked_on, delivered_on
        from families, given, (values ('delivered', day + 1, day + 2), ('booked', day + 1, null),
            ('enquiry', null, null), ('declined', null, null)) as v (status, booked_on, delivered_on)""",
    "job_parts": """
        insert into job_parts (row_hash, job, part, qty_pcs, used_on, reason, recorded_in)
        select uuid(), job, part, qty_pcs, used_on, reason, 'folder' from parts, given,
            (select job, status, row_number() over (partition by status order by job) as n from known) as jobs,
            (values (1000, day + 1, 'failed'), (-1000, day + 2, null), (1000, day + 1, 'callback'),
                (1000, null, 'callback'), (1000, null, 'policy')) as v (qty_pcs, used_on, reason)
        where n <= 3 and (used_on is not null or status in ('in_progress', 'booked'))""",
    "offers": """
        insert into offers (vendor, part, pack_pcs, pack_price, quoted_on)
        select vendor, part, 1, price, quoted_on from vendors, parts, given,
            (values (1000000, day + 1), (0.01, null)) as v (price, quoted_on)""",
    "orders": "insert into orders (order_no, vendor, ordered_on, freight) select 'planted', min(vendor), min(day + 1), "
              "1000000 from vendors, given; update orders set freight = 1000000 where order_no not in "
              "(select order_no from come)",
    "order_lines": """
        update order_lines set received_on = day + 1, received_pcs = 1000000 from given
        where received_on is null or received_on > day;
        insert into order_lines (order_no, part, qty_pcs, unit_price) select 'planted', part, 1000000, 9 from parts""",
    "receipts": """
        insert into receipts (row_hash, order_no, part, received_on, received_pcs, recorded_in)
        select uuid(), order_no, part, day + 1, 1000000, 'folder' from order_lines, given""",
    "counts": "insert into counts (row_hash, part, counted_on, qty_pcs, recorded_in)"
              " select uuid(), part, day + 1, 1000000, 'notebook' from parts, given",
    "stock_moves": "insert into stock_moves (row_hash, part, moved_on, qty_pcs, kind, unit_cost, recorded_in)"
                   " select uuid(), part, day + 1, qty_pcs, kind, 1000000, 'folder' from parts, given,"
                   " (values (1000000, 'opening'), (-1000000, 'sold')) as v (qty_pcs, kind)",
    "job_hours": """
        insert into job_hours (row_hash, job, hours, worked_on, stage, recorded_in)
        select uuid(), job, 1000000, worked_on, stage, 'folder' from known, given,
            (values (day + 1, 'bench'), (day + 1, 'callback'), (null, 'callback'), (null, 'bench'))
            as v (worked_on, stage)
        where worked_on is not null or status in ('in_progress', 'booked')""",
    "job_costs": """
        update job_costs set back_on = day + 1 from given where back_on > day;
        insert into job_costs (row_hash, job, kind, amount, paid_on, sent_on, recorded_in)
        select uuid(), job, 'sublet', 1000000, paid_on, sent_on, 'folder' from known, given,
            (values (day + 1, day - 9), (null, day + 1), (null, null)) as v (paid_on, sent_on)
        where paid_on is not null or sent_on is not null or status in ('in_progress', 'booked')""",
    "findings": "insert into findings (job, assembly, part, qty_pcs, condition, action) select job, 'planted', part, "
                "1000000, 'failed', 'replace' from known, parts where status in ('in_progress', 'booked')",
    "quote_lines": """
        insert into quote_lines (job, version, option, kind, part, qty_pcs, amount, accepted_on)
        select job, 9, 'thorough', 'part', part, qty_pcs, 1000000, accepted_on from known, parts, given,
            (values (1000000, day + 1), (2000000, null)) as v (qty_pcs, accepted_on)
        where accepted_on is not null or status in ('in_progress', 'booked')""",
    "approvals": """
        update approvals set answered_on = day + 1, answer = 'no' from given
        where answered_on is null or answered_on > day;
        insert into approvals (job, asked_on, what, amount)
        select job, day + 1, 'planted', 1000000 from known, given""",
    "payments": "insert into payments (row_hash, job, paid_on, amount, kind, recorded_in) select uuid(), job, day + 1,"
                " -1000000, 'refund', 'folder' from known, given",
    "callbacks": "insert into callbacks (row_hash, job, reported_on, part, part_was, hours, recorded_in) select uuid(),"
                 " job, day + 1, (select min(part) from parts), 'new', 1000000, 'folder' from known, given",
    "photos": """
        insert into photos (job, file, taken_on) select job, 'planted', day + 1 from known, given;
        insert into photos (job, file) select job, 'undated' from known where status in ('in_progress', 'booked')""",
}


def careless(rule):
    """The rule with one of its cares left out at a time (pairs of what is left out, rule)."""
    yield "its rows", dataclasses.replace(rule, dated_by=(), undated=known_days.STAYS)
    if rule.dated_by and rule.undated != known_days.NEVER:
        yield "its undated rows", dataclasses.replace(rule, undated=known_days.STAYS)
    for care in ("later", "held", "told"):
        for left_out in getattr(rule, care):
            kept = {key: value for key, value in getattr(rule, care).items() if key != left_out}
            yield f"{care} {left_out[:16]}", dataclasses.replace(rule, **{care: kept})


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    """A store of an invented year; DAY lies in its second half."""
    folder = tmp_path_factory.mktemp("future") / "shop"
    generate.generate(11, folder, World(jobs_per_year=40, years=1))
    store, _ = small_shop.load(folder)
    with connect.open_write(store) as connection:
        # Asked and not answered yet; and a deposit of a job that was booked later.
        connection.execute("insert into approvals (job, asked_on, what, amount) select max(job), $day, 'more', 9"
                           " from jobs where started_on <= $day and delivered_on > $day", {"day": DAY})
        connection.execute("insert into payments (row_hash, job, paid_on, amount, recorded_in) select 'deposit',"
                           " max(job), $day, 9, 'folder' from jobs where booked_on > $day", {"day": DAY})
    return store


@pytest.fixture(scope="module")
def before(path):
    """Everything that is seen as of DAY."""
    with as_of.open_read(path, DAY) as connection:
        return seen(connection)


@pytest.fixture(scope="module")
def planted(path, tmp_path_factory):
    """A copy of the store that knows absurd things of the days after DAY."""
    other = shutil.copy(path, tmp_path_factory.mktemp("planted") / "shop.duckdb")
    with as_of.open_read(path, DAY) as connection:
        known = read.query(connection, "select job, status from tidy_jobs")
        came = read.query(connection, "select distinct order_no from tidy_receipts")
    loosen(other)
    with duckdb.connect(str(other)) as connection:
        connection.register("known", known)
        connection.register("come", came)
        connection.execute(f"create temp table given as select date '{DAY}' as day")
        for name in PLANTS:
            connection.execute(PLANTS[name])
    return other


def loosen(path):
    """Lay the tables of a store anew without their rules: a later edition of a row is a plain update then."""
    with duckdb.connect(str(path)) as connection:
        for name in reversed(catalogue.every_table()):
            connection.execute(f"create temp table kept as from {name}; drop table {name}; "
                               f"create table {name} as from kept; drop table kept")


def seen(connection, names=EVERYTHING):
    """The rows of every table and view (dict of str to sorted list)."""
    return {name: sorted(map(repr, read.rows(connection, f'from "{name}"'))) for name in names}


def leaks(connection, before, names):
    """Names of those tables and views of which other rows are seen than before (list of str)."""
    return [name for name, rows in seen(connection, names).items() if rows != before[name]]


def test_nothing_that_is_planted_shows_as_of_the_day(planted, before):
    with as_of.open_read(planted, DAY) as connection:
        assert leaks(connection, before, before) == []
        as_of.refuse_later(connection, DAY)


def test_what_is_planted_shows_in_the_whole_store(path, planted):
    answers = ["use_by_cell", "job_bookings", "running_and_booked_jobs", "job_delays", "committed_needs", "part_prices",
               "stock_position", "vendor_receipts", "pieces_watched"]
    with connect.open_read(path) as connection:
        now = seen(connection, [*catalogue.tables(), *answers])
    with connect.open_read(planted) as connection:
        assert set(leaks(connection, now, now)) == {*PLANTS, *answers}
        with pytest.raises(StoreError, match=f"wanted nothing later than {DAY}"):
            as_of.refuse_later(connection, DAY)


@pytest.mark.parametrize(
    ("name", "rule"),
    [pytest.param(name, rule, id=f"{name}: {left_out}")
     for name in PLANTS for left_out, rule in careless(known_days.TABLES[name])],
)
def test_a_rule_that_lets_something_through_is_found(planted, before, monkeypatch, name, rule):
    monkeypatch.setitem(known_days.TABLES, name, rule)
    with as_of.open_read(planted, DAY) as connection:
        assert name in leaks(connection, before, catalogue.tables())
