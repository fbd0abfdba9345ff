"""Rows set aside, as a workbook: what is wrong is marked and told in words, and what is mended loads again."""

import contextlib
import warnings
from pathlib import Path

from pipeline.ingest import row_mark, set_aside_sheet, sheet_style, unfinished, workbook_file
from pipeline.store import catalogue, validate

ABOUT_SHEET = "about_set_aside"
SET_ASIDE_COLUMNS = set_aside_sheet.COLUMNS
as_typed = set_aside_sheet.as_typed
_SAY = (
    "These rows broke a rule and were set aside; everything else is in the store.",
    "What is wrong is marked in each row, and why_set_aside tells it in words. Mend the marked cells.",
    "Delete a row that should not be there at all: it waits no longer then.",
    "Leave set_aside_line, _file, _load and _mark as they are; they tell which row it was that you mended.",
    "Then save, and run in the folder of the program (THIS_FILE is this workbook, STORE is your store):",
    "python3 -m pipeline load THIS_FILE --shop STORE",
    "On Windows: py -m pipeline load THIS_FILE --shop STORE",
    "Or mend the files the rows came from and load those again; what is mended in neither place goes on waiting.",
)
_ABOUT_WIDTHS = (24, 12, 90)
# Behind the mark of a row that only a row beside it was in the way of.
_SECOND = "-second"
# The line that says which load wrote the workbook, and the mark of the store then.
_OF_LOAD = "set aside by load"


def place(out_dir, number):
    """Return where the workbook of a load stands (pathlib.Path): a name not taken, for people type into them."""
    path = Path(out_dir) / "tables" / f"set_aside_{number}.xlsx"
    return place(out_dir, number + 1) if path.exists() else path


@contextlib.contextmanager
def book_in(out_dir):
    """Write the workbook within a ``with`` block; it takes its name when the block ends well.

    Parameters
    ----------
    out_dir : str or pathlib.Path

    Yields
    ------
    callable
        Takes the number of the load and what :func:`write` takes behind the path; returns where the workbook will
        stand (pathlib.Path). A full disk shows there. Where it is never called, nothing is written.

    Raises
    ------
    RecordsError
        As :func:`pipeline.ingest.unfinished.named_at_the_end`.
    """
    with contextlib.ExitStack() as stack:

        def put(number, *contents):
            final = place(out_dir, number)
            file = unfinished.named_at_the_end(final, write, "workbook of rows set aside")
            stack.enter_context(file)(*contents)
            return final

        yield put


def write(path, rows, entries, store_mark):
    """Write a workbook of rows set aside: a sheet that explains, and one for each table.

    Parameters
    ----------
    path : pathlib.Path
    rows : pandas.DataFrame
        Columns holds (table), file, line, cells (JSON object, column to text as typed; surplus cells as a list under
        an empty name), load_no (the load they wait since, or were told again by).
    entries : pandas.DataFrame
        Columns file, line, column, value, rule, suggestion: what is wrong with them. Entries of other rows are passed
        over.
    store_mark : str
        The store's, as that load left it (:func:`pipeline.ingest.row_mark.of_store`).

    Raises
    ------
    OSError
        If it cannot be written.
    """
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    about = book.create_sheet(ABOUT_SHEET)
    of_row = {}
    for entry in entries.itertuples():
        of_row.setdefault((entry.file, entry.line), []).append((entry.column, entry.value, entry.suggestion))
    is_second = entries["rule"].isin(validate.BY_ANOTHER_ROW)
    seconds = set(zip(entries.loc[is_second, "file"], entries.loc[is_second, "line"], strict=True))
    counts = rows["holds"].value_counts()
    names = [name for name in catalogue.tables() if name in counts.index]
    _explain(about, {name: int(counts[name]) for name in names}, (int(rows["load_no"].max()), store_mark))
    for name in names:
        of_table = rows[rows["holds"] == name]
        marks = [f"{store_mark}-{row_mark.of_row(row.cells)}{_SECOND * ((row.file, row.line) in seconds)}"
                 for row in of_table.itertuples()]
        set_aside_sheet.add_to(book, catalogue.tables()[name], of_table.assign(mark=marks), of_row)
    workbook_file.write(path, book)


def written_by(path):
    """Return which load of which store wrote a workbook of rows set aside.

    Parameters
    ----------
    path : pathlib.Path
        A workbook that can be read.

    Returns
    -------
    tuple of (int, str) or None
        The load and the store's mark; None where the workbook does not say.
    """
    import openpyxl

    with warnings.catch_warnings(), contextlib.closing(openpyxl.load_workbook(path, read_only=True)) as book:
        warnings.simplefilter("ignore")  # as in `workbook_text`
        sheets = [sheet for sheet in book.worksheets if sheet.title.strip().lower() == ABOUT_SHEET]
        for name, load, mark, *_ in ((*row, "", "", "") for sheet in sheets for row in sheet.values):
            if name == _OF_LOAD and str(load).isdecimal():
                return int(load), str(mark).strip()
    return None


def found(out_dir, load, store_mark):
    """Return the workbook that a load of a store wrote (pathlib.Path), None where it is not in that place any more.

    Parameters
    ----------
    out_dir : str or pathlib.Path
    load : int
    store_mark : str
        As for :func:`write`.
    """
    for path in sorted((Path(out_dir) / "tables").glob("set_aside_*.xlsx")):
        with contextlib.suppress(Exception):  # whatever a damaged file makes the library stumble over
            if written_by(path) == (load, store_mark):
                return path
    return None


def _explain(sheet, counts, origin):
    sheet_style.set_widths(sheet, _ABOUT_WIDTHS)
    sheet.append(_line(sheet, "title", "Rows set aside"))
    for text in _SAY:
        sheet.append(_line(sheet, "number", text))
    sheet.append([])
    sheet.append(_line(sheet, "heading", "sheet", "rows"))
    for name, count in counts.items():
        sheet.append(_line(sheet, "number", name, count))
    sheet.append([])
    sheet.append(_line(sheet, "number", _OF_LOAD, *origin))


def _line(sheet, look, *values):
    from openpyxl.cell import WriteOnlyCell

    cells = [WriteOnlyCell(sheet, value) for value in values]
    for cell in cells:
        cell._style = sheet_style.style(sheet, look)
    return cells
