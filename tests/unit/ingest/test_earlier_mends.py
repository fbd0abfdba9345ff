"""Rows mended in a workbook of rows set aside: mended once, met again as mended, in steps, let go."""

import pytest

from pipeline.store import connect, read
from tests.support import small_shop
from tests.support.small_shop import book, held, laid, mended, said, waits


@pytest.fixture
def connection():
    """An empty store in memory."""
    with connect.open_memory() as opened:
        yield opened


BAD = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,lamp,none,2025-01-10", "j2,lmap,3,30/02/2025")


def takings(connection, condition="true"):
    return read.rows(
        connection, f"select job, part, qty_pcs, used_on::varchar from job_parts where {condition} order by all"
    )


ALL_MENDED = [
    ("job_parts", 2, "qty_pcs", "2"),
    ("job_parts", 3, "part", "lamp"),
    ("job_parts", 3, "used_on", "2025-02-28"),
]


def test_mended_rows_are_in_none_is_left_and_the_folder_again_doubles_nothing(connection, tmp_path):
    laid(connection, tmp_path / "shop", BAD)
    found = laid(connection, mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "mended.xlsx", ALL_MENDED))
    assert waits(connection) == {} and said(found) == []
    assert found.counts().values.tolist() == [["mended.xlsx, sheet job_parts", 2, 2, 0, "job_parts"]]
    assert takings(connection, "part = 'lamp' and job <> 'J3'") == [
        ("J1", "lamp", 2, "2025-01-10"),
        ("J2", "lamp", 3, "2025-02-28"),
    ]
    before = held(connection)
    again = laid(connection, tmp_path / "shop", {"jobs": BAD["jobs"] + "\n"})
    assert held(connection) == before and waits(connection) == {} and said(again) == []
    assert again.counts().set_index("file").loc["job_parts.csv", ["rows_in", "rows_loaded"]].tolist() == [6, 6]
    assert [entry for entry in said(again, "repaired") if entry[3] == "mended_before"] == [
        ("job_parts.csv", 6, "qty_pcs", "mended_before"),
        ("job_parts.csv", 7, "part", "mended_before"),
        ("job_parts.csv", 7, "used_on", "mended_before"),
    ]
    words = [(e.value, e.suggestion) for part in again.entries for e in part.itertuples() if e.rule == "mended_before"]
    assert sorted(words) == [
        ("30/02/2025", "read as 2025-02-28, as you mended it"),
        ("lmap", "read as lamp, as you mended it"),
        ("none", "read as 2, as you mended it"),
    ]


def test_what_a_file_says_is_kept_as_typed_where_a_mended_row_is_set_aside_again(connection, tmp_path):
    laid(connection, tmp_path / "shop", BAD)
    first = [("job_parts", 2, "qty_pcs", "x")]  # no better than before
    laid(connection, mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "mended.xlsx", first))
    found = laid(connection, tmp_path / "shop", {"jobs": BAD["jobs"] + "\n"})
    assert waits(connection)["job_parts", "job_parts.csv", 6]["qty_pcs"] == "none"
    values = [e.value for part in found.entries for e in part.itertuples() if e.outcome == "set_aside" and e.line == 6]
    assert values == ["x"]


@pytest.mark.parametrize("is_same_book", [False, True], ids=["the next workbook", "the first workbook again"])
def test_a_row_mended_in_two_steps_is_in_and_stays_one_row(connection, tmp_path, is_same_book):
    laid(connection, tmp_path / "shop", BAD)
    first = book(connection, tmp_path / "1.xlsx")
    step = mended(first, tmp_path / "step.xlsx", [("job_parts", 3, "part", "lamp"), ("job_parts", 2, "qty_pcs", "2")])
    found = laid(connection, step)
    assert said(found) == [("step.xlsx, sheet job_parts", 3, "used_on", "date")]
    assert found.counts().values.tolist() == [["step.xlsx, sheet job_parts", 2, 1, 1, "job_parts"]]
    if is_same_book:
        last = mended(step, tmp_path / "last.xlsx", [("job_parts", 3, "used_on", "2025-02-28")])
    else:
        last = mended(
            book(connection, tmp_path / "2.xlsx"), tmp_path / "last.xlsx", [("job_parts", 2, "used_on", "2025-02-28")]
        )
    laid(connection, last)
    assert waits(connection) == {}
    before = held(connection)
    again = laid(connection, tmp_path / "shop", {"jobs": BAD["jobs"] + "\n"})
    assert held(connection) == before and said(again) == []
    assert takings(connection, "part = 'lamp' and job = 'J2'") == [("J2", "lamp", 3, "2025-02-28")]


def test_a_row_deleted_from_the_workbook_waits_no_longer_and_is_remarked(connection, tmp_path):
    laid(connection, tmp_path / "shop", BAD)
    changed = mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "mended.xlsx", without=[("job_parts", 3)])
    found = laid(connection, changed)
    assert [cells["qty_pcs"] for cells in waits(connection).values()] == ["none"]
    assert [entry for entry in said(found, "noted") if entry[3] == "let_go"] == [
        ("mended.xlsx, sheet job_parts", -1, "", "let_go")
    ]
    (words,) = {(e.value, e.suggestion) for part in found.entries for e in part.itertuples() if e.rule == "let_go"}
    assert words == ("1 row that waited", "deleted from this workbook, so it waits no longer")
    # The file still says so; deleting it there is up to its owner.
    laid(connection, tmp_path / "shop", {"jobs": BAD["jobs"] + "\n"})
    assert len(waits(connection)) == 2


def test_all_rows_of_a_sheet_may_be_deleted_and_those_of_others_wait_on(connection, tmp_path):
    laid(connection, tmp_path / "shop", small_shop.with_rows(BAD, "parts", "x,"))
    changed = mended(
        book(connection, tmp_path / "b.xlsx"), tmp_path / "mended.xlsx", without=[("job_parts", 2), ("job_parts", 3)]
    )
    laid(connection, changed)
    assert [name for name, *_ in waits(connection)] == ["parts"]


def test_one_of_two_equal_rows_deleted_is_one_row_let_go(connection, tmp_path):
    laid(
        connection,
        tmp_path / "shop",
        small_shop.with_rows(small_shop.LEAST, "job_parts", *["J1,sleeve,2,2025-01-10"] * 2),
    )
    for kept in (2, 3):
        with connect.open_memory() as other:
            laid(other, tmp_path / "shop")
            path = book(other, tmp_path / "b.xlsx")
            found = laid(other, mended(path, tmp_path / f"{kept}.xlsx", without=[("job_parts", kept)]))
            assert len(waits(other)) == 1 and "let_go" in {rule for *_, rule in said(found, "noted")}


def test_a_workbook_as_it_was_leaves_every_row_waiting_with_its_reasons(connection, tmp_path):
    files = BAD | {"job_costs": 'job,kind,amount,Currency\nJ1,tax,"12,50",\nJ1,other,1.500,\nJ1,tax,5,CHF\n'}
    laid(connection, tmp_path / "shop", files)
    before, store = list(waits(connection).values()), held(connection)
    faults = sorted(rest for _, _, *rest in said(laid(connection, tmp_path / "shop", {"jobs": BAD["jobs"] + "\n"})))
    found = laid(connection, book(connection, tmp_path / "b.xlsx"))
    without_blanks = [{c: cell for c, cell in cells.items() if cell} for cells in before]
    assert [{c: cell for c, cell in cells.items() if cell} for cells in waits(connection).values()] == without_blanks
    assert held(connection) == store and read.rows(connection, "select count(*) from mended_rows") == [(0,)]
    assert sorted(rest for _, _, *rest in said(found)) == faults


def test_a_number_in_doubt_is_not_taken_because_another_cell_of_its_row_was_mended(connection, tmp_path):
    laid(
        connection,
        tmp_path / "shop",
        small_shop.LEAST | {"job_costs": 'job,kind,amount,paid_on\nJ1,tax,"12,50",\nJ1,other,1.500,soon\n'},
    )
    first = mended(
        book(connection, tmp_path / "b.xlsx"), tmp_path / "1.xlsx", [("job_costs", 2, "paid_on", "2025-01-20")]
    )
    found = laid(connection, first)
    assert [rest for _, _, *rest in said(found)] == [["amount", "two_readings"]]
    laid(connection, mended(first, tmp_path / "2.xlsx", [("job_costs", 2, "amount", "1.5")]))
    assert read.rows(connection, "select amount::double from job_costs where kind = 'other'") == [(1.5,)]
    assert waits(connection) == {}


def test_a_mended_row_with_a_known_key_updates_it_and_an_unmended_one_does_not(connection, tmp_path):
    laid(connection, tmp_path / "shop", small_shop.with_rows(small_shop.LEAST, "parts", "LAMP,Bulb", "fli-coil,Coil B"))
    changed = mended(
        book(connection, tmp_path / "b.xlsx"), tmp_path / "m.xlsx", [("parts", 2, "description", "Small lamp")]
    )
    found = laid(connection, changed)
    assert said(found) == [("m.xlsx, sheet parts", 3, "part", "same_key")]
    assert read.rows(connection, "select part, description from parts order by part") == [
        ("fli-coil", "Flipper coil"),
        ("lamp", "Small lamp"),
        ("sleeve", "Coil sleeve"),
    ]


def test_a_row_that_once_was_in_the_store_is_mended_like_any_other(connection, tmp_path):
    laid(connection, tmp_path / "1", small_shop.LEAST)
    laid(connection, tmp_path / "2", {"families": "family,name\nss,S\n"})
    path = book(connection, tmp_path / "b.xlsx")
    laid(connection, mended(path, tmp_path / "m.xlsx", [("jobs", 2, "family", "ss")], without=[("jobs", 3)]))
    assert read.rows(connection, "select job, family from jobs order by job") in (
        [("J1", "ss"), ("J3", "ss")],
        [("J2", "ss"), ("J3", "ss")],
    )
    ((job,),) = read.rows(connection, "select job from jobs where job <> 'J3'")
    assert read.rows(connection, f"select count(*) from job_parts where job = '{job}'") == [(1 if job == "J1" else 2,)]
    # What still waits of the store waits on, whatever file is loaded next.
    left = {cells["job"] for cells in waits(connection).values()}
    laid(connection, tmp_path / "3", {"job_parts": "job,part,qty_pcs\nJ3,lamp,1\n"})
    assert {cells["job"] for cells in waits(connection).values()} == left == {"J1", "J2"} - {job}


def test_a_workbook_that_other_rows_were_set_aside_since_mends_its_own_and_the_others_wait_on(connection, tmp_path):
    laid(connection, tmp_path / "shop", BAD)
    old = mended(book(connection, tmp_path / "1.xlsx"), tmp_path / "old.xlsx", ALL_MENDED)
    laid(connection, tmp_path / "shop", {"job_parts": BAD["job_parts"] + "J3,nix,1,\n"})
    found = laid(connection, old)
    assert list(waits(connection)) == [("job_parts", "job_parts.csv", 8)]
    assert said(found) == [("job_parts.csv", 8, "part", "unknown_part")] and said(found, "noted") == []
    assert found.counts().values.tolist() == [["old.xlsx, sheet job_parts", 2, 2, 0, "job_parts"]]
    assert takings(connection, "part = 'lamp' and job <> 'J3'") == [
        ("J1", "lamp", 2, "2025-01-10"),
        ("J2", "lamp", 3, "2025-02-28"),
    ]


def test_a_workbook_is_still_good_where_only_rows_of_other_tables_were_set_aside_since(connection, tmp_path):
    laid(connection, tmp_path / "shop", BAD)
    old = mended(book(connection, tmp_path / "1.xlsx"), tmp_path / "old.xlsx", ALL_MENDED)
    laid(connection, tmp_path / "counts", {"counts": "part,counted_on,qty_pcs\nnix,2025-01-01,3\n"})
    laid(connection, old)
    assert [name for name, *_ in waits(connection)] == ["counts"]


def test_the_rows_of_a_file_that_moved_are_not_taken_for_those_of_the_workbook(connection, tmp_path):
    """The lines of a file change when rows are put in above; what is mended is the row, not the line."""
    laid(connection, tmp_path / "shop", BAD)
    old = mended(book(connection, tmp_path / "1.xlsx"), tmp_path / "old.xlsx", ALL_MENDED)
    header, *rows = BAD["job_parts"].splitlines(keepends=True)
    laid(connection, tmp_path / "shop", {"job_parts": header + "".join(reversed(rows))})
    laid(connection, old)
    assert waits(connection) == {}
    assert takings(connection, "part = 'lamp' and job <> 'J3'") == [
        ("J1", "lamp", 2, "2025-01-10"),
        ("J2", "lamp", 3, "2025-02-28"),
    ]
    before = held(connection)
    laid(connection, tmp_path / "shop", {"jobs": BAD["jobs"] + "\n"})
    assert held(connection) == before and waits(connection) == {}


def test_a_mend_holds_for_the_same_row_typed_with_other_blanks_alone(connection, tmp_path):
    laid(connection, tmp_path / "shop", BAD)
    laid(connection, mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "m.xlsx", ALL_MENDED))
    header = "job,part,qty_pcs,used_on\n"
    laid(connection, tmp_path / "shop", {"job_parts": header + " J1 ,lamp, none,2025-01-10\nJ1,lamp,nine,2025-01-10\n"})
    assert [cells["qty_pcs"] for cells in waits(connection).values()] == ["nine"]


def test_a_row_of_the_store_with_a_cell_that_cannot_be_told_waits_on_with_its_reason(connection, tmp_path):
    laid(connection, tmp_path / "1", small_shop.LEAST)
    laid(connection, tmp_path / "2", {"families": "family,name\nss,S\n"})
    formula = mended(book(connection, tmp_path / "b.xlsx"), tmp_path / "m.xlsx",
                     [("jobs", 2, "family", "=A1"), ("job_parts", 2, "part", "Birne")])
    laid(connection, formula)
    ((job,),) = [(cells["job"],) for (name, *_), cells in waits(connection).items() if cells.get("family") == "=A1"]
    for n, later in enumerate(({"families": "family,name\nem,E\n"}, {"jobs": "job,family,scope\nJ8,em,refresh\n"})):
        found = laid(connection, tmp_path / f"later {n}", later)
        faults = [rest for file, _, *rest in said(found) if file == "jobs (in the store)"]
        assert len(faults) == 1 and faults[0][0] == "family"
        assert read.rows(connection, f"select count(*) from jobs where job = '{job}'") == [(0,)]
    laid(connection, tmp_path / "alias", {"aliases": "alias,part\nbirne,lamp\n"})
    left = {name: cells for (name, *_), cells in waits(connection).items()}
    assert left["jobs"]["job"] == job and "Birne" not in left.get("job_parts", {}).values()
