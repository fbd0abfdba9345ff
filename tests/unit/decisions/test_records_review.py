"""The whole look through the records: what to mend first, and how many decisions rest on doubt."""

import pandas as pd
import pytest

from pipeline.decisions import records_review
from pipeline.decisions.records_review import lines_told, told, value_told
from pipeline.store import catalogue, connect, read
from tests.support import small_shop

FILES = small_shop.WHOLE
FILES = small_shop.with_rows(FILES, "jobs", "J8,em,fix_only,2025-03-01,2025-03-20",
                             "J9,em,fix_only,2025-05-02,2025-05-01")
FILES = small_shop.with_rows(FILES, "job_parts", "J1,sleeve,lots,2025-01-11", "J9,sleeve,1,2025-05-02",
                             "J1, SLEEVE,1,2025-01-12", "J1,washer,2,2025-01-12")
FILES = small_shop.with_rows(FILES, "parts", "washer,Washer")
FILES = small_shop.with_rows(FILES, "counts", "lamp,2025-04-01,lots")


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    return small_shop.load(tmp_path_factory.mktemp("review") / "shop", FILES)[0]


@pytest.fixture(scope="module")
def review(store):
    with connect.open_read(store) as connection:
        return records_review.make(connection)


def test_everything_that_is_wrong_stands_in_one_list(review):
    kinds = set(review.first["what"])
    assert {"set aside", "delivered without parts", "delivered without hours", "used without a price"} <= kinds


def test_the_list_stands_in_the_order_of_decisions_then_money(review):
    first = review.first
    assert first["decisions"].is_monotonic_decreasing and (first["decisions"] > 0).all()
    ties = first.groupby("decisions")["amount"].apply(lambda each: each.dropna().is_monotonic_decreasing)
    assert ties.all()


def test_each_line_says_where_and_what_to_do(review):
    assert review.first["where"].str.len().min() > 2 and review.first["what_to_do"].str.len().min() > 8
    aside = review.first[review.first["what"] == "set aside"]
    assert aside["where"].str.contains("line ").all()
    job = aside[aside["where"].str.startswith("jobs.csv")].iloc[0]
    assert job["rows"] == 2 and "delivered_on is '2025-05-01'" in job["where"]


def test_what_is_alike_stands_in_one_line(review):
    without = review.first[review.first["what"] == "delivered without parts"].iloc[0]
    assert without["rows"] == 1 and without["where"] == "1 job: J8"
    assert len(review.first[review.first["what"] == "delivered without hours"]) == 1


def test_a_remark_that_has_its_own_list_is_not_noted_twice(review):
    assert not review.noted["rule"].str.startswith("delivered_without").any()
    assert "part_without_price" not in set(review.noted["rule"])
    assert len(review.jobs) > 0 and review.parts["part"].tolist() == ["washer"] or "washer" in set(review.parts["part"])


def test_rows_that_are_in_are_those_of_the_stores_tables(review, store):
    with connect.open_read(store) as connection:
        rows = sum(read.rows(connection, f"select count(*) from {name}")[0][0] for name in catalogue.tables())
    assert review.rows_in == rows > 40


def test_a_register_that_nobody_wrote_has_no_rows_of_its_own(tmp_path):
    store, summary = small_shop.load(tmp_path / "least", small_shop.LEAST)
    with connect.open_read(store) as connection:
        assert records_review.make(connection).rows_in == summary.files["rows_loaded"].sum()


def test_decisions_in_doubt_are_fewer_than_all_and_more_than_any_one_line(review):
    assert review.first["decisions"].max() <= review.in_doubt <= len(review.decisions.rows)


def test_a_repaired_cell_is_no_doubt(tmp_path):
    clean = small_shop.loaded_before(tmp_path / "clean", small_shop.WHOLE)
    takings = small_shop.WHOLE["job_parts"].replace("J1,sleeve", "J1, SLEEVE")
    mended, _ = small_shop.load(tmp_path / "mended", small_shop.WHOLE | {"job_parts": takings})
    with connect.open_read(clean) as one, connect.open_read(mended) as other:
        first, second = records_review.make(one), records_review.make(other)
    assert len(second.repaired_cells) > len(first.repaired_cells)
    assert first.in_doubt == second.in_doubt


def test_an_empty_store_needs_no_mending():
    with connect.open_memory() as empty:
        review = records_review.make(empty)
    assert len(review.first) == 0 and review.in_doubt == 0 and review.rows_in == 0
    assert list(review.first) == records_review.FIRST_COLUMNS


def test_three_files_are_enough(tmp_path):
    store = small_shop.loaded_before(tmp_path / "least", small_shop.LEAST)
    with connect.open_read(store) as connection:
        review = records_review.make(connection)
    assert review.rows_in > 0 and len(review.missing) > 20
    assert "used without a price" in set(review.first["what"])
    assert "delivered without hours" not in set(review.first["what"])  # nobody keeps hours: the file is missing


@pytest.mark.parametrize(("lines", "words"), [
    ([7], "line 7"), ([1214, 20001], "lines 1214, 20001"), ([1, 2, 3, 4], "lines 1, 2, 3, 4"),
    (list(range(1, 1301)), "lines 1, 2, 3, 4 and 1,296 more"), ([-3], "in the store before"),
    ([], "in the store before"),
])
def test_lines_are_told_as_they_are_numbered(lines, words):
    assert lines_told(lines) == words


def test_what_was_found_is_told_in_words():
    assert value_told("qty_pcs", "lots") == "qty_pcs is 'lots'"
    assert value_told("qty_pcs", None) == "qty_pcs is empty" == value_told("qty_pcs", float("nan"))
    assert value_told(None, None) == value_told(pd.NA, "x") == "the whole row"


def test_many_names_are_two_and_a_number():
    assert told(1, "job", "jobs", ["J-1"]) == "1 job: J-1"
    assert told(2, "job", "jobs", ["J-1", "J-2"]) == "2 jobs: J-1; J-2"
    assert told(1200, "part", "parts", ["A", "B", "C"]) == "1,200 parts: A; B and 1,198 more"
