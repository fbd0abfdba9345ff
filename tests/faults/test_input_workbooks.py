"""Workbooks that are not what they should be: one clear sentence each, and nothing half read."""

import io
import zipfile

import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import workbook_text
from tests.support import workbooks

PARTS = [["part", "description"], ["lamp", "Lamp"], ["coil", "Coil"]]
OLD = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600)


def refused(raw):
    """The words with which a workbook is refused."""
    with pytest.raises(RecordsError) as error:
        workbook_text.sheets_of(raw, "shop.xlsx")
    words = str(error.value)
    assert words.startswith("shop.xlsx") and "nothing was loaded" in words.lower()
    return words


def archive(**members):
    """The bytes of an archive; names with a stroke are given with two underscores."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as made:
        for name, text in members.items():
            made.writestr(name.replace("__", "/").replace("_dot_", "."), text)
    return stream.getvalue()


@pytest.mark.parametrize(("raw", "words"), [
    (b"", "is empty, 0 bytes; wanted a workbook"),
    (b"part,description\nlamp,Lamp\n", "this is text, not a workbook"),
    (b"\x89PNG\r\n\x1a\n\0\0\0", "this is no workbook"),
    (OLD, "of the old binary kind"),
    (OLD + "EncryptedPackage".encode("utf-16-le"), "has a password; wanted one without"),
    (b"PK\x03\x04" + bytes(40), "cut short or damaged"),
    (b"PK", "cut short or damaged"),
    (archive(), "an archive without a workbook"),
    (archive(readme_dot_txt="hello"), "an archive without a workbook"),
    (archive(mimetype="application/vnd.oasis.opendocument.spreadsheet"), "an OpenDocument file"),
    (archive(xl__workbook_dot_bin="x"), r"of the binary kind \(.xlsb\)"),
])
def test_what_is_no_workbook_is_said_to_be_what_it_is(raw, words):
    with pytest.raises(RecordsError, match=words):
        workbook_text.sheets_of(raw, "shop.xlsx")
    assert "Save it anew as a workbook (.xlsx)" in refused(raw)


@pytest.mark.parametrize("share", [0.2, 0.6, 0.95])
def test_a_workbook_cut_short(share):
    raw = workbooks.raw(parts=PARTS)
    assert "cut short or damaged" in refused(raw[:int(len(raw) * share)])


def test_a_workbook_with_a_bad_byte_inside():
    raw = bytearray(workbooks.raw(parts=[["part"], *([f"part {n * n}"] for n in range(3000))]))
    at = bytes(raw).index(b"xl/worksheets/sheet1.xml") + 2000
    raw[at:at + 40] = bytes(40)
    assert "cannot be read" in refused(bytes(raw))


@pytest.mark.parametrize(("part", "change"), [
    ("xl/workbook.xml", lambda text: text[:len(text) // 2]),
    ("xl/workbook.xml", lambda text: None),
    ("xl/styles.xml", lambda text: text.replace("<fonts", "<fnts")),
    ("[Content_Types].xml", lambda text: "<Types/>"),
])
def test_a_workbook_with_a_damaged_part_is_refused_whole(part, change):
    assert "this workbook cannot be read" in refused(workbooks.changed(workbooks.raw(parts=PARTS), part, change))


def test_a_damaged_sheet_is_named():
    raw = workbooks.changed(workbooks.raw(jobs=[["job"]], parts=PARTS), "xl/worksheets/sheet2.xml",
                            lambda text: text.replace("<v>", "<v>x", 1).replace("</row>", "", 1))
    assert refused(raw).startswith("shop.xlsx, sheet parts: this sheet cannot be read (")


def test_a_damaged_sheet_of_no_contract_is_not_even_opened():
    raw = workbooks.changed(workbooks.raw(parts=PARTS, notes=[["a"]]), "xl/worksheets/sheet2.xml",
                            lambda text: text.replace("</row>", "</raw>", 1))
    assert list(workbooks.read(raw)) == ["parts", "notes"]


def test_the_strict_kind_is_named():
    raw = workbooks.changed(workbooks.raw(parts=PARTS), "xl/workbook.xml", lambda text: text.replace(
        "http://schemas.openxmlformats.org/spreadsheetml/2006/main", "http://purl.oclc.org/ooxml/spreadsheetml/main"))
    assert "of the strict kind of .xlsx" in refused(raw)


def test_a_workbook_without_a_worksheet():
    book = workbooks.book({"parts": PARTS})
    book.create_chartsheet("chart")
    raw = workbooks.changed(workbooks.saved(book), "xl/workbook.xml", lambda text: text.replace(
        text[text.index('<sheet '):text.index('/>', text.index('<sheet ')) + 2], "", 1))
    words = refused(raw)
    assert "no worksheet can be read in it" in words or "cannot be read" in words


def test_two_sheets_for_one_table():
    raw = workbooks.raw(**{"parts": PARTS, " Parts": PARTS})
    assert "sheets 'parts' and ' Parts' are both for parts. Keep one of the two" in refused(raw)


def test_two_sheets_of_no_contract_may_be_called_alike():
    assert list(workbooks.read(workbooks.raw(**{"parts": PARTS, "notes": [[1]], "notes ": [[2]]}))) == [
        "parts", "notes"]


@pytest.mark.parametrize(("rows", "area"), [
    ([["part and description", None], ["part", "description"], ["lamp", "Lamp"]], "A1:B1"),  # a banner above the header
    ([["part", "description", None], ["lamp", "Lamp", None]], "B1:C1"),  # in the header
    ([["part", "description"], [None, None], ["lamp", "Lamp"]], "A1:A2"),  # from the header down
    ([[], ["our parts", None], ["part", "description"], ["lamp", "Lamp"]], "A2:B2"),
])
def test_a_merged_header_names_its_range_and_what_to_do(rows, area):
    book = workbooks.book({"parts": rows})
    book["parts"].merge_cells(area)
    words = refused(workbooks.saved(book))
    assert words.startswith(f"shop.xlsx, sheet parts: cells {area} are merged, in the header or above it; wanted one")
    assert "Unmerge them" in words


def test_merged_cells_that_hold_nothing_are_no_matter():
    book = workbooks.book({"parts": [[], *PARTS]})
    book["parts"].merge_cells("A1:B1")
    book["parts"].merge_cells("E2:F2")
    assert len(workbooks.read(workbooks.saved(book))["parts"].rows) == 2


@pytest.mark.parametrize(("formula", "found"), [(("1/0", "#DIV/0!", "e"), "#DIV/0!"), (("A9", None), "=A9")])
def test_a_header_in_error_is_refused_with_its_row(formula, found):
    words = refused(workbooks.with_formulas(workbooks.raw(parts=PARTS), B1=formula))
    assert words.startswith(f"shop.xlsx, sheet parts row 1: the header holds '{found}'; wanted a column name")


def test_a_header_by_formula_with_its_value_is_read():
    raw = workbooks.with_formulas(workbooks.raw(parts=PARTS), B1=('"desc"&amp;"ription"', "description", "str"))
    assert workbooks.read(raw)["parts"].header == ["part", "description"]


def test_a_sheet_of_blanks_is_empty_as_a_file_of_blanks_is():
    with pytest.raises(RecordsError, match="shop.xlsx, sheet parts is empty; wanted a header row"):
        workbook_text.sheets_of(workbooks.raw(parts=[[" ", "  "], ["\n"]]), "shop.xlsx")


def test_a_day_outside_the_calendar_is_an_error_and_not_a_crash():
    book = workbooks.book({"jobs": [["job", "booked_on"], ["J1", 99_999_999]]})
    book["jobs"]["B2"].number_format = "yyyy-mm-dd"
    assert workbooks.offences(workbooks.read(workbooks.saved(book))["jobs"]) == [
        (2, "booked_on", "#VALUE!", "formula_error")]
