"""Rows that wait: tried again by every load, until they are in or their file says otherwise."""

import pytest

from pipeline.store import connect, read
from tests.support import small_shop
from tests.support.small_shop import laid, said, waits


@pytest.fixture
def connection():
    """An empty store in memory."""
    with connect.open_memory() as opened:
        yield opened


def least(name, *rows):
    return small_shop.with_rows(small_shop.LEAST, name, *rows)


REGISTERS = {"families": "family,name\nem,EM\nss,SS\n", "machines": "machine,family\nM1,em\n"}
MACHINES = {"jobs": "job,family,scope,machine\nJ1,em,fix_only,\nJ2,em,thorough,\nJ3,ss,refresh,\nJ9,,refresh,m2\n"}
LATER = {
    "alias": (
        least("job_parts", "j1,Birne ,5,11/13/2025"),
        {"aliases": "alias,part\nbirne,lamp\n"},
        "select part, qty_pcs, used_on::varchar from job_parts where qty_pcs = 5",
        ("lamp", 5, "2025-11-13"),
    ),
    "part": (
        least("job_parts", "J1, NEW ,5,"),
        {"parts": "part,description\nNew,New part\n"},
        "select part from job_parts where qty_pcs = 5",
        ("New",),
    ),
    "machine": (
        small_shop.LEAST | MACHINES | REGISTERS,
        {"machines": "machine,family\nM2,ss\n"},
        "select family, machine from jobs where job = 'J9'",
        ("ss", "M2"),
    ),
    "family": (
        least("jobs", "J9,DMD,refresh,,") | REGISTERS,
        {"families": "family,name\ndmd,Dot matrix\n"},
        "select family from jobs where job = 'J9'",
        ("dmd",),
    ),
    "job": (
        least("job_parts", "j9,lamp,5,"),
        {"jobs": "job,family,scope\nJ9,em,refresh\n"},
        "select job from job_parts where qty_pcs = 5",
        ("J9",),
    ),
    "vendor": (
        small_shop.LEAST | {"vendors": "vendor\nnorth\n", "offers": "vendor,part,pack_price\nsouth,lamp,2\n"},
        {"vendors": "vendor\nSouth\n"},
        "select vendor from offers",
        ("South",),
    ),
}


@pytest.mark.parametrize("what", LATER)
def test_what_is_listed_later_brings_its_rows_in(connection, tmp_path, what):
    files, later, question, row = LATER[what]
    laid(connection, tmp_path / "1", files)
    assert len(waits(connection)) == 1 and read.rows(connection, question) == []
    found = laid(connection, tmp_path / "2", later)
    assert read.rows(connection, question) == [row]
    assert waits(connection) == {} and said(found) == []
    assert [rest for _, *rest in found.earlier if any(rest)] == [[1, 0, 0]]


def test_a_chain_of_rows_comes_in_with_the_first_of_them(connection, tmp_path):
    files = least("jobs", "J9,dmd,refresh,,") | REGISTERS
    files = small_shop.with_rows(files, "job_parts", "J9,lamp,7,")
    laid(connection, tmp_path / "1", files | {"callbacks": "job,reported_on\nJ9,2025-06-01\n"})
    assert {name for name, *_ in waits(connection)} == {"jobs", "job_parts", "callbacks"}
    laid(connection, tmp_path / "2", {"families": "family,name\ndmd,Dot matrix\n"})
    assert waits(connection) == {}
    assert read.rows(connection, "select count(*) from job_parts inner join callbacks using (job)") == [(1,)]


def test_mends_of_a_row_that_came_in_are_told_where_it_stands(connection, tmp_path):
    laid(connection, tmp_path / "1", least("job_parts", "j1,Birne ,5,11/13/2025", "J1,none,4,", "J1,Birne,no,"))
    found = laid(connection, tmp_path / "2", {"aliases": "alias,part\nbirne,lamp\n"})
    assert said(found, "repaired") == [("job_parts.csv", 6, "part", "alias")]
    assert said(found) == [
        ("job_parts.csv", 7, "part", "unknown_part"),
        ("job_parts.csv", 8, "qty_pcs", "whole_number"),
    ]


def test_a_row_waits_on_as_typed_through_loads_of_other_files(connection, tmp_path):
    laid(connection, tmp_path / "1", least("job_parts", "j1, none ,5,11/13/2025"))
    typed = {
        ("job_parts", "job_parts.csv", 6): {"job": "j1", "part": " none ", "qty_pcs": "5", "used_on": "11/13/2025"}
    }
    for n in range(2, 5):
        found = laid(connection, tmp_path / str(n), {"counts": f"part,counted_on,qty_pcs\nlamp,2025-01-0{n},3\n"})
        assert waits(connection) == typed
        assert said(found) == [("job_parts.csv", 6, "part", "unknown_part")]
        assert [row for row in found.earlier if any(row[1:])] == [("job_parts", 0, 1, 0)]
        # Rows that wait are of no file of this load.
        assert found.counts()["file"].tolist() == ["counts.csv"]


def test_its_file_loaded_again_takes_the_place_of_what_waited(connection, tmp_path):
    laid(connection, tmp_path / "1", least("job_parts", "J1,none,5,", "J1,lamp,x,"))
    found = laid(connection, tmp_path / "2", {"job_parts": "job,part,qty_pcs\nJ1,nix,6\n"})
    assert waits(connection) == {("job_parts", "job_parts.csv", 2): {"job": "J1", "part": "nix", "qty_pcs": "6"}}
    assert not any(any(rest) for _, *rest in found.earlier)
    assert read.rows(connection, "select count(*) from set_aside_rows where load_no = 1") == [(2,)]


def test_a_row_whose_cells_cannot_be_told_apart_waits_with_its_reason(connection, tmp_path):
    laid(
        connection,
        tmp_path / "1",
        least("job_parts", "J1,lamp,1,5,2025-01-10", "J1,later,1,5,2025-01-10", "J1,later,2,"),
    )
    before = waits(connection)
    for n in (2, 3):
        found = laid(connection, tmp_path / str(n), {"parts": f"part,description\nlater,L{n}\n"})
        assert said(found) == [("job_parts.csv", 6, "", "more_cells"), ("job_parts.csv", 7, "", "more_cells")]
        words = {
            entry.suggestion for part in found.entries for entry in part.itertuples() if entry.rule == "more_cells"
        }
        assert {text.split(";")[0] for text in words} == {"this row has 5 cells, the header 4"}
    assert waits(connection) == {key: cells for key, cells in before.items() if key[2] < 8}
    assert read.rows(connection, "select qty_pcs from job_parts where part = 'later'") == [(2,)]


def test_doubles_go_on_waiting_and_never_join_their_equal(connection, tmp_path):
    laid(connection, tmp_path / "1", least("job_parts", "J1,SLEEVE,2,2025-01-10", "J1,sleeve,2.0,2025-01-10"))
    for n in (2, 3):
        found = laid(connection, tmp_path / str(n), {"counts": f"part,counted_on,qty_pcs\nlamp,2025-01-0{n},3\n"})
        assert said(found) == [("job_parts.csv", 6, "", "double"), ("job_parts.csv", 7, "", "double")]
        assert read.rows(connection, "select sum(qty_pcs) from job_parts where job = 'J1'") == [(2,)]


def test_a_row_with_a_key_that_is_taken_goes_on_waiting_and_never_updates_the_row_that_is_in(connection, tmp_path):
    laid(connection, tmp_path / "1", least("parts", "LAMP,Other lamp", "bulb,") | {"aliases": "alias,part\nx,lamp\n"})
    for n in (2, 3):
        found = laid(connection, tmp_path / str(n), {"counts": f"part,counted_on,qty_pcs\nlamp,2025-01-0{n},3\n"})
        assert said(found) == [("parts.csv", 5, "part", "same_key"), ("parts.csv", 6, "description", "required")]
        assert read.rows(connection, "select description from parts where part = 'lamp'") == [("Lamp",)]


def test_a_double_comes_in_where_its_equal_was_itself_set_aside(connection, tmp_path):
    """Which of two equal rows is in does not matter; that one of them is, does."""
    laid(connection, tmp_path / "1", least("job_parts", "J1,sleeve,2,2025-01-10"))
    laid(connection, tmp_path / "2", {"families": "family,name\nss,SS\n"})
    assert sum(cells["job"] == "J1" for (name, *_), cells in waits(connection).items() if name == "job_parts") == 2
    laid(connection, tmp_path / "3", {"families": "family,name\nem,EM\n"})
    assert read.rows(connection, "select sum(qty_pcs) from job_parts where job = 'J1'") == [(2,)]
    assert [name for name, *_ in waits(connection)] == ["job_parts"]


def test_a_number_in_doubt_beside_others_of_its_file_stays_in_doubt_without_them(connection, tmp_path):
    files = small_shop.LEAST | {
        "job_costs": 'job,kind,amount,paid_on\nJ1,tax,"12,50",\nJ1,other,1.500,\nJ1,freight,3,03/04/2025\n'
    }
    laid(connection, tmp_path / "1", files)
    for n in (2, 3):
        found = laid(connection, tmp_path / str(n), {"counts": f"part,counted_on,qty_pcs\nlamp,2025-01-0{n},3\n"})
        assert said(found) == [
            ("job_costs.csv", 3, "amount", "two_readings"),
            ("job_costs.csv", 4, "paid_on", "two_readings"),
        ]
    assert read.rows(connection, "select kind from job_costs") == [("tax",)]


def test_a_row_that_names_another_currency_in_a_column_of_its_own_goes_on_waiting(connection, tmp_path):
    files = small_shop.LEAST | {"job_costs": "job,kind,amount,Currency\nJ1,tax,2,CHF\nJ1,other,3,usd\n"}
    laid(connection, tmp_path / "1", files)
    found = laid(connection, tmp_path / "2", {"counts": "part,counted_on,qty_pcs\n"})
    assert said(found) == [("job_costs.csv", 2, "currency", "other_currency")]
    laid(connection, tmp_path / "3", {"shop": "key,value\ncurrency,CHF\n"})
    assert waits(connection) == {} and read.rows(connection, "select extra from job_costs where kind = 'tax'") == [
        ('{"currency": "CHF"}',)
    ]


def test_identifiers_respelled_by_a_later_register_double_no_row(connection, tmp_path):
    files = small_shop.LEAST | {"job_parts": "job,part,qty_pcs,assembly\nJ1,lamp,1,FLIPPER\nJ1,lamp,1,bumper\n"}
    laid(connection, tmp_path / "1", files)
    laid(connection, tmp_path / "2", {"assemblies": "assembly,name\nFlipper,Flipper\n"})
    assert read.rows(connection, "select assembly from job_parts order by 1") == [("Flipper",), ("bumper",)]
    laid(connection, tmp_path / "3", files)
    assert read.rows(connection, "select assembly from job_parts order by 1") == [("Flipper",), ("bumper",)]
    assert waits(connection) == {}


def test_rows_that_a_later_register_makes_one_leave_one_waiting_as_a_double(connection, tmp_path):
    files = small_shop.LEAST | {"job_parts": "job,part,qty_pcs,assembly\nJ1,lamp,1,FLIPPER\nJ1,lamp,1,flipper\n"}
    laid(connection, tmp_path / "1", files)
    assert read.rows(connection, "select count(*) from job_parts") == [(2,)]
    found = laid(connection, tmp_path / "2", {"assemblies": "assembly,name\nFlipper,Flipper\n"})
    assert read.rows(connection, "select assembly from job_parts") == [("Flipper",)]
    ((name, file, line),) = waits(connection)
    assert (name, file) == ("job_parts", "job_parts (in the store)") and line < 0
    assert said(found) == [(file, line, "", "double")]


@pytest.mark.parametrize(
    "later", [{"families": "family,name\nem,E\n"}, small_shop.LEAST | {"families": "family,name\nem,E\n"}]
)
def test_rows_that_once_were_in_and_vanished_from_their_file_are_not_lost_when_it_comes_again(
    connection, tmp_path, later
):
    laid(connection, tmp_path / "1", least("job_parts", "J1,lamp,9,2024-12-31"))
    laid(connection, tmp_path / "2", small_shop.LEAST | {"families": "family,name\nss,S\n"})  # it lacks the last taking
    assert [
        cells["qty_pcs"] for (name, file, _), cells in waits(connection).items() if file.endswith("(in the store)")
    ] == ["9"]
    laid(connection, tmp_path / "3", small_shop.LEAST)  # nor does this one bear it
    assert [
        cells["qty_pcs"] for (_, file, _), cells in waits(connection).items() if file.endswith("(in the store)")
    ] == ["9"]
    laid(connection, tmp_path / "4", later)
    assert read.rows(connection, "select qty_pcs, recorded_in from job_parts where used_on < '2025-01-01'") == [
        (9, "folder")
    ]
    assert waits(connection) == {}
