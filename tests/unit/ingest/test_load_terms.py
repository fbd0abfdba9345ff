"""How a load deals with doubt: strict, and standing for the whole store."""

import openpyxl
import pandas as pd
import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import bench, shop_folder
from pipeline.ingest.shop_folder import Terms
from pipeline.store import connect
from tests.support import small_shop
from tests.support.small_shop import held, laid, said, waits

STRICT, REPLACING = Terms(is_strict=True), Terms(is_replacing=True)
BAD = small_shop.with_rows(small_shop.WHOLE, "job_parts", "J1,none,1,2025-01-10", "J1,lamp,x,")


def load(folder, files, terms, shop_file=None):
    small_shop.write(folder, files)
    shop_file = shop_file or folder.with_suffix(".duckdb")
    return shop_file, shop_folder.load(folder, shop_file, folder.with_name(f"{folder.name}-out"), terms)


def test_a_strict_load_with_a_fault_makes_no_store_and_lists_the_faults(tmp_path):
    store, summary = load(tmp_path / "shop", BAD, STRICT)
    assert not list(tmp_path.glob("*.duckdb*")) and summary.exit_code == 1 and summary.is_refused
    lines = summary.lines()
    assert "job_parts.csv: 4 of 6 rows would load, 2 set aside" in lines
    assert [line for line in lines if line.startswith("Nothing was loaded: 2 rows would be set aside")]
    assert not [line for line in lines if "waits in" in line or "rows wait" in line]
    listed = pd.read_csv(tmp_path / "shop-out" / "tables" / "records.csv")
    assert listed.loc[listed["outcome"] == "set_aside", "line"].tolist() == [6, 7]
    assert [path.name for path in (tmp_path / "shop-out" / "tables").iterdir()] == ["records.csv"]


def test_a_strict_load_with_a_fault_leaves_a_store_byte_for_byte_as_it_was(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    before = store.read_bytes()
    _, summary = load(tmp_path / "shop", BAD, STRICT)
    assert summary.is_refused and store.read_bytes() == before and not list(tmp_path.glob("*.wal"))


def test_a_strict_load_without_a_fault_loads_as_any_other(tmp_path):
    store, summary = load(tmp_path / "strict", small_shop.WHOLE, STRICT)
    assert summary.exit_code == 0 and not summary.is_refused
    plain = small_shop.loaded_before(tmp_path / "plain", small_shop.WHOLE)
    assert small_shop.records(store) == small_shop.records(plain)
    _, again = load(tmp_path / "strict", {}, STRICT)
    assert again.exit_code == 0 and again.is_unchanged


def test_a_strict_load_of_what_was_loaded_before_with_faults_is_refused_too(tmp_path):
    small_shop.loaded_before(tmp_path / "shop", BAD)
    _, summary = load(tmp_path / "shop", {}, STRICT)
    assert summary.is_refused and summary.exit_code == 1


def test_a_strict_load_minds_rows_of_the_store_that_would_no_longer_hold_but_not_those_that_wait(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", BAD)
    _, summary = load(tmp_path / "more", {"counts": "part,counted_on,qty_pcs\nlamp,2025-06-01,9\n"}, STRICT, store)
    assert not summary.is_refused
    implied = small_shop.loaded_before(tmp_path / "implied", small_shop.LEAST)
    _, summary = load(tmp_path / "families", {"families": "family,name\nss,S\n"}, STRICT, implied)
    assert summary.is_refused and summary.newly_set_aside == 5
    assert small_shop.rows(implied, "select count(*) from jobs") == [(3,)]


def test_a_replacing_load_makes_the_store_equal_the_folder(tmp_path):
    store, _ = load(tmp_path / "shop", BAD | {"shop": "key,value\ncurrency,CHF\nbays,7\n"}, Terms())
    files = small_shop.LEAST | {
        "aliases": "alias,part\nx,lamp\n",
        "job_costs": "job,kind,amount\nJ1,tax,$3\nJ2,tax,CHF 3\n",
    }
    _, summary = load(tmp_path / "new", files, REPLACING, store)
    fresh, other = load(tmp_path / "fresh", files, Terms())
    assert small_shop.records(store) == small_shop.records(fresh)
    assert (
        small_shop.set_aside(summary)
        == small_shop.set_aside(other)
        == [("job_costs.csv", 3, "amount", "other_currency")]
    )
    assert small_shop.rows(store, "select holds, line from set_aside_rows where load_no = 2") == [("job_costs", 3)]


def test_the_newest_folder_replaces_what_was_loaded_before_it(tmp_path):
    store, _ = load(tmp_path / "one", small_shop.LEAST | {"aliases": "alias,part\nx,lamp\n"}, Terms())
    load(tmp_path / "two", small_shop.LEAST, Terms(), store)
    assert small_shop.rows(store, "select count(*) from aliases") == [(1,)]
    _, summary = load(tmp_path / "two", {}, REPLACING, store)
    assert small_shop.rows(store, "select count(*) from aliases") == [(0,)] and not summary.is_unchanged
    assert [e["value"] for e in small_shop.entries(summary, "noted", rule="dropped")] == ["alias x, part lamp"]


def test_each_dropped_row_is_listed_whole(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    files = small_shop.LEAST | {
        "parts": "part,description\nfli-coil,Flipper coil\nsleeve,Coil sleeve\n",
        "jobs": small_shop.LEAST["jobs"].replace("J1,em,fix_only", "J1,em,wild"),
    }
    before = small_shop.records(store)
    _, summary = load(tmp_path / "new", files, REPLACING, store)
    dropped = small_shop.entries(summary, "noted", rule="dropped")
    after = small_shop.records(store)
    gone = sum(len(before[name]) for name in before if name not in ("parts", "jobs", "job_parts", "families"))
    assert len(dropped) == gone + len({"lamp"}) + len({"J1"}) + 2  # its taking, and that of the lamp
    assert {len(after[name]) for name in after if name not in files} == {0, 2}  # families are implied
    words = {(e["file"], e["value"]) for e in dropped}
    assert {
        ("parts.csv", "part lamp, description Lamp"),
        ("wear", "wear_class coil, median_plays_new 200000.0, shape 1.5"),
        ("jobs.csv", "job J1, family em, scope fix_only, booked_on 2025-01-02, delivered_on 2025-01-20"),
        ("offers", "vendor north, part sleeve, pack_pcs 10, pack_price 3.5000, from_packs 5, quoted_on 2025-03-01"),
        ("job_parts", "job J1, part sleeve, qty_pcs 2, used_on 2025-01-10"),
    } <= words
    assert {e["suggestion"] for e in dropped} == {"not in what was handed over: no longer in the store"}
    assert any(
        line.startswith("offers: vendor north, part sleeve") and "more remarks `dropped`" in line
        for line in summary.lines()
    )


def test_what_the_notebook_recorded_stays_with_all_it_needs_and_that_is_said(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    bench.record_use(store, "J3", "lamp", 5, "2025-04-06")
    bench.record_count(store, "fli-coil", 7, "2025-04-07")
    files = {
        "parts": "part,description\nsleeve,Other sleeve\n",
        "jobs": "job,family,scope\nN1,new,refresh\n",
        "job_parts": "job,part,qty_pcs\nN1,sleeve,1\n",
    }
    _, summary = load(tmp_path / "new", files, REPLACING, store)
    assert small_shop.rows(store, "select job, part, recorded_in from job_parts order by 1") == [
        ("J3", "lamp", "notebook"),
        ("N1", "sleeve", "folder"),
    ]
    assert small_shop.rows(store, "select part, recorded_in from counts") == [("fli-coil", "notebook")]
    assert small_shop.rows(store, "select family from families order by 1") == [("new",), ("ss",)]
    assert small_shop.rows(store, "select part from parts order by 1") == [("fli-coil",), ("lamp",), ("sleeve",)]
    kept = {(e["file"], e["value"]) for e in small_shop.entries(summary, "noted", rule="kept")}
    assert kept == {
        ("jobs.csv", "job J3, family ss, scope refresh, booked_on 2025-04-01"),
        ("families", "family ss, name Solid-state"),
        ("parts.csv", "part lamp, description Lamp"),
        ("parts.csv", "part fli-coil, description Flipper coil"),
    }
    assert "kept, as rows recorded in the notebook need it" in "\n".join(summary.lines())


def test_the_notebooks_own_mark_stays_on_a_row_that_the_folder_bears_too(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.LEAST)
    bench.record_count(store, "lamp", 7, "2025-04-07")
    load(
        tmp_path / "new",
        small_shop.LEAST | {"counts": "part,counted_on,qty_pcs\nlamp,2025-04-07,7\n"},
        REPLACING,
        store,
    )
    assert small_shop.rows(store, "select recorded_in from counts") == [("notebook",)]


def test_rows_that_waited_are_replaced_too(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", BAD)
    load(tmp_path / "new", small_shop.LEAST, REPLACING, store)
    assert small_shop.rows(store, "select count(*) from set_aside_rows where load_no = 2") == [(0,)]
    _, summary = load(tmp_path / "more", {"parts": "part,description\nnone,Now listed\n"}, Terms(), store)
    assert small_shop.rows(store, "select count(*) from job_parts") == [(4,)] and summary.exit_code == 0


def test_a_replacing_load_wants_the_three_required_files_whatever_the_store_has(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    before = store.read_bytes()
    with pytest.raises(RecordsError, match="job_parts.csv not found; .*Nothing was loaded"):
        load(tmp_path / "new", {k: v for k, v in small_shop.LEAST.items() if k != "job_parts"}, REPLACING, store)
    assert store.read_bytes() == before


def test_a_replacing_load_that_is_strict_too_drops_nothing_where_a_row_would_be_set_aside(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    before = store.read_bytes()
    bad = small_shop.with_rows(small_shop.LEAST, "job_parts", "J1,none,1,")
    _, summary = load(tmp_path / "new", bad, Terms(is_strict=True, is_replacing=True), store)
    assert summary.is_refused and store.read_bytes() == before


@pytest.fixture
def set_aside_book(tmp_path):
    """A store with rows that wait, and the workbook they stand in."""
    store = small_shop.loaded_before(tmp_path / "shop", BAD)
    return store, tmp_path / "shop-out" / "tables" / "set_aside_1.xlsx"


def test_a_workbook_of_rows_set_aside_is_not_taken_for_the_whole_shop(set_aside_book, tmp_path):
    store, book = set_aside_book
    before = store.read_bytes()
    with pytest.raises(RecordsError, match="holds only rows that were set aside; --replace would drop all the others"):
        shop_folder.load(book, store, tmp_path / "out", REPLACING)
    assert store.read_bytes() == before
    with pytest.raises(RecordsError, match="there is no store at .*Name the shop's store with --shop FILE"):
        shop_folder.load(book, tmp_path / "none.duckdb", tmp_path / "out")
    assert not (tmp_path / "none.duckdb").exists()


def test_a_strict_load_of_a_mended_workbook_takes_all_or_nothing(set_aside_book, tmp_path):
    store, book = set_aside_book
    before = store.read_bytes()
    half = small_shop.mended(book, tmp_path / "half.xlsx", [("job_parts", 3, "qty_pcs", "2")])
    assert shop_folder.load(half, store, tmp_path / "out", STRICT).is_refused and store.read_bytes() == before
    whole = small_shop.mended(half, tmp_path / "whole.xlsx", [("job_parts", 2, "part", "lamp")])
    assert not shop_folder.load(whole, store, tmp_path / "out", STRICT).is_refused
    assert small_shop.rows(store, "select count(*) from set_aside_rows where load_no = 2") == [(0,)]
    assert openpyxl.load_workbook(book)["job_parts"].max_row == 3  # the first workbook is as it was


def test_a_register_that_only_was_implied_leaves_nothing_behind(tmp_path):
    with connect.open_memory() as connection, connect.open_memory() as fresh:
        laid(connection, tmp_path / "1", small_shop.LEAST | {"families": "family,name,note,bin\nem,E,old,7\nss,S,,\n"})
        laid(connection, tmp_path / "2", small_shop.LEAST, is_replacing=True)
        laid(fresh, tmp_path / "2")
        assert held(connection) == held(fresh) and waits(connection) == {}


def test_a_register_first_given_leaves_nothing_of_what_was_implied(tmp_path):
    with connect.open_memory() as connection, connect.open_memory() as fresh:
        orders = {"orders": "order_no,vendor,ordered_on\nP1,north,2025-01-01\n"}
        laid(connection, tmp_path / "1", small_shop.LEAST | orders)
        laid(connection, tmp_path / "2", {"vendors": "vendor,minimum_order\nnorth,5\n"})
        found = laid(fresh, tmp_path / "3", small_shop.LEAST | orders | {"vendors": "vendor,minimum_order\nnorth,5\n"})
        assert held(connection) == held(fresh) and said(found) == []
