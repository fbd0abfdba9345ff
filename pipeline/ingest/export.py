"""Everything the shop holds, back as a shop folder that loads into the same store."""

import contextlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pipeline.errors import RecordsError, StoreError
from pipeline.ingest import row_mark, scratch
from pipeline.store import catalogue, connect, csv_out, read, stop

WAITING = "set_aside.xlsx"
CUSTOMERS = {"jobs": ("customer_ref",)}
# Own words in which a customer may be named, beside the columns an owner has added.
MAY_NAME = {"approvals": ("what", "by"), "callbacks": ("cause",), "machines": ("serial", "condition_in"),
            "photos": ("file", "note"), "stock_moves": ("note",)}
# Names whose file a load would read, or that an export would write.
TAKEN = frozenset([*(f"{name}.csv" for name in catalogue.tables()), WAITING, "shop.toml", "shop.xlsx",
                   "corrections.csv"])


@dataclass(frozen=True)
class Exported:
    """What was written.

    Attributes
    ----------
    folder : str
    rows : dict of str to int
        Rows of each file.
    waiting : int
        Rows that wait to be mended, in the workbook.
    with_customers : bool
    may_name : dict of str to tuple of str
        Columns, by file, in which a customer may still be named.
    unreadable : int
        Jobs that wait and were left out, as nobody can tell which of their cells names the customer.
    """

    folder: str
    rows: dict
    waiting: int
    with_customers: bool
    may_name: dict
    unreadable: int = 0

    def lines(self):
        """Return the lines to print (list of str)."""
        left_out = "" if self.with_customers else " Left out: customer_ref of jobs (--with-customers keeps it)."
        told = [f"{self.folder}: {len(self.rows):,} files, {sum(self.rows.values()):,} rows written.{left_out}"]
        if self.waiting:
            told.append(f"{WAITING}: {self.waiting:,} {_rows(self.waiting)} set aside that wait to be mended; load it"
                        " after the folder.")
        if self.unreadable:
            told.append(f"{self.unreadable:,} {_rows(self.unreadable)} of jobs set aside left out of {WAITING}: with"
                        " more cells than the header names, nobody can say which one names a customer.")
        if not self.with_customers and (self.may_name or self.waiting):
            named = [f"{file}: {', '.join(columns)}" for file, columns in self.may_name.items()]
            told.append(f"Look before you share; customers may be named in {'; '.join(named + self._workbook())}.")
        return told

    def _workbook(self):
        return [WAITING] if self.waiting else []


def export(shop_file, folder, with_customers):
    """Write everything a store holds as a shop folder: all of it, or nothing.

    Parameters
    ----------
    shop_file : str or pathlib.Path
        The store.
    folder : str or pathlib.Path
        Made if missing; it may hold other files, but none of a shop folder.
    with_customers : bool
        False leaves `customer_ref` out.

    Returns
    -------
    Exported

    Raises
    ------
    RecordsError
        If the folder holds files of a shop folder, or is a file.
    StoreError
        If the store cannot be opened, or the folder cannot be written; nothing half-written remains.
    """
    with connect.open_read(shop_file) as connection, _filling(Path(folder)) as place:
        return write(connection, place, with_customers, str(folder))


def write(connection, folder, with_customers, name):
    """Write the files of a shop folder.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    folder : pathlib.Path
        Empty.
    with_customers : bool
        False leaves `customer_ref` out.
    name : str
        What the folder is called in the result.

    Returns
    -------
    Exported

    Raises
    ------
    OSError
        If a file cannot be written.
    """
    rows, may_name = {}, {}
    for table in catalogue.tables():
        if table in catalogue.REQUIRED or not read.is_empty(connection, table):
            left_out = () if with_customers else CUSTOMERS.get(table, ())
            written = csv_out.write_csv(connection, table, folder / f"{table}.csv", left_out)
            rows[f"{table}.csv"] = written.rows
            if columns := (*csv_out.filled(connection, table, MAY_NAME.get(table, ())), *written.other_columns):
                may_name[f"{table}.csv"] = columns
    waiting, unreadable = _write_waiting(connection, folder / WAITING, with_customers)
    return Exported(name, rows, waiting, with_customers, may_name, unreadable)


def _write_waiting(connection, path, with_customers):
    """Write the rows that wait; return how many, and how many had to be left out."""
    newest = " where load_no = (select max(load_no) from loads)"
    rows = read.query(connection, f"select holds, file, line, cells, mended, load_no from set_aside_rows{newest}"
                                  " order by all")
    entries = read.query(connection, 'select file, line, "column", value, rule, suggestion from records'
                                     f"{newest} and outcome = 'set_aside' order by all")
    found = len(rows)
    if not with_customers:
        rows, entries = _without_customers(rows, entries)
    if len(rows):
        from pipeline.ingest import set_aside_book

        set_aside_book.write(path, rows, entries, row_mark.of_store(connection, int(rows["load_no"].max())))
    return len(rows), found - len(rows)


def _without_customers(rows, entries):
    """Hide what names a customer in rows that wait, and leave out the rows where nobody can tell which cell does."""
    read_rows = [json.loads(text) for text in rows["cells"]]
    hidden = [CUSTOMERS.get(holds, ()) for holds in rows["holds"]]
    # Where the cells cannot be told apart, a cell too many in a row, any of them may be the one to hide.
    is_clear = rows["mended"].notna().to_numpy(bool) & np.array(["" not in row for row in read_rows], dtype=bool)
    is_kept = is_clear | np.array([not names for names in hidden], dtype=bool)
    cells = [json.dumps({name: cell for name, cell in row.items() if name not in names}, ensure_ascii=False)
             for row, names in zip(read_rows, hidden, strict=True)]
    gone = rows.loc[~is_kept, ["file", "line"]]
    is_told = ~entries.set_index(["file", "line"]).index.isin(gone.set_index(["file", "line"]).index)
    return rows.assign(cells=cells)[is_kept].reset_index(drop=True), entries[is_told].reset_index(drop=True)


@contextlib.contextmanager
def _filling(folder):
    """A folder to write into; its files take their place when the block ends well."""
    _refuse_filled(folder)
    whole = folder.resolve()
    is_new = not whole.exists()
    # Within a folder that is there: it may be a disk of its own, to which nothing can be moved.
    place = (whole.parent if is_new else whole) / f"{whole.name}.unfinished"
    try:
        with (stop.held_back(f"the shop folder is {folder}.") as hold, scratch.parents(whole),
              scratch.folder(place, TAKEN)):
            yield place
            hold()
            os.replace(place, whole) if is_new else _move_in(place, whole)
    except OSError as error:
        raise StoreError(f"{folder}: cannot be written ({error.strerror or error}). Nothing was exported; make room"
                         " or choose another folder.") from None


def _refuse_filled(folder):
    if folder.exists() and not folder.is_dir():
        raise RecordsError(f"{folder} is a file; wanted a folder, there or not yet there. Nothing was exported.")
    found = sorted(path.name for path in folder.iterdir() if path.name.lower() in TAKEN) if folder.exists() else []
    if found:
        more = f" and {len(found) - 3:,} more" if len(found) > 3 else ""
        raise RecordsError(f"{folder} holds {', '.join(found[:3])}{more} of a shop folder; nothing is written over. "
                           "Name a folder without them. Nothing was exported.")


def _move_in(place, folder):
    names = sorted(path.name for path in place.iterdir())
    try:
        for name in names:
            os.replace(place / name, folder / name)
    except BaseException:
        for name in names:
            if not (place / name).exists():
                (folder / name).unlink()
        raise


def _rows(count):
    return "row" if count == 1 else "rows"
