"""The value of a worksheet's cell as text."""

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.worksheet.formula import ArrayFormula, DataTableFormula

from pipeline.ingest.cell_text import escaped, forbidden, text_of


@pytest.mark.parametrize(("value", "text"), [
    (None, ""),
    ("J1", "J1"),
    ("  as typed ", "  as typed "),
    ("007", "007"),
    ("=not a formula", "=not a formula"),
    (12, "12"),
    (-3, "-3"),
    (12345678901234567, "12345678901234567"),
    (20.0, "20"),
    (-0.0, "0"),
    (0.1, "0.1"),
    (0.25, "0.25"),
    (4.3499999999999996, "4.35"),  # how spreadsheet programs save the typed 4.35
    (1e-05, "0.00001"),
    (1e20, "100000000000000000000"),
    (-1.5e-7, "-0.00000015"),
    (True, "TRUE"),
    (False, "FALSE"),
    (datetime.datetime(2025, 3, 9), "2025-03-09"),
    (datetime.date(2025, 3, 9), "2025-03-09"),
    (datetime.datetime(2025, 3, 9, 14, 30), "2025-03-09 14:30:00"),
    (datetime.datetime(2025, 3, 9, 14, 30, 27, 123000), "2025-03-09 14:30:27"),  # what the sheet shows
    (datetime.datetime(812, 1, 1), "0812-01-01"),
    (datetime.time(1, 30), "01:30:00"),
    (datetime.timedelta(hours=1, minutes=30), "1:30:00"),
    (datetime.timedelta(days=1, hours=2, seconds=5), "26:00:05"),
    (datetime.timedelta(minutes=-90), "-1:30:00"),
    (ArrayFormula("A1:A3", "=B1:B3*2"), "=B1:B3*2"),
    (DataTableFormula("A1:A3", r1="B1"), "={A1:A3}"),
])
def test_each_kind_of_value_has_one_spelling(value, text):
    assert text_of(value) == text


@given(st.floats(allow_nan=False, allow_infinity=False, width=64))
def test_a_number_s_text_is_plain_and_gives_the_number_back(number):
    text = text_of(number)
    assert float(text) == number
    assert not set(text) - set("-.0123456789") and not text.endswith(".0")


@given(st.text(st.characters(codec="utf-8") | st.sampled_from("_x05Ff\x07\r\ufffe")))
def test_any_text_survives_being_written_for_a_worksheet(text):
    written = escaped(text)
    assert text_of(written) == text
    assert not forbidden(written)


def test_a_spreadsheet_program_s_own_escapes_are_read():
    assert text_of("two_x000D_\nlines") == "two\r\nlines"
    assert text_of("_x005F_x0041_") == "_x0041_"
    assert text_of("part _x0041_ and _x1_") == "part _x0041_ and _x1_"  # nothing that needs an escape


def test_forbidden_characters_are_named_once_and_line_ends_are_not():
    assert forbidden("a\x07b\x00\x07\ufffe\r\n\t") == ["U+0007", "U+0000", "U+FFFE"]
    assert forbidden("Grüße, 日本, 🙂, \x85") == []
