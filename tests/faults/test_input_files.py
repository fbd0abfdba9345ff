"""Files that are not what they should be: one clear sentence, and the store as it was."""

import shutil

import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import shop_folder
from tests.support import small_shop


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """A store of the least folder, loaded once; to be copied."""
    return small_shop.loaded_before(tmp_path_factory.mktemp("loaded") / "shop", small_shop.LEAST)


@pytest.fixture
def shop(tmp_path, loaded):
    """A folder and its loaded store."""
    folder = small_shop.write(tmp_path / "shop", small_shop.LEAST)
    return folder, shutil.copy(loaded, tmp_path / "shop.duckdb")


def refused(folder, shop_file):
    """The words with which a load refuses a folder; the store's bytes and the list stay as they were."""
    before = shop_file.read_bytes() if shop_file.exists() else None
    with pytest.raises(RecordsError) as error:
        small_shop.load(folder, shop_file=shop_file)
    assert (shop_file.read_bytes() if shop_file.exists() else None) == before
    assert not list(folder.parent.rglob("*.unfinished"))
    return str(error.value)


@pytest.mark.parametrize("name", ["parts", "jobs", "job_parts"])
def test_each_of_the_three_required_files_is_asked_for(tmp_path, name):
    folder = small_shop.write(tmp_path / "shop", {k: v for k, v in small_shop.LEAST.items() if k != name})
    words = refused(folder, tmp_path / "shop.duckdb")
    assert f"{name}.csv not found" in words and "Nothing was loaded" in words
    assert not (tmp_path / "shop.duckdb").exists()


def test_an_empty_folder_says_what_a_folder_holds(tmp_path):
    folder = small_shop.write(tmp_path / "shop", {})
    assert "parts.csv, jobs.csv and job_parts.csv" in refused(folder, tmp_path / "shop.duckdb")


def test_an_empty_folder_is_refused_for_a_filled_store_too(shop, tmp_path):
    assert "none of the files" in refused(small_shop.write(tmp_path / "empty", {}), shop[1])


def test_a_folder_that_is_not_there_and_a_file_in_its_place(tmp_path):
    (tmp_path / "shop.txt").write_text("parts: coil, lamp", encoding="utf-8")
    for path, words in ((tmp_path / "nowhere", "no such folder. Wanted a shop folder with parts.csv, jobs.csv and"),
                        (tmp_path / "shop.txt", "shop.txt: this is text, not a workbook")):
        with pytest.raises(RecordsError, match=words):
            shop_folder.load(path, tmp_path / "s.duckdb", tmp_path / "out")
    assert not (tmp_path / "s.duckdb").exists()


@pytest.mark.parametrize(("column", "header"), [("qty_pcs", "job,part,pieces"), ("part", "job,qty_pcs"),
                                                ("job", "part,qty_pcs")])
def test_a_missing_required_column_is_named_with_what_was_found(shop, column, header):
    folder, store = shop
    small_shop.write(folder, {"job_parts": f"{header}\n"})
    words = refused(folder, store)
    assert f"job_parts.csv: the header lacks {column}; found {', '.join(header.split(','))}" in words


def test_a_job_needs_its_family_unless_it_names_its_machine(shop):
    folder, store = shop
    small_shop.write(folder, {"jobs": "job,scope\nJ1,fix_only\n"})
    assert "the header lacks family" in refused(folder, store)
    small_shop.write(folder, {"jobs": "job,scope,machine\nJ1,fix_only,M1\n"})
    _, summary = small_shop.load(folder, shop_file=store)
    (entry,) = small_shop.entries(summary, file="jobs.csv")
    assert (entry["line"], entry["column"], entry["rule"]) == (2, "family", "required")


def test_a_column_named_twice_is_refused(shop):
    folder, store = shop
    small_shop.write(folder, {"parts": "part,description, PART\na,b,c\n"})
    assert "parts.csv: the header names part twice" in refused(folder, store)


@pytest.mark.parametrize("raw", [b"", b"\n\n", b"\xef\xbb\xbf", b" , ,\n"])
def test_an_empty_file_is_said_to_be_empty(shop, raw):
    folder, store = shop
    small_shop.write(folder, {"parts": raw})
    assert "parts.csv is empty; wanted a header row" in refused(folder, store)


@pytest.mark.parametrize("raw", [b"\x89PNG\r\n\x1a\n\0\0\0", b"part,description\na,b\0c\n", b"\xff\xfep\0a",
                                 b"P\0K\x03\x04" * 20, "part,description\na,b\n".encode("utf-32")])
def test_a_binary_file_is_said_to_be_no_text(shop, raw):
    folder, store = shop
    small_shop.write(folder, {"parts": raw})
    assert "parts.csv: this is no text file. Save it anew as CSV, UTF-8" in refused(folder, store)


def test_latin_1_is_refused_with_the_line(shop):
    folder, store = shop
    small_shop.write(folder, {"parts": "part,description\na,plain\nb,R\xf6hre\n".encode("latin-1")})
    assert "parts.csv line 3: a character is not UTF-8" in refused(folder, store)


@pytest.mark.parametrize(("text", "line"), [
    ('part,description\na,b\nc,"open\nd,e\n', 3),  # to the end of the file
    ('part,description\na,"b" c\n', 2),  # text behind a closed quote
    ('"part,description\na,b\n', 1),  # in the header
    ('part,description,shelf,keep\na,"open,A1,auto\nb,x,A2,auto\nc,"closed",A3,auto\n', 2),  # by a later quote
    ('part,description,shelf,keep\na,"open,A1,auto\nb,x,A2,auto\nc,1/2",A3,auto\n', 2),  # closed as if by design
])
def test_a_quote_that_does_not_close_is_refused_with_its_line(shop, text, line):
    folder, store = shop
    small_shop.write(folder, {"parts": text})
    assert f"parts.csv line {line}: a quote opens here and is not closed" in refused(folder, store)


def test_a_cell_beyond_any_text_counts_as_an_open_quote(shop):
    folder, store = shop
    small_shop.write(folder, {"parts": 'part,description\na,"' + "x\n" * 100_000 + '"\n'})
    assert "parts.csv line 2: a quote opens here" in refused(folder, store)


def test_two_spellings_of_one_file_name_are_refused(shop):
    folder, store = shop
    small_shop.write(folder, {"PARTS.CSV": small_shop.LEAST["parts"]})
    if len(list(folder.glob("*"))) == 3:
        pytest.skip("this file system does not tell parts.csv from PARTS.CSV")
    assert "PARTS.CSV and parts.csv are the same file" in refused(folder, store)


def test_a_shop_file_in_toml_that_cannot_be_read(shop):
    folder, store = shop
    small_shop.write(folder, {"shop.toml": "labour_rate = = 60\n"})
    words = refused(folder, store)
    assert words.startswith("shop.toml: ") and "labour_rate = 60" in words


def test_a_file_that_may_not_be_read(shop, monkeypatch):
    folder, store = shop

    def locked(path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(folder), "read_bytes", locked)
    with pytest.raises(RecordsError, match="cannot be read .Permission denied"):
        small_shop.load(folder, shop_file=store)


@pytest.mark.parametrize(("name", "mend"), [
    ("byte-order mark", lambda text: ("\ufeff" + text).encode()),
    ("semicolons", lambda text: text.replace(",", ";").encode()),
    ("tabs", lambda text: text.replace(",", "\t").encode()),
    ("UTF-16 with its mark", lambda text: text.encode("utf-16")),
    ("Windows line ends", lambda text: text.replace("\n", "\r\n").encode()),
    ("old line ends", lambda text: text.replace("\n", "\r").encode()),
    ("blank lines", lambda text: text.replace("\n", "\n\n , ,\n").encode()),
    ("no last line end", lambda text: text.rstrip("\n").encode()),
    ("quoted header and cells", lambda text: "\n".join(
        ",".join(f'"{cell}"' for cell in line.split(",")) for line in text.splitlines()).encode()),
    ("header in capitals", lambda text: (text.partition("\n")[0].upper() + "\n" + text.partition("\n")[2]).encode()),
])
def test_other_ways_to_save_a_csv_give_the_same_store(shop, tmp_path, name, mend):
    folder = small_shop.write(tmp_path / "other", {k: mend(text) for k, text in small_shop.LEAST.items()})
    store, summary = small_shop.load(folder)
    assert small_shop.records(store) == small_shop.records(shop[1])
    assert not small_shop.entries(summary), name


def test_a_separator_inside_quoted_headers_does_not_mislead(tmp_path):
    files = small_shop.LEAST | {"parts": '"part";"description";"a, b, c, d, e"\n"lamp";"Lamp";"1, 2"\n'
                                         '"fli-coil";"Coil";\n"sleeve";"Sleeve";\n'}
    store, _ = small_shop.load(tmp_path / "shop", files)
    assert small_shop.rows(store, "select description, extra from parts where part = 'lamp'") == [
        ("Lamp", '{"a, b, c, d, e": "1, 2"}')]


def test_header_only_files_are_no_fault(tmp_path):
    files = {name: text.partition("\n")[0] + "\n" for name, text in small_shop.WHOLE.items()}
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert (summary.files["rows_in"] == 0).all() and len(summary.files) == len(files)
    assert not any(small_shop.records(store).values())


def test_a_row_with_too_many_cells_is_set_aside_and_kept_whole(shop):
    folder, store = shop
    small_shop.write(folder, {"parts": "part,description\nlamp,Lamp, 6.3 V\nfli-coil,Coil,\nsleeve,Sleeve\n"})
    _, summary = small_shop.load(folder, shop_file=store)
    (entry,) = small_shop.entries(summary, file="parts.csv")
    assert (entry["line"], entry["rule"], entry["value"]) == (2, "more_cells", " 6.3 V")
    assert "3 cells, the header 2" in entry["suggestion"]
    kept = small_shop.rows(store, "select cells from set_aside_rows where file = 'parts.csv'")
    assert kept == [('{"part": "lamp", "description": "Lamp", "": [" 6.3 V"]}',)]


def test_a_row_with_too_few_cells_is_filled_with_unknown_and_remarked(tmp_path):
    files = small_shop.LEAST | {"parts": "part,description,shelf\nfli-coil,Coil\nsleeve,Sleeve,B2\nlamp,Lamp,\n"}
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert [e["line"] for e in small_shop.entries(summary, "noted", rule="fewer_cells")] == [2]
    assert small_shop.rows(store, "select part, shelf from parts order by part") == [
        ("fli-coil", None), ("lamp", None), ("sleeve", "B2")]


def test_blank_header_cells_lose_nothing(tmp_path):
    files = small_shop.LEAST | {"parts": "part,description,,\nfli-coil,Coil,old stock,\nsleeve,Sleeve,,\nlamp,Lamp,,\n"}
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert [e["value"] for e in small_shop.entries(summary, "noted", rule="extra_column")] == ["column 3"]
    assert small_shop.rows(store, "select part, extra from parts where extra is not null") == [
        ("fli-coil", '{"column 3": "old stock"}')]


def test_extra_columns_are_kept_remarked_and_a_misspelt_one_is_asked_about(tmp_path):
    files = small_shop.LEAST | {"parts": "part,descr,description,shelv,colour\nfli-coil,,Coil,B1,red\n"
                                         "sleeve,,Sleeve,,\nlamp,,Lamp,,\n"}
    store, summary = small_shop.load(tmp_path / "shop", files)
    remarks = {e["value"]: e["suggestion"] for e in small_shop.entries(summary, "noted", rule="extra_column")}
    assert remarks["shelv"] == "kept, not used; did you mean the column shelf?"
    assert remarks["colour"] == "kept, not used"
    assert small_shop.rows(store, "select extra, shelf from parts where part = 'fli-coil'") == [
        ('{"shelv": "B1", "colour": "red"}', None)]


def test_files_of_no_contract_are_left_alone_and_remarked(shop):
    folder, store = shop
    small_shop.write(folder, {"ideas.csv": "a\n1\n", "readme.txt": "hello", "old.xlsx": b"PK", "job_part.csv": "x\n"})
    _, summary = small_shop.load(folder, shop_file=store)
    noted = {e["file"] for e in small_shop.entries(summary, "noted", rule="unknown_file")}
    assert noted == {"ideas.csv", "old.xlsx", "job_part.csv"}


def test_a_workbook_among_the_files_is_not_chosen_for_them(shop):
    folder, store = shop
    small_shop.write(folder, {"shop.xlsx": b"PK"})
    assert "job_parts.csv and shop.xlsx are both here; wanted one of the two kinds" in refused(folder, store)


def test_odd_line_separators_inside_a_cell_do_not_split_the_row(tmp_path):
    odd = "a\u2028b\x0bc\x85d\x1ce"
    files = small_shop.LEAST | {"parts": f"part,description\nfli-coil,{odd}\nsleeve,S\nlamp,L\n"}
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert small_shop.rows(store, "select description from parts where part = 'fli-coil'") == [(odd,)]
    assert not small_shop.entries(summary)


def test_the_line_named_is_the_line_in_the_file_even_behind_long_cells_and_blank_lines(tmp_path):
    text = 'job,part,qty_pcs,used_on,assembly\n\nJ1,sleeve,2,,"two\nlines"\n\nJ2,lamp,none,,\n'
    _, summary = small_shop.load(tmp_path / "shop", small_shop.LEAST | {"job_parts": text})
    assert [(e["line"], e["value"]) for e in small_shop.entries(summary)] == [(6, "none")]
