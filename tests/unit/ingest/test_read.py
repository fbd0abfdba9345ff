"""A folder's files as raw tables."""

import pandas as pd
import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import read
from tests.support import small_shop


def test_every_file_of_the_contract_is_read_as_typed(tmp_path):
    tables, notes = read.read_folder(small_shop.write(tmp_path, small_shop.WHOLE))
    assert set(tables) == set(small_shop.WHOLE) and notes.empty
    jobs = tables["jobs"]
    assert (jobs.name, jobs.file, jobs.extras) == ("jobs", "jobs.csv", ())
    assert jobs.columns == {"job", "family", "scope", "booked_on", "delivered_on"}
    assert jobs.frame["file_line"].tolist() == [2, 3, 4] and jobs.frame["delivered_on"].tolist()[-1] == ""
    assert jobs.refused.empty and jobs.frame["extra"].isna().all()


def test_cells_are_not_touched(tmp_path):
    files = {"parts": "part,description\n A ,  \nNULL,NaN\n"}
    frame = read.read_folder(small_shop.write(tmp_path, files))[0]["parts"].frame
    assert frame["part"].tolist() == [" A ", "NULL"] and frame["description"].tolist() == ["  ", "NaN"]


def test_settings_in_toml_stand_on_their_lines(tmp_path):
    text = '# mine\nname = "Own"\n\nlabour_rate = 62.5\ntoday = 2026-08-31\n"bays" = 3\n[tools]\nlathe = true\n'
    raw = read.read_folder(small_shop.write(tmp_path, {"shop.toml": text}))[0]["shop"]
    assert raw.file == "shop.toml"
    assert raw.frame[["file_line", "key", "value"]].values.tolist() == [
        [2, "name", "Own"], [4, "labour_rate", "62.5"], [5, "today", "2026-08-31"], [6, "bays", "3"],
        [7, "tools", "{'lathe': True}"]]


def test_dotted_keys_in_toml_have_lines_of_their_own(tmp_path):
    raw = read.read_folder(small_shop.write(tmp_path, {"shop.toml": "a.b = 1\nc.d = 2\nbays = 2\n"}))[0]["shop"]
    assert raw.frame["file_line"].is_unique


def test_a_shop_file_goes_before_toml_and_the_other_is_remarked(tmp_path):
    tables, notes = read.read_folder(
        small_shop.write(tmp_path, {"shop": "key,value\nbays,2\n", "shop.toml": "bays = 3\n"})
    )
    assert tables["shop"].file == "shop.csv"
    assert notes[["file", "rule"]].values.tolist() == [["shop.toml", "unknown_file"]]


def test_a_digest_tells_bytes_and_names_and_nothing_else(tmp_path):
    first = read.digest(small_shop.write(tmp_path / "a", small_shop.LEAST))
    assert read.digest(small_shop.write(tmp_path / "b", small_shop.LEAST | {"notes.txt": "x"})) == first
    upper = {name.upper() + ".CSV": text for name, text in small_shop.LEAST.items()}
    assert read.digest(small_shop.write(tmp_path / "c", upper)) == first
    assert read.digest(small_shop.write(tmp_path / "d", small_shop.LEAST | {"counts": "x\n"})) != first
    changed = small_shop.LEAST | {"parts": small_shop.LEAST["parts"] + "\n"}
    assert read.digest(small_shop.write(tmp_path / "e", changed)) != first


def test_file_names_may_be_in_capitals(tmp_path):
    tables, _ = read.read_folder(small_shop.write(tmp_path, {"Parts.CSV": small_shop.LEAST["parts"]}))
    assert tables["parts"].file == "Parts.CSV" and len(tables["parts"].frame) == 3


def test_folders_inside_the_folder_are_left_alone(tmp_path):
    (tmp_path / "parts.csv").mkdir()
    tables, notes = read.read_folder(tmp_path)
    assert tables == {} and notes.empty


def test_a_header_asks_about_names_that_are_near(tmp_path):
    raw = read.read_folder(small_shop.write(tmp_path, {"job_parts": "job,part,qty_pcs,used on,colour\n"}))[0][
        "job_parts"
    ]
    said = pd.concat(raw.records).set_index("value")["suggestion"].to_dict()
    assert said == {"used on": "kept, not used; did you mean the column used_on?", "colour": "kept, not used"}


def test_a_header_with_a_machine_may_lack_the_family(tmp_path):
    read.read_folder(small_shop.write(tmp_path, {"jobs": "job,machine,scope\n"}))
    with pytest.raises(RecordsError, match="lacks scope"):
        read.read_folder(small_shop.write(tmp_path, {"jobs": "job,machine\n"}))
