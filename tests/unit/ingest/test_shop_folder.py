"""Loading and checking a folder: once, again, in pieces, beside the notebook."""

import itertools

import pandas as pd
import pytest

from pipeline.ingest import bench, shop_folder
from pipeline.store import connect, read
from tests.support import small_shop, workbooks


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The whole small folder, loaded: folder, store and summary."""
    folder = small_shop.write(tmp_path_factory.mktemp("whole") / "shop", small_shop.WHOLE)
    return folder, *small_shop.load(folder)


def test_every_row_of_every_file_is_in(whole):
    folder, store, summary = whole
    counts = {path.name: small_shop.data_rows(path) for path in folder.glob("*.csv")}
    assert dict(zip(summary.files["file"], summary.files["rows_in"], strict=True)) == counts
    assert (summary.files["rows_in"] == summary.files["rows_loaded"]).all() and not summary.files[
        "rows_set_aside"
    ].any()
    held = small_shop.records(store)
    assert {f"{name}.csv": len(rows) for name, rows in held.items()} == counts
    assert small_shop.rows(store, "select file, rows_in from load_files order by file") == sorted(counts.items())


def test_the_list_is_written_and_its_place_is_said(whole):
    folder, _, summary = whole
    listed = folder.with_name("shop-out") / "tables" / "records.csv"
    assert summary.notes == [f"Every row set aside, repair and remark is listed in {listed}."]
    found = pd.read_csv(listed)
    assert list(found.columns) == ["file", "line", "column", "value", "rule", "suggestion", "outcome"]
    assert len(found) == len(summary.records)


def test_the_log_holds_the_list_too(whole):
    _, store, summary = whole
    with connect.open_read(store) as connection:
        kept = read.query(connection, "select * exclude (load_no) from records")
    assert sorted(map(repr, kept.astype(object).where(kept.notna(), None).values.tolist())) == sorted(
        map(repr, summary.records.astype(object).where(summary.records.notna(), None).values.tolist()))


def test_loading_again_changes_no_row_of_any_table_and_says_so(tmp_path):
    store, first = small_shop.load(tmp_path / "shop", small_shop.with_rows(small_shop.WHOLE, "counts", "lamp,x,1"))
    before = small_shop.contents(store)
    _, second = small_shop.load(tmp_path / "shop")
    assert small_shop.contents(store) == before
    assert second.is_unchanged and not first.is_unchanged and "nothing changed" in "\n".join(second.lines())
    assert small_shop.set_aside(second) == small_shop.set_aside(first) != []
    assert second.files.values.tolist() == first.files.values.tolist()


def test_a_change_and_back_again_gives_the_first_rows(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    before = small_shop.records(store)
    small_shop.load(tmp_path / "shop", {"parts": small_shop.WHOLE["parts"].replace("Lamp", "Bulb")})
    assert small_shop.rows(store, "select description from parts where part = 'lamp'") == [("Bulb",)]
    small_shop.load(tmp_path / "shop", {"parts": small_shop.WHOLE["parts"]})
    assert small_shop.records(store) == before
    assert small_shop.rows(store, "select count(*) from loads") == [(3,)]


def test_any_order_of_pieces_gives_the_store_of_the_whole(tmp_path, whole):
    # What each piece refers to comes with it or before it; the rest may come in any order.
    base = {
        name: small_shop.WHOLE[name]
        for name in (*small_shop.LEAST, "families", "vendors", "assemblies", "orders", "shop")
    }
    names = [name for name in small_shop.WHOLE if name not in base]
    rest = [{name: small_shop.WHOLE[name] for name in names[k::4]} for k in range(4)]
    for n, order in enumerate((rest, rest[::-1])):
        store = small_shop.loaded_before(tmp_path / f"{n}", base)
        for k, piece in enumerate(order):
            small_shop.load(tmp_path / f"{n}-{k}", piece, store)
        assert small_shop.records(store) == small_shop.records(whole[1])


def test_a_file_in_two_halves_gives_the_store_of_the_whole(tmp_path):
    header, *rows = small_shop.LEAST["job_parts"].splitlines(keepends=True)
    store = small_shop.loaded_before(tmp_path / "whole", small_shop.LEAST)
    halves = tmp_path / "halves.duckdb"
    small_shop.load(tmp_path / "one", small_shop.LEAST | {"job_parts": header + "".join(rows[:2])}, halves)
    _, summary = small_shop.load(tmp_path / "two", {"job_parts": header + "".join(rows[1:])}, halves)
    assert small_shop.records(halves) == small_shop.records(store)
    assert summary.files.values.tolist() == [["job_parts.csv", 3, 3, 0, "job_parts"]]


def test_rows_that_vanished_are_kept_and_remarked_one_by_one(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    changed = {"job_parts": small_shop.WHOLE["job_parts"].replace("J3,lamp,12", "J3,lamp,10"),
               "parts": "part,description\nlamp,Lamp\nfli-coil,Flipper coil\nsleeve,Coil sleeve\nnew,New\n",
               "photos": "job,file\n", "wear": "wear_class,shape\nsleeve,2\n"}
    _, summary = small_shop.load(tmp_path / "shop", changed)
    remarks = {e["file"]: (e["value"], e["suggestion"]) for e in small_shop.entries(summary, "noted", rule="vanished")}
    assert {file: value for file, (value, _) in remarks.items()} == {
        "job_parts.csv": "job J3, part lamp, qty_pcs 12, used_on 2025-04-05",
        "photos.csv": "job J3, file pictures/j3-1.jpg, taken_on 2025-04-02",
        "wear.csv": "wear_class coil, median_plays_new 200000.0, shape 1.5"}
    assert remarks["job_parts.csv"][1] == (
        "loaded earlier, and not in this file, or set aside in it; kept as it was; a row changed in the file now counts"
        " beside its older self; --replace drops such rows")
    assert remarks["photos.csv"][1] == (
        "loaded earlier, and not in this file, or set aside in it; kept as it was; --replace drops such rows")
    assert small_shop.rows(store, "select qty_pcs from job_parts where job = 'J3' order by 1") == [(10,), (12,)]
    assert ("photos.csv: job J3, file pictures/j3-1.jpg, taken_on 2025-04-02: loaded earlier, and not in this file, or "
            "set aside in it; kept as it was; --replace drops such rows.") in summary.lines()


def test_a_file_that_is_not_in_the_folder_has_lost_no_row(tmp_path):
    small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    _, summary = small_shop.load(tmp_path / "piece", {"parts": small_shop.WHOLE["parts"]}, tmp_path / "shop.duckdb")
    assert small_shop.entries(summary, "noted", rule="vanished") == []


def test_a_row_set_aside_once_mended_is_in(tmp_path):
    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,new,1,2025-01-10")
    small_shop.load(tmp_path / "shop", files)
    store, summary = small_shop.load(tmp_path / "shop", small_shop.with_rows(files, "parts", "New,New part"))
    assert not small_shop.entries(summary)
    assert small_shop.rows(store, "select part from job_parts where part ilike 'new'") == [("New",)]
    assert small_shop.rows(store, "select load_no, file, line from set_aside_rows") == [(1, "job_parts.csv", 6)]
    assert "job_parts.csv: 5 of 5 rows loaded" in summary.lines()


def test_a_row_that_turned_bad_leaves_what_the_store_has(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.LEAST)
    small_shop.load(tmp_path / "shop", {"jobs": small_shop.LEAST["jobs"].replace("J1,em,fix_only", "J1,em,wild")})
    assert small_shop.rows(store, "select job, scope from jobs order by 1")[0] == ("J1", "fix_only")
    assert small_shop.rows(store, "select count(*) from job_parts") == [(4,)]


def test_what_the_notebook_recorded_outlives_every_load(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.LEAST)
    bench.record_use(store, "J3", "lamp", 2, "2025-04-06")
    bench.record_count(store, "lamp", 40, "2025-04-07")
    small_shop.load(tmp_path / "shop", small_shop.WHOLE | {"counts": "part,counted_on,qty_pcs\nlamp,2025-04-07,40\n"})
    small_shop.load(tmp_path / "shop", small_shop.with_rows(small_shop.LEAST, "parts", "new,New"))
    for table, count in (("job_parts", 1), ("counts", 1)):
        assert small_shop.rows(store, f"select count(*) from {table} where recorded_in = 'notebook'") == [(count,)]
    # The folder's row with the very same values is the same row.
    assert small_shop.rows(store, "select count(*) from counts") == [(1,)]


def test_extra_columns_stay_when_a_later_file_has_none(tmp_path):
    files = small_shop.LEAST | {"parts": "part,description,bin\nfli-coil,C,7\nsleeve,S,\nlamp,L,8\n"}
    store, _ = small_shop.load(tmp_path / "shop", files)
    small_shop.load(tmp_path / "shop", {"parts": small_shop.LEAST["parts"]})
    assert small_shop.rows(store, "select part, extra from parts order by 1") == [
        ("fli-coil", '{"bin": "7"}'), ("lamp", '{"bin": "8"}'), ("sleeve", None)]


def test_three_files_are_enough_and_registers_are_implied_and_remarked(tmp_path):
    store, summary = small_shop.load(tmp_path / "shop", small_shop.LEAST)
    assert small_shop.rows(store, "select family, name from families order by 1") == [("em", "em"), ("ss", "ss")]
    (remark,) = small_shop.entries(summary, "noted", rule="file_absent")
    assert (remark["file"], remark["value"]) == ("families.csv", "em, ss")
    assert set(summary.files["file"]) == {"parts.csv", "jobs.csv", "job_parts.csv"}


def test_check_writes_no_store_and_speaks_like_load(tmp_path, whole):
    folder, _, loaded = whole
    summary = shop_folder.check(folder, tmp_path / "out")
    assert list(tmp_path.iterdir()) == [tmp_path / "out"] and summary.exit_code == 0
    assert summary.files.values.tolist() == loaded.files.values.tolist()
    assert summary.records.values.tolist() == loaded.records.values.tolist()
    assert "parts.csv: 3 of 3 rows would load" in summary.lines()


def test_check_counts_the_stores_rows_as_known_and_leaves_it_alone(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.LEAST)
    before = store.read_bytes()
    more = small_shop.write(tmp_path / "more", {"job_parts": "job,part,qty_pcs\nJ1,lamp,2\nJ1,none,2\n"})
    summary = shop_folder.check(more, tmp_path / "out", store)
    assert summary.files.values.tolist() == [["job_parts.csv", 2, 1, 1, "job_parts"]] and summary.exit_code == 1
    assert store.read_bytes() == before
    assert shop_folder.check(small_shop.write(tmp_path / "all", small_shop.LEAST), tmp_path / "out",
                             tmp_path / "none.duckdb").exit_code == 0


def test_loads_are_numbered_and_name_their_folder(tmp_path):
    for n, text in enumerate(itertools.repeat(small_shop.LEAST["parts"], 3)):
        store, _ = small_shop.load(tmp_path / "shop", small_shop.LEAST | {"parts": text + "\n" * n})
    assert small_shop.rows(store, "select load_no, folder from loads order by 1") == [(n, "shop") for n in (1, 2, 3)]


def test_the_log_names_a_workbook_and_its_sheets(tmp_path):
    book = workbooks.from_folder(small_shop.write(tmp_path / "shop", small_shop.LEAST), tmp_path / "mine.xlsx")
    summary = shop_folder.load(book, tmp_path / "s.duckdb", tmp_path / "out")
    assert small_shop.rows(tmp_path / "s.duckdb", "select folder from loads") == [("mine.xlsx",)]
    assert small_shop.rows(tmp_path / "s.duckdb", "select file, holds from load_files order by 2") == [
        (f"mine.xlsx, sheet {name}", name) for name in ("job_parts", "jobs", "parts")]
    assert "mine.xlsx, sheet parts: 3 of 3 rows loaded" in summary.lines()


def test_rows_that_wait_are_told_with_the_workbook_to_mend_them_in(tmp_path):
    files = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,none,1,2025-01-10")
    _, first = small_shop.load(tmp_path / "shop", files)
    book = tmp_path / "shop-out" / "tables" / "set_aside_1.xlsx"
    assert first.notes[-1] == (f"1 row waits in {book}, the faults marked: mend them there and load that workbook, or "
                               "mend the files and load them again.")
    assert book.is_file()
    _, second = small_shop.load(tmp_path / "shop")
    assert second.notes == first.notes and list(book.parent.glob("*.xlsx")) == [book]
    _, third = small_shop.load(tmp_path / "shop", small_shop.with_rows(files, "job_parts", "J1,no,1,"))
    assert third.notes[-1].startswith(f"2 rows wait in {book.with_name('set_aside_2.xlsx')}, the faults marked")


def test_a_header_only_required_file_counts_as_loaded_for_the_next_piece(tmp_path):
    store, _ = small_shop.load(tmp_path / "one", small_shop.LEAST | {"job_parts": "job,part,qty_pcs\n"})
    small_shop.load(tmp_path / "two", {"counts": "part,counted_on,qty_pcs\nlamp,2025-01-01,3\n"}, store)
    assert small_shop.rows(store, "select qty_pcs from counts") == [(3,)]
