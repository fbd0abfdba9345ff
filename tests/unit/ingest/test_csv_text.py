"""Bytes to text to rows; whole files that are refused stand in tests/faults."""

import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import csv_text

KNOWN = ["part", "description", "shelf"]


@pytest.mark.parametrize("raw", ["part\nÄ\n".encode(), "\ufeffpart\nÄ\n".encode(), "part\nÄ\n".encode("utf-16"),
                                 b"\xfe\xff" + "part\nÄ\n".encode("utf-16-be")])
def test_text_in_its_usual_clothes(raw):
    assert csv_text.decode(raw, "parts.csv") == "part\nÄ\n"


def test_what_is_no_text_says_so_with_the_line_where_there_is_one():
    with pytest.raises(RecordsError, match="^parts.csv line 2: a character is not UTF-8"):
        csv_text.decode(b"part\n\xe4\n", "parts.csv")
    with pytest.raises(RecordsError, match="^parts.csv: this is no text file"):
        csv_text.decode(b"\xff\xfe\x00\xd8\x00", "parts.csv")


def test_rows_carry_the_line_they_start_on():
    text = 'part,description\n\na,"one\ntwo"\n,,\nb,x\n'
    assert csv_text.rows_of(text, "parts.csv", KNOWN) == (
        [["part", "description"], ["a", "one\ntwo"], ["b", "x"]], [1, 3, 6])


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_separator_is_the_one_that_shows_known_columns(separator):
    header = separator.join(["part", '"a,b;c\td"', "description"])
    rows, _ = csv_text.rows_of(f"{header}\n{separator.join('123')}\n", "parts.csv", KNOWN)
    assert rows == [["part", "a,b;c\td", "description"], ["1", "2", "3"]]


def test_a_header_of_unknown_columns_is_split_where_it_has_most_cells():
    assert csv_text.rows_of("a;b,c;d\n", "parts.csv", KNOWN)[0] == [["a", "b,c", "d"]]


def test_quotes_within_a_cell_and_a_long_remark_are_no_open_quote():
    text = 'part,description,shelf,keep\na,"2"" screw",A,auto\nb,3" screw,A,auto\nc,"note, with\nmore, lines",A,auto\n'
    rows, lines = csv_text.rows_of(text, "parts.csv", KNOWN)
    assert [row[1] for row in rows] == ["description", '2" screw', '3" screw', "note, with\nmore, lines"]
    assert lines == [1, 2, 3, 4]


def test_a_quote_that_swallows_rows_is_refused_where_it_opens():
    text = "".join(["part,description,shelf,keep\n", 'a,"open,A,auto\n', "b,x,A,auto\n" * 3, 'c,1/2",A,auto\n'])
    with pytest.raises(RecordsError, match="^parts.csv line 2: a quote opens here"):
        csv_text.rows_of(text, "parts.csv", KNOWN)


SWALLOWING = 'a,b,x,y,z\n1,2,3,4,5\n'


def test_a_cell_of_many_lines_and_separators_is_a_cell_where_the_whole_header_is_quoted():
    # So a program writes; an export does wherever a cell holds a line break.
    header = '"part","description","shelf","keep"'
    text = f'{header}\n"a","{SWALLOWING}","A","auto"\nb,"{SWALLOWING}",,\n'
    rows, lines = csv_text.rows_of(text, "parts.csv", KNOWN)
    assert [row[1] for row in rows] == ["description", SWALLOWING, SWALLOWING] and lines == [1, 2, 5]


@pytest.mark.parametrize("header", ['part,description,shelf,keep', '"part","description","shelf",keep',
                                    'part,"description","shelf","keep"', ' "part","description","shelf","keep"'])
def test_it_is_refused_where_any_cell_of_the_header_is_not_quoted(header):
    with pytest.raises(RecordsError, match="^parts.csv line 2: a quote opens here"):
        csv_text.rows_of(f'{header}\n"a","{SWALLOWING}","A","auto"\n', "parts.csv", KNOWN)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("before", ["", "\n\r\n"])
@pytest.mark.parametrize("name", ["shelf", 'in "quotes"', "two\nlines", "a,b;c"])
def test_a_quoted_header_is_known_whatever_its_separator_and_names(separator, before, name):
    header = separator.join(f'"{cell.replace(chr(34), chr(34) * 2)}"' for cell in ("part", "description", name, "keep"))
    cell = "one\n" + separator * 9
    rows, _ = csv_text.rows_of(f'{before}{header}\n"a"{separator}"{cell}"\n', "parts.csv", KNOWN)
    assert rows == [["part", "description", name, "keep"], ["a", cell]]


@pytest.mark.parametrize("rows", ['"a","open,"A","auto"\n"b","x","A","auto"\n', '"a","open\n"b","x","A","auto"\n',
                                  '"a","open","A","auto\n"b","x","A","auto"\n', '"a","open","A","auto\n'])
def test_an_open_quote_shows_at_the_next_one_where_every_cell_is_quoted(rows):
    with pytest.raises(RecordsError, match="^parts.csv line 2: a quote opens here"):
        csv_text.rows_of(f'"part","description","shelf","keep"\n{rows}', "parts.csv", KNOWN)
