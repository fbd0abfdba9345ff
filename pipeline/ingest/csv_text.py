"""CSV as people save it: encodings, separators and quotes; each row with the line it starts on."""

import csv
import io

from pipeline.errors import RecordsError

SEPARATORS = ",;\t"
ANEW = "Save it anew as CSV, UTF-8, and load again; nothing was loaded."


def decode(raw, file):
    """Return the text of a file's bytes.

    Parameters
    ----------
    raw : bytes
        UTF-8, with or without a byte-order mark, or UTF-16 with one.
    file : str
        Its name, for the message.

    Returns
    -------
    str

    Raises
    ------
    RecordsError
        If these are no such bytes.
    """
    is_utf_16 = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
    try:
        text = raw.decode("utf-16" if is_utf_16 else "utf-8-sig")
    except UnicodeDecodeError as error:
        if is_utf_16 or b"\0" in raw:
            raise RecordsError(f"{file}: this is no text file. {ANEW}") from None
        line = raw[:error.start].count(b"\n") + 1
        raise RecordsError(f"{file} line {line}: a character is not UTF-8. {ANEW}") from None
    if "\0" in text:
        raise RecordsError(f"{file}: this is no text file. {ANEW}")
    return text


def rows_of(text, file, known):
    """Split a text into its rows.

    Parameters
    ----------
    text : str
    file : str
        Its name, for the message.
    known : collection of str
        Column names to look for: the separator that shows most of them in the header is taken.

    Returns
    -------
    rows : list of list of str
        The header first; rows with nothing in any cell are left out.
    lines : list of int
        The line each row starts on, counted from 1.

    Raises
    ------
    RecordsError
        If there is no header, or a quote does not close.
    """
    separator = max(SEPARATORS, key=lambda one: _known_in_header(text, one, known))
    is_typed = not _is_quoted_whole(text, separator)
    rows, lines, at = [], [], 1
    # The reader splits lines by itself; any other way would split them at characters that are no line ends.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        for row in reader:
            if is_typed:
                _refuse_swallowed(file, row, at, reader.line_num, separator, rows[0] if rows else ())
            if any(cell.strip() for cell in row):
                rows.append(row)
                lines.append(at)
            at = reader.line_num + 1
    except csv.Error:
        raise RecordsError(_unclosed(file, at)) from None
    if not rows:
        raise RecordsError(f"{file} is empty; wanted a header row. Remove the file or give it a header.")
    return rows, lines


def _known_in_header(text, separator, known):
    header = _header(text, separator)
    return sum(cell.strip().lower() in known for cell in header), len(header)


def _is_quoted_whole(text, separator):
    """True where each cell of the header is quoted: so a program writes, and there the next quote shows an open one."""
    cells = [f'"{cell.replace(chr(34), chr(34) * 2)}"' for cell in _header(text, separator)]
    return bool(cells) and text.lstrip("\r\n").startswith(separator.join(cells))


def _header(text, separator):
    try:
        return next(row for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator) if any(row))
    except (StopIteration, csv.Error):
        return []


def _refuse_swallowed(file, row, first, last, separator, header):
    """Refuse a row whose quote closes lines later, with whole rows inside it."""
    if last > first and header:
        least = max(3, len(header) - 1)
        if any(line.count(separator) >= least for cell in row for line in cell.splitlines()[1:]):
            raise RecordsError(_unclosed(file, first))


def _unclosed(file, line):
    return (f"{file} line {line}: a quote opens here and is not closed as it should be. Close it, or double a quote"
            ' that belongs to the text (""), and load again; nothing was loaded.')
