"""Four years of an invented workshop, loaded in pieces: the same store as in one."""

import csv

import pytest

from tests.support import small_shop


@pytest.fixture(scope="module")
def folder(shared_shops):
    """The records; the test is skipped where they do not lie beside the repository."""
    if not (shared_shops / "alder-lane").is_dir():
        pytest.skip("no ../shared/shops/alder-lane beside the repository")
    return shared_shops / "alder-lane"


@pytest.fixture(scope="module")
def rows(folder):
    """Each file's rows as dicts, by the plain csv module; the first stands on line 2."""
    return {file.stem: list(csv.DictReader(file.read_text(encoding="utf-8").splitlines()))
            for file in folder.glob("*.csv")}


@pytest.fixture(scope="module")
def loaded(alder_lane):
    """Store and summary of a load."""
    return alder_lane.store, alder_lane.summary


WAITING = "select holds, line, cells from set_aside_rows where load_no = (select max(load_no) from loads) order by 1, 2"


def test_pieces_in_any_order_give_the_same_store_and_the_same_rows_wait(folder, rows, loaded, tmp_path):
    """Spellings are those of the first file seen, so what lists identifiers comes first."""
    first = {"parts", "jobs", "job_parts", "shop", "families", "machines", "vendors", "assemblies"}
    rest = sorted(set(rows) - first, reverse=True)
    store = tmp_path / "pieces.duckdb"
    for n, names in enumerate((first, rest[::2], rest[1::2])):
        files = {name: (folder / f"{name}.csv").read_bytes() for name in names if name in rows}
        small_shop.load(tmp_path / str(n), files, store)
    assert small_shop.records(store) == small_shop.records(loaded[0])
    assert small_shop.rows(store, WAITING) == small_shop.rows(loaded[0], WAITING) != []
