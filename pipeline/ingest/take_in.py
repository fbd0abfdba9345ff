"""Judge what was handed over beside what the store holds, parents first, and prepare the new store."""

import datetime
from dataclasses import dataclass, field

import pandas as pd

from pipeline.ingest import (
    corrections,
    earlier_mends,
    raw_table,
    records,
    registers,
    replaced,
    stored_rows,
    suggest,
    waiting,
)
from pipeline.ingest.identifiers import Known
from pipeline.ingest.repair import repair
from pipeline.store import catalogue, merge, read, standing, validate


@dataclass
class Taken:
    """What became of the rows.

    Attributes
    ----------
    entries : list of pandas.DataFrame
        Set-aside rows, repairs and remarks.
    rows : list of tuple
        file, rows_in, rows_loaded, rows_set_aside, holds: each counted by itself, so that the store can check the sum.
    set_aside : list of pandas.DataFrame
        The whole rows set aside: file, line, holds, cells as typed, and as far as mended.
    mends : list of pandas.DataFrame
        Rows for ``mended_rows``: what their owner made of rows, in a workbook of rows set aside or by corrections.
    over : list of int
        Numbers of the earlier mends that count no longer.
    earlier : list of tuple
        table, rows of earlier loads that are in now, that still wait, and that no longer hold.
    """

    entries: list = field(default_factory=list)
    rows: list = field(default_factory=list)
    set_aside: list = field(default_factory=list)
    mends: list = field(default_factory=list)
    over: list = field(default_factory=list)
    earlier: list = field(default_factory=list)

    def counts(self):
        """Return file, rows_in, rows_loaded, rows_set_aside, holds (pandas.DataFrame)."""
        counts = pd.DataFrame(self.rows, columns=["file", "rows_in", "rows_loaded", "rows_set_aside", "holds"])
        return counts.sort_values("file", ignore_index=True)


@dataclass
class Judge:
    """What every row is judged by.

    Attributes
    ----------
    connection : duckdb.DuckDBPyConnection
        The store, in a transaction.
    known : pipeline.ingest.identifiers.Known
    is_replacing : bool
        True where rows that the folder does not bear are dropped.
    is_partial : bool
        True where the files at hand are a part by design, so that nothing has vanished.
    first_given : set of str
        Registers given by file for the first time: what was implied before counts no longer.
    needed : dict of str to set of str
        Identifiers that the notebook's rows need.
    once_stored : dict of str to pipeline.ingest.stored_rows.OnceStored
        Rows by table that the store held once, and that wait.
    orphaned : dict of (str, str) to str
        Identifiers whose own rows were set aside in this load, to their file.
    """

    connection: object
    known: Known
    is_replacing: bool = False
    is_partial: bool = False
    first_given: set = field(default_factory=set)
    needed: dict = field(default_factory=dict)
    once_stored: dict = field(default_factory=dict)
    orphaned: dict = field(default_factory=dict)


def take_in(connection, given, is_replacing=False):
    """Judge what was handed over and what the store holds; leave the new store as ``accepted_<table>``.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        The store; it is not changed.
    given : pipeline.ingest.read.Given
    is_replacing : bool
        True to make the store equal what was handed over, the notebook's rows kept.

    Returns
    -------
    Taken
    """
    taken, waits = Taken(), waiting.rows(connection)
    before = set() if is_replacing else registers.given_before(connection)
    taken.entries += [*given.notes, *earlier_mends.apply(connection, given.tables),
                      *corrections.apply(given.tables, given.corrections)]
    replaced.meet(connection, given.tables)
    if given.is_set_aside_book:
        waits, remarks = waiting.settle(connection, given, waits)
        taken.entries += remarks
        for raw in given.tables.values():
            waiting.join(connection, raw, waits)
    tables, once_stored = dict(given.tables), {}
    first_given = {name for name, raw in tables.items() if name in catalogue.REGISTERS and len(raw.frame)} - before
    if not is_replacing:
        tables |= waiting.beside(connection, waits, set(tables))
        once_stored = stored_rows.waiting(connection, waits)
    taken.entries += registers.implied(tables, before)
    needed = standing.needed(connection)
    known = Known(connection, tables, needed if is_replacing else None,
                  {name: once.rows for name, once in once_stored.items()})
    taken.entries += _currency_changed(known.currency)
    judge = Judge(connection, known, is_replacing, given.is_set_aside_book, first_given, needed, once_stored)
    for name in catalogue.tables():
        raw = tables.get(name)
        _take_in_table(judge, name, raw, raw is not None and raw is given.tables.get(name), taken)
    taken.rows += [(raw.file, 0, 0, 0, name) for name, raw in given.tables.items() if tables[name] is not raw]
    return taken


def set_aside(judge, raw):
    """Stage one file and find the rows that break a rule.

    Parameters
    ----------
    judge : Judge
        Its connection with the accepted rows of the file's parents; ``orphaned`` is added to.
    raw : pipeline.ingest.raw_table.RawTable

    Returns
    -------
    frame : pandas.DataFrame
        The rows, mended.
    mends : list of pandas.DataFrame
        Repairs and remarks.
    bad : pandas.DataFrame
        An entry for each value and rule that sets a row aside.
    """
    frame, mends, refused = repair(raw, judge.known)
    listed_family = pd.Series(dtype=object)
    if raw.name == "jobs":
        frame, listed_family, filled = registers.family_from_machine(judge.connection, raw, frame)
        raw.columns.add("family")
        mends.append(filled)
    validate.stage(judge.connection, raw.name, frame)
    # What was in doubt before may be seen to be so again.
    refused = refused.drop_duplicates(["line", "column", "rule"])
    offences = validate.offences(judge.connection, raw.name, refused)
    if raw.waiting:
        again = validate.already_there(judge.connection, raw.name, raw.waiting)
        offences = pd.concat([part for part in (offences, again) if len(part)] or [offences], ignore_index=True)
    return frame, mends, _explained(judge, offences, listed_family, frame, raw.name, raw.file)


def prepare_log(connection, given, taken):
    """Leave this load's own rows of the log tables in the connection as ``new_<table>``."""
    number = read.rows(connection, "select coalesce(max(load_no), 0) + 1 from loads")[0][0]
    loads = pd.DataFrame({"loaded_at": [datetime.datetime.now().replace(microsecond=0)],
                          "folder": [given.place.resolve().name], "digest": [given.digest]})
    log = {"loads": loads, "load_files": taken.counts(), "records": records.gathered(taken.entries),
           "set_aside_rows": pd.concat([_no_rows(), *taken.set_aside]),
           "mended_rows": pd.concat([replaced.NO_MENDS, *taken.mends])}
    connection.execute("delete from mended_rows where rowid in (select unnest($1::bigint[]))", [taken.over])
    for name, frame in log.items():
        connection.register("log_rows", frame.assign(load_no=number))
        connection.execute(f"create or replace temp table new_{name} as from main.{name} limit 0")
        connection.execute(f"insert into new_{name} by name from log_rows")
        connection.unregister("log_rows")


def _take_in_table(judge, name, raw, is_given, taken):
    once = judge.once_stored.get(name)
    if raw is None and once is None and read.is_empty(judge.connection, name):
        merge.hold_none(judge.connection, name)
        taken.earlier.append((name, 0, 0, 0))
        return
    gone, offences = stored_rows.judge(judge.connection, judge.known, name, once)
    columns, bad_lines, loaded = _given_rows(judge, name, raw, taken)
    taken.entries += _of_absent(judge, name, raw, is_given)
    waited = once.lines if once else set()
    now_in = len(waited - set(gone["file_line"]))
    lost = set(gone["file_line"])
    if lost and raw is not None:
        # A row dropped is told though its file has one like it, where that one is set aside.
        lost = standing.not_borne(judge.connection, name, bad_lines if judge.is_replacing else raw.waiting)
    gone = gone[gone["file_line"].isin(lost)]
    if judge.is_replacing:
        taken.entries.append(records.dropped(name, [records.in_words(row) for row in gone.to_dict("records")]))
        lost = set()
    else:
        taken.entries.append(_explained(judge, offences[offences["line"].isin(lost)].reset_index(drop=True),
                                        pd.Series(dtype=object), gone, name, stored_rows.IN_STORE.format(name)))
        taken.set_aside.append(stored_rows.whole(name, gone, once))
    if name in judge.first_given or (judge.is_replacing and raw is not None):
        # What was implied, or what the folder shall replace, fills no column that the file lacks.
        columns = {column.name for column in catalogue.tables()[name].columns}
    merge.join(judge.connection, name, columns)
    beside = raw.beside if raw is not None else set()
    beside_in = len(beside - bad_lines)
    if is_given:
        taken.rows.append((raw.file, len(raw.frame) - len(beside), loaded - beside_in, len(bad_lines - beside), name))
    taken.earlier.append((name, now_in + beside_in, len(lost & waited) + len(bad_lines & beside), len(lost - waited)))


def _given_rows(judge, name, raw, taken):
    """Mend and judge the rows of a file; return the columns it has, the lines set aside, and how many rows are in."""
    if raw is None:
        judge.connection.execute(f"create or replace temp table given_{name} as from main.{name} limit 0")
        return set(), set(), 0
    frame, mends, bad = set_aside(judge, raw)
    loaded = validate.accept(judge.connection, name, into="given")
    bad_lines = set(bad["line"])
    made, over, told = replaced.settle(judge.connection, judge.known, raw, frame, bad_lines)
    taken.mends.append(made)
    taken.over += over
    taken.entries += [_at_origin(entries, raw) for entries in (*_now_in(mends, bad_lines, raw), bad, told)]
    taken.set_aside.append(_whole_rows(raw, frame, bad_lines))
    return (raw.columns - raw.lent) | ({"extra"} if raw.extras else set()), bad_lines, loaded


def _explained(judge, offences, listed_family, frame, name, file):
    if offences.empty:
        return records.gathered([])
    suggest.name_machines_family(offences, listed_family)
    suggest.suggest(judge.connection, offences, judge.known, judge.orphaned)
    suggest.remember(frame, offences["line"], catalogue.tables()[name], judge.orphaned, file)
    return records.gathered([offences.assign(file=file, outcome="set_aside")[records.COLUMNS]])


def _of_absent(judge, name, raw, is_given):
    """Drop what shall go, and tell of rows that the file does not bear."""
    file = raw.file if is_given else name
    if judge.is_replacing or name in judge.first_given:
        needed = judge.known.shown(name, judge.needed.get(name))
        dropped, stayed = standing.drop_vanished(judge.connection, name, needed)
        if not judge.is_replacing:
            return []
        return [records.dropped(file, dropped),
                records.listed(file, [pd.NA] * len(stayed), None, stayed, "kept",
                               "not in what was handed over; kept, as rows recorded in the notebook need it", "noted")]
    if not is_given or judge.is_partial:
        return []
    vanished = standing.vanished(judge.connection, name)
    is_keyless = catalogue.tables()[name].has_row_identity
    doubt = "; a row changed in the file now counts beside its older self" if is_keyless else ""
    return [records.listed(file, [pd.NA] * len(vanished), None, vanished, "vanished",
                           "loaded earlier, and not in this file, or set aside in it; kept as it was"
                           f"{doubt}; --replace drops such rows", "noted")]


def _whole_rows(raw, mended, lines):
    if not lines:
        return _no_rows()
    is_bad = raw.frame["file_line"].isin(lines)
    rows = raw.as_typed[is_bad]
    unreadable = set(raw.refused.loc[raw.refused["rule"] != waiting.DOUBT, "line"])
    origins = [raw.origins.get(line, (raw.file, line)) for line in rows["file_line"]]
    readable = raw_table.as_json(mended[is_bad.to_numpy()]).to_numpy()
    return pd.DataFrame({"file": [file for file, _ in origins], "line": [line for _, line in origins],
                         "holds": raw.name, "cells": raw_table.as_json(rows).to_numpy(),
                         "mended": [None if line in unreadable else cells
                                    for line, cells in zip(rows["file_line"], readable, strict=True)]})


def _no_rows():
    return pd.DataFrame({"file": [], "line": [], "holds": [], "cells": [], "mended": []}, dtype=object)


def _now_in(mends, bad_lines, raw):
    """The mends to tell: of rows tried again those alone that came in."""
    return [entries[~entries["line"].isin(bad_lines & raw.beside)] for entries in mends]


def _at_origin(entries, raw):
    """Say of rows tried again in which file and line they stand."""
    if not raw.origins:
        return entries
    origins = [raw.origins.get(line, (raw.file, line)) for line in entries["line"]]
    return entries.assign(file=[file for file, _ in origins], line=[line for _, line in origins])


def _currency_changed(currency):
    if currency.before in (None, currency.code):
        return []
    return [records.of_file("shop.csv", currency.code, "currency_changed",
                            f"the amounts loaded before were in {currency.before}; they are not converted")]
