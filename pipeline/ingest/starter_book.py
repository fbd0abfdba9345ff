"""The blank workbook: a sheet that explains, then one sheet for each kind of record."""

import datetime

from pipeline.ingest import sheet_rules, sheet_style, starter, workbook_file
from pipeline.store import catalogue, connect, read

_ABOUT_WIDTHS = (24, 14, 100)
_WIDE = 26  # characters, the widest a column of records begins with
_KINDS = {"DATE": "day", "VARCHAR": "text"}


def write(path):
    """Write the blank workbook.

    Parameters
    ----------
    path : pathlib.Path

    Raises
    ------
    OSError
        If it cannot be written.
    """
    import openpyxl

    book = openpyxl.Workbook()
    about, tables = book.active, starter.tables()
    settings = _explain(about, tables)
    ranges = {table.declares: _listed_in(table) for table in tables.values() if table.declares}
    for table in tables.values():
        _add_sheet(book, table, ranges | {"key": f"{about.title}!{settings}"})
    workbook_file.write(path, book)


def _explain(sheet, tables):
    """Fill the sheet that explains; return the range in it that lists the settings (str)."""
    sheet.title = starter.ABOUT_SHEET
    sheet_style.set_widths(sheet, _ABOUT_WIDTHS)
    _line(sheet, "title", "How to fill in this workbook")
    for rule in (*_FIRST, *starter.RULES, *_LAST):
        _line(sheet, "number", rule)
    _line(sheet, "number")
    _line(sheet, "heading", "sheet", "", "what it is for")
    for name, table in tables.items():
        _line(sheet, "number", name, "required" if name in catalogue.REQUIRED else "optional", _purpose(table))
    _line(sheet, "number")
    _line(sheet, "heading", "key in sheet shop", "if not given", "what it is")
    first = sheet.max_row + 1
    with connect.open_memory() as connection:
        keys = read.rows(connection, "select key, default_value, meaning from shop_keys order by rowid")
    for key, default_value, meaning in keys:
        _line(sheet, "text", key, default_value, meaning)
    sheet.sheet_view.showGridLines = False
    return f"$A${first}:$A${sheet.max_row}"


_FIRST = (
    "One sheet for each kind of record. Only parts, jobs and job_parts are required; the others each unlock something.",
    "Dark headings are required, light ones may stay empty. Point at a heading to read what the column holds.",
    "The grey row in each sheet is an example. Loading leaves it out; delete it when you like.",
)
_LAST = (
    "Do not merge cells, and leave the headings in the first row. Sheets of your own are left alone.",
    "Then run in the folder of the program: python3 -m pipeline load THIS_FILE   (Windows: py -m pipeline load ...)",
)


def _purpose(table):
    if table.unlocks:
        return table.unlocks[:1].upper() + table.unlocks[1:]
    return table.meaning.partition(": ")[2].capitalize()


def _line(sheet, look, *cells):
    at = sheet.max_row + 1 if sheet.max_row > 1 or sheet["A1"].value else 1
    style = sheet_style.style(sheet, look)
    for column, value in enumerate(cells or [None], start=1):
        cell = sheet.cell(at, column, value)
        cell._style = style


def _listed_in(table):
    letter = _letters(table)[table.declares]
    return f"{table.name}!${letter}$2:${letter}${sheet_rules.ROOM}"


def _letters(table):
    from openpyxl.utils import get_column_letter

    return {column.name: get_column_letter(n) for n, column in enumerate(table.file_columns, start=1)}


def _add_sheet(book, table, ranges):
    sheet, examples, letters = book.create_sheet(table.name), starter.examples()[table.name], _letters(table)
    for n, column in enumerate(table.file_columns, start=1):
        kind = _KINDS.get(column.type, "number")
        head = sheet.cell(1, n, column.name)
        head._style = sheet_style.style(sheet, "required" if column.is_required else "optional")
        head.comment = sheet_style.note(sheet_style.about(table, column))
        for line, example in enumerate(examples, start=2):
            _put(sheet.cell(line, n), example[column.name], kind, sheet_style.style(sheet, f"example_{kind}"))
        longest = max(len(text) for text in (column.name, *(example[column.name] for example in examples)))
        dimension = sheet.column_dimensions[letters[column.name]]
        dimension.width, dimension._style = min(longest + 3, _WIDE), sheet_style.style(sheet, kind)
    sheet_rules.offer_words(sheet, table, letters, sheet_rules.ROOM)
    sheet_rules.check_values(sheet, table, letters, sheet_rules.ROOM)
    sheet_rules.offer_listed(sheet, table, letters, sheet_rules.ROOM, ranges)
    sheet.freeze_panes = "A2"


def _put(cell, text, kind, style):
    cell._style = style
    if text:
        cell.value = {"day": datetime.date.fromisoformat, "text": str, "number": float}[kind](text)
        cell._style = style  # a day brings a format of its own
