"""Registers nobody wrote down, and families known through machines."""

import pytest

from pipeline.ingest import read, registers
from pipeline.store import connect
from tests.support import small_shop


@pytest.fixture
def connection():
    """An empty store in memory."""
    with connect.open_memory() as opened:
        yield opened


def folder(tmp_path, **files):
    return read.read(small_shop.write(tmp_path, files)).tables


def test_absent_registers_are_taken_from_the_rows_that_use_them(tmp_path):
    tables = folder(tmp_path, jobs="job,family,scope\nJ1, em ,x\nJ2,EM,x\nJ3,,x\nJ4,ss,x\n",
                    machines="machine,family\nM1,Lcd\n", orders="order_no,vendor,ordered_on\nP1,north,\n",
                    family_assemblies="family,assembly\nem,flipper\n")
    remarks = registers.implied(tables, set())
    assert {name: tables[name].frame.iloc[:, 1].tolist() for name in ("families", "vendors", "assemblies")} == {
        "families": ["em", "ss", "Lcd"], "vendors": ["north"], "assemblies": ["flipper"]}
    assert tables["families"].frame["name"].tolist() == ["em", "ss", "Lcd"]
    assert [(r["file"].iloc[0], r["value"].iloc[0], r["suggestion"].iloc[0]) for r in remarks] == [
        ("families.csv", "em, ss, Lcd", "taken from jobs.csv and machines.csv as written"),
        ("vendors.csv", "north", "taken from orders.csv as written"),
        ("assemblies.csv", "flipper", "taken from family_assemblies.csv as written")]


def test_a_register_that_is_given_or_was_given_is_not_added_to(tmp_path):
    tables = folder(tmp_path / "a", jobs="job,family,scope\nJ1,em,x\n", families="family,name\nss,S\n")
    assert registers.implied(tables, set()) == [] and tables["families"].frame["family"].tolist() == ["ss"]
    tables = folder(tmp_path / "b", jobs="job,family,scope\nJ1,em,x\n")
    assert registers.implied(tables, {"families"}) == [] and "families" not in tables


def test_an_empty_file_gives_no_register_and_rows_without_the_identifier_imply_none(tmp_path):
    tables = folder(tmp_path / "a", jobs="job,family,scope\nJ1,em,x\n", families="family,name\n")
    assert len(registers.implied(tables, set())) == 1 and tables["families"].frame["family"].tolist() == ["em"]
    tables = folder(tmp_path / "b", jobs="job,family,scope\nJ1, ,x\n", families="family,name\n")
    assert registers.implied(tables, set()) == [] and tables["families"].frame.empty
    tables = folder(tmp_path / "c", jobs="job,machine,scope\nJ1,M1,x\n")
    assert registers.implied(tables, set()) == [] and set(tables) == {"jobs"}


def test_given_before_are_the_tables_whose_files_held_rows(connection):
    assert registers.given_before(connection) == set()
    for number in (1, 2):
        connection.execute(f"insert into loads values ({number}, now()::timestamp, 'f', 'd')")
    connection.execute("insert into load_files values (1, 'Families.CSV', 2, 1, 1, 'families'),"
                       " (1, 'vendors.csv', 0, 0, 0, 'vendors'), (2, 'shop.xlsx, sheet jobs', 1, 0, 1, 'jobs')")
    assert registers.given_before(connection) == {"families", "jobs"}


def test_a_later_folder_adds_to_registers_that_were_only_implied(tmp_path):
    small_shop.load(tmp_path / "one", small_shop.LEAST, tmp_path / "s.duckdb")
    more = {"jobs": "job,family,scope\nJ9,lcd,refresh\n"}
    store, summary = small_shop.load(tmp_path / "two", more, tmp_path / "s.duckdb")
    assert small_shop.rows(store, "select family from families order by 1") == [("em",), ("lcd",), ("ss",)]
    assert not small_shop.entries(summary)


def test_an_empty_family_is_filled_from_the_machine_and_listed(connection, tmp_path):
    connection.execute("insert into families values ('em', 'EM', null, null), ('ss', 'SS', null, null)")
    connection.execute("insert into machines (machine, family) values ('M1', 'em'), ('M2', 'ss')")
    connection.execute("create temp table accepted_machines as from machines")
    jobs = folder(tmp_path, jobs="job,family,scope,machine\nJ1,,x,M1\nJ2,,x,M2\nJ3,,x,M3\nJ4,,x,\nJ5,zz,x,M1\n")["jobs"]
    frame, listed_family, mends = registers.family_from_machine(connection, jobs, jobs.frame)
    assert frame["family"].tolist() == ["em", "ss", "", "", "zz"]
    assert listed_family.to_dict() == {2: "em", 3: "ss", 6: "em"}
    assert mends[["line", "value", "suggestion"]].values.tolist() == [
        [2, "", "taken as em, as machine M1 is listed"], [3, "", "taken as ss, as machine M2 is listed"]]


def test_families_are_found_through_the_machines_of_folder_and_store(tmp_path):
    files = small_shop.LEAST | {"machines": "machine,family\nM1,em\n"}
    store, _ = small_shop.load(tmp_path / "one", files, tmp_path / "s.duckdb")
    more = {"jobs": "job,machine,scope\nJ8,m1,fix_only\nJ9,M2,fix_only\nJ7,M3,fix_only\n",
            "machines": "machine,family\nM2,ss\n"}
    _, summary = small_shop.load(tmp_path / "two", more, store)
    assert small_shop.rows(store, "select job, family, machine from jobs where job > 'J6' order by 1") == [
        ("J8", "em", "M1"), ("J9", "ss", "M2")]
    assert small_shop.set_aside(summary) == [("jobs.csv", 4, "family", "required")]


def test_jobs_without_a_machine_column_are_left_as_they_are(connection, tmp_path):
    connection.execute("create temp table accepted_machines as from machines")
    jobs = folder(tmp_path, jobs="job,family,scope\nJ1,,x\n")["jobs"]
    frame, listed_family, mends = registers.family_from_machine(connection, jobs, jobs.frame)
    assert frame["family"].tolist() == [""] and listed_family.empty and mends.empty


def test_a_folder_may_name_machines_alone(tmp_path):
    files = small_shop.LEAST | {"jobs": "job,machine,scope\nJ1,m1,fix_only\nJ2,M2,refresh\nJ3,M9,refresh\n",
                                "machines": "machine,family\nM1,em\nM2,ss\n"}
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert small_shop.rows(store, "select job, family, machine from jobs order by 1") == [
        ("J1", "em", "M1"), ("J2", "ss", "M2")]
    assert [(e["line"], e["rule"]) for e in small_shop.entries(summary, file="jobs.csv")] == [(4, "required")]
