"""One sheet of rows set aside: the cells as typed, the faults marked and told in words at the end of the row."""

import json
import re

from pipeline.ingest import raw_table, sheet_rules, sheet_style
from pipeline.ingest.cell_text import escaped, forbidden

COLUMNS = ("why_set_aside", "set_aside_line", "set_aside_file", "set_aside_load", "set_aside_mark")
NOTES = 2_000  # on a sheet; programs grow slow with more, and the words stand in the row as well
# A row with more cells than its header has them here, so that it is met again as it was typed.
_SURPLUS = "cell beyond the header {}"
# A cell holds so many characters; the rest of a longer text stands in columns beside.
_MOST, _PIECE = 32_767, 4_500
_REST = "rest of {} {}"
_WIDEST, _WIDEST_REASON, _LOOKED_AT = 32, 70, 200  # characters, characters, rows
_SHOWN = 80  # characters of a value told in words


def add_to(book, table, rows, of_row):
    """Add the sheet of one table.

    Parameters
    ----------
    book : openpyxl.Workbook
        Opened for writing only.
    table : pipeline.store.catalogue.Table
    rows : pandas.DataFrame
        Columns file, line, cells, load_no, mark.
    of_row : dict of (str, int) to list of tuple
        By file and line: column, value, suggestion of what is wrong.
    """
    from openpyxl.utils import get_column_letter

    sheet = book.create_sheet(table.name)
    cells = [_in_columns(json.loads(text)) for text in rows["cells"]]
    faults = [of_row.get(key, []) for key in zip(rows["file"], rows["line"], strict=True)]
    columns = _columns(table, cells, faults)
    told = [_reasons(row, found) for row, found in zip(cells, faults, strict=True)]
    letters = {column: get_column_letter(n) for n, column in enumerate(columns, start=1)}
    look = {name: sheet_style.style(sheet, name) for name in ("text", "marked", "reason", "number")}
    _set_widths(sheet, [*columns, *COLUMNS], cells, told, look["text"])
    sheet.freeze_panes = "A2"
    sheet.append([_head(sheet, table, column) for column in (*columns, *COLUMNS)])
    notes = iter(range(NOTES))
    for row, found, reason, origin in zip(cells, faults, told, rows.itertuples(), strict=True):
        sheet.append([*_marked(sheet, columns, row, found, look, notes), _cell(sheet, reason, look["reason"]),
                      _cell(sheet, int(origin.line), look["number"]), _cell(sheet, origin.file, look["text"]),
                      _cell(sheet, int(origin.load_no), look["number"]),
                      _cell(sheet, origin.mark, look["text"])])
    sheet_rules.offer_words(sheet, table, letters, len(rows) + 1)


def as_typed(header, rows):
    """Return the rows of such a sheet without what was put there to explain them.

    Parameters
    ----------
    header : list of str
    rows : list of list of str
        Each as long as the header.

    Returns
    -------
    header : list of str
        The columns the rows have in their own file.
    rows : list of list of str
        Longer than the header where a row still has cells beyond it.
    """
    names = [cell.strip() for cell in header]
    surplus = [n for n, name in enumerate(names) if re.fullmatch(_SURPLUS.format(r"\d+"), name)]
    rests = {n: names.index(_base(name)) for n, name in enumerate(names) if _base(name) in names}
    own = {n for n, name in enumerate(names) if name.lower() in COLUMNS}.union(surplus, rests)
    kept = [n for n in range(len(names)) if n not in own]
    return [header[n] for n in kept], [
        ["".join([row[n], *(row[rest] for rest, at in rests.items() if at == n)]) for n in kept]
        + _without_last_blanks([row[n] for n in surplus]) for row in rows]


def _in_columns(row):
    """A row's cells by the columns of the sheet: surplus cells and the rest of long texts in columns of their own."""
    cells = {}
    for column, text in row.items():
        if column == "":
            cells |= {_SURPLUS.format(n): cell for n, cell in enumerate(text, start=1)}
        elif len(text or "") > _MOST // 7 and len(escaped(text)) > _MOST:  # an escape is seven characters for one
            first, *rest = [text[at:at + _PIECE] for at in range(0, len(text), _PIECE)]
            cells |= {column: first} | {_REST.format(column, n): piece for n, piece in enumerate(rest, start=2)}
        else:
            cells[column] = text or ""
    return cells


def _columns(table, cells, faults):
    """Contract columns that a row bears or lacks by fault, in order, then the others as met.

    A column that no file had does not appear: what the store has there stays.
    """
    given = dict.fromkeys(column for row in cells for column in row)
    # What names no column is a double, and a number in `line` tells it apart.
    at_fault = {column if isinstance(column, str) else "line" for found in faults for column, _, _ in found}
    known = raw_table.known_columns(table)
    others = [column for column in given if column not in known and column not in COLUMNS]
    return [column for column in known if column in given or column in at_fault] + sorted(
        others, key=lambda column: column.startswith(_SURPLUS.format("")))


def _reasons(row, faults):
    """Everything that is wrong with a row, in words, a line each."""
    told = [_reason(column, value, words) for column, value, words in faults]
    for column, text in row.items():
        if (odd := forbidden(text)) and _base(column) not in row:
            told.append(f"{column} holds {', '.join(odd)}, which a worksheet does not show; it is kept")
        if _REST.format(column, 2) in row:
            told.append(f"{column} is longer than a cell can hold; it goes on in '{_REST.format(column, 2)}'")
    return "\n".join(told)


def _base(column):
    """The column whose long text goes on in this one, None where it is a column by itself."""
    found = re.fullmatch(_REST.format("(.+)", r"\d+"), column)
    return found and found[1]


def _reason(column, value, words):
    if not isinstance(column, str):
        return words
    if not isinstance(value, str):
        return f"{column}: {words}"
    return f"{column} is '{value if len(value) <= _SHOWN else value[:_SHOWN] + '...'}': {words}"


def _marked(sheet, columns, row, faults, look, notes):
    """The cells of a row, those at fault marked and with a note; the whole row where a fault names no column."""
    by_column = {}
    for column, _, words in faults:
        by_column.setdefault(column if column in columns else None, []).append(words)
    cells = []
    for n, column in enumerate(columns):
        words = by_column.get(column, []) + (by_column.get(None, []) if n == 0 else [])
        is_bad = column in by_column or None in by_column
        cell = _cell(sheet, row.get(column, ""), look["marked" if is_bad else "text"])
        if words and next(notes, None) is not None:
            cell.comment = sheet_style.note("\n".join(words))
        cells.append(cell)
    return cells


def _head(sheet, table, column):
    known = {known.name: known for known in table.file_columns}.get(column)
    is_required = known is not None and known.is_required
    cell = _cell(sheet, column, sheet_style.style(sheet, "required" if is_required else "optional"))
    if known:
        cell.comment = sheet_style.note(sheet_style.about(table, known))
    return cell


def _cell(sheet, value, style):
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(sheet, escaped(value) if isinstance(value, str) else value)
    if isinstance(value, str):
        cell.data_type = "s"  # text, whatever it begins with: nothing here is a formula
    cell._style = style
    return cell


def _set_widths(sheet, columns, cells, told, style):
    widths = {column: min(max([len(column), *(len(row.get(column, "")) for row in cells[:_LOOKED_AT])]) + 3, _WIDEST)
              for column in columns}
    lines = [len(line) for reason in told[:_LOOKED_AT] for line in reason.splitlines()]
    widths[COLUMNS[0]] = min(max([len(COLUMNS[0]), *lines]) + 3, _WIDEST_REASON)
    sheet_style.set_widths(sheet, widths.values())
    for dimension in list(sheet.column_dimensions.values())[:len(columns) - len(COLUMNS)]:
        dimension._style = style


def _without_last_blanks(cells):
    while cells and not cells[-1].strip():
        cells.pop()
    return cells
