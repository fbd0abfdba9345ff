"""The store as of a past day: which rows were known, what of them, and how far each job was."""

import datetime
import shutil
import subprocess
import sys

import pytest

from pipeline.errors import InvalidParameter, StoreError
from pipeline.store import as_of, connect, read
from tests.support import hand_shop

DAY = datetime.date(2025, 6, 30)
PARTS = "part description unit_cost\nlamp Lamp 0.3\ncoil Coil 9"
HEAD = "job family scope status booked_on planned_start_on started_on delivered_on plays invoiced_amount no_parts_used"
# One job for each way of being known; the newest day of all is 2026-12-31.
JOBS = f"""{HEAD}
done em refresh delivered 2025-01-01 - 2025-02-01 2025-03-01 100 500 yes
on-the-day em refresh - 2025-01-01 - 2025-02-01 2025-06-30 100 500 yes
running em refresh delivered 2025-01-01 - 2025-06-30 2025-07-01 100 500 yes
booked em refresh in_progress 2025-06-30 2025-07-03 2025-07-01 - 100 - -
later em refresh delivered 2025-07-01 2025-07-01 2025-07-01 2026-12-31 100 500 -
no-start em refresh delivered - - - 2025-09-01 100 500 -
no-status em refresh - - - - 2025-09-01 100 500 -
unasked em refresh enquiry - 2025-06-01 - - - - -
asked em refresh enquiry 2025-06-01 - - - - - -
only-booked em refresh booked 2025-06-01 2025-09-01 2025-06-05 - - - -
turned-away em refresh declined 2025-06-01 2025-06-10 - - - - -
refunded em refresh declined 2025-06-01 2025-09-10 - - - - -
refunded-later em refresh declined 2025-06-01 2025-06-10 - - - - -
long-gone em refresh declined 2024-01-01 2024-06-30 - - - - -
nearly-gone em refresh declined 2024-01-01 2024-07-01 - - - - -
far-ahead em refresh declined 2023-01-01 2028-01-01 - - - - -
handed-back em refresh declined - - 2025-01-01 2025-02-01 - 20 -
given-up em refresh declined - - 2025-06-01 2025-07-05 - 20 -
no-end em refresh delivered 2025-01-01 - 2025-02-01 - 100 500 -
no-end-old em refresh delivered 2023-01-01 - 2023-02-01 - 100 500 -
paid-first em refresh delivered 2025-07-01 - 2025-07-02 2025-09-01 100 500 -
paid-gone em refresh declined 2025-07-01 - - - - - -
paid-only em refresh booked - - - - - - -
dateless em refresh delivered - - - - 100 500 -"""
JOB_PARTS = """job part qty_pcs used_on line reason
done lamp 4 2025-02-03 1 -
done lamp 1 - 2 -
done lamp 7 - 3 callback
done lamp -1 2025-07-01 4 -
running lamp 5 - 1 -
running coil 2 2025-06-30 2 -
running coil 1 2025-07-01 3 -
no-start lamp 2 2025-06-01 1 -
no-status lamp 2 2025-06-01 1 -
no-end lamp 3 2025-02-02 1 -
no-end lamp 3 - 2 -
no-end-old lamp 3 - 1 -
no-end-old lamp 2 - 2 callback
turned-away lamp 1 2025-06-02 1 callback"""
PAYMENTS = """job paid_on amount kind
refunded 2025-06-29 -50 refund
refunded-later 2025-07-01 -50 refund
paid-first 2025-06-30 50 deposit
paid-gone 2025-06-30 50 deposit
paid-only 2025-06-30 50 deposit"""
SHOP = {"families": "family name\nem EM", "parts": PARTS, "jobs": JOBS, "job_parts": JOB_PARTS, "payments": PAYMENTS}
OTHERS = {
    "vendors": "vendor\nnorth",
    "offers": "vendor part pack_price quoted_on\nnorth lamp 1 2025-06-30\nnorth lamp 2 2025-07-01\nnorth lamp 3 -",
    "orders": "order_no vendor ordered_on freight\nP1 north 2025-06-01 9\nP2 north 2025-06-30 9\nP3 north 2025-07-01 9",
    "order_lines": "order_no part qty_pcs unit_price received_on received_pcs\nP1 lamp 20 1 2025-06-30 20\n"
    "P1 coil 5 1 2025-07-01 5\nP2 lamp 10 1 - 4\nP2 coil 3 1 2025-07-09 3\nP3 lamp 10 1 2025-07-09 10",
    "receipts": "order_no part received_on received_pcs\nP1 lamp 2025-06-29 12\nP1 lamp 2025-07-02 8",
    "counts": "part counted_on qty_pcs\nlamp 2025-06-30 4\nlamp 2025-07-01 900",
    "stock_moves": "part moved_on qty_pcs kind\nlamp 2025-06-30 4 found\nlamp 2025-07-01 900 found",
    "job_hours": "job hours worked_on line stage billed_hours\ndone 1 2025-02-03 1 bench 2\ndone 2 - 2 bench -\n"
    "done 3 - 3 callback -\nrunning 4 2025-06-30 1 bench 5\nrunning 5 - 2 bench -\ndone 6 2025-07-01 4 callback -",
    "job_costs": "job kind amount paid_on sent_on due_on back_on\ndone freight 10 - - - -\ndone sublet 20 - 2025-02-03"
    " 2025-07-09 -\nrunning sublet 30 2025-06-30 2025-06-01 2025-07-09 2025-07-08\n"
    "running sublet 40 2025-07-01 2025-06-01 2025-06-30 2025-06-20\nrunning other 50 - - - -",
    "findings": "job assembly part condition\ndone flipper lamp worn\nrunning flipper lamp worn",
    "quote_lines": "job version option kind amount accepted_on\ndone 1 thorough labour 10 -\n"
    "running 1 thorough labour 20 -\nrunning 1 fix_only labour 30 2025-06-30\nrunning 2 fix_only labour 40 2025-07-01",
    "approvals": "job asked_on what amount answered_on answer how by\nrunning 2025-06-30 a 1 2025-06-30 yes call Ada\n"
    "running 2025-06-29 b 1 2025-07-01 no call Ada\nrunning 2025-07-01 c 1 - - - -",
    "callbacks": "job reported_on hours\ndone 2025-06-30 1\ndone 2025-07-01 9",
    "photos": "job file taken_on\ndone a.jpg -\nrunning b.jpg -\nrunning c.jpg 2025-06-30\nrunning d.jpg 2025-07-01",
}
THEN = {
    "done": "delivered", "on-the-day": "delivered", "running": "in_progress", "booked": "booked",
    "no-start": "in_progress", "no-status": "booked", "asked": "enquiry", "only-booked": "booked",
    "turned-away": "booked", "refunded": "declined", "refunded-later": "booked", "long-gone": "declined",
    "nearly-gone": "booked", "far-ahead": "booked", "handed-back": "declined", "given-up": "in_progress",
    "no-end": "in_progress", "no-end-old": "delivered",
    "paid-first": "enquiry", "paid-gone": "enquiry", "paid-only": "enquiry",
}


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    """A store file with a row for every rule."""
    return hand_shop.write(tmp_path_factory.mktemp("as-of") / "it's a shop.duckdb", **SHOP, **OTHERS)


@pytest.fixture(scope="module")
def then(path):
    """That store as of DAY."""
    with as_of.open_read(path, DAY) as connection:
        yield connection


@pytest.fixture(scope="module")
def whole(path):
    """That store as it is."""
    with connect.open_read(path) as connection:
        yield connection


def test_a_job_is_as_far_as_its_days_told_by_then(then):
    assert dict(read.rows(then, "select job, status from tidy_jobs")) == THEN


def test_days_of_a_job_that_came_later_are_blank_and_what_is_planned_stays(then):
    assert read.rows(then, "select job, booked_on::varchar, planned_start_on::varchar, started_on::varchar,"
                           " delivered_on from jobs where job in ('running', 'booked', 'no-start') order by job") == [
        ("booked", "2025-06-30", "2025-07-03", None, None), ("no-start", None, None, None, None),
        ("running", "2025-01-01", None, "2025-06-30", None)]


def test_what_comes_with_start_and_end_of_a_job_is_blank_until_then(then):
    assert read.rows(then, "select job, plays, invoiced_amount, no_parts_used from jobs"
                           " where job in ('done', 'running', 'booked', 'no-start', 'handed-back') order by job") == [
        ("booked", None, None, None), ("done", 100, 500, "yes"), ("handed-back", None, 20, None),
        ("no-start", 100, None, None), ("running", 100, None, None)]


def test_a_taking_is_known_from_its_day_else_from_the_end_of_its_job(then):
    assert read.rows(then, "select job, part, qty_pcs from job_parts order by all") == [
        ("done", "lamp", 1), ("done", "lamp", 4), ("no-end", "lamp", 3), ("no-end-old", "lamp", 2),
        ("no-end-old", "lamp", 3), ("no-start", "lamp", 2), ("no-status", "lamp", 2), ("running", "coil", 2),
        ("turned-away", "lamp", 1)]


@pytest.mark.parametrize(
    ("select", "rows"),
    [
        ("pack_price::integer from offers", [(1,)]),
        ("order_no, freight::integer from orders", [("P1", 9), ("P2", None)]),
        ("order_no, part, received_on::varchar, received_pcs from order_lines",
         [("P1", "coil", None, None), ("P1", "lamp", "2025-06-30", 20), ("P2", "coil", None, None),
          ("P2", "lamp", None, None)]),
        ("received_pcs from receipts", [(12,)]),
        ("qty_pcs from counts", [(4,)]),
        ("qty_pcs from stock_moves", [(4,)]),
        ("job, hours, billed_hours from job_hours", [("done", 1, 2), ("done", 2, None), ("running", 4, None)]),
        ("amount::integer, due_on::varchar, back_on from job_costs",
         [(10, None, None), (20, "2025-07-09", None), (30, "2025-07-09", None)]),
        ("job from findings", [("done",)]),
        ("amount::integer from quote_lines", [(10,), (30,)]),
        ('what, answered_on::varchar, answer, how, "by" from approvals',
         [("a", "2025-06-30", "yes", "call", "Ada"), ("b", None, None, None, None)]),
        ("hours from callbacks", [(1,)]),
        ("file from photos", [("a.jpg",), ("c.jpg",)]),
    ],
)
def test_rows_of_the_other_tables_are_known_from_their_days(then, select, rows):
    assert read.rows(then, f"select {select} order by all nulls first") == rows


def test_today_is_the_day_and_the_other_settings_stay(tmp_path):
    path = hand_shop.write(tmp_path / "s.duckdb", **SHOP, shop="key value\ntoday 2026-01-31\nlabour_rate 71")
    with as_of.open_read(path, DAY) as connection:
        settings = read.settings(connection)
    assert (settings.today, settings.labour_rate) == (DAY, 71)
    with pytest.raises(InvalidParameter, match="2026-02-01.*no later than 2026-01-31"):
        as_of.open_read(path, datetime.date(2026, 2, 1))


def test_before_the_first_record_nothing_was_known(path):
    with as_of.open_read(path, datetime.date(2001, 1, 1)) as connection:
        assert read.rows(connection, "select count(*) from jobs") == [(0,)]
        assert len(read.frame(connection, "use_by_cell")) == 0
        assert read.rows(connection, "select part from tidy_parts order by 1") == [("coil",), ("lamp",)]


def test_the_whole_store_cannot_be_reached_and_is_let_go(path, tmp_path):
    other = shutil.copy(path, tmp_path / "other.duckdb")
    with as_of.open_read(other, DAY) as then:
        held = read.rows(then, "select database_name from duckdb_databases() where not internal")
        with connect.open_write(other) as connection:
            connection.execute("delete from job_parts")
        assert not read.is_empty(then, "job_parts")
    assert held == [("memory",)]


def test_two_days_and_the_whole_store_can_be_open_at_once(then, whole, path):
    with as_of.open_read(path, datetime.date(2025, 7, 1)) as next_day:
        newest = [read.rows(one, "select max(counted_on) from counts")[0][0] for one in (then, next_day, whole)]
    assert newest == [DAY, datetime.date(2025, 7, 1), datetime.date(2025, 7, 1)]


def test_what_is_later_is_refused_by_table_column_and_value(then, whole):
    as_of.refuse_later(then, DAY)
    with pytest.raises(StoreError, match="approvals.answered_on holds 2025-07-01, wanted nothing later than 2025"):
        as_of.refuse_later(whole, DAY)
    with pytest.raises(StoreError, match="holds 2025-06-30, wanted nothing later than 2025-06-29"):
        as_of.refuse_later(then, DAY - datetime.timedelta(days=1))
    as_of.refuse_later(whole, datetime.date(2026, 12, 31))


@pytest.mark.parametrize("day", ["2025-06-30", None, datetime.datetime(2025, 6, 30)])
def test_what_is_no_day_is_refused(path, then, day):
    for ask in (lambda: as_of.open_read(path, day), lambda: as_of.refuse_later(then, day),
                lambda: as_of.used_afterwards(then, day, 7)):
        with pytest.raises(InvalidParameter, match=r"wanted a datetime\.date"):
            ask()


def test_a_file_that_is_no_store_is_refused_as_ever(tmp_path):
    with pytest.raises(StoreError, match="no store at"):
        as_of.open_read(tmp_path / "none.duckdb", DAY)
    (tmp_path / "text.duckdb").write_text("not a database", encoding="utf-8")
    with pytest.raises(StoreError, match="cannot be opened"):
        as_of.open_read(tmp_path / "text.duckdb", DAY)


def test_a_file_that_another_window_takes_between_two_looks_is_called_open(path, tmp_path, monkeypatch):
    path = shutil.copy(path, tmp_path / "held.duckdb")
    # Checked, and then held by another process before it is read.
    monkeypatch.setattr(connect, "open_read", lambda path: connect.open_memory())
    monkeypatch.setattr(as_of, "_today", lambda whole: DAY)
    holding = "import duckdb, sys\nwith duckdb.connect(sys.argv[1]):\n    print('held', flush=True); sys.stdin.read()"
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with subprocess.Popen([sys.executable, "-c", holding, path], **pipes) as other:
        assert other.stdout.readline().strip() == b"held"
        with pytest.raises(StoreError, match="open in another window"):
            as_of.open_read(path, DAY)
        other.communicate()


# What went back on 10 May was taken on the 2nd, 5 of 6 stay; the call-back and the undated one are their own.
TAKEN = """job part qty_pcs used_on line reason
a lamp 4 2025-05-01 1 -
a lamp 2 2025-05-02 1 failed
a lamp -1 2025-05-10 1 -
a lamp 3 2025-05-20 1 callback
a coil 2 2025-05-01 1 -
a coil -3 2025-05-02 1 -
a sleeve 6 - 1 policy
a sleeve 9 - 2 callback
b lamp 8 2025-05-01 1 -
b sleeve 5 - 1 -"""
USED = {
    "families": "family name\nem EM\nss SS", "parts": f"{PARTS}\nsleeve Sleeve 1", "job_parts": TAKEN,
    "jobs": "job family scope delivered_on\na em refresh 2025-05-15\nb ss refresh -",
}


@pytest.mark.parametrize(
    ("first", "days", "used"),
    [
        ("2025-04-30", 1, [("em", "lamp", 4, 0), ("ss", "lamp", 8, 0)]),
        ("2025-05-01", 1, [("em", "lamp", 1, 0)]),
        ("2025-05-02", 12, []),
        ("2025-05-14", 6, [("em", "lamp", 0, 3), ("em", "sleeve", 6, 0)]),
        ("2025-04-30", 20, [("em", "lamp", 5, 3), ("em", "sleeve", 6, 0), ("ss", "lamp", 8, 0)]),
    ],
)
def test_what_was_used_afterwards_by_family_and_part(first, days, used):
    with hand_shop.store(**USED) as connection:
        found = as_of.used_afterwards(connection, datetime.date.fromisoformat(first), days)
    assert list(found.itertuples(index=False, name=None)) == used
    assert list(found.columns) == ["family", "part", "used_pcs", "callback_pcs"]


def test_use_that_nobody_dated_has_no_day():
    with hand_shop.store(**USED) as connection:
        assert read.rows(connection, "select job, part, is_callback, used_pcs from use_days where used_on is null"
                                     " order by all") == [("a", "sleeve", True, 9), ("b", "sleeve", False, 5)]


def test_a_window_that_ends_after_what_is_known_is_refused():
    with hand_shop.store(**USED) as connection:
        as_of.used_afterwards(connection, datetime.date(2025, 5, 1), 19)
        with pytest.raises(InvalidParameter, match="window is 2025-05-21; wanted one no later than 2025-05-20"):
            as_of.used_afterwards(connection, datetime.date(2025, 5, 1), 20)


@pytest.mark.parametrize("days", [0, -3, 1.5, True])
def test_a_window_without_whole_days_is_refused(days):
    with hand_shop.store(**USED) as connection, pytest.raises(InvalidParameter, match="whole number of days, 1 or"):
        as_of.used_afterwards(connection, datetime.date(2025, 5, 1), days)
