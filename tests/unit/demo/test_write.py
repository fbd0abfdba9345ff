"""What is written is the same on every machine."""

import csv
import json
from datetime import date

import pytest

from pipeline.demo import write


@pytest.mark.parametrize(
    "value, text",
    [
        (None, ""),
        ("", ""),
        ("a, b", "a, b"),
        (3, "3"),
        (-2, "-2"),
        (3.0, "3"),
        (2.50, "2.5"),
        (-0.0, "0"),
        (0.1 + 0.2, "0.3"),
        (1234567.0, "1234567"),
        (0.000123, "0.000123"),
        (1e-9, "0"),
        (100.0, "100"),
        (date(2025, 3, 9), "2025-03-09"),
        (True, "yes"),
        (False, "no"),
    ],
)
def test_a_cell_is_plain(value, text):
    assert write.cell(value) == text


def test_a_file_has_a_header_and_line_feeds_only(tmp_path):
    path = tmp_path / "a.csv"
    write.csv_file(path, ["x", "y"], [{"x": 1, "y": 'said "no", twice'}, {"x": None}])
    assert path.read_bytes() == b'x,y\n1,"said ""no"", twice"\n,\n'


def test_letters_beyond_ascii_are_utf_8(tmp_path):
    write.csv_file(tmp_path / "a.csv", ["x"], [{"x": "\u00e9"}])
    assert (tmp_path / "a.csv").read_bytes() == b"x\n\xc3\xa9\n"


def test_columns_come_in_the_contracts_order_whatever_the_rows_say(tmp_path):
    write.shop_folder(tmp_path, {"aliases": [{"part": "p", "alias": "a"}]})
    assert (tmp_path / "aliases.csv").read_text(encoding="utf-8") == "alias,part\na,p\n"


def test_a_shop_folder_is_made_where_there_is_none(tmp_path):
    write.shop_folder(tmp_path / "new" / "shop", {"families": [{"family": "f", "name": "F"}]})
    with open(tmp_path / "new" / "shop" / "families.csv", encoding="utf-8", newline="") as file:
        assert list(csv.DictReader(file)) == [{"family": "f", "name": "F", "note": ""}]


def test_truth_stands_beside_not_among_the_records(tmp_path):
    write.truth_folder(
        tmp_path, {"use": [{"part": "p", "use_share": 0.5}], "slips": []}, {"on": date(2025, 1, 2)}
    )
    assert list(tmp_path.glob("*.csv")) == []
    assert (tmp_path / "truth" / "use.csv").read_text(encoding="utf-8") == "part,use_share\np,0.5\n"
    assert json.loads((tmp_path / "truth" / "truth.json").read_text(encoding="utf-8")) == {"on": "2025-01-02"}


def test_no_column_stands_twice():
    for name, columns in write.COLUMNS.items():
        assert len(columns.split()) == len(set(columns.split())), name
