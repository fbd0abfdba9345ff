"""Repair and validate a folder's files, parents first, and prepare what a merge needs."""

import datetime
import json
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from pipeline.ingest import records, registers, suggest
from pipeline.ingest.identifiers import Known
from pipeline.ingest.repair import repair
from pipeline.store import catalogue, merge, read, validate


@dataclass
class Taken:
    """What was read of each file, and what became of its rows.

    Attributes
    ----------
    tables : dict of str to RawTable
    entries : list of pandas.DataFrame
        Set-aside rows, repairs and remarks.
    rows : list of tuple
        file, rows_in, rows_loaded, rows_set_aside: each counted by itself, so that the store can check the sum.
    set_aside : list of pandas.DataFrame
        The whole rows set aside, as they were typed.
    """

    tables: dict
    entries: list
    rows: list
    set_aside: list

    def counts(self):
        """Return file, rows_in, rows_loaded, rows_set_aside (pandas.DataFrame)."""
        counts = pd.DataFrame(self.rows, columns=["file", "rows_in", "rows_loaded", "rows_set_aside"])
        return counts.sort_values("file", ignore_index=True)

    def given_columns(self):
        """Return the columns each file bears, the other columns together as ``extra`` (dict of str to set)."""
        return {name: raw.columns | ({"extra"} if raw.extras else set()) for name, raw in self.tables.items()}


def take_in(connection, tables):
    """Repair and validate each file; leave its good rows in the connection as ``accepted_<table>``.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        The store, whose rows count as known.
    tables : dict of str to RawTable
        As :func:`pipeline.ingest.read.read_folder` gives them; implied registers are added.

    Returns
    -------
    Taken
    """
    given = set(tables)
    taken = Taken(tables, registers.implied(connection, tables), [], [])
    known, orphaned = Known(connection, tables), {}
    taken.entries += _currency_changed(known.currency)
    for name in catalogue.tables():
        if name not in tables:
            connection.execute(f"create or replace temp table accepted_{name} as from main.{name} limit 0")
            continue
        mends, bad = set_aside(connection, tables[name], known, orphaned)
        loaded = validate.accept(connection, name)
        taken.entries += [*mends, bad]
        if name in given:
            whole = _whole_rows(tables[name], set(bad["line"]))
            taken.rows.append((tables[name].file, len(tables[name].frame), loaded, len(whole)))
            taken.set_aside.append(whole)
            taken.entries += _vanished(connection, tables[name])
    return taken


def set_aside(connection, raw, known, orphaned):
    """Stage one file and find the rows that break a rule.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With the accepted rows of the file's parents.
    raw : pipeline.ingest.read.RawTable
    known : pipeline.ingest.identifiers.Known
    orphaned : dict
        Identifiers whose rows were set aside; added to.

    Returns
    -------
    mends : list of pandas.DataFrame
        Repairs and remarks.
    bad : pandas.DataFrame
        An entry for each value and rule that sets a row aside.
    """
    frame, mends, refused = repair(raw, known)
    listed_family = pd.Series(dtype=object)
    if raw.name == "jobs":
        frame, listed_family, filled = registers.family_from_machine(connection, raw, frame)
        raw.columns.add("family")
        mends.append(filled)
    validate.stage(connection, raw.name, frame)
    offences = validate.offences(connection, raw.name, refused)
    suggest.name_machines_family(offences, listed_family)
    suggest.suggest(connection, offences, known, orphaned)
    suggest.remember(frame, offences["line"], catalogue.tables()[raw.name], orphaned, raw.file)
    bad = offences.assign(file=raw.file, outcome="set_aside")[records.COLUMNS]
    return mends, records.gathered([bad])


def prepare_log(connection, folder, digest, taken, notes):
    """Leave this load's own rows of the log tables in the connection as ``new_<table>``."""
    number = read.rows(connection, "select coalesce(max(load_no), 0) + 1 from loads")[0][0]
    loads = pd.DataFrame({"loaded_at": [datetime.datetime.now().replace(microsecond=0)],
                          "folder": [Path(folder).resolve().name], "digest": [digest]})
    log = {"loads": loads, "load_files": taken.counts(), "records": records.gathered([notes, *taken.entries]),
           "set_aside_rows": pd.concat(taken.set_aside)}
    for name, frame in log.items():
        connection.register("log_rows", frame.assign(load_no=number))
        connection.execute(f"create or replace temp table new_{name} as from main.{name} limit 0")
        connection.execute(f"insert into new_{name} by name from log_rows")
        connection.unregister("log_rows")


def _whole_rows(raw, lines):
    rows = raw.frame[raw.frame["file_line"].isin(lines)]
    cells = [json.dumps({name: cell for name, cell in row.items() if name not in ("file_line", "extra")}
                        | (json.loads(row["extra"]) if isinstance(row["extra"], str) else {}), ensure_ascii=False)
             for row in rows.to_dict("records")]
    return pd.DataFrame({"file": raw.file, "line": rows["file_line"].astype("int64"),
                         "cells": pd.Series(cells, rows.index, dtype=object)})


def _currency_changed(currency):
    if currency.before in (None, currency.code):
        return []
    return [records.of_file("shop.csv", currency.code, "currency_changed",
                            f"the amounts loaded before were in {currency.before}; they are not converted")]


def _vanished(connection, raw):
    count = merge.vanished(connection, raw.name)
    is_keyless = catalogue.tables()[raw.name].has_row_identity
    doubt = "; a row changed in the file now counts beside its older self" if is_keyless else ""
    return [records.of_file(raw.file, f"{count:,} rows of earlier loads", "vanished",
                            f"not in this file, or set aside in it; kept as they were{doubt}")] if count else []
