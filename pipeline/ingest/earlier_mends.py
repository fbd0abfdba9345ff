"""Rows met again that their owner mended before, in a workbook of rows set aside: read as mended."""

import json

import pandas as pd

from pipeline.ingest import raw_table, records
from pipeline.store import catalogue, read


def apply(connection, tables):
    """Put the mended cells in place of the typed ones.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    tables : dict of str to RawTable
        This load's own files; changed in place.

    Returns
    -------
    list of pandas.DataFrame
        One entry for each cell that was read as mended.
    """
    mends = read.query(connection, "select holds, cells, mended from mended_rows"
                                   " where brought_by = 'workbook' order by load_no, rowid")
    entries = []
    for name, table in tables.items():
        of_table = mends[mends["holds"] == name]
        if len(of_table):
            entries += _apply_to(table, of_table)
    return entries


def _apply_to(table, mends):
    keys = [c for c in raw_table.known_columns(catalogue.tables()[table.name]) if c in table.columns]
    known = {}
    for cells, mended in zip(mends["cells"], mends["mended"], strict=True):
        known.setdefault(_key(cells, keys), []).append(mended)
    found = _meant(table.frame, keys, known)
    if not found:
        return []
    meant, before = pd.Series(found, dtype=object), table.frame
    _with_line(table, found.values())
    table.typed, table.frame = table.as_typed, table.frame.copy()
    entries = []
    for column in [c for c in table.frame if c in table.columns]:
        cells = meant.map(lambda mended, column=column: mended.get(column) or "")
        changed = cells[cells.str.strip() != table.frame.loc[cells.index, column].str.strip()]
        entries.append(records.listed(table.file, before.loc[changed.index, "file_line"], column,
                                      table.frame.loc[changed.index, column], "mended_before",
                                      [f"read as {cell or 'empty'}, as you mended it" for cell in changed], "repaired"))
        table.frame.loc[changed.index, column] = changed
    return entries


def _with_line(table, found):
    """Give a file the column that tells doubles apart where a mend filled it in."""
    if "line" not in table.columns and any(mended.get("line") for mended in found):
        table.typed = table.as_typed
        table.frame = table.frame.assign(line="")
        table.columns.add("line")


def _meant(frame, keys, known):
    """What each row was mended to (dict of index to dict of column to text).

    Of rows that are equal the last ones were mended: the first of doubles is no fault.
    """
    met = {}
    for at, key in zip(frame.index, zip(*(frame[c].str.strip() for c in keys), strict=True), strict=True):
        if key in known:
            met.setdefault(key, []).append(at)
    return {at: _last(key, mended, known, keys) for key, rows in met.items()
            for at, mended in zip(reversed(rows), reversed(known[key]), strict=False)}


def _last(key, mended, known, keys):
    """What a row mended in steps became in the end (dict of column to text)."""
    met = {key}
    while (key := _key(mended, keys)) in known and key not in met:
        met.add(key)
        mended = known[key][-1]
    return json.loads(mended)


def _key(cells, contract):
    row = json.loads(cells)
    return tuple((row.get(column) or "").strip() for column in contract)
