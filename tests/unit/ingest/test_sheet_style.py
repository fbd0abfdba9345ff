"""How our workbooks look, what their notes say, and which lists and checks their cells bear."""

import datetime
import re

import openpyxl
import pytest

from pipeline.ingest import sheet_rules, sheet_style, workbook_file
from pipeline.reports import theme
from pipeline.store import catalogue
from tests.support import workbooks

TABLES = catalogue.tables()


def column_of(table, name):
    return next(column for column in TABLES[table].file_columns if column.name == name)


def letters(table):
    return {column.name: openpyxl.utils.get_column_letter(n) for n, column in enumerate(table.file_columns, start=1)}


def ruled(name, offer, *ranges):
    """The rules that a sheet of one table bears afterwards, by column."""
    sheet = openpyxl.Workbook().active
    offer(sheet, TABLES[name], letters(TABLES[name]), 50, *ranges)
    names = {letter: column for column, letter in letters(TABLES[name]).items()}
    return {names[re.match("[A-Z]+", str(rule.sqref))[0]]: rule for rule in sheet.data_validations.dataValidation}


def rgb(colour):
    return tuple(int(colour.lstrip("#")[at:at + 2], 16) for at in (0, 2, 4))


def contrast(one, other):
    """Contrast of two colours by WCAG 2.2, relative luminance of sRGB."""
    def luminance(colour):
        parts = [part / 255 for part in rgb(colour)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_colours_are_those_of_charts_and_pages():
    named = {"INK": theme.INK, "QUIET_INK": theme.QUIET_INK, "PAPER": theme.PAPER, "SHADE": theme.SHADE,
             "DEEP": theme.MAIN, "MARK_INK": theme.OUTCOME_COLOURS["set aside"]}
    assert {name: "#" + getattr(sheet_style, name).lower() for name in named} == named
    both = zip(rgb(theme.PAPER), rgb(theme.PLUM), strict=True)
    assert rgb(sheet_style.MARK) == tuple(round(paper + (ink - paper) / 6) for paper, ink in both)


@pytest.mark.parametrize("name", sheet_style.STYLES)
def test_text_can_be_read_on_its_ground(name):
    # WCAG 2.2, success criterion 1.4.3: 4.5 to 1.
    look = sheet_style.STYLES[name]
    ink = look.get("font", {}).get("color", sheet_style.INK)
    assert contrast(ink, look.get("fill", sheet_style.PAPER)) >= 4.5


def test_what_is_marked_or_required_differs_in_more_than_colour():
    for name in ("marked", "required"):
        assert sheet_style.STYLES[name]["font"]["b"]


def test_a_style_sets_font_fill_and_format():
    book = openpyxl.Workbook()
    cell = book.active["A1"]
    cell._style = sheet_style.style(book.active, "marked")
    assert (cell.font.b, cell.fill.fgColor.rgb[-6:], cell.number_format) == (True, sheet_style.MARK, "@")
    cell._style = sheet_style.style(book.active, "reason")
    assert cell.alignment.wrap_text and cell.fill.fill_type is None


def test_a_note_grows_with_its_text_and_bears_any_character():
    short, long = sheet_style.note("wanted a day"), sheet_style.note("wanted a day\n" * 8)
    assert long.height > 3 * short.height and short.author == "Sparebench"
    book = workbooks.book({"parts": [["part"]]})
    book["parts"]["A1"].comment = sheet_style.note("value 'a\x07b' is odd")
    kept = openpyxl.load_workbook(workbooks.io.BytesIO(workbooks.saved(book)))["parts"]["A1"].comment.text
    assert kept == "value 'a_x0007_b' is odd"


@pytest.mark.parametrize(("table", "column", "words"), [
    ("parts", "part", ["Required.", "Own identifier."]),
    ("parts", "unit_cost", ["May be empty; empty means unknown.", "Remembered cost per piece",
                            "Wanted a number with a decimal point", "Wanted a number, 0 or more."]),
    ("parts", "keep", ["Wanted one of auto, always, never."]),
    ("jobs", "delivered_on", ["Wanted a day as 2025-03-09.", "Delivered_on must not be before booked_on."]),
    ("jobs", "family", ["Listed in families.", "May be empty where the machine is given"]),
    ("job_parts", "part", ["Listed in parts.", "An alias will do."]),
    ("companions", "trigger_part", ["Wanted a value in trigger_part or trigger_wear_class."]),
])
def test_a_column_is_told_from_the_catalogue(table, column, words):
    told = sheet_style.about(TABLES[table], column_of(table, column))
    assert [word for word in words if word not in told] == []


def test_every_column_of_the_contract_has_its_meaning_told():
    for table in TABLES.values():
        for column in table.file_columns:
            told = sheet_style.about(table, column)
            assert column.meaning[1:] in told and len(told.splitlines()) >= 2, (table.name, column.name)


def test_words_are_offered_as_a_list_for_every_column_that_has_any():
    for name, table in TABLES.items():
        found = {column: rule.formula1 for column, rule in ruled(name, sheet_rules.offer_words).items()}
        with_words = {column.name: table.words(column.name) for column in table.file_columns
                      if table.words(column.name)}
        assert found == {column: f'"{",".join(words)}"' for column, words in with_words.items()}
        assert all(len(text) <= 257 for text in found.values())


def test_numbers_and_days_are_checked_as_their_rules_want():
    job_parts = ruled("job_parts", sheet_rules.check_values)
    assert (job_parts["qty_pcs"].type, job_parts["qty_pcs"].operator, job_parts["qty_pcs"].formula1) == (
        "whole", "notEqual", "0")
    assert job_parts["used_on"].type == "date" and "2025-03-09" in job_parts["used_on"].error
    offers = ruled("offers", sheet_rules.check_values)
    assert (offers["reject_share"].type, offers["reject_share"].formula1, offers["reject_share"].formula2) == (
        "decimal", "0", "1")
    assert (offers["pack_pcs"].operator, offers["pack_price"].operator) == ("greaterThan", "greaterThanOrEqual")
    assert offers["pack_pcs"].error == "Wanted a whole number of pieces more than 0."
    machines = ruled("machines", sheet_rules.check_values)
    assert (machines["year"].formula1, machines["year"].formula2) == ("1900", "2100")
    assert all(rule.errorStyle == "stop" and rule.allow_blank for rule in (*job_parts.values(), *offers.values()))


def test_what_a_sheet_would_stop_a_load_would_set_aside():
    # Every limit on a cell is one of the catalogue's own rules, or wide enough for any shop.
    for name, table in TABLES.items():
        for column, rule in ruled(name, sheet_rules.check_values).items():
            limits = {rule.formula1, rule.formula2} - {None}
            rules = " ".join(text for text, columns in table.checks if columns == (column,))
            wide = {"1", "-1000000000", "1000000000"}
            assert limits <= wide or limits <= set(re.findall(r"-?\d+", rules)), (name, column)


def test_listed_identifiers_are_offered_and_an_alias_may_be_typed():
    ranges = {"part": "parts!$A$2:$A$9", "job": "jobs!$A$2:$A$9", "assembly": "assemblies!$A$2:$A$9"}
    found = ruled("job_parts", sheet_rules.offer_listed, ranges)
    assert {column: rule.formula1 for column, rule in found.items()} == {
        "job": "=jobs!$A$2:$A$9", "part": "=parts!$A$2:$A$9", "assembly": "=assemblies!$A$2:$A$9"}
    assert found["part"].errorStyle == "warning" and "or an alias" in found["part"].error
    assert not found["assembly"].showErrorMessage  # may be used without a list of its own
    assert ruled("parts", sheet_rules.offer_listed, ranges) == {}


@pytest.mark.parametrize(("table", "column", "listed"), [
    ("job_parts", "part", ("part", "parts")), ("interchange", "can_replace", ("part", "parts")),
    ("companions", "adds_part", ("part", "parts")), ("jobs", "machine", ("machine", "machines")),
    ("job_hours", "assembly", ("assembly", "assemblies")), ("shop", "key", ("key", "shop_keys")),
    ("parts", "shelf", (None, None)), ("parts", "part", (None, None)),
])
def test_which_table_lists_what_a_column_holds(table, column, listed):
    assert sheet_rules.listed_as(TABLES[table], column) == listed


def test_a_workbook_is_the_same_bytes_each_time_and_opens(tmp_path):
    for name in ("one", "two"):
        book = workbooks.book({"parts": [["part"], ["lamp"]]})
        book["parts"]["A1"].comment = sheet_style.note("why")
        book.properties.created = datetime.datetime(2020 + len(name), 1, 1)
        workbook_file.write(tmp_path / name, book)
    assert (tmp_path / "one").read_bytes() == (tmp_path / "two").read_bytes()
    again = openpyxl.load_workbook(workbooks.io.BytesIO((tmp_path / "one").read_bytes()))
    assert again["parts"]["A2"].value == "lamp" and again.properties.creator == "Sparebench"


def test_a_full_disk_is_an_error_of_the_system_and_nothing_else(tmp_path):
    with pytest.raises(OSError):
        workbook_file.write(tmp_path / "no such folder" / "x.xlsx", workbooks.book({"parts": [["part"]]}))
