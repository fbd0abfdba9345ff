"""One worksheet as text: its header, its rows, the cells whose value cannot be told, and what deserves a remark."""

from bisect import bisect_left, bisect_right
from collections import Counter

import pandas as pd

from pipeline.errors import RecordsError
from pipeline.ingest import records
from pipeline.ingest.sheet_cells import read_cells
from pipeline.store.validate import OFFENCE_COLUMNS

WANTED = {
    "formula": "a formula whose value was not saved with it; write the value itself, or open the workbook in the "
               "spreadsheet program and save it again",
    "formula_error": "the sheet shows an error here; write the value itself, or leave the cell empty if it is unknown",
}


def read_into(sheet, worksheet, known):
    """Read a worksheet's cells.

    Parameters
    ----------
    sheet : pipeline.ingest.workbook_text.Sheet
        Empty; header, rows, lines, refused and remarks are filled in.
    worksheet : openpyxl worksheet
        Of a workbook opened for reading only.
    known : set of str or None
        Columns of the contract: only their cells can be refused. None = all.

    Raises
    ------
    RecordsError
        If the sheet cannot be read, holds blanks only, or its header cannot be told.
    """
    grid = read_cells(worksheet, sheet.file)
    if not grid.rows:
        sheet.remarks.append(records.of_file(sheet.file, sheet.file, "empty_sheet", "an empty sheet; passed over"))
        return
    lines = [line for line, cells in grid.rows.items() if any(cell.strip() for cell in cells)]
    if not lines:
        raise RecordsError(f"{sheet.file} is empty; wanted a header row. Remove the sheet or give it a header.")
    head, *sheet.lines = lines
    _refuse_unclear_header(sheet.file, grid, head)
    columns = _columns(grid, head, lines)
    sheet.header = list(columns.values())
    sheet.rows = [[grid.text(line, at) for at in columns] for line in sheet.lines]
    counted = {at: column.strip().lower() for at, column in columns.items()
               if known is None or column.strip().lower() in known}
    sheet.refused = refused([*_broken(grid, head, counted), *_merged(grid, sheet.lines, counted)])
    sheet.remarks += [*_of_formulas(sheet.file, grid, head, columns, counted),
                      *_of_hiding(sheet, grid, columns)]


def refused(found):
    """Return cells as offences (pandas.DataFrame) from tuples of line, column, value, rule, suggestion."""
    # As objects: an empty value must stay None on its way into the store.
    return pd.DataFrame(sorted(found, key=lambda offence: offence[:2]), columns=OFFENCE_COLUMNS, dtype=object)


def _refuse_unclear_header(file, grid, head):
    for area in grid.merged:
        if area.min_row <= head and any(
                cell.strip() for line in grid.rows if area.min_row <= line <= area.max_row
                for cell in grid.rows[line][area.min_col - 1:area.max_col]):
            raise RecordsError(f"{file}: cells {area.coord} are merged, in the header or above it; wanted one row with "
                               "a column name in each cell. Unmerge them, delete a title above the header, and load "
                               "again; nothing was loaded.")
    for line, column in grid.broken:
        if line == head:
            raise RecordsError(f"{file} row {line}: the header holds '{grid.text(line, column)}'; wanted a column "
                               "name. Write the name itself and load again; nothing was loaded.")


def _columns(grid, head, lines):
    """Worksheet columns that hold anything, to their names; one without a name is named by its place."""
    used = {at for line in lines for at, cell in enumerate(grid.rows[line], start=1) if cell and not cell.isspace()}
    return {at: grid.text(head, at) if grid.text(head, at).strip() else f"column {at}" for at in sorted(used)}


def _broken(grid, head, counted):
    return [(line, counted[at], grid.text(line, at), rule, WANTED[rule])
            for (line, at), rule in grid.broken.items() if line != head and at in counted]


def _merged(grid, lines, counted):
    """Cells in merged ranges: whose value the one cell shown is, the sheet does not say.

    A range over one row's own cells of one column (the rows below it hold nothing) is a matter of looks.
    """
    found = []
    for area in grid.merged:
        rows = lines[bisect_left(lines, area.min_row):bisect_right(lines, area.max_row)]
        columns = [at for at in counted if area.min_col <= at <= area.max_col]
        if len(rows) > 1 or area.max_col > area.min_col:
            words = (f"cells {area.coord} are merged, so it is not told whose value '{_shown(grid, area)}' is; unmerge "
                     "them and write each row's own value")
            found += [(line, counted[at], grid.text(line, at) or None, "merged_cells", words)
                      for line in rows for at in columns]
    return found


def _shown(grid, area):
    return grid.text(area.min_row, area.min_col)


def _of_formulas(file, grid, head, columns, counted):
    taken = Counter(at for line, at in grid.formulas if line != head and (line, at) not in grid.broken)
    kept = Counter(at for line, at in grid.broken if line != head and at not in counted)
    found = [(at, "formula_value", f"{_cells(number)} by formula; taken at the value last reckoned")
             for at, number in taken.items()]
    found += [(at, "formula_text", f"{_cells(number)} by formula without a value, or in error; kept as text")
              for at, number in kept.items()]
    return [records.of_file(file, columns[at], rule, words) for at, rule, words in sorted(found) if at in columns]


def _of_hiding(sheet, grid, columns):
    rows, hidden = len(grid.hidden_rows.intersection(sheet.lines)), len(grid.hidden_columns.intersection(columns))
    found = {"hidden_rows": (rows, "hidden row"), "hidden_columns": (hidden, "hidden column")}
    return [records.of_file(sheet.file, f"{number:,} {what}{'s' if number > 1 else ''}", rule, "read like the others")
            for rule, (number, what) in found.items() if number]


def _cells(number):
    return f"{number:,} cell{'s' if number > 1 else ''}"
