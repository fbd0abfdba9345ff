"""The same four years out of a workbook, and the rows set aside mended in the workbook that a load gives back."""

import shutil

import openpyxl
import pytest

from pipeline.ingest import shop_folder
from tests.support import small_shop, workbooks


@pytest.fixture(scope="module")
def folder(shared_shops):
    """The records; the test is skipped where they do not lie beside the repository."""
    if not (shared_shops / "alder-lane").is_dir():
        pytest.skip("no ../shared/shops/alder-lane beside the repository")
    return shared_shops / "alder-lane"


@pytest.fixture(scope="module")
def from_csv(alder_lane):
    """Store and summary of a load of the folder."""
    return alder_lane.store, alder_lane.summary


@pytest.fixture(scope="module")
def from_workbook(folder, tmp_path_factory):
    """Store and summary of a load of the same records as one workbook, numbers and days typed as such."""
    out = tmp_path_factory.mktemp("xlsx")
    book = workbooks.from_folder(folder, out / "shop.xlsx")
    return out / "shop.duckdb", shop_folder.load(book, out / "shop.duckdb", out / "out")


def told(summary):
    """What was found, by table instead of file: a sheet's rows have the lines of the file's."""
    return sorted((e["file"].removeprefix("shop.xlsx, sheet ").removesuffix(".csv"), e["line"], e["column"] or "",
                   e["rule"], e["value"] or "") for e in small_shop.entries(summary))


def test_a_workbook_gives_the_store_of_the_folder(from_csv, from_workbook):
    assert small_shop.records(from_workbook[0]) == small_shop.records(from_csv[0])


def test_a_workbook_s_faults_are_the_folder_s(from_csv, from_workbook):
    assert told(from_workbook[1]) == told(from_csv[1]) != []
    assert from_workbook[1].files["rows_in"].tolist() == from_csv[1].files["rows_in"].tolist()


def test_remarks_name_the_sheet_their_rows_stand_on(from_workbook):
    noted = small_shop.entries(from_workbook[1], "noted", rule="count_far_from_book")
    assert {entry["file"] for entry in noted} == {"shop.xlsx, sheet counts"}


class Book:
    """The workbook of rows set aside, and an owner who mends it cell by cell."""

    def __init__(self, path):
        self.path, self.book = path, openpyxl.load_workbook(path)

    def rows(self, name):
        """Each row as a dict from column to cell."""
        sheet = self.book[name]
        header = [cell.value for cell in sheet[1]]
        return [dict(zip(header, row, strict=True)) for row in sheet.iter_rows(min_row=2)]

    def mend(self, name, **cells):
        """Put new values into cells for which the function of their column gives one."""
        for n, row in enumerate(self.rows(name), start=1):
            for column, new in cells.items():
                value = new(row[column].value, {c: cell.value for c, cell in row.items()}, n)
                if value is not None:
                    row[column].value = value


def mended(path, parts):
    """Mend every fault as an owner would who knows what was meant."""
    book = Book(path)
    days = ("booked_on", "started_on", "delivered_on")
    book.mend("jobs", family=lambda family, row, n: {"E.M.": "dmd", "Dot Matrix": "dmd"}.get(family),
              delivered_on=lambda day, row, n: max(filter(None, (row[c] for c in days))) if day else None)
    book.mend("counts", qty_pcs=lambda found, row, n: 4)
    asked = {"a few": 3, "1,5": 2, "0": 1, "": 1, None: 1}
    book.mend("job_parts", qty_pcs=lambda found, row, n: asked.get(found), line=lambda line, row, n: 900 + n,
              part=lambda part, row, n: parts[n % len(parts)] if str(part).startswith("mystery") else None,
              job=lambda job, row, n: "J0001" if str(job).startswith("J9") else None)
    book.book.save(path)
    return path


@pytest.fixture(scope="module")
def brought_in(folder, alder_lane, tmp_path_factory):
    """The store after the mended workbook, and the summaries of that load and of the folder once more."""
    out = tmp_path_factory.mktemp("mended")
    (book,) = alder_lane.out.rglob("set_aside_*.xlsx")
    store, book = shutil.copy(alder_lane.store, out / "shop.duckdb"), shutil.copy(book, out)
    parts = [part for (part,) in small_shop.rows(store, "select part from parts order by part")]
    first = shop_folder.load(mended(book, parts), store, out / "out")
    before = small_shop.records(store)
    again = shop_folder.load(folder, store, out / "out")
    return store, first, before, again


def test_the_mended_workbook_loads_to_zero_left(brought_in, from_csv):
    store, first, before, _ = brought_in
    assert small_shop.entries(first) == [] and first.newly_set_aside == 0
    assert first.files["rows_in"].sum() == first.files["rows_loaded"].sum() == 221
    total = from_csv[1].files["rows_in"].sum()
    assert sum(len(rows) for rows in before.values()) == total
    assert small_shop.rows(store, "select count(*) from set_aside_rows where load_no = 2") == [(0,)]


def test_the_folder_again_finds_every_fault_mended_and_changes_nothing(brought_in):
    store, _, before, again = brought_in
    assert small_shop.entries(again) == []
    assert small_shop.records(store) == before
    assert len({(e["file"], e["line"]) for e in small_shop.entries(again, "repaired", rule="mended_before")}) > 40
