"""A slip in a year or in a number of pieces: set aside with what may be meant; what is taken in breaks no table."""

import datetime

import pytest

from pipeline.ingest import shop_folder
from pipeline.reports import all_tables
from pipeline.store import plausible
from tests.support import small_shop

LATEST = plausible.latest_on()


def files(*job_parts, **more):
    """A shop of a dozen jobs, some rows added to it."""
    days = [datetime.date(2024, 1, 1) + datetime.timedelta(days=40 * n) for n in range(12)]
    made = {
        "parts": "part,description,unit_cost\nfli-coil,Coil,3\nsleeve,Sleeve,1\nlamp,Lamp,0.1\n",
        "jobs": "job,family,scope,booked_on,delivered_on\n" + "".join(
            f"J{n},em,{('fix_only', 'thorough')[n % 2]},{day},{day + datetime.timedelta(days=20)}\n"
            for n, day in enumerate(days)),
        "job_parts": "job,part,qty_pcs,used_on\n" + "".join(
            f"J{n},sleeve,{n % 3 + 1},{day}\nJ{n},lamp,{n % 5 + 1},{day}\n" for n, day in enumerate(days)),
    }
    made = small_shop.with_rows(made, "job_parts", *job_parts)
    return made | {name: made.get(name, "") + text for name, text in more.items()}


def test_a_slip_is_set_aside_with_its_row_what_it_reads_and_what_may_be_meant(tmp_path):
    slips = files("J1,lamp,1000000000,2024-02-10", "J1,lamp,1,9999-01-01", "J2,lamp,2,2204-03-21",
                  jobs="J20,em,thorough,1024-09-01,2024-10-01\n", counts="part,counted_on,qty_pcs\nlamp,2205-01-01,4\n")
    store, summary = small_shop.load(tmp_path / "shop", slips)
    told = {(entry["file"], entry["line"]): (entry["value"], entry["suggestion"])
            for entry in small_shop.entries(summary)}
    wanted = f"wanted a day from 1930-01-01 to {LATEST}"
    assert told == {
        ("job_parts.csv", 26): ("1000000000", "wanted no more than 1,000 pieces in one row; a slip of the pen, or a "
                                              "number of another column?"),
        ("job_parts.csv", 27): ("9999-01-01", f"{wanted}; a slip in the year?"),
        ("job_parts.csv", 28): ("2204-03-21", f"{wanted}; did you mean 2024-03-21?"),
        ("jobs.csv", 14): ("1024-09-01", f"{wanted}; did you mean 2024-09-01?"),
        ("counts.csv", 2): ("2205-01-01", f"{wanted}; did you mean 2025-01-01?"),
    }
    assert any("line 28" in line and "did you mean 2024-03-21?" in line for line in summary.lines())
    assert small_shop.rows(store, "select count(*) from job_parts") == [(24,)]


EDGES = [
    ("job_parts", "J1,lamp,1,0025-01-10", "used_on"), ("job_parts", "J1,lamp,1,1929-12-31", "used_on"),
    ("job_parts", "J1,lamp,-1001,", "qty_pcs"), ("job_hours", "J1,10001,", "hours"),
    ("counts", "lamp,2025-01-01,100001", "qty_pcs"), ("offers", "n,lamp,10001,1", "pack_pcs")]


def test_just_beyond_what_is_plausible_is_set_aside_whatever_the_file(tmp_path):
    more = {"job_hours": "job,hours,worked_on\n", "counts": "part,counted_on,qty_pcs\n",
            "offers": "vendor,part,pack_pcs,pack_price\n"}
    made = files(**more)
    for name, row, _ in EDGES:
        made = small_shop.with_rows(made, name, row)
    _, summary = small_shop.load(tmp_path / "shop", made)
    found = sorted((file.removesuffix(".csv"), column) for file, _, column, rule in small_shop.set_aside(summary)
                   if rule.startswith("implausible_"))
    assert found == sorted((name, column) for name, _, column in EDGES) and len(small_shop.set_aside(summary)) == 6


def test_a_store_of_before_gives_up_such_rows_at_its_next_load(tmp_path):
    import duckdb

    store, _ = small_shop.load(tmp_path / "shop", files())
    with duckdb.connect(str(store)) as connection:
        connection.execute("update job_parts set used_on = date '9999-12-31' where job = 'J3' and part = 'lamp'")
    small_shop.write(tmp_path / "more", {"counts": "part,counted_on,qty_pcs\nlamp,2025-01-01,3\n"})
    summary = shop_folder.load(tmp_path / "more", store, tmp_path / "out")
    assert [entry["rule"] for entry in small_shop.entries(summary)] == ["implausible_day"]
    assert small_shop.rows(store, "select count(*) from job_parts where used_on > date '2100-01-01'") == [(0,)]


@pytest.fixture(scope="module")
def outermost(tmp_path_factory):
    """A store whose days and numbers are as far out as they may be."""
    made = files(
        "J0,lamp,1000,2024-01-02", "OLD,lamp,999,1930-01-01", f"NEW,sleeve,1000,{LATEST}",
        "J1,fli-coil,-1000,2024-02-10",
        jobs=f"OLD,em,thorough,1930-01-01,1930-01-02\nNEW,em,thorough,2024-01-01,{LATEST}\nFUT,em,thorough,{LATEST},\n",
        job_hours="job,hours,worked_on\nOLD,10000,1930-01-01\n",
        counts=f"part,counted_on,qty_pcs\nlamp,1930-01-01,100000\nsleeve,{LATEST},100000\n",
        vendors="vendor,lead_time_days\nn,36525\n",
        orders="order_no,vendor,ordered_on\nP1,n,1930-01-01\nP2,n,2024-01-01\n",
        order_lines="order_no,part,qty_pcs,unit_price,received_on,received_pcs\n"
                    f"P1,lamp,100000,1,{LATEST},100000\nP2,sleeve,5,1,2024-02-01,5\n",
        offers="vendor,part,pack_pcs,pack_price\nn,lamp,10000,5000\nn,sleeve,1,1\n",
        callbacks=f"job,reported_on,part,hours\nOLD,{LATEST},lamp,10000\n",
        shop="key,value\nwarranty_days,36525\nbench_hours_per_week,10000\n",
    )
    store, summary = small_shop.load(tmp_path_factory.mktemp("outermost") / "shop", made)
    assert small_shop.set_aside(summary) == []
    return store


@pytest.mark.parametrize("name", all_tables.NAMES)
def test_no_table_fails_where_days_and_numbers_are_as_far_out_as_they_may_be(outermost, name):
    assert len(all_tables.table(outermost, name).columns)
