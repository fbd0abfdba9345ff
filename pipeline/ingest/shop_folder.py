"""Take a shop folder in: read, repair, validate, load; all or nothing."""

from pathlib import Path

from pipeline.errors import RecordsError
from pipeline.ingest import read, records, row_checks, take_in
from pipeline.ingest.summary import LoadSummary
from pipeline.store import catalogue, connect, merge
from pipeline.store import read as store_read


def check(folder, out_dir, shop_file=None):
    """Read and validate a shop folder, writing nothing but the list of records.

    Parameters
    ----------
    folder, out_dir : str or pathlib.Path
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
    tables, notes = read.read_folder(folder)
    with records.list_in(out_dir) as write_list, connect.open_memory() as connection:
        if shop_file and Path(shop_file).is_file():
            connect.copy_in(connection, shop_file)
        summary = _merged(connection, folder, tables, notes, "check")
        summary.notes.append(_where(out_dir))
        write_list(summary.records)
    return summary


def load(folder, shop_file, out_dir):
    """Load a shop folder into a store: good rows in, bad rows set aside and listed, in one transaction.

    Parameters
    ----------
    folder, shop_file, out_dir : str or pathlib.Path
        The folder, the DuckDB file (made if new), and where ``tables/records.csv`` goes.

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
    tables, notes = read.read_folder(folder)
    with records.list_in(out_dir) as write_list, connect.change(shop_file) as connection:
        summary = (_as_last_time(connection, folder)
                   or _merged(connection, folder, tables, notes, "load"))
        summary.notes.append(_where(out_dir))
        write_list(summary.records)
    return summary


def _as_last_time(connection, folder):
    """The summary of the newest load where it was of the very same folder, else None."""
    newest = store_read.rows(connection, "select load_no, digest from loads order by load_no desc limit 1")
    if not newest or newest[0][1] != read.digest(folder):
        return None
    files = store_read.query(connection, "select file, rows_in, rows_loaded, rows_set_aside from load_files"
                                         " where load_no = ? order by file", [newest[0][0]])
    entries = store_read.query(connection, "select * exclude (load_no) from records where load_no = ?", [newest[0][0]])
    return LoadSummary(str(folder), files, records.gathered([entries]), "load", is_unchanged=True)


def _merged(connection, folder, tables, notes, verb):
    _refuse_incomplete(connection, tables, folder)
    taken = take_in.take_in(connection, tables)
    take_in.prepare_log(connection, folder, read.digest(folder), taken, notes)
    merge.merge(connection, taken.given_columns())
    checked = row_checks.run(connection)
    merge.add_records(connection, checked)
    return LoadSummary(str(folder), taken.counts(), records.gathered([notes, *taken.entries, checked]), verb)


def _refuse_incomplete(connection, tables, folder):
    if not tables:
        raise RecordsError(f"{folder}: none of the files of a shop folder is there. {read.WANTED}")
    absent = [f"{name}.csv" for name in catalogue.REQUIRED
              if name not in tables and store_read.is_empty(connection, name)]
    if absent:
        raise RecordsError(f"{folder}: {', '.join(absent)} not found; parts.csv, jobs.csv and job_parts.csv are"
                           " required. Nothing was loaded.")


def _where(out_dir):
    return f"Every row set aside, repair and remark is listed in {records.place(out_dir)}."
