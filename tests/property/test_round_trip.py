"""Out as a shop folder and in again: the very same rows of every table, of small records, large ones and any."""

import csv
import io
import json
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from pipeline.ingest import bench, export
from pipeline.store import catalogue
from tests.support import small_shop
from tests.support.any_folder import ANY, FOLDERS, files_of

TRIPS = settings(max_examples=2, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
# Text that a file of commas and line ends could lose, or that could be taken for something else.
AWKWARD = ["=1+1", '=x|"y z"!A1', "@x", "+1", "-1", "two\nlines", "old\rMac", "two\r\nlines", 'a "quoted", word',
           '"', '""', ",", ";;;;;;;;", "a,b,c,d,e,f,g\nh,i,j,k,l,m,n", "tab\there", "'s", "#5", "NULL", "\\N", "\\",
           "a\u2028b", "né", "ﬁ", "１２", "0012", "1e5", "2025-02-30", "true", "x" * 5000, "in\x0b\x1fbetween"]
BLANKS = [" blanks around ", "\n line ends around \n", "\ttab", "\u00a0hard\u00a0"]


def there_and_back(store, made):
    """Export a store with customers into a new folder, load that into a new store: the new store and its summary."""
    export.export(store, made / "exported", True)
    return small_shop.load(made / "exported", shop_file=made / "again.duckdb")


def assert_same(store, again):
    """Every table alike: rows, row hashes, marks, columns beyond the contract."""
    before, after = small_shop.records(store), small_shop.records(again)
    assert before.keys() == catalogue.tables().keys() == after.keys()
    for name in before:
        assert before[name] == after[name], name


def as_csv(header, rows):
    made = io.StringIO()
    csv.writer(made, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows([header, *rows])
    return made.getvalue()


def test_one_row_or_more_of_every_file(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    assert all(small_shop.records(store).values())
    again, summary = there_and_back(store, tmp_path)
    assert not small_shop.entries(summary) and not small_shop.entries(summary, "repaired")
    assert_same(store, again)


def test_what_the_notebook_recorded_keeps_its_mark(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    for n in range(3):
        bench.record_use(store, "J1", "lamp", 1, "2025-01-15", assembly="two\nlines", reason="failed")
        bench.record_count(store, "lamp", n, f"2025-05-0{1 + n}", "B, 2")
    again, _ = there_and_back(store, tmp_path)
    assert_same(store, again)
    for name in ("job_parts", "counts"):
        assert small_shop.rows(again, f"select count(*) from {name} where recorded_in = 'notebook'") == [(3,)]


def test_awkward_text_in_columns_of_the_contract(tmp_path):
    named = [[f"p{n}", text] for n, text in enumerate(AWKWARD)]
    files = small_shop.WHOLE | {
        "parts": as_csv(["part", "description"], [["fli-coil", "F"], ["sleeve", "S"], ["lamp", "L"], *named]),
        "stock_moves": as_csv(["part", "moved_on", "qty_pcs", "kind", "note"],
                              [[part, "2025-01-01", "1", "found", text] for part, text in named]),
    }
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert not small_shop.entries(summary)
    assert sorted(text for (text,) in small_shop.rows(store, "select note from stock_moves")) == sorted(AWKWARD)
    again, _ = there_and_back(store, tmp_path)
    assert_same(store, again)


def test_awkward_text_in_awkward_columns_beyond_the_contract(tmp_path):
    texts, columns = [*AWKWARD, *BLANKS], ["own words", 'Own; "words", etc.', "two\nlines", "a/~b"]
    # Every text once in every column, another one in each column of a row.
    rows = [[texts[(n + k) % len(texts)] for k in range(len(columns))] for n in range(len(texts))]
    jobs = [[f"J{n}", "em", "fix_only", *row, str(n)] for n, row in enumerate(rows)]
    files = small_shop.LEAST | {"jobs": as_csv(["job", "family", "scope", *columns, "n"], jobs)}
    takings = [["J1", "lamp", "1", "2025-01-01", str(n), *row] for n, row in enumerate(rows)]
    files["job_parts"] = as_csv(["job", "part", "qty_pcs", "used_on", "line", *columns], takings)
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert not small_shop.entries(summary)
    for name in ("jobs", "job_parts"):
        extras = [json.loads(text) for (text,) in small_shop.rows(store, f"select extra from {name}")]
        kept = [[extra[column.lower()] for column in columns] for extra in extras]
        assert sorted(kept) == sorted(rows)
    again, _ = there_and_back(store, tmp_path)
    assert_same(store, again)


def test_amounts_and_hours_to_the_last_digit(tmp_path):
    amounts = ["0", "0.0001", "99999999999999.9999", "12.5", "1200", "1200.1", "0.1000", "7.0000"]
    hours = ["0.1", "0.30000000000000004", "1", "1e-7", "1e3", "5e-324", "9999.999999999998", "2.675", "123.456"]
    files = small_shop.LEAST | {
        "job_costs": as_csv(["job", "kind", "amount"], [["J1", "other", sign + text] for text in amounts
                                                        for sign in ("", "-") if sign + text != "-0"]),
        "job_hours": as_csv(["job", "hours", "line"], [["J1", text, str(n)] for n, text in enumerate(hours)]),
    }
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert not small_shop.entries(summary)
    again, _ = there_and_back(store, tmp_path)
    assert_same(store, again)
    assert small_shop.rows(again, "select hours from job_hours order by line") == [(float(text),) for text in hours]


def test_records_that_came_in_over_several_loads(tmp_path):
    """Columns of one's own that come and go, rows that vanished, a register that nobody wrote."""
    store, _ = small_shop.load(tmp_path / "one", small_shop.LEAST | {
        "parts": "part,description,colour\nfli-coil,Coil,red\nsleeve,Sleeve,\nlamp,Lamp,white\n"})
    small_shop.load(tmp_path / "two",
                    {"parts": "part,description,maker,colour\nsleeve,Sleeve,x,blue\nnut,Nut,y,\n"}, store)
    small_shop.load(tmp_path / "three", {"parts": "maker,part,description\nz,bolt,Bolt\n"}, store)
    again, _ = there_and_back(store, tmp_path)
    assert_same(store, again)
    assert small_shop.rows(again, "select count(*) from parts where extra is not null") == [(5,)]


def test_the_demo_shop(demo_shop, tmp_path):
    again, summary = there_and_back(demo_shop.store, tmp_path)
    assert not small_shop.entries(summary)
    assert_same(demo_shop.store, again)


def test_four_years_of_a_workshop_kept_as_people_keep_records(alder_lane, tmp_path):
    store = shutil.copy(alder_lane.store, tmp_path / "shop.duckdb")
    bench.record_use(store, "J0001", "coil-sleeve-long", 2, "2026-09-01")
    again, summary = there_and_back(store, tmp_path)
    assert not small_shop.entries(summary)
    assert_same(store, again)


NOTED = st.lists(st.tuples(st.integers(-3, 9).filter(bool), ANY), max_size=2)


@TRIPS
@given(FOLDERS, NOTED)
@example({"parts": [("ß", "w", "", "1.2345")], "jobs": [("a", "a", "fix_only", "", "", "")],
          "job_parts": [("a", "ß", "1", "", "1", "x\ry")], "aliases": [("SS", "ß")]}, [(1, "\n,,,,,,")])
def test_any_folder(folder, noted):
    _comes_back(folder, noted)


@pytest.mark.slow
@settings(TRIPS, max_examples=300)
@given(FOLDERS, NOTED)
def test_many_more_folders(folder, noted):
    _comes_back(folder, noted)


def _comes_back(folder, noted):
    """A sound job and part are put beside whatever the folder holds, for the notebook to record something of."""
    files = files_of(folder)
    files["parts"] += '"known part","words","",""\n'
    files["jobs"] += '"known job","em","fix_only","","",""\n'
    if "families" in files:
        files["families"] += '"em","words"\n'
    with tempfile.TemporaryDirectory() as made:
        store, _ = small_shop.load(Path(made) / "shop", files)
        for qty_pcs, assembly in noted:
            bench.record_use(store, "known job", "known part", qty_pcs, "2025-01-31", assembly)
        again, _ = there_and_back(store, Path(made))
        assert_same(store, again)
        marked = small_shop.rows(again, "select count(*) from job_parts where recorded_in = 'notebook'")
        assert marked == [(len(noted),)]
