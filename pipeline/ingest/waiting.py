"""Rows that wait: set aside by an earlier load, tried again by each until they are in or their file says otherwise."""

import json

import pandas as pd

from pipeline.ingest import raw_table, records, replaced, row_mark
from pipeline.ingest.raw_table import RawTable
from pipeline.ingest.replaced import Former, Mend
from pipeline.ingest.row_mark import essence
from pipeline.store import catalogue, read, validate

_NEWEST = "load_no = (select max(load_no) from loads)"
# The rule that a cell breaks by what stands beside it in its file.
DOUBT = "two_readings"


def rows(connection):
    """Return the rows that wait.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection

    Returns
    -------
    pandas.DataFrame
        Columns load_no, file, line, holds, cells, mended (JSON texts), in order of file and line.
    """
    return read.query(connection, "select load_no, file, line, holds, cells, mended from set_aside_rows"
                                  f" where {_NEWEST} order by holds, file, line")


def beside(connection, waits, given):
    """Return the rows that wait in tables whose file is not among those given; those of the store are left out.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    waits : pandas.DataFrame
        As :func:`rows`.
    given : collection of str
        Tables of the files at hand: what waited of them is superseded.

    Returns
    -------
    dict of str to RawTable
        Their lines are numbers of their own; ``origins`` tells file and line.
    """
    waits = waits[(waits["line"] >= 0) & ~waits["holds"].isin(list(given))]
    by_table = dict(list(waits.groupby("holds")))
    return {name: _as_table(connection, name, by_table[name].reset_index(drop=True))
            for name in catalogue.tables() if name in by_table}


def settle(connection, given, waits):
    """Tell which rows of a workbook of rows set aside were mended; the others go on waiting.

    A row stands for one that waits here where the workbook bears this store's mark, or where its cells are the same.
    Rows of another store, or of this one before a restore, are rows like any other: none here is mended by them, and
    what they show unmended waits.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    given : pipeline.ingest.read.Given
        A workbook of rows set aside; ``waiting``, ``origins`` (of rows that once were in the store), ``refused``,
        ``mends`` and ``formers`` of its tables are filled in.
    waits : pandas.DataFrame
        As :func:`rows`.

    Returns
    -------
    left : pandas.DataFrame
        Those of ``waits`` that the workbook does not speak of.
    remarks : list of pandas.DataFrame
        On each table with rows of another store, and each whose waiting rows the owner deleted from the workbook.
    """
    remarks, marks = [], {}
    load, mark = given.written_by or (None, "")
    settled = set()
    for name, table in given.tables.items():
        own = {line: link for line, link in table.links.items()
               if link.store and link.store == _mark(connection, link.load, marks)}
        of_table = waits[waits["holds"] == name]
        origins = list(zip(of_table["file"], of_table["line"], strict=True))
        by_origin = dict(zip(origins, of_table["cells"], strict=True))
        loads = {link.load for link in own.values()}
        is_own_book = load is not None and mark == _mark(connection, load, marks)
        told = {}
        for number in loads | ({load} if is_own_book else set()):
            told |= _told_by(connection, number, name, by_origin)
        met = _met(connection, table, own, told, by_origin)
        table.origins = {line: origin for line, origin in met.items() if origin[1] < 0}
        table.refused = _and(table.refused, _still_doubtful(connection, table, met, by_origin))
        gone = {origin for (number, *_), origin in told.items() if is_own_book and number == load} - set(met.values())
        done = gone | set(met.values())
        settled |= {at for at, origin in zip(of_table.index, origins, strict=True) if origin in done}
        remarks += _remarks(table.file, len(table.links.keys() - own.keys()), len(gone))
    return waits.drop(index=list(settled)), remarks


def _met(connection, table, own, told, by_origin):
    """The row that waits for which each line stands (dict of int to (file, line)); what was mended is noted."""
    by_essence = {essence(cells): origin for origin, cells in by_origin.items()}
    earlier, met = replaced.earlier(connection, table.name, "workbook"), {}
    for line, cells in zip(table.frame["file_line"], raw_table.as_json(table.frame), strict=True):
        link, said = own.get(line), essence(cells)
        origin = told.get((link.load, link.file, link.line)) if link else None
        if origin is None:
            origin = by_essence.get(said)
        if origin is not None:
            met[line] = origin
            if said == essence(by_origin[origin]):
                table.waiting.add(line)
            elif not (link and _mended_again(connection, table, earlier, line, link, cells, is_waiting=True)):
                table.mends.append(Mend(line, by_origin[origin], cells, "workbook", link and link.place))
        elif link:
            _mended_again(connection, table, earlier, line, link, cells)
        elif line in table.links and table.links[line].is_second and table.links[line].row == row_mark.of_row(cells):
            table.waiting.add(line)
    return met


def _mended_again(connection, table, earlier, line, link, cells, is_waiting=False):
    """Note of a row that is in by an earlier mend what it says now, where that is something else; return whether so.

    A row that waits counts where an earlier mend of it brought a row into the store and a later one was no good.
    """
    typed = read.rows(connection, "select cells from set_aside_rows where load_no = $1 and file = $2 and line = $3"
                                  " and holds = $4", [link.load, link.file, link.line, table.name])
    last = replaced.last_of(earlier, link.place, typed[0][0] if typed else None)
    is_so = last is not None and essence(last.mended) != essence(cells) and bool(last.made or not is_waiting)
    if is_so:
        table.mends.append(Mend(line, last.cells, cells, "workbook", link.place))
        table.formers.append(Former(last.number, last.made, frozenset([line])))
    return is_so


def _mark(connection, load, marks):
    if load not in marks:
        marks[load] = row_mark.of_store(connection, load)
    return marks[load]


def _remarks(file, n_strange, n_gone):
    found = []
    if n_strange:
        stand = "1 row" if n_strange == 1 else f"{n_strange:,} rows"
        found.append(records.of_file(
            file, stand, "of_another_store", "set aside from another store, or from this one before it was restored:"
            " taken like rows of any file; what waits here is not mended by them"))
    if n_gone:
        rows_gone, wait = ("1 row", "it waits") if n_gone == 1 else (f"{n_gone:,} rows", "they wait")
        found.append(records.of_file(file, f"{rows_gone} that waited", "let_go",
                                     f"deleted from this workbook, so {wait} no longer"))
    return found


def join(connection, table, left):
    """Set the rows that wait, and of which a workbook does not speak, beside its own rows.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    table : RawTable
        A sheet of the workbook; changed in place.
    left : pandas.DataFrame
        As :func:`settle` returns them, of any table; those of the store are passed over.
    """
    of_table = left[(left["holds"] == table.name) & (left["line"] >= 0)].reset_index(drop=True)
    if of_table.empty:
        return
    other = _as_table(connection, table.name, of_table)
    start = int(table.frame["file_line"].max()) if len(table.frame) else 0
    for frame in (other.frame, other.typed, other.refused):
        column = "file_line" if "file_line" in frame else "line"
        frame[column] = frame[column] + start
    table.typed = _below(table.as_typed, other.typed)
    table.frame = _below(table.frame, other.frame)
    table.refused = _and(table.refused, other.refused)
    table.origins |= {line + start: origin for line, origin in other.origins.items()}
    table.beside |= {line + start for line in other.beside}
    table.waiting |= table.beside
    table.lent = other.columns - table.columns
    table.columns |= other.columns


def _below(frame, other):
    """Rows of one raw frame below those of another; cells of a column that one lacks are empty."""
    whole = pd.concat([frame, other], ignore_index=True)
    texts = [column for column in whole if column not in ("file_line", "extra")]
    return whole.assign(**{column: whole[column].fillna("") for column in texts})


def _told_by(connection, load, name, by_origin):
    """Where the rows that a load told wait now (dict of load, file and line to file and line).

    A row that was mended since, or told by a later load under another file and line, is followed to where it waits.
    """
    then = read.rows(connection, "select file, line, cells from set_aside_rows where holds = $1 and load_no = $2"
                                 " order by file, line", [name, load])
    mends = {}
    for cells, mended in read.rows(connection, "select cells, mended from mended_rows where holds = $1", [name]):
        mends.setdefault(essence(cells), set()).add(essence(mended))
    waiting = {}
    for origin, cells in by_origin.items():
        waiting.setdefault(essence(cells), []).append(origin)
    found = {}
    for file, line, cells in then:
        at = [origin for said in _followed(essence(cells), mends) for origin in waiting.get(said, ())]
        # Rows that are equal as typed are told apart: by their line, else in their order.
        left = [origin for origin in at if origin not in found.values()]
        if left:
            found[load, file, line] = (file, line) if (file, line) in left else left[0]
    return found


def _followed(said, mends):
    """A row as typed, and all that its owner made of it (set of frozenset)."""
    met, left = set(), [said]
    while left:
        if (one := left.pop()) not in met:
            met.add(one)
            left += mends.get(one, ())
    return met


def _as_table(connection, name, waits):
    is_readable = waits["mended"].notna()
    frame = raw_table.from_json(name, waits["mended"].where(is_readable, waits["cells"]))
    typed = raw_table.from_json(name, waits["cells"])
    lines = frame["file_line"].tolist()
    origins = {n: (file, int(line)) for n, file, line in zip(lines, waits["file"], waits["line"], strict=True)}
    columns = set(frame.columns) & set(raw_table.known_columns(catalogue.tables()[name]))
    others = dict.fromkeys(column for text in frame["extra"].dropna() for column in json.loads(text))
    said = said_before(connection, origins)
    is_kept = said["line"].isin(frame.loc[~is_readable, "file_line"]) | (said["rule"] == DOUBT)
    return RawTable(name, f"{name} (loaded earlier)", frame, columns, typed=typed, waiting=set(lines), origins=origins,
                    refused=said[is_kept], extras=tuple(others), is_given=False, beside=set(lines))


def said_before(connection, origins):
    """Return what was said of rows that wait, by their lines now.

    Where cells cannot be told apart, or a cell reads in two ways beside the others of its file, no later load sees
    that by itself: nothing but its file, or its owner, can mend it.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    origins : dict of int to (str, int)
        By line now, the file and line they wait under.

    Returns
    -------
    pandas.DataFrame
        Columns of :data:`pipeline.store.validate.OFFENCE_COLUMNS`.
    """
    said = read.query(connection, 'select file, line, "column", value, rule, suggestion from records'
                                  f" where {_NEWEST} and outcome = 'set_aside'")
    lines = {origin: line for line, origin in origins.items()}
    at = [lines.get(origin) for origin in zip(said["file"], said["line"], strict=True)]
    said = said.assign(line=pd.Series(at, dtype=object))
    return said.loc[said["line"].notna(), validate.OFFENCE_COLUMNS]


def _still_doubtful(connection, table, origins, by_origin):
    """What was said of cells that read in two ways, and stand in the workbook as they did in their file."""
    said = said_before(connection, origins)
    said = said[(said["rule"] == DOUBT) & said["column"].isin(table.columns)]
    now = table.frame.set_index("file_line")
    stands = [now.loc[line, column].strip() == (json.loads(by_origin[origins[line]]).get(column) or "").strip()
              for line, column in zip(said["line"], said["column"], strict=True)]
    return said[stands]


def _and(*offences):
    return pd.concat([part for part in offences if len(part)] or offences[:1], ignore_index=True)
