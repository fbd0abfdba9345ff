"""Take a shop folder in: read, repair, validate, load; all or nothing."""

from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import RecordsError
from pipeline.ingest import read, records, row_checks, row_mark, set_aside_book, take_in, waiting
from pipeline.ingest.summary import LoadSummary
from pipeline.store import catalogue, connect, merge, standing, stop
from pipeline.store import read as store_read


@dataclass(frozen=True)
class Terms:
    """How a load deals with doubt.

    Attributes
    ----------
    is_strict : bool
        True to load nothing where any row would be set aside.
    is_replacing : bool
        True to make the store equal what is handed over; the notebook's rows stay.
    allows_loss : bool
        True where that may empty a table, or drop more than half of one.
    """

    is_strict: bool = False
    is_replacing: bool = False
    allows_loss: bool = False


# A table of fewer rows may lose most of them without a question; no required one may lose all.
_FEW_ROWS = 10


class _NotLoaded(Exception):
    """A load that would do what its terms do not allow; carries its summary out of the transaction."""

    def __init__(self, summary):
        super().__init__("not loaded")
        self.summary = summary


def check(place, out_dir, shop_file=None):
    """Read and validate a shop folder or workbook, writing nothing but the list of records.

    Parameters
    ----------
    place, out_dir : str or pathlib.Path
        ``OUT/tables/records.csv`` receives the list.
    shop_file : str or pathlib.Path, optional
        A store whose rows count as known.

    Returns
    -------
    LoadSummary

    Raises
    ------
    RecordsError
        If a required file or column is missing, or a file cannot be read.
    StoreError
        If the store cannot be opened.
    """
    given = read.read(place)
    with records.list_in(out_dir) as write_list, connect.open_memory() as connection:
        if shop_file and Path(shop_file).is_file():
            connect.copy_in(connection, shop_file)
        waiting_in = _waiting_in(connection, out_dir)
        summary = _merged(connection, given, Terms(), "check")
        summary.notes += [*waiting_in, _where(out_dir)]
        write_list(summary.records)
    return summary


def load(place, shop_file, out_dir, terms=Terms()):  # noqa: B008 - immutable
    """Load a shop folder or workbook into a store: good rows in, bad rows set aside and listed, in one transaction.

    Parameters
    ----------
    place, shop_file, out_dir : str or pathlib.Path
        The folder or workbook, the DuckDB file (made if new), and where ``tables/records.csv`` and the
        workbook of rows set aside go.
    terms : Terms

    Returns
    -------
    LoadSummary

    Raises
    ------
    RecordsError
        If a required file or column is missing, or a file cannot be read; the store is as before.
    StoreError
        If the store cannot be opened or written; the store is as before.
    """
    given = read.read(place)
    if given.is_set_aside_book:
        _refuse_lone(given, shop_file, terms)
    done = f"the rows are in {shop_file}. {_where(out_dir)}"
    with stop.held_back(done) as hold, records.list_in(out_dir) as write_list:
        try:
            with set_aside_book.book_in(out_dir) as write_book, connect.change(shop_file) as connection:
                summary = _loaded(connection, given, terms, out_dir, write_book)
                write_list(summary.records)
                hold()  # what is committed from here on has its lists
        except _NotLoaded as refused:
            summary = refused.summary
            write_list(summary.records)
    return summary


def _loaded(connection, given, terms, out_dir, write_book):
    again = None if terms.is_replacing else _as_last_time(connection, given)
    summary = again or _merged(connection, given, terms, "load")
    summary.notes.append(_where(out_dir))
    if terms.is_strict and summary.newly_set_aside:
        summary.is_refused = True
        raise _NotLoaded(summary)
    summary.refusal = "" if terms.allows_loss else _too_much(summary.losses)
    if summary.refusal:
        summary.is_refused = True
        raise _NotLoaded(summary)
    waits = waiting.rows(connection)
    if len(waits):
        number, mark = _newest(connection)
        # The same files once more: somebody may be typing into the workbook, or have thrown it away.
        book = again and set_aside_book.found(out_dir, number, mark) or write_book(
            number, waits, summary.records[summary.records["outcome"] == "set_aside"], mark)
        rows = "1 row waits" if len(waits) == 1 else f"{len(waits):,} rows wait"
        summary.notes.append(f"{rows} in {book}, the faults marked: mend them there and load that workbook, or mend the"
                             " files and load them again.")
    return summary


def _as_last_time(connection, given):
    """The summary of the newest load where it was of the very same files, else None."""
    newest = store_read.rows(connection, "select load_no, digest from loads order by load_no desc limit 1")
    if not newest or newest[0][1] != given.digest:
        return None
    files = store_read.query(connection, "select file, rows_in, rows_loaded, rows_set_aside, holds from load_files"
                                         " where load_no = ? order by file", [newest[0][0]])
    entries = store_read.query(connection, "select * exclude (load_no) from records where load_no = ?", [newest[0][0]])
    return LoadSummary(str(given.place), files, records.gathered([entries]), "load", is_unchanged=True)


def _merged(connection, given, terms, verb):
    _refuse_incomplete(connection, given, terms)
    taken = take_in.take_in(connection, given, terms.is_replacing)
    take_in.prepare_log(connection, given, taken)
    losses = standing.losses(connection) if terms.is_replacing else []
    merge.merge(connection)
    checked = row_checks.run(connection)
    merge.add_records(connection, checked)
    return LoadSummary(str(given.place), taken.counts(), records.gathered([*taken.entries, checked]), verb,
                       earlier=taken.earlier, losses=losses)


def _too_much(losses):
    """Why a replacing load must not go on without a word of its owner (str, empty where it may)."""
    emptied = [name for name, rows, lost in losses if lost == rows and name in catalogue.REQUIRED]
    halved = [f"{lost:,} of the {rows:,} rows of {name}" for name, rows, lost in losses
              if rows >= _FEW_ROWS and lost > rows / 2 and name not in emptied]
    would = ([f"leave nothing in {_listed(emptied)}"] if emptied else []) + (
        [f"drop {_listed(halved)}"] if halved else [])
    return would and (
        f"Nothing was loaded: --replace would {' and '.join(would)}. The shop is as it was. Is this the right folder,"
        " and are all its files there and whole? If so, load it with --replace --allow-loss.") or ""


def _listed(words):
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def _refuse_lone(given, shop_file, terms):
    """Refuse a workbook of rows set aside where it would stand for the whole shop."""
    if terms.is_replacing:
        raise RecordsError(f"{given.place}: this workbook holds only rows that were set aside; --replace would drop"
                           " all the others. Load it without --replace. Nothing was loaded.")
    if not Path(shop_file).is_file():
        raise RecordsError(f"{given.place}: this workbook holds rows that were set aside from a shop, and there is no "
                           f"store at {shop_file}. Name the shop's store with --shop FILE. Nothing was loaded.")


def _refuse_incomplete(connection, given, terms):
    if not given.tables:
        raise RecordsError(f"{given.place}: none of the files of a shop folder is there. {read.WANTED}")
    is_there = set() if terms.is_replacing else {name for (name,) in store_read.rows(
        connection, "select distinct holds from load_files")}
    absent = [name for name in catalogue.REQUIRED if name not in given.tables and name not in is_there]
    if absent:
        is_book = given.place.suffix.lower() == ".xlsx" or (given.place / read.WORKBOOK).is_file()
        named = ", ".join(f"sheet {name}" if is_book else f"{name}.csv" for name in absent)
        wanted = ("the sheets parts, jobs and job_parts are required" if is_book
                  else "parts.csv, jobs.csv and job_parts.csv are required")
        raise RecordsError(f"{given.place}: {named} not found; {wanted}. Nothing was loaded.")


def _newest(connection):
    """The newest load and the mark of the store since (tuple of (int, str))."""
    number = store_read.rows(connection, "select max(load_no) from loads")[0][0]
    return number, row_mark.of_store(connection, number)


def _waiting_in(connection, out_dir):
    """Say where the rows stand that wait since earlier loads (list of str)."""
    if waiting.rows(connection).empty:
        return []
    book = set_aside_book.found(out_dir, *_newest(connection))
    return [f"Rows set aside earlier wait in {book}." if book else
            f"Rows set aside earlier wait, and their workbook is not in {Path(out_dir) / 'tables'}; the next `load`"
            " writes it there."]


def _where(out_dir):
    return f"Every row set aside, repair and remark is listed in {records.place(out_dir)}."
