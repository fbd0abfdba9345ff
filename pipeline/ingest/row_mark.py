"""Marks by which a row set aside is known again: of which store and load it is, and what its cells said."""

import hashlib
import json

from pipeline.store import read

_LENGTH = 12  # hex digits: one chance in 2.8e14 that two of a kind agree by accident


def essence(cells):
    """Return what two rows must share to be the same row as typed (frozenset): cells with anything in them.

    Parameters
    ----------
    cells : str
        JSON object, column to text; surplus cells as a list under an empty name.

    Examples
    --------
    >>> essence('{"job": " J1", "part": ""}') == essence('{"part": "", "job": "J1", "note": " "}')
    True
    """
    said = {column: cell if isinstance(cell, str) else "\t".join(cell) for column, cell in json.loads(cells).items()
            if cell is not None}
    return frozenset((column, cell.strip()) for column, cell in said.items() if cell.strip())


def of_row(cells):
    """Return the mark of a row's cells (str): equal where :func:`essence` is.

    Examples
    --------
    >>> of_row('{"job": " J1", "part": ""}') == of_row('{"job": "J1"}') != of_row('{"job": "J2"}')
    True
    """
    return _digest(json.dumps(sorted(essence(cells)), ensure_ascii=False))


def of_store(connection, load_no):
    """Return the mark of a store as a load left it: a checksum over that load and all before it.

    Two stores share it only as long as they are one, as a store and its back-up are until either takes in more.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    load_no : int

    Returns
    -------
    str or None
        None where the store knows no such load.
    """
    loads = read.rows(connection, "select load_no, loaded_at::varchar, folder, digest from loads where load_no <= $1"
                                  " order by load_no", [load_no])
    return _digest(json.dumps(loads, ensure_ascii=False)) if loads and loads[-1][0] == load_no else None


def _digest(text):
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:_LENGTH]
