"""The data dictionary names every file and column of the shop folder, each with unit and meaning."""

import csv
import re

import pytest

from pipeline.demo import truth, write
from pipeline.ingest import corrections
from pipeline.store import catalogue


@pytest.fixture(scope="module")
def dictionary(root):
    """File to list of (column, is required, unit, meaning), from the tables of data/README.md."""
    files, name = {}, None
    for line in (root / "data" / "README.md").read_text(encoding="utf-8").splitlines():
        if heading := re.fullmatch(r"### (\w+)", line):
            name = heading[1]
            files[name] = []
        elif line.startswith("## "):
            name = None
        cells = [cell.strip() for cell in line.strip("|").split("|")] if line.startswith("|") else []
        is_head = cells[:2] in (["column", "unit"], ["key", "unit"]) or cells[:1] == ["---"]
        if name and len(cells) == 3 and not is_head:
            files[name].append((cells[0].rstrip("*"), cells[0].endswith("*"), cells[1], cells[2]))
    return files


def columns(dictionary, name):
    said = [column for column, *_ in dictionary[name]]
    return said[:2] if name == "shop" else said


def test_it_has_every_file_of_the_store(dictionary):
    assert set(dictionary) == {*catalogue.tables(), "corrections"}


def test_it_has_every_column_of_corrections(dictionary):
    assert columns(dictionary, "corrections") == list(corrections.COLUMNS)


@pytest.mark.parametrize("name", sorted(catalogue.tables()))
def test_it_has_every_column_of_a_file_in_order(dictionary, name):
    assert columns(dictionary, name) == [column.name for column in catalogue.tables()[name].file_columns]


def test_it_has_every_column_the_demo_writes(dictionary):
    for name, written in write.COLUMNS.items():
        assert set(written.split()) <= set(columns(dictionary, name)), name


def test_the_demo_writes_every_column_in_order(demo_folder):
    for name, wanted in write.COLUMNS.items():
        with open(demo_folder / f"{name}.csv", encoding="utf-8", newline="") as file:
            assert next(csv.reader(file)) == wanted.split()


def test_every_column_has_a_unit_and_a_meaning(dictionary):
    for name, rows in dictionary.items():
        for column, _, unit, meaning in rows:
            assert unit and meaning, f"{name}.{column}"


def test_pieces_days_and_amounts_have_their_units(dictionary):
    for name, rows in dictionary.items():
        for column, _, unit, _ in rows:
            if column.endswith("_pcs"):
                assert unit.startswith("pieces"), f"{name}.{column}"
            if column.endswith("_on"):
                assert unit == "day", f"{name}.{column}"
            if column.endswith(("_amount", "_price")):
                assert unit.startswith("currency"), f"{name}.{column}"


def test_only_what_the_contract_demands_is_marked_required(dictionary):
    required = {name: {column for column, star, *_ in rows if star} for name, rows in dictionary.items()}
    assert required["parts"] == {"part", "description"}
    assert required["job_parts"] == {"job", "part", "qty_pcs"}
    assert required["jobs"] == {"job", "family", "scope"}
    assert required["order_lines"] == {"order_no", "part", "qty_pcs", "unit_price"}


def test_settings_of_the_demo_are_explained(dictionary, demo_folder):
    explained = {column for column, *_ in dictionary["shop"]}
    with open(demo_folder / "shop.csv", encoding="utf-8", newline="") as file:
        assert {row["key"] for row in csv.DictReader(file)} <= explained


def test_the_truth_files_are_explained(root):
    text = (root / "data" / "README.md").read_text(encoding="utf-8")
    for name in truth.MEANINGS:
        assert f"| {name} |" in text


def test_it_says_that_the_demo_is_invented(root):
    assert "wholly invented" in (root / "data" / "README.md").read_text(encoding="utf-8")
