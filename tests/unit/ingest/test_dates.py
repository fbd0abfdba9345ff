"""Days in other spellings are taken only where they read one way."""

import pandas as pd
import pytest

from pipeline.ingest.dates import read_days


def days(*texts):
    read, unread = read_days(pd.Series(list(texts), dtype=object))
    return read.tolist(), {texts[n]: words for n, words in unread.items()}


@pytest.mark.parametrize(("text", "day"), [
    ("2025-03-09", "2025-03-09"), ("2025/03/09", "2025-03-09"), ("2025.3.9", "2025-03-09"), ("2025-3-9", "2025-03-09"),
    ("2025-03-09 14:30:00", "2025-03-09"), ("2025-03-09T14:30:00", "2025-03-09"), ("2025-03-09 14:30", "2025-03-09"),
    ("9 Mar 2025", "2025-03-09"), ("09 March 2025", "2025-03-09"), ("Mar 9, 2025", "2025-03-09"),
    ("March 9, 2025", "2025-03-09"), ("25/03/2025", "2025-03-25"), ("3/25/2025", "2025-03-25"),
    ("25.03.2025", "2025-03-25"), ("25-3-2025", "2025-03-25"), ("9/9/2025", "2025-09-09"), ("3/25/99", "1999-03-25")])
def test_a_day_that_reads_one_way_by_itself(text, day):
    assert days(text) == ([day], {})


@pytest.mark.parametrize(("text", "readings"), [
    ("03/04/2025", "2025-03-04 or 2025-04-03"), ("03.04.2025", "2025-03-04 or 2025-04-03"),
    ("3-4-2025", "2025-03-04 or 2025-04-03"), ("25/03/25", "2025-03-25"),
    ("10/11/12", "2010-11-12 or 2012-10-11 or 2012-11-10")])
def test_a_day_that_reads_several_ways_is_left_and_both_are_shown(text, readings):
    read, unread = days(text)
    if " or " in readings:
        assert read == [text] and unread == {text: f"could be {readings}; write the day as 2025-03-09"}
    else:
        assert read == [readings]


def test_year_first_and_day_first_in_two_digits_are_two_readings():
    read, unread = days("25/03/24")
    assert read == ["25/03/24"] and "2024-03-25 or 2025-03-24" in unread["25/03/24"]


def test_one_cell_that_can_be_read_one_way_settles_its_column():
    assert days("03/04/2025", "", "25/03/2025", "2025-01-01") == (["2025-04-03", "", "2025-03-25", "2025-01-01"], {})
    assert days("03/04/2025", "03/25/2025") == (["2025-03-04", "2025-03-25"], {})


def test_a_column_in_two_orders_is_refused_whole_each_cell_with_its_own_reading():
    read, unread = days("25/03/2025", "03/25/2025", "03/04/2025")
    assert read == ["25/03/2025", "03/25/2025", "03/04/2025"]
    assert unread["25/03/2025"].startswith("alone it reads as 2025-03-25, day first, but")
    assert unread["03/25/2025"].startswith("alone it reads as 2025-03-25, month first, but")
    assert "could be 2025-03-04 or 2025-04-03" in unread["03/04/2025"]


def test_what_is_no_day_does_not_stop_its_column_from_being_read():
    assert days("soon", "25/03/2025", "?", "45000", "99/99/2025") == (
        ["soon", "2025-03-25", "?", "45000", "99/99/2025"],
        {},
    )


def test_plain_days_are_read_even_beside_doubtful_ones():
    read, unread = days("9 Mar 2025", "03/04/2025")
    assert read == ["2025-03-09", "03/04/2025"] and list(unread) == ["03/04/2025"]


@pytest.mark.parametrize(
    "text", ["2025-02-30", "31/02/2025", "2025/13/01", "March 2025", "2025", "10:30", "1/2", "1/2.2025"]
)
def test_what_no_calendar_knows_is_left_for_the_rules(text):
    assert days(text) == ([text], {})


def test_an_empty_column():
    assert days() == ([], {}) and days("", "") == (["", ""], {})
