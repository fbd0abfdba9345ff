"""Corrections kept beside the files: applied where they fit, told where they do not, never lost."""

import json

import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import corrections, read
from pipeline.store import connect
from pipeline.store import read as store_read
from tests.support import small_shop
from tests.support.small_shop import laid, said, waits

HEADER = "file,key,line,column,expected_value,new_value,reason\n"


def applied(folder, *rows, files=small_shop.WHOLE, header=HEADER):
    """Apply corrections to the files; return the tables, and outcome, file, line, column, value and words told."""
    given = read.read(small_shop.write(folder, files | {"corrections": header + "".join(f"{row}\n" for row in rows)}))
    told = [
        (e.outcome, e.file, int(e.line), e.column, e.value, e.suggestion)
        for part in corrections.apply(given.tables, given.corrections)
        for e in part.itertuples()
    ]
    return given.tables, told


def cell(tables, name, line, column):
    frame = tables[name].frame
    return frame.loc[frame["file_line"] == line, column].item()


FITS = {
    "by line": ("job_parts,,5,qty_pcs,12,21,slip of the pen", "job_parts", 5, "qty_pcs", "12", "21"),
    "by key": ("jobs,j2,,Scope,thorough,refresh,", "jobs", 3, "scope", "thorough", "refresh"),
    "by a key of two columns": (
        'order_lines.csv,"p1, SLEEVE",,unit_price,0.4567,0.5,',
        "order_lines",
        2,
        "unit_price",
        "0.4567",
        "0.5",
    ),
    "by the first column of rows without a key": ("COUNTS,lamp,,qty_pcs,0,3,", "counts", 3, "qty_pcs", "0", "3"),
    "to empty": ("jobs,J1,,delivered_on,2025-01-20,,", "jobs", 2, "delivered_on", "2025-01-20", ""),
    "from empty": ("jobs,J3,,delivered_on,,2025-05-05,", "jobs", 4, "delivered_on", "", "2025-05-05"),
    "the one row of several that says so": (
        "job_parts,J2,,part,sleeve,lamp,",
        "job_parts",
        4,
        "part",
        "sleeve",
        "lamp",
    ),
    "line before key": ("jobs,nobody,2,scope,fix_only,refresh,", "jobs", 2, "scope", "fix_only", "refresh"),
}


@pytest.mark.parametrize("how", FITS)
def test_a_correction_that_fits_is_applied_and_listed(tmp_path, how):
    row, name, line, column, before, after = FITS[how]
    plain = read.read(small_shop.write(tmp_path / "plain", small_shop.WHOLE)).tables
    tables, told = applied(tmp_path / "shop", row)
    why = " (slip of the pen)" if how == "by line" else ""
    assert told == [("repaired", f"{name}.csv", line, column, before, f"corrected to {after or 'empty'}{why}")]
    assert cell(tables, name, line, column) == after
    frame = tables[name].frame.copy()
    frame.loc[frame["file_line"] == line, column] = before
    assert frame.equals(plain[name].frame)  # nothing else was changed
    assert tables[name].as_typed.equals(plain[name].frame)


FITS_NOT = {
    "a value that no longer stands": (
        "jobs,J1,,scope,refresh,thorough,",
        "expected 'refresh', found 'fix_only': not applied; remove or mend this correction",
    ),
    "a value that stands in another row": (
        "job_parts,J1,,part,lamp,fli-coil,",
        "expected 'lamp', found 'sleeve': not applied; remove or mend this correction",
    ),
    "several values, none expected": (
        "job_parts,J2,,part,x,y,",
        "expected 'x', found 'fli-coil' or 'sleeve': not applied; remove or mend this correction",
    ),
    "a row that says so already": (
        "jobs,J1,,scope,wild,fix_only,",
        "it says so already: not applied; remove or mend this correction",
    ),
    "several rows": ("job_parts,J2,,qty_pcs,3,4,", "fits lines 3, 4 of job_parts.csv; give the line. Not applied"),
    "an unknown file": ("invoices,J1,,scope,a,b,", "invoices is not among what was loaded; not applied"),
    "an unknown column": ("jobs,J1,,colour,a,b,", "jobs.csv has no column colour; not applied"),
    "an unknown line": ("jobs,,99,scope,a,b,", "jobs.csv has no row on line 99; not applied"),
    "an unknown key": ("jobs,J9,,scope,a,b,", "jobs.csv has no row with job 'J9'; not applied"),
    "an unknown key of two columns": (
        "order_lines,P1,,unit_price,a,b,",
        "order_lines.csv has no row with order_no, part 'P1'; not applied",
    ),
    "no row at all": ("jobs,,,scope,a,b,", "names neither a key nor a line; not applied"),
}


@pytest.mark.parametrize("why", FITS_NOT)
def test_a_correction_that_does_not_fit_is_told_and_changes_nothing(tmp_path, why):
    row, words = FITS_NOT[why]
    plain = read.read(small_shop.write(tmp_path / "plain", small_shop.WHOLE)).tables
    tables, told = applied(tmp_path / "shop", row)
    cells = row.replace('"', "").split(",")
    assert told == [("noted", "corrections.csv", 2, cells[3], cells[4], words)]
    assert all(tables[name].frame.equals(plain[name].frame) for name in plain)
    assert all(table.typed is None for table in tables.values())


def test_corrections_are_applied_in_order_one_upon_the_other(tmp_path):
    tables, told = applied(
        tmp_path,
        "jobs,J1,,scope,fix_only,refresh,",
        "jobs,J1,,scope,refresh,thorough,",
        "jobs,J1,,scope,fix_only,refresh,",
    )
    assert [outcome for outcome, *_ in told] == ["repaired", "repaired", "noted"]
    assert cell(tables, "jobs", 2, "scope") == "thorough"


@pytest.mark.parametrize(
    ("header", "absent"),
    [
        ("file,key,column,new_value\n", "expected_value"),
        ("key,column,expected_value,new_value\n", "file"),
        ("file,column,expected_value,new_value\n", "key or line"),
        ("file,line,expected_value\n", "column, new_value"),
    ],
)
def test_a_missing_column_is_named_and_nothing_is_loaded(tmp_path, header, absent):
    with pytest.raises(RecordsError) as error:
        applied(tmp_path, header=header)
    assert f"corrections.csv: the header lacks {absent}; found {header.strip().replace(',', ', ')}." in str(error.value)
    assert "Wanted file, key, line, column, expected_value, new_value, reason. Nothing was loaded." in str(error.value)


def test_either_key_or_line_is_enough_and_columns_may_stand_in_any_order(tmp_path):
    tables, told = applied(
        tmp_path, "refresh,fix_only,scope,2,jobs", header="New_Value,expected_value, COLUMN ,line,file\n"
    )
    assert told[0][0] == "repaired" and cell(tables, "jobs", 2, "scope") == "refresh"


@pytest.fixture
def connection():
    """An empty store in memory."""
    with connect.open_memory() as opened:
        yield opened


def with_corrections(files, *rows):
    return files | {"corrections": HEADER + "".join(f"{row}\n" for row in rows)}


def test_a_row_set_aside_in_spite_of_its_correction_is_kept_as_typed(connection, tmp_path):
    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "j1,none, two ,2025-01-11")
    found = laid(connection, tmp_path, with_corrections(files, "job_parts,,6,qty_pcs,two,2,"))
    assert waits(connection) == {
        ("job_parts", "job_parts.csv", 6): {"job": "j1", "part": "none", "qty_pcs": " two ", "used_on": "2025-01-11"}
    }
    ((mended,),) = store_read.rows(connection, "select mended from set_aside_rows")
    assert json.loads(mended) == {"job": "J1", "part": "none", "qty_pcs": "2", "used_on": "2025-01-11"}
    assert said(found) == [("job_parts.csv", 6, "part", "unknown_part")]


def test_a_corrected_row_comes_in_corrected_when_its_part_is_listed(connection, tmp_path):
    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,new,two,2025-01-11")
    laid(connection, tmp_path / "1", with_corrections(files, "job_parts,,6,qty_pcs,two,2,"))
    laid(connection, tmp_path / "2", {"parts": "part,description\nnew,New\n"})
    assert store_read.rows(connection, "select qty_pcs from job_parts where part = 'new'") == [(2,)]
    laid(connection, tmp_path / "1")
    assert store_read.rows(connection, "select qty_pcs from job_parts where part = 'new'") == [(2,)]


def test_the_same_corrections_with_the_same_files_change_nothing_more(tmp_path):
    files = with_corrections(small_shop.LEAST, "parts,lamp,,description,Lamp,Bulb,", "parts,lamp,,description,No,Yes,")
    store, first = small_shop.load(tmp_path / "shop", files)
    assert small_shop.rows(store, "select description from parts where part = 'lamp'") == [("Bulb",)]
    before = small_shop.records(store)
    changed = files | {"jobs": files["jobs"] + "\n"}
    _, again = small_shop.load(tmp_path / "shop", changed)
    assert small_shop.records(store) == before
    assert [e["rule"] for e in small_shop.entries(again, "noted", file="corrections.csv")] == ["correction_not_applied"]
    assert (
        "corrections.csv line 3: 'No' (description): expected 'No', found 'Bulb': not applied; remove or mend this "
        "correction."
    ) in first.lines()
