"""Everything back as a shop folder: which files and columns, what is left out, what stays whatever happens."""

import csv
import os
import shutil

import openpyxl
import pytest

from pipeline.errors import RecordsError, StoreError
from pipeline.ingest import bench, export
from pipeline.store import catalogue, connect
from tests.support import small_shop

JOBS = ("job,family,scope,booked_on,warranty_days,customer_ref,phone,Town\n"
        "J1,em,fix_only,2025-01-02,90,Ada,555-01,\nJ2,em,thorough,2025-02-03,,Grace,,Byville\n"
        "J3,ss,refresh,2025-04-01,90,,,\n")
# Three rows that break a rule: one of them has a cell too many, so that its cells have moved on.
ASIDE = {"jobs": ("J4,em,all,2025-04-02,90,Edsger,555-04,", "J5,em,fix_only,2025-04-03,90,x,Barbara,555-05,Ceetown"),
         "payments": ("J1,soon,20,deposit",)}


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """The whole small shop with customers, other columns and rows that wait; to be copied."""
    files = small_shop.WHOLE | {"jobs": JOBS}
    for name, rows in ASIDE.items():
        files = small_shop.with_rows(files, name, *rows)
    return small_shop.load(tmp_path_factory.mktemp("loaded") / "shop", files)[0]


@pytest.fixture
def store(tmp_path, loaded):
    return shutil.copy(loaded, tmp_path / "shop.duckdb")


def columns(folder, name):
    with open(folder / f"{name}.csv", encoding="utf-8", newline="") as text:
        return next(csv.reader(text))


def everything(folder):
    """Every text a folder holds, that of its workbook among it."""
    texts = [path.read_text(encoding="utf-8") for path in folder.glob("*.csv")]
    for path in folder.glob("*.xlsx"):
        for sheet in openpyxl.load_workbook(path):
            texts += [str(cell) for row in sheet.iter_rows(values_only=True) for cell in row]
    return "\n".join(texts)


def test_there_is_a_file_for_each_table_that_holds_rows(store, tmp_path):
    found = export.export(store, tmp_path / "out", True)
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == sorted(
        [*(f"{name}.csv" for name in small_shop.WHOLE), "set_aside.xlsx"])
    counts = {name: small_shop.data_rows(tmp_path / "out" / name) for name in found.rows}
    assert counts == found.rows
    for name in small_shop.WHOLE:
        assert small_shop.rows(store, f"select count(*) from {name}") == [(found.rows[f"{name}.csv"],)]


def test_the_three_required_files_are_there_even_with_no_row(tmp_path):
    store = tmp_path / "shop.duckdb"
    with connect.change(store):
        pass
    found = export.export(store, tmp_path / "out", True)
    assert found.rows == {"parts.csv": 0, "jobs.csv": 0, "job_parts.csv": 0}
    again, _ = small_shop.load(tmp_path / "out")
    assert not any(small_shop.records(again).values())


def test_the_columns_of_the_contract_come_first_then_the_owners_own(store, tmp_path):
    export.export(store, tmp_path / "out", True)
    for name, table in catalogue.tables().items():
        if name in small_shop.WHOLE:
            contract = [column.name for column in table.file_columns]
            assert columns(tmp_path / "out", name) == contract + (["phone", "town"] if name == "jobs" else [])


def test_what_the_notebook_recorded_bears_its_mark(store, tmp_path):
    bench.record_use(store, "J1", "lamp", 1, "2025-01-15")
    export.export(store, tmp_path / "out", True)
    assert columns(tmp_path / "out", "job_parts")[-1] == "recorded_in"
    assert "recorded_in" not in columns(tmp_path / "out", "counts")
    again, _ = small_shop.load(tmp_path / "out")
    marked = small_shop.rows(again, "select job, part, qty_pcs from job_parts where recorded_in = 'notebook'")
    assert marked == [("J1", "lamp", 1)]


def test_with_customers_the_store_comes_back_and_so_do_the_rows_that_wait(store, tmp_path):
    found = export.export(store, tmp_path / "out", True)
    again, _ = small_shop.load(tmp_path / "out")
    assert small_shop.records(again) == small_shop.records(store)
    assert found.lines() == [f"{tmp_path / 'out'}: 28 files, 52 rows written.",
                             "set_aside.xlsx: 3 rows set aside that wait to be mended; load it after the folder."]
    small_shop.load(tmp_path / "out" / "set_aside.xlsx", shop_file=again)
    waiting = "select holds, cells from set_aside_rows where load_no = (select max(load_no) from loads) order by all"
    assert [holds for holds, _ in small_shop.rows(again, waiting)] == ["jobs", "jobs", "payments"]
    assert small_shop.records(again) == small_shop.records(store)


def test_without_customers_no_reference_to_one_is_left(store, tmp_path):
    found = export.export(store, tmp_path / "out", False)
    assert columns(tmp_path / "out", "jobs")[-3:] == ["warranty_days", "phone", "town"]
    text = everything(tmp_path / "out")
    for name in ("Ada", "Grace", "Edsger", "Barbara", "customer_ref"):
        assert name not in text.replace("yes,,Ada", "")  # the nickname of an approval is told, not taken out
    assert (found.waiting, found.unreadable) == (2, 1)
    again, _ = small_shop.load(tmp_path / "out")
    before, after = small_shop.records(store), small_shop.records(again)
    place = [column.name for column in catalogue.tables()["jobs"].columns].index("customer_ref")
    assert [row[:place] + (None,) + row[place + 1:] for row in before.pop("jobs")] == after.pop("jobs")
    assert before == after


def test_without_customers_it_is_said_where_one_may_still_be_named(store, tmp_path):
    lines = export.export(store, tmp_path / "out", False).lines()
    assert lines == [
        f"{tmp_path / 'out'}: 28 files, 52 rows written. Left out: customer_ref of jobs (--with-customers keeps it).",
        "set_aside.xlsx: 2 rows set aside that wait to be mended; load it after the folder.",
        "1 row of jobs set aside left out of set_aside.xlsx: with more cells than the header names, nobody can say"
        " which one names a customer.",
        "Look before you share; customers may be named in jobs.csv: phone, town; approvals.csv: what, by; photos.csv:"
        " file; set_aside.xlsx.",
    ]


def test_where_nobody_can_be_named_nothing_is_said_of_it(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.LEAST)
    assert export.export(store, tmp_path / "out", False).lines() == [
        f"{tmp_path / 'out'}: 4 files, 12 rows written. Left out: customer_ref of jobs (--with-customers keeps it)."]


def test_columns_in_which_customers_may_be_named_are_columns_of_the_contract():
    for name, own in (export.MAY_NAME | export.CUSTOMERS).items():
        assert set(own) <= {column.name for column in catalogue.tables()[name].file_columns}


def test_an_export_of_an_export_is_the_same_bytes(store, tmp_path):
    bench.record_use(store, "J1", "lamp", 1, "2025-01-15")
    export.export(store, tmp_path / "out", True)
    again, _ = small_shop.load(tmp_path / "out")
    export.export(again, tmp_path / "second", True)
    first, second = ({path.name: path.read_bytes() for path in (tmp_path / name).glob("*.csv")}
                     for name in ("out", "second"))
    assert first == second


def test_the_same_store_gives_the_same_bytes(store, tmp_path):
    for name in ("one", "two"):
        export.export(store, tmp_path / name, True)
    one, two = ({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("one", "two"))
    assert one == two and "set_aside.xlsx" in one


def test_a_folder_that_is_there_keeps_what_it_holds_and_gets_the_files(store, tmp_path):
    out = small_shop.write(tmp_path / "out", {"letter.txt": "mine", "other.csv": "mine"})
    export.export(store, out, True)
    names = {path.name for path in out.iterdir()}
    assert {"letter.txt", "other.csv", "parts.csv", "set_aside.xlsx"} < names and not any("unfin" in n for n in names)
    assert (out / "letter.txt").read_text(encoding="utf-8") == "mine"


def test_a_folder_deep_below_others_is_made(store, tmp_path):
    export.export(store, tmp_path / "a" / "b" / "out", True)
    assert sorted(path.name for path in (tmp_path / "a" / "b").iterdir()) == ["out"]


def test_a_folder_named_by_a_dot(store, tmp_path, monkeypatch):
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    export.export(store, ".", True)
    assert (tmp_path / "here" / "parts.csv").exists() and not list(tmp_path.rglob("*.unfinished"))


@pytest.mark.parametrize("name", ["parts.csv", "WEAR.csv", "shop.toml", "shop.xlsx", "corrections.csv",
                                  "set_aside.xlsx"])
def test_a_folder_with_a_file_of_a_shop_folder_is_refused_unchanged(store, tmp_path, name):
    out = small_shop.write(tmp_path / "out", {name: "mine"})
    with pytest.raises(RecordsError) as error:
        export.export(store, out, True)
    assert f"{out} holds {name} of a shop folder; nothing is written over" in str(error.value)
    assert [path.name for path in out.iterdir()] == [name] and (out / name).read_text(encoding="utf-8") == "mine"


def test_a_whole_shop_folder_is_refused_in_one_sentence(store, tmp_path):
    out = small_shop.write(tmp_path / "out", small_shop.WHOLE)
    with pytest.raises(RecordsError, match="holds aliases.csv, approvals.csv, assemblies.csv and 25 more of a shop"):
        export.export(store, out, True)


def test_a_file_in_place_of_the_folder_is_refused(store, tmp_path):
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(RecordsError, match="out is a file; wanted a folder"):
        export.export(store, tmp_path / "out", True)


def test_what_a_killed_export_left_is_written_anew(store, tmp_path):
    small_shop.write(tmp_path / "out.unfinished", {"parts": "part\nhalf a fi"})
    export.export(store, tmp_path / "out", True)
    assert not (tmp_path / "out.unfinished").exists() and small_shop.data_rows(tmp_path / "out" / "parts.csv") == 3


def test_a_link_to_a_folder_is_followed(store, tmp_path):
    (tmp_path / "real").mkdir()
    try:
        os.symlink(tmp_path / "real", tmp_path / "link", target_is_directory=True)
    except OSError:
        pytest.skip("this system makes no links for this user")
    export.export(store, tmp_path / "link", True)
    assert (tmp_path / "real" / "parts.csv").exists() and (tmp_path / "link").is_symlink()


def test_a_store_that_is_not_there_writes_nothing(tmp_path):
    with pytest.raises(StoreError, match="no store at"):
        export.export(tmp_path / "nowhere.duckdb", tmp_path / "out", True)
    assert not list(tmp_path.iterdir())
