"""A workbook's sheets as text, each row with its number: what `csv_text` is for a CSV file."""

import io
import warnings
import zipfile
from dataclasses import dataclass

from pipeline.errors import RecordsError
from pipeline.ingest import raw_table, records, sheet_cells, sheet_text
from pipeline.ingest.sheet_cells import ANEW
from pipeline.store import catalogue

CORRECTIONS = "corrections"
_OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # compound file: workbooks before .xlsx, and those with a password
_LOCKED = "EncryptedPackage".encode("utf-16-le")


@dataclass
class Sheet:
    """One worksheet as it was typed.

    Attributes
    ----------
    title, file : str
        The sheet's title without blanks around it, and its label in messages: ``shop.xlsx, sheet jobs``.
    header : list of str
        Empty where the sheet holds nothing, or is not of the contract.
    rows : list of list of str
        Each as long as the header; rows with nothing in any cell are left out.
    lines : list of int
        The number of each row in the worksheet.
    refused : pandas.DataFrame
        Cells whose value cannot be told: columns of :data:`pipeline.store.validate.OFFENCE_COLUMNS`.
    remarks : list of pandas.DataFrame
        Entries of :mod:`pipeline.ingest.records`.
    """

    title: str
    file: str
    header: list
    rows: list
    lines: list
    refused: object
    remarks: list


def sheets_of(raw, file):
    """Read a workbook.

    Parameters
    ----------
    raw : bytes
        The whole file (.xlsx; macros in it are never run, links to other files never followed).
    file : str
        Its name, for the messages.

    Returns
    -------
    dict of str to Sheet
        By title in lower case, in the order of the workbook. Sheets that are not of the contract are there,
        unread; charts on sheets of their own are not.

    Raises
    ------
    RecordsError
        If it is no workbook, cannot be read, has two sheets for one table, or a sheet whose header cannot be told.
    """
    _refuse_strangers(raw, file)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # openpyxl's, about what it leaves out: drawings, extensions
        book = _opened(raw, file)
        try:
            return _sheets(book, file)
        finally:
            book.close()


def _sheets(book, file):
    found, known = {}, {*catalogue.tables(), CORRECTIONS}
    for worksheet in book.worksheets:
        name = worksheet.title.strip().lower()
        if name in found and name in known:
            raise RecordsError(f"{file}: sheets '{found[name].title}' and '{worksheet.title}' are both for {name}. "
                               "Keep one of the two and load again; nothing was loaded.")
        sheet = _empty(worksheet.title.strip(), file)
        if name in known:
            sheet_text.read_into(sheet, worksheet, _columns(name))
            sheet.remarks += _hidden(sheet, worksheet)
        found[name] = sheet
    return found


def _empty(title, file):
    return Sheet(title, f"{file}, sheet {title}", [], [], [], sheet_text.refused([]), [])


def _columns(name):
    """The contract's columns of a table; of the corrections every column counts (None)."""
    return None if name == CORRECTIONS else set(raw_table.known_columns(catalogue.tables()[name]))


def _hidden(sheet, worksheet):
    if worksheet.sheet_state == "visible" or not sheet.header:
        return []
    return [records.of_file(sheet.file, sheet.file, "hidden_sheet", "a hidden sheet; read like the others")]


def _opened(raw, file):
    import openpyxl

    try:
        book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, keep_vba=False, keep_links=False)
    except Exception as error:  # whatever a damaged file makes the library stumble over
        raise RecordsError(f"{file}: this workbook cannot be read ({sheet_cells.told(error)}). {ANEW}") from None
    if not book.worksheets:
        book.close()
        raise RecordsError(f"{file}: no worksheet can be read in it; wanted sheets such as parts, jobs and job_parts. "
                           f"{ANEW}")
    return book


def _refuse_strangers(raw, file):
    if not raw:
        raise RecordsError(f"{file} is empty, 0 bytes; wanted a workbook. {ANEW}")
    if raw.startswith(_OLD):
        what = "has a password; wanted one without" if _LOCKED in raw else "is of the old binary kind (.xls)"
        raise RecordsError(f"{file}: this workbook {what}. {ANEW}")
    if not raw.startswith(b"PK"):
        what = "no workbook" if b"\0" in raw else "text, not a workbook; wanted sheets, or else files such as parts.csv"
        raise RecordsError(f"{file}: this is {what}. {ANEW}")
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            _refuse_other_archives(archive, file)
    except (zipfile.BadZipFile, OSError, EOFError):
        raise RecordsError(f"{file}: this workbook is cut short or damaged. Copy it again from where it is whole, or "
                           f"open it in the spreadsheet program. {ANEW}") from None


def _refuse_other_archives(archive, file):
    names = archive.namelist()
    if "mimetype" in names and b"opendocument" in archive.read("mimetype"):
        raise RecordsError(f"{file}: this is an OpenDocument file (.ods), not .xlsx. {ANEW}")
    if "xl/workbook.bin" in names:
        raise RecordsError(f"{file}: this workbook is of the binary kind (.xlsb). {ANEW}")
    if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
        raise RecordsError(f"{file}: this is an archive without a workbook in it. {ANEW}")
    if any(b"purl.oclc.org/ooxml" in archive.read(name) for name in names if name == "xl/workbook.xml"):
        raise RecordsError(f"{file}: this workbook is of the strict kind of .xlsx, which is not read here; choose the "
                           f"usual kind. {ANEW}")
