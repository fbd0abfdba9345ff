"""What an owner hands over, a folder or a workbook, as raw tables."""

import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import read, records, set_aside_book
from pipeline.ingest.raw_table import Link
from tests.support import small_shop, workbooks


def tables(folder, files):
    return read.read(small_shop.write(folder, files)).tables


def notes(given):
    return records.gathered(given.notes)[["file", "value", "rule"]].to_numpy().tolist()


def test_every_file_of_the_contract_is_read_as_typed(tmp_path):
    given = read.read(small_shop.write(tmp_path, small_shop.WHOLE))
    assert set(given.tables) == set(small_shop.WHOLE) and notes(given) == []
    assert (given.place, given.corrections, given.is_set_aside_book, given.examples) == (tmp_path, None, False, 0)
    jobs = given.tables["jobs"]
    assert (jobs.name, jobs.file, jobs.extras, jobs.is_given) == ("jobs", "jobs.csv", (), True)
    assert jobs.columns == {"job", "family", "scope", "booked_on", "delivered_on"}
    assert jobs.frame["file_line"].tolist() == [2, 3, 4] and jobs.frame["delivered_on"].tolist()[-1] == ""
    assert jobs.refused.empty and jobs.frame["extra"].isna().all()


def test_cells_are_not_touched(tmp_path):
    frame = tables(tmp_path, {"parts": "part,description\n A ,  \nNULL,NaN\n"})["parts"].frame
    assert frame["part"].tolist() == [" A ", "NULL"] and frame["description"].tolist() == ["  ", "NaN"]


def test_settings_in_toml_stand_on_their_lines(tmp_path):
    text = '# mine\nname = "Own"\n\nlabour_rate = 62.5\ntoday = 2026-08-31\n"bays" = 3\n[tools]\nlathe = true\n'
    raw = tables(tmp_path, {"shop.toml": text})["shop"]
    assert raw.file == "shop.toml"
    assert raw.frame[["file_line", "key", "value"]].values.tolist() == [
        [2, "name", "Own"], [4, "labour_rate", "62.5"], [5, "today", "2026-08-31"], [6, "bays", "3"],
        [7, "tools", "{'lathe': True}"]]


def test_dotted_keys_in_toml_have_lines_of_their_own(tmp_path):
    raw = tables(tmp_path, {"shop.toml": "a.b = 1\nc.d = 2\nbays = 2\n"})["shop"]
    assert raw.frame["file_line"].is_unique


def test_a_shop_file_goes_before_toml_and_the_other_is_remarked(tmp_path):
    given = read.read(small_shop.write(tmp_path, {"shop": "key,value\nbays,2\n", "shop.toml": "bays = 3\n"}))
    assert given.tables["shop"].file == "shop.csv"
    assert notes(given) == [["shop.toml", "shop.toml", "unknown_file"]]


def digest(folder, files):
    return read.read(small_shop.write(folder, files)).digest


def test_a_digest_tells_bytes_and_names_and_nothing_else(tmp_path):
    first = digest(tmp_path / "a", small_shop.LEAST)
    assert digest(tmp_path / "b", small_shop.LEAST | {"notes.txt": "x"}) == first
    upper = {name.upper() + ".CSV": text for name, text in small_shop.LEAST.items()}
    assert digest(tmp_path / "c", upper) == first
    assert digest(tmp_path / "d", small_shop.LEAST | {"counts": "part,counted_on,qty_pcs\n"}) != first
    changed = small_shop.LEAST | {"parts": small_shop.LEAST["parts"] + "\n"}
    assert digest(tmp_path / "e", changed) != first
    corrected = small_shop.LEAST | {"corrections": "file,key,column,expected_value,new_value\n"}
    assert digest(tmp_path / "f", corrected) not in (first, digest(tmp_path / "e", changed))


def test_a_workbooks_digest_tells_its_bytes(tmp_path):
    books = [workbooks.write(tmp_path / name, {"parts": [["part", "description"], ["a", what]]})
             for name, what in (("1.xlsx", "A"), ("2.xlsx", "B"))]
    assert read.read(books[0]).digest == read.read(books[0]).digest != read.read(books[1]).digest


def test_file_names_may_be_in_capitals(tmp_path):
    parts = tables(tmp_path, {"Parts.CSV": small_shop.LEAST["parts"]})["parts"]
    assert parts.file == "Parts.CSV" and len(parts.frame) == 3


def test_folders_inside_the_folder_are_left_alone(tmp_path):
    (tmp_path / "parts.csv").mkdir()
    given = read.read(tmp_path)
    assert given.tables == {} and notes(given) == []


def test_corrections_are_read_beside_the_tables(tmp_path):
    text = "file,key,column,expected_value,new_value\njobs,J1,scope,refresh,thorough\n"
    given = read.read(small_shop.write(tmp_path, small_shop.LEAST | {"corrections": text}))
    assert given.corrections == ("corrections.csv", text.splitlines()[0].split(","),
                                 [["jobs", "J1", "scope", "refresh", "thorough"]], [2])
    assert set(given.tables) == set(small_shop.LEAST) and notes(given) == []


def test_a_workbook_gives_the_tables_of_the_folder_each_named_by_its_sheet(tmp_path):
    folder = small_shop.write(tmp_path / "shop", small_shop.WHOLE)
    given = read.read(workbooks.from_folder(folder, tmp_path / "any name.xlsx"))
    of_folder = read.read(folder)
    assert list(given.tables) == list(of_folder.tables) and notes(given) == []
    assert given.tables["jobs"].file == "any name.xlsx, sheet jobs"
    for name, table in of_folder.tables.items():
        assert given.tables[name].frame.equals(table.frame), name


def test_a_folder_with_the_workbook_alone_is_read_from_it(tmp_path):
    workbooks.write(tmp_path / "Shop.xlsx", {"parts": [["part", "description"], ["a", "A"]], "ideas": [["x"], ["y"]],
                                             "corrections": [["file", "key", "column"], ["parts", "a", "part"]]})
    small_shop.write(tmp_path, {"notes.txt": "mine", "other.csv": "a\n"})
    given = read.read(tmp_path)
    assert given.place == tmp_path / "Shop.xlsx" and set(given.tables) == {"parts"}
    assert given.corrections[0] == "Shop.xlsx, sheet corrections" and given.corrections[3] == [2]
    assert notes(given) == [["Shop.xlsx, sheet ideas", "ideas", "unknown_sheet"]]


def test_a_folder_and_a_workbook_together_are_not_chosen_between(tmp_path):
    workbooks.write(tmp_path / "shop.xlsx", {"parts": [["part", "description"]]})
    small_shop.write(tmp_path, {"counts": "part,counted_on,qty_pcs\n"})
    with pytest.raises(RecordsError) as error:
        read.read(tmp_path)
    assert "counts.csv and shop.xlsx are both here; wanted one of the two kinds" in str(error.value)
    assert f"load {tmp_path / 'shop.xlsx'}" in str(error.value) and str(error.value).endswith("Nothing was loaded.")


def test_a_workbook_of_rows_set_aside_is_known_by_its_own_sheet_and_linked_row_by_row(tmp_path):
    header = ["part", "description", *set_aside_book.SET_ASIDE_COLUMNS]
    sheet = [header, ["a", "A", "no description", "7", "parts.csv", "3", "ab-cd"], ["c", "C", "", "", "", "", ""],
             ["b", "B", "", "-2", "parts (in the store)", "3", "ab-ef-second"],
             ["d", "D", "", "4", "parts.csv", "?", "ab-cd"], ["e", "E", "", "9", "parts.csv", "2", ""]]
    book = workbooks.write(tmp_path / "mended.xlsx", {set_aside_book.ABOUT_SHEET: [["Rows set aside"]], "parts": sheet})
    given = read.read(book)
    assert given.is_set_aside_book and notes(given) == []
    parts = given.tables["parts"]
    assert parts.columns == {"part", "description"} and parts.extras == ()
    assert parts.links == {
        2: Link(3, "parts.csv", 7, "ab", "cd"), 4: Link(3, "parts (in the store)", -2, "ab", "ef", is_second=True),
        6: Link(2, "parts.csv", 9, "", "")}
    assert given.written_by is None


def test_example_rows_are_left_out_counted_and_remarked(tmp_path):
    from pipeline.ingest import starter
    starter.write_folder(tmp_path / "shop")
    given = read.read(tmp_path / "shop")
    assert all(len(table.frame) == 0 for table in given.tables.values()) and given.examples >= len(given.tables)
    assert notes(given) == [["shop", f"{given.examples} example rows", "example_row"]]
