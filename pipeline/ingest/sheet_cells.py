"""The cells of one worksheet, by row and column, with what stands behind them: formulas, errors, merges, hiding."""

import re
from dataclasses import dataclass, field

from pipeline.errors import RecordsError
from pipeline.ingest.cell_text import text_of

ANEW = "Save it anew as a workbook (.xlsx) and load again; nothing was loaded."


@dataclass
class Grid:
    """The cells of a worksheet that hold anything; rows and columns are counted from 1.

    Attributes
    ----------
    rows : dict of int to list of str
        By row, up to the last cell with a value; formulas stand as they are where no value was saved with them.
    formulas : dict of (int, int) to str
        By row and column.
    broken : dict of (int, int) to str
        The rule that a cell breaks: ``formula`` (no value was saved with it) or ``formula_error``.
    merged : list
        Merged ranges, with ``coord``, ``min_row``, ``max_row``, ``min_col``, ``max_col``.
    hidden_rows, hidden_columns : set of int
    """

    rows: dict = field(default_factory=dict)
    formulas: dict = field(default_factory=dict)
    broken: dict = field(default_factory=dict)
    merged: list = field(default_factory=list)
    hidden_rows: set = field(default_factory=set)
    hidden_columns: set = field(default_factory=set)

    def text(self, line, column):
        """Return the text of one cell (str), empty where there is none."""
        cells = self.rows.get(line, ())
        return cells[column - 1] if column <= len(cells) else ""


def read_cells(worksheet, file):
    """Read a worksheet in one pass, and in a second one the values of its formulas, if it has any.

    Parameters
    ----------
    worksheet : openpyxl worksheet
        Of a workbook opened for reading only.
    file : str
        Its label, for the message.

    Returns
    -------
    Grid

    Raises
    ------
    RecordsError
        If the library cannot read it.
    """
    grid, widths = Grid(), _Widths(worksheet)
    with worksheet._get_source() as source:
        parser = _parser(worksheet, source, is_reckoned=False)
        for line, cells in _parsed(parser, file):
            if texts := _texts(grid, line, cells, widths):
                grid.rows[line] = texts
    grid.merged = list(parser.merged_cells.mergeCell) if parser.merged_cells else []
    grid.hidden_rows = {int(line) for line, row in parser.row_dimensions.items() if _is_hidden(row)}
    grid.hidden_columns = {at for column in parser.column_dimensions.values() if _is_hidden(column)
                           for at in range(int(column["min"]), int(column["max"]) + 1)}
    if grid.formulas:
        _reckon(grid, worksheet, file)
    return grid


def told(error):
    """Return in few words what the library says of a file it cannot read (str)."""
    return " ".join(f"{type(error).__name__}: {error}".split())[:120].rstrip(". ")


def _parser(worksheet, source, is_reckoned):
    # The library's reader of one sheet, called by itself: a worksheet opened for reading only tells nothing of
    # merged and hidden cells, and one opened whole takes eight times the memory.
    from openpyxl.worksheet._reader import WorkSheetParser

    book = worksheet.parent
    return WorkSheetParser(source, worksheet._shared_strings, data_only=is_reckoned, epoch=book.epoch,
                           date_formats=book._date_formats, timedelta_formats=book._timedelta_formats)


def _parsed(parser, file):
    try:
        yield from parser.parse()
    except Exception as error:  # whatever a damaged file makes the library stumble over
        raise RecordsError(f"{file}: this sheet cannot be read ({told(error)}). {ANEW}") from None


def _texts(grid, line, cells, widths):
    """The row's texts up to its last cell with a value; notes formulas and errors."""
    texts = []
    for cell in cells:
        value, column = cell["value"], cell["column"]
        if value is None:
            continue
        if cell["data_type"] == "f":
            grid.formulas[line, column] = text_of(value)
        elif cell["data_type"] == "e":
            grid.broken[line, column] = "formula_error"
        texts += [""] * (column - len(texts))
        texts[column - 1] = widths.text(value, cell["style_id"])
    return texts


def _reckon(grid, worksheet, file):
    """Put the value last reckoned in place of each formula."""
    with worksheet._get_source() as source:
        for line, cells in _parsed(_parser(worksheet, source, is_reckoned=True), file):
            for cell in cells:
                at, value, kind = (line, cell["column"]), cell["value"], cell["data_type"]
                if at not in grid.formulas:
                    continue
                # A formula that came to an empty text has the kind of a text; one never reckoned has none.
                if value is None and kind != "str":
                    grid.broken[at] = "formula"
                    continue
                if kind == "e":
                    grid.broken[at] = "formula_error"
                grid.rows[line][cell["column"] - 1] = text_of(value)


def _is_hidden(dimension):
    return dimension.get("hidden") in ("1", "true")


class _Widths(dict):
    """How many digits a style shows at least, by its number: 7 formatted as 0000 is the identifier 0007."""

    def __init__(self, worksheet):
        super().__init__({0: 0})
        self._worksheet = worksheet

    def text(self, value, style_id):
        if type(value) is int and self[style_id]:
            return f"{value:0{self[style_id]}}"
        return text_of(value)

    def __missing__(self, style_id):
        from openpyxl.cell.read_only import ReadOnlyCell

        code = ReadOnlyCell(self._worksheet, 1, 1, 0, style_id=style_id).number_format or ""
        self[style_id] = len(code) if re.fullmatch("0{2,}", code) else 0
        return self[style_id]
