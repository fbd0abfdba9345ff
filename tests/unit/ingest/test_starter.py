"""The blank shop folder and the blank workbook."""

import csv
import io
import re
from decimal import Decimal

import openpyxl
import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import corrections, csv_text, read, sheet_rules, starter, starter_book, workbook_text
from pipeline.store import catalogue
from tests.support import small_shop, workbooks

NAMES = [*catalogue.REQUIRED, *(name for name in catalogue.tables() if name not in catalogue.REQUIRED), "corrections"]


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    """The blank workbook, opened."""
    path = starter.write_workbook(tmp_path_factory.mktemp("blank")).folder / starter.WORKBOOK
    return openpyxl.load_workbook(path)


def starter_rows(name):
    return csv_text.rows_of((starter.FOLDER / f"{name}.csv").read_text(encoding="utf-8"), name, [])[0]


def as_own(folder):
    """Make the examples of a blank folder the owner's: other identifiers, another figure where there is none."""
    for path in folder.glob("*.csv"):
        text = path.read_text(encoding="utf-8").replace(starter.MARK, "own-").replace("The example bench", "My bench")
        path.write_text(text.replace("96,36,1.8,3", "96,36,1.8,4"), encoding="utf-8")
    return folder


def test_there_is_a_file_for_every_table_and_nothing_else():
    assert {path.name for path in starter.FOLDER.iterdir()} == {f"{name}.csv" for name in NAMES}
    assert list(starter.tables()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_each_file_has_the_whole_header_in_the_order_of_the_schema(name):
    columns = ([column.name for column in catalogue.tables()[name].file_columns] if name in catalogue.tables()
               else list(corrections.COLUMNS))
    header, *rows = starter_rows(name)
    assert header == columns
    assert len(rows) == (2 if name == "parts" else 1)  # two, so that one may stand in for the other
    assert all(len(row) == len(header) and any(row) for row in rows)
    assert [column.name for column in starter.tables()[name].file_columns] == header


@pytest.mark.parametrize("name", catalogue.tables())
def test_what_is_an_identifier_in_an_example_can_be_told_by_its_mark(name):
    (example, *_), table = starter.examples()[name], catalogue.tables()[name]
    named = [column for column in example if column != "key" and example[column]
             and (column == table.declares or sheet_rules.listed_as(table, column)[0])]
    assert all(example[column].startswith(starter.MARK) for column in named if not table.words(column)), named


def test_examples_are_spelled_as_a_worksheet_gives_them_back():
    for name, examples in starter.examples().items():
        for example in examples:
            assert all(cell == cell.strip() for cell in example.values()), name


def test_the_examples_load_cleanly_once_they_are_somebody_s_own(tmp_path):
    folder = as_own(starter.write_folder(tmp_path / "shop").folder)
    store, summary = small_shop.load(folder)
    assert small_shop.entries(summary) == []
    counts = dict(zip(summary.files["holds"], summary.files["rows_loaded"], strict=True))
    assert counts == {name: 2 if name == "parts" else 1 for name in catalogue.tables()}
    assert small_shop.entries(summary, "noted") == []  # nothing in them deserves a look either
    assert small_shop.rows(store, "select count(*) from jobs where family = 'own-EM'") == [(1,)]
    assert small_shop.rows(store, "select unit_cost from parts where part = 'own-SLEEVE'") == [(Decimal("0.72"),)]


@pytest.mark.parametrize("name", NAMES)
def test_the_example_alone_is_left_out(name):
    header, *rows = starter_rows(name)
    own = ["something else", *rows[0][1:]]
    given = [*rows, own, [f" {cell} " for cell in rows[0]]]
    kept, lines, number = starter.without_examples(name, header, given, list(range(2, 2 + len(given))))
    assert (kept, lines, number) == ([own], [2 + len(rows)], len(rows) + 1)


def test_an_example_is_known_in_other_columns_and_another_order():
    rows = [["A1", "EXAMPLE-SLEEVE", "Coil sleeve, short"], ["A1", "mine", "Coil sleeve, short"]]
    assert starter.without_examples("parts", ["Shelf", " PART ", "description"], rows, [2, 3]) == ([rows[1]], [3], 1)


def as_saved(cell):
    """A cell as spreadsheet programs save it: numbers with more or fewer places, days in other orders."""
    if re.fullmatch(r"\d{4}-\d\d-\d\d", cell):
        year, month, day = cell.split("-")
        return [f"{month}/{day}/{year}", f"{int(day)}.{int(month)}.{year}", f"{cell} 00:00:00",
                f"{day}/{month}/{year[2:]}"]
    try:
        number = float(cell)
    except ValueError:
        return [f"{cell} ", cell.replace(" ", "  ")]
    return [f"{number:.2f}".rstrip("0") + "0" if "." in cell else f"{number:.1f}", cell.replace(".", ",")] + (
        [f"{100 * number:g}%"] if 0 < number < 1 else [])


@pytest.mark.parametrize("name", NAMES)
def test_an_example_saved_again_by_a_spreadsheet_program_is_still_one(name):
    header, *rows = starter_rows(name)
    for row in rows:
        for way in range(4):
            saved = [as_saved(cell)[way % len(as_saved(cell))] if cell else "" for cell in row]
            assert starter.without_examples(name, header, [saved], [2]) == ([], [], 1), saved


def test_a_blank_folder_saved_again_is_still_blank(tmp_path):
    starter.write_folder(tmp_path / "shop")
    for path in (tmp_path / "shop").glob("*.csv"):
        header, *rows = starter_rows(path.stem)
        lines = [header] + [[as_saved(cell)[0] if cell else "" for cell in row] for row in rows]
        quoted = [";".join('"' + cell.replace('"', '""') + '"' for cell in line) for line in lines]
        path.write_text("\ufeff" + "\r\n".join(quoted), encoding="utf-8")
    given = read.read(tmp_path / "shop")
    assert {name: table.frame.values.tolist() for name, table in given.tables.items() if len(table.frame)} == {}


@pytest.mark.parametrize(("column", "cell"), [
    ("qty_pcs", "3"), ("qty_pcs", "2.01"), ("qty_pcs", "two"), ("used_on", "2025-03-19"), ("used_on", "19/03/2025")])
def test_another_number_or_day_is_the_owner_s(column, cell):
    header, row = starter_rows("job_parts")
    changed = [cell if name == column else old for name, old in zip(header, row, strict=True)]
    assert starter.without_examples("job_parts", header, [changed], [2])[0] == [changed]


@pytest.mark.parametrize("row", [
    ["EXAMPLE-SLEEVE", "Coil sleeve, short", "seen by me"],  # one more cell
    ["EXAMPLE-SLEEVE", "Coil sleeve, shorter", ""],
    ["EXAMPLE-SLEEVE", "", ""],
    ["EXAMPLE-SLEEVE", "Coil sleeve, short", "", "beyond"],
])
def test_a_row_with_anything_changed_is_the_owner_s(row):
    assert starter.without_examples("parts", ["part", "description", "own"], [row], [2]) == ([row], [2], 0)


def test_a_row_that_could_be_anybody_s_is_kept():
    # Without the columns that make it the example, "sleeve" is a class like any other.
    assert starter.without_examples("wear", ["wear_class"], [["sleeve"]], [2]) == ([["sleeve"]], [2], 0)
    assert starter.without_examples("no such table", ["a"], [["b"]], [2]) == ([["b"]], [2], 0)


def test_a_blank_folder_is_written_and_says_what_to_do(tmp_path):
    made = starter.write_folder(tmp_path / "new" / "shop")
    assert sorted(path.name for path in made.folder.iterdir()) == sorted([*(f"{name}.csv" for name in NAMES),
                                                                          starter.README])
    for name in NAMES:
        assert (made.folder / f"{name}.csv").read_bytes() == (starter.FOLDER / f"{name}.csv").read_bytes()
    said = "\n".join(made.lines())
    assert str(made.folder) in said and "python3 -m pipeline load" in said and f"{len(NAMES)} files" in said
    note = (made.folder / starter.README).read_text(encoding="utf-8")
    assert all(rule in note for rule in starter.RULES) and "parts.csv, jobs.csv and job_parts.csv" in note


@pytest.mark.parametrize("there", ["PARTS.csv", "corrections.csv", "shop.xlsx", "shop.toml", "readme.txt"])
@pytest.mark.parametrize("write", [starter.write_folder, starter.write_workbook])
def test_a_folder_with_records_is_left_alone(tmp_path, there, write):
    (tmp_path / there).write_text("mine", encoding="utf-8")
    with pytest.raises(RecordsError, match=f"{there} is here already. Choose a new folder; nothing was changed"):
        write(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [there]


def test_several_files_that_are_there_are_counted(tmp_path):
    for name in ("jobs.csv", "parts.csv", "other.csv"):
        (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(RecordsError, match="jobs.csv and 1 more is here already"):
        starter.write_folder(tmp_path)


def test_other_files_in_the_folder_do_not_matter(tmp_path):
    (tmp_path / "photo.jpg").write_bytes(b"x")
    starter.write_workbook(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["photo.jpg", "shop.xlsx"]


def test_a_file_in_the_place_of_the_folder(tmp_path):
    (tmp_path / "shop").write_text("x", encoding="utf-8")
    with pytest.raises(RecordsError, match="this is a file, not a folder"):
        starter.write_folder(tmp_path / "shop")


@pytest.mark.parametrize("folder", [".", "new/shop"])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), PermissionError(13, "Permission denied")])
def test_a_disk_that_is_full_or_closed_leaves_nothing_behind(tmp_path, monkeypatch, error, folder):
    written, write = [], type(tmp_path).write_bytes

    def write_bytes(path, content):
        if len(written) == 3:
            write(path, content[:5])
            raise error
        written.append(path)
        return write(path, content)

    monkeypatch.setattr(type(tmp_path), "write_bytes", write_bytes)
    with pytest.raises(RecordsError, match=f"cannot be written .{error.strerror}.*nothing was made"):
        starter.write_folder(tmp_path / folder)
    assert len(written) == 3 and list(tmp_path.iterdir()) == []


def test_a_cut_leaves_nothing_behind_and_goes_on_being_a_cut(tmp_path, monkeypatch):
    def cut(path):
        path.write_bytes(b"half")
        raise KeyboardInterrupt

    monkeypatch.setattr(starter_book, "write", cut)
    with pytest.raises(KeyboardInterrupt):
        starter.write_workbook(tmp_path / "shop")
    assert list(tmp_path.iterdir()) == []


def test_the_workbook_has_a_sheet_that_explains_and_one_for_each_file(book):
    assert book.sheetnames == [starter.ABOUT_SHEET, *NAMES]
    assert starter.ABOUT_SHEET not in catalogue.tables()
    about = [str(value) for row in book[starter.ABOUT_SHEET].iter_rows(values_only=True) for value in row if value]
    assert all(rule in about for rule in starter.RULES)
    assert about.count("required") == 3 and about.count("optional") == len(NAMES) - 3
    assert [key for key in catalogue.shop_keys() if key not in about] == []


@pytest.mark.parametrize("name", NAMES)
def test_headings_are_bold_say_what_they_hold_and_stay_in_sight(book, name):
    sheet, table = book[name], starter.tables()[name]
    heads = {cell.value: cell for cell in sheet[1]}
    assert list(heads) == [column.name for column in table.file_columns]
    assert all(cell.font.b and cell.comment for cell in heads.values()) and sheet.freeze_panes == "A2"
    fills = {is_required: {heads[column.name].fill.fgColor.rgb for column in table.file_columns
                           if column.is_required is is_required} for is_required in (True, False)}
    assert len(fills[True]) == 1 and len(fills[False]) <= 1 and not fills[True] & fills[False]
    for column in table.file_columns:
        assert column.meaning[1:] in heads[column.name].comment.text
        assert ("Required." in heads[column.name].comment.text) is column.is_required


@pytest.mark.parametrize("name", NAMES)
def test_examples_are_grey_and_slanted_and_typed_as_their_column_wants(book, name):
    sheet, table = book[name], starter.tables()[name]
    for n, column in enumerate(table.file_columns, start=1):
        letter = openpyxl.utils.get_column_letter(n)
        cell, kept = sheet.cell(2, n), sheet.column_dimensions[letter]
        assert cell.font.i, column.name
        assert kept.width >= len(column.name)
        wanted = {"DATE": "yyyy-mm-dd", "VARCHAR": "@"}.get(column.type, "General")
        assert cell.number_format == kept.number_format == wanted, column.name
        if cell.value is not None:
            assert cell.data_type == {"DATE": "d", "VARCHAR": "s"}.get(column.type, "n"), column.name


@pytest.mark.parametrize("name", NAMES)
def test_the_workbook_is_read_back_as_the_blank_folder_and_its_examples_left_out(tmp_path_factory, book, name):
    raw = io.BytesIO()
    book.save(raw)
    sheet = workbook_text.sheets_of(raw.getvalue(), "shop.xlsx")[name]
    assert [sheet.header, *sheet.rows] == starter_rows(name)
    assert sheet.remarks == [] and len(sheet.refused) == 0
    assert starter.without_examples(name, sheet.header, sheet.rows, sheet.lines)[0] == []


def test_lists_point_at_the_sheets_that_list(book):
    lists = {str(rule.sqref): rule for rule in book["job_parts"].data_validations.dataValidation if rule.type == "list"}
    assert lists[f"A2:A{sheet_rules.ROOM}"].formula1 == f"=jobs!$A$2:$A${sheet_rules.ROOM}"
    assert lists[f"B2:B{sheet_rules.ROOM}"].errorStyle == "warning"
    (keys,) = [rule for rule in book["shop"].data_validations.dataValidation if rule.type == "list"]
    title, _, area = keys.formula1.removeprefix("=").partition("!")
    assert title == starter.ABOUT_SHEET
    assert [row[0].value for row in book[title][area.replace("$", "")]] == list(catalogue.shop_keys())


def test_every_cell_that_refers_to_a_row_of_another_sheet_is_offered_its_list(book):
    for name, table in catalogue.tables().items():
        offered = {str(rule.sqref)[0] for rule in book[name].data_validations.dataValidation if rule.type == "list"}
        for n, column in enumerate(table.file_columns, start=1):
            refers = sheet_rules.listed_as(table, column.name)[1] not in (None, name)
            assert (openpyxl.utils.get_column_letter(n) in offered) is bool(refers or table.words(column.name)), (
                name, column.name)


def test_the_blank_workbook_is_the_same_bytes_each_time(tmp_path):
    one, two = (starter.write_workbook(tmp_path / name).folder / starter.WORKBOOK for name in ("a", "b"))
    assert one.read_bytes() == two.read_bytes()


def test_the_examples_are_plain_csv():
    for name in NAMES:
        with open(starter.FOLDER / f"{name}.csv", encoding="ascii", newline="") as text:
            assert list(csv.reader(text, strict=True)) == starter_rows(name)
    assert workbooks.rows_of(starter.FOLDER / "parts.csv")[1][0] == "EXAMPLE-SLEEVE"
