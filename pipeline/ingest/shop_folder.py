"""Take a shop folder in: read, repair, validate, load; all or nothing."""

import datetime
import json
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from pipeline.errors import RecordsError
from pipeline.ingest import read, records, registers, repair, row_checks, suggest
from pipeline.ingest.identifiers import Known
from pipeline.store import catalogue, connect, merge, validate
from pipeline.store import read as store_read


@dataclass
class LoadSummary:
    """What became of a folder.

    Attributes
    ----------
    folder : str
    files : pandas.DataFrame
        Columns file, rows_in, rows_loaded, rows_set_aside.
    records : pandas.DataFrame
        Every row set aside, every repair, every remark.
    verb : str
        ``check`` or ``load``.
    is_unchanged : bool
        True where the very same folder was loaded before.
    """

    folder: str
    files: pd.DataFrame
    records: pd.DataFrame
    verb: str
    is_unchanged: bool = False
    notes: list = field(default_factory=list)

    @property
    def exit_code(self):
        """0 done; 1 where ``check`` found rows that a load would set aside."""
        return int(self.verb == "check" and bool(self.files["rows_set_aside"].sum()))

    def lines(self):
        """Return the lines to print (list of str)."""
        done = "would load" if self.verb == "check" else "loaded"
        found = [f"{row.file}: {row.rows_loaded:,} of {row.rows_in:,} rows {done}"
                 + (f", {row.rows_set_aside:,} set aside" if row.rows_set_aside else "") for row in self.files.itertuples()]
        if self.is_unchanged:
            found.append(f"{self.folder} is the same as when it was last loaded: nothing changed.")
        return found + _first_of_each_rule(self.records) + self.notes


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
    """
    tables, notes = read.read_folder(folder)
    with connect.open_memory() as connection:
        if shop_file and Path(shop_file).is_file():
            _copy_in(connection, shop_file)
        _refuse_incomplete(connection, tables, folder)
        taken = _take_in(connection, tables)
        _prepare_log(connection, folder, taken, notes)
        merge.merge(connection, {name: raw.columns for name, raw in taken.tables.items()})
        entries = records.gathered([notes, *taken.entries, row_checks.run(connection)])
    return _written(LoadSummary(str(folder), taken.counts(), entries, "check"), out_dir)


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
        If the store cannot be opened for writing.
    """
    tables, notes = read.read_folder(folder)
    is_new = not Path(shop_file).exists()
    try:
        with connect.open_write(shop_file) as connection:
            summary = _loaded(connection, folder, tables, notes)
    except BaseException:
        if is_new:
            Path(shop_file).unlink(missing_ok=True)
        raise
    return _written(summary, out_dir)


def _loaded(connection, folder, tables, notes):
    newest = store_read.rows(connection, "select load_no, digest from loads order by load_no desc limit 1")
    if newest and newest[0][1] == read.digest(folder):
        files = store_read.query(connection, "select file, rows_in, rows_loaded, rows_set_aside from load_files"
                                             " where load_no = ?", [newest[0][0]])
        entries = store_read.query(connection, "select * exclude (load_no) from records where load_no = ?", [newest[0][0]])
        return LoadSummary(str(folder), files, entries, "load", is_unchanged=True)
    _refuse_incomplete(connection, tables, folder)
    taken = _take_in(connection, tables)
    _prepare_log(connection, folder, taken, notes)
    merge.merge(connection, {name: raw.columns for name, raw in taken.tables.items()})
    checked = row_checks.run(connection)
    row_checks.keep(connection, checked)
    return LoadSummary(str(folder), taken.counts(), records.gathered([notes, *taken.entries, checked]), "load")


@dataclass
class _Taken:
    tables: dict
    entries: list
    rows: dict
    set_aside: list

    def counts(self):
        return pd.DataFrame([(self.tables[name].file, rows_in, loaded, rows_in - loaded)
                             for name, (rows_in, loaded) in self.rows.items()],
                            columns=["file", "rows_in", "rows_loaded", "rows_set_aside"]).sort_values("file", ignore_index=True)


def _take_in(connection, tables):
    """Repair and validate each file, parents first; leave ``accepted_`` tables in the connection."""
    given = list(tables)
    taken = _Taken(tables, registers.implied(connection, tables), {}, [])
    known, orphaned, machines = Known(connection, tables.get("aliases")), {}, tables.get("machines")
    for name in catalogue.tables():
        if name not in tables:
            connection.execute(f"create or replace temp table accepted_{name} as from {name} limit 0")
            continue
        frame, mends = repair.repair(tables[name], known)
        if name == "jobs" and machines is not None:
            frame, filled = registers.family_from_machine(tables[name], frame, machines.frame)
            tables[name].columns.add("family")
            mends.append(filled)
        bad = _set_aside(connection, tables[name], frame, known, orphaned)
        loaded = validate.accept(connection, name)
        taken.entries += [*mends, bad]
        if name in given:
            taken.rows[name] = (len(frame), loaded)
        taken.set_aside.append(_whole_rows(tables[name], bad))
    return taken


def _set_aside(connection, raw, frame, known, orphaned):
    table = catalogue.tables()[raw.name]
    validate.stage(connection, raw.name, frame)
    offences = validate.offences(connection, raw.name)
    suggest.suggest(offences, known, orphaned)
    suggest.remember(frame, offences["line"], table, orphaned, raw.file)
    bad = offences.assign(file=raw.file, outcome="set_aside")[records.COLUMNS]
    odd_days = repair.two_readings(raw, frame)
    told = bad.merge(odd_days[["line", "column"]].drop_duplicates(), on=["line", "column"], how="left", indicator=True)
    keep = ~((told["_merge"] == "both") & (told["rule"] == "date")).to_numpy()
    return records.gathered([bad[keep], odd_days])


def _whole_rows(raw, bad):
    lines = set(bad["line"])
    rows = raw.frame[raw.frame["file_line"].isin(lines)]
    cells = [json.dumps({k: v for k, v in row.items() if k != "file_line"}, ensure_ascii=False) for row in rows.to_dict("records")]
    return pd.DataFrame({"file": raw.file, "line": rows["file_line"].astype("int64"), "cells": pd.Series(cells, rows.index, dtype=object)})


def _prepare_log(connection, folder, taken, notes):
    number = store_read.rows(connection, "select coalesce(max(load_no), 0) + 1 from loads")[0][0]
    loads = pd.DataFrame({"loaded_at": [datetime.datetime.now().replace(microsecond=0)], "folder": Path(folder).resolve().name,
                          "digest": read.digest(folder)})
    log = {"loads": loads, "load_files": taken.counts(), "records": records.gathered([notes, *taken.entries]),
           "set_aside_rows": pd.concat(taken.set_aside)}
    for name, frame in log.items():
        connection.register("log_rows", frame.assign(load_no=number))
        connection.execute(f"create or replace temp table new_{name} as from {name} limit 0")
        connection.execute(f"insert into new_{name} by name from log_rows")
        connection.unregister("log_rows")


def _refuse_incomplete(connection, tables, folder):
    absent = [f"{name}.csv" for name in catalogue.REQUIRED if name not in tables and store_read.is_empty(connection, name)]
    if absent:
        raise RecordsError(f"{folder}: {', '.join(absent)} not found; parts.csv, jobs.csv and job_parts.csv are required."
                           " Nothing was loaded.")


def _copy_in(connection, shop_file):
    connect.open_read(shop_file).close()
    connection.execute(f"attach '{str(shop_file).replace(chr(39), chr(39) * 2)}' as standing (read_only)")
    for name in catalogue.every_table():
        if name not in ("store_version", "shop_keys"):
            connection.execute(f"insert into main.{name} by name from standing.{name}")
    connection.execute("detach standing")


def _written(summary, out_dir):
    tables = Path(out_dir) / "tables"
    try:
        tables.mkdir(parents=True, exist_ok=True)
        summary.records.to_csv(tables / "records.csv", index=False, encoding="utf-8", lineterminator="\n")
    except OSError as error:
        raise RecordsError(f"{tables}: {error.strerror}. Choose another place with --out DIR.") from None
    summary.notes.append(f"Every row set aside, repair and remark is listed in {tables / 'records.csv'}.")
    return summary


def _first_of_each_rule(entries):
    bad = entries[entries["outcome"] == "set_aside"]
    found = []
    for (file, column, rule), rows in bad.groupby(["file", "column", "rule"], sort=False, dropna=False):
        first = rows.iloc[0]
        lines = rows["line"].tolist()
        also = f" (also {'line' if len(lines) == 2 else 'lines'} {', '.join(map(str, lines[1:4]))}{', ...' if len(lines) > 4 else ''})" if lines[1:] else ""
        what = f"{column} is '{first['value']}'; " if isinstance(column, str) and isinstance(first["value"], str) else f"{rule}: "
        found.append(f"{file} line {first['line']}: {what}{first['suggestion']}. Set aside{also}.")
    repaired = int((entries["outcome"] == "repaired").sum())
    return found + ([f"{repaired:,} cells were repaired, each listed with before and after."] if repaired else [])
