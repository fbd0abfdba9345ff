"""Every common fault of a folder, loaded for real: what is printed, what is kept, and that all the rest is in."""

import csv
import json
import shutil

import pytest

from pipeline.ingest import bench, shop_folder, take_in
from pipeline.ingest.shop_folder import Terms
from pipeline.store import merge
from tests.support import small_shop

# Row added, file it is added to, and the line that is printed of it.
FAULTS = {
    "unknown part": (
        "job_parts",
        "J1,slevee,1,2025-01-10",
        "job_parts.csv line 6: part is 'slevee'; wanted a part listed in parts; did you mean sleeve? Set aside.",
    ),
    "unknown job": (
        "job_parts",
        "J17,lamp,1,2025-01-10",
        "job_parts.csv line 6: job is 'J17'; wanted a job listed in jobs; did you mean J1? Set aside.",
    ),
    "unknown family": (
        "jobs",
        "J9,e-m,fix_only,2025-01-02,",
        "jobs.csv line 5: family is 'e-m'; wanted a family listed in families; did you mean em? Set aside.",
    ),
    "words for numbers": (
        "job_parts",
        "J1,lamp,a dozen,2025-01-10",
        "job_parts.csv line 6: qty_pcs is 'a dozen'; wanted a whole number of pieces, as 12. Set aside.",
    ),
    "decimal comma in pieces": (
        "job_parts",
        'J1,lamp,"1,5",2025-01-10',
        "job_parts.csv line 6: qty_pcs is '1,5'; wanted a whole number of pieces, as 12. Set aside.",
    ),
    "thousands": (
        "offers",
        'north,lamp,10,"1,234",1,2025-01-01',
        "offers.csv line 5: pack_price is '1,234'; wanted a number with a decimal point, as 12.50. Set aside.",
    ),
    "zero pieces": (
        "job_parts",
        "J1,lamp,0,2025-01-10",
        "job_parts.csv line 6: qty_pcs is '0'; wanted a whole number of pieces, not 0. Set aside.",
    ),
    "negative count": (
        "counts",
        "lamp,2025-04-30,-1",
        "counts.csv line 4: qty_pcs is '-1'; wanted a whole number of pieces, 0 or more. Set aside.",
    ),
    "a date that reads two ways": (
        "job_parts",
        "J1,lamp,1,03/04/2025",
        "job_parts.csv line 6: used_on is '03/04/2025';"
        " could be 2025-03-04 or 2025-04-03; write the day as 2025-03-09. Set aside.",
    ),
    "delivered before booked": (
        "jobs",
        "J9,em,fix_only,2025-03-02,2025-03-01",
        "jobs.csv line 5: delivered_on is '2025-03-01'; delivered_on must not be before booked_on. Set aside.",
    ),
    "exact double": (
        "job_parts",
        "J1,sleeve,2,2025-01-10",
        "job_parts.csv line 6: the same as line 2; a number in `line` tells equal rows apart. Set aside.",
    ),
    "the same receipt twice": (
        "receipts",
        "P1,sleeve,2025-01-15,8,b2",
        "receipts.csv line 4: the same as line 3; if both are true, write them as one row. Set aside.",
    ),
    "an order line twice": (
        "order_lines",
        "p2,SLEEVE,99,0.5,,",
        "order_lines.csv line 5: order_no is 'P2, sleeve'; line 4"
        " already gives other values for the same order_no, part; keep one of the two. Set aside.",
    ),
    "another currency": (
        "job_costs",
        "J1,tax,$3,2025-01-20",
        "job_costs.csv line 3: amount is '$3'; this shop's amounts"
        " are in EUR; write the amount in EUR, as 12.50. Set aside.",
    ),
    "a cell too many": (
        "counts",
        "lamp,2025-04-30,1,B2,7",
        "counts.csv line 4: this row has 5 cells, the header 3; quotes"
        " go around a value with a separator in it. Set aside.",
    ),
    "a corrected value that no longer stands": (
        "corrections",
        "jobs,J1,,scope,refresh,thorough,",
        "corrections.csv line"
        " 2: 'refresh' (scope): expected 'refresh', found 'fix_only': not applied;"
        " remove or mend this correction.",
    ),
}
HEADER = {"corrections": "file,key,line,column,expected_value,new_value,reason\n"}


@pytest.fixture(scope="module")
def clean(tmp_path_factory):
    """What the store of the few files holds where nothing is wrong."""
    return small_shop.records(small_shop.load(tmp_path_factory.mktemp("clean") / "shop", small_shop.FEW)[0])


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_printed_its_row_kept_whole_and_all_the_rest_is_in(tmp_path, clean, fault):
    name, row, printed = FAULTS[fault]
    files = small_shop.with_rows(HEADER | small_shop.FEW, name, row)
    if name != "corrections":
        files.pop("corrections")
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert printed in summary.lines()
    assert small_shop.records(store) == clean
    told = summary.files
    assert (told["rows_in"] == told["rows_loaded"] + told["rows_set_aside"]).all()
    assert dict(zip(told["file"], told["rows_in"], strict=True)) == {
        f"{one}.csv": small_shop.data_rows(tmp_path / "shop" / f"{one}.csv") for one in small_shop.FEW
    }
    kept = small_shop.rows(store, "select holds, line, cells from set_aside_rows")
    if name == "corrections":
        assert kept == [] and told["rows_set_aside"].sum() == 0
    else:
        ((holds, line, cells),) = kept
        found = [
            cell for value in json.loads(cells).values() for cell in (value if isinstance(value, list) else [value])
        ]
        assert holds == name and [cell for cell in found if cell] == [cell for cell in next(csv.reader([row])) if cell]
        assert line == files[name].count("\n") and told["rows_set_aside"].sum() == 1
    assert not list(tmp_path.rglob("*.unfinished"))


def test_all_faults_together_are_all_found_and_the_rest_is_in(tmp_path):
    files = dict(small_shop.WHOLE)
    for name, row, _ in FAULTS.values():
        files = small_shop.with_rows(HEADER | files, name, row)
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert small_shop.records(store) == small_shop.records(
        small_shop.loaded_before(tmp_path / "clean", small_shop.WHOLE))
    assert summary.files["rows_set_aside"].sum() == len(FAULTS) - 1
    assert small_shop.rows(store, "select count(*) from set_aside_rows") == [(len(FAULTS) - 1,)]


# What a load does, in order; cut behind any of it, the store, the list and the workbook are as they were.
STEPS = ("take_in", "prepare_log", "merge", "add_records", "write_book")


ONE_WAITS = small_shop.with_rows(small_shop.FEW, "job_parts", "J1,none,1,")


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    """A shop with a row that waits and one recorded in the notebook: its folder, store and output."""
    made = tmp_path_factory.mktemp("begun")
    store, _ = small_shop.load(made / "shop", ONE_WAITS)
    bench.record_count(store, "lamp", 3, "2025-05-01")
    return made


@pytest.mark.parametrize(
    "trouble", [KeyboardInterrupt(), OSError(28, "No space left on device")], ids=["Ctrl-C", "full disk"]
)
@pytest.mark.parametrize("step", STEPS)
def test_a_load_cut_behind_any_step_leaves_store_list_and_workbook_as_they_were(
    begun, tmp_path, monkeypatch, step, trouble
):
    shutil.copytree(begun, tmp_path, dirs_exist_ok=True)
    store = tmp_path / "shop.duckdb"
    out = tmp_path / "shop-out" / "tables"
    before = small_shop.contents(store), {path.name: path.read_bytes() for path in out.iterdir()}
    places = {"take_in": take_in, "prepare_log": take_in, "merge": merge, "add_records": merge}
    if step == "write_book":
        from pipeline.ingest import set_aside_book as place

        step = "write"
    else:
        place = places[step]
    whole = getattr(place, step)

    def cut(*words, **more):
        whole(*words, **more)
        raise trouble

    monkeypatch.setattr(place, step, cut)
    with pytest.raises(BaseException) as error:
        small_shop.load(tmp_path / "shop", small_shop.with_rows(ONE_WAITS, "job_parts", "J1,nix,2,"))
    monkeypatch.undo()
    is_said = step == "write" and isinstance(trouble, OSError)
    assert error.value is trouble or (is_said and "cannot be written (No space left on device)" in str(error.value))
    assert (small_shop.contents(store), {path.name: path.read_bytes() for path in out.iterdir()}) == before
    _, summary = small_shop.load(tmp_path / "shop")
    assert summary.files.set_index("file").loc["job_parts.csv", "rows_set_aside"] == 2


@pytest.mark.parametrize("terms", [Terms(is_strict=True), Terms(is_replacing=True)])
def test_a_cut_load_on_other_terms_leaves_the_store_as_it_was_too(tmp_path, monkeypatch, terms):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    before = small_shop.contents(store)
    small_shop.write(tmp_path / "new", small_shop.LEAST)
    whole = merge.merge

    def cut(connection):
        whole(connection)
        raise KeyboardInterrupt

    monkeypatch.setattr(merge, "merge", cut)
    with pytest.raises(KeyboardInterrupt):
        shop_folder.load(tmp_path / "new", store, tmp_path / "new-out", terms)
    assert small_shop.contents(store) == before and not list((tmp_path / "new-out").rglob("*.*"))


def test_a_check_that_is_cut_writes_nothing(tmp_path, monkeypatch):
    small_shop.write(tmp_path / "shop", small_shop.WHOLE)

    def cut(connection):
        raise KeyboardInterrupt

    monkeypatch.setattr(merge, "merge", cut)
    with pytest.raises(KeyboardInterrupt):
        shop_folder.check(tmp_path / "shop", tmp_path / "out")
    assert not list(tmp_path.rglob("*.csv.*")) and not (tmp_path / "out" / "tables" / "records.csv").exists()
