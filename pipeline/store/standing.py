"""Rows that stood in the store before a load: which vanished from their file, which the notebook's rows need."""

from pipeline.store import catalogue, read, validate


def needed(connection):
    """Return the identifiers that rows recorded in the notebook refer to, directly or through a parent.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection

    Returns
    -------
    dict of str to set of str
        By table with one identifying column.
    """
    ids = {name: set() for name, table in catalogue.tables().items() if table.declares}
    for table in reversed(catalogue.tables().values()):
        if table.has_row_identity:
            condition, parameters = "recorded_in = 'notebook'", []
        elif ids.get(table.name):
            condition, parameters = f'"{table.declares}" in (select unnest($1::varchar[]))', [list(ids[table.name])]
        else:
            continue
        for column, parent, _ in table.references:
            if parent in ids:
                found = read.rows(connection, f'select distinct "{column}" from main.{table.name} where {condition}',
                                  parameters)
                ids[parent] |= {text for (text,) in found if text is not None}
    return ids


def not_borne(connection, name, waiting):
    """Return the lines of the store's rows put by that no row of the file is, be it in or set aside.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With the file's rows staged, and ``put_by_<name>``.
    name : str
    waiting : collection of int
        Lines of staged rows that merely wait since an earlier load: they stand beside a row of the store, not for it.

    Returns
    -------
    set of int
    """
    table = catalogue.tables()[name]
    if not read.rows(connection, f"select count(*) from put_by_{name}")[0][0]:
        return set()
    return {line for (line,) in read.rows(
        connection, f"select file_line from put_by_{name} as old where not exists (from ({validate.typed_rows(table)})"
                    f" as new where {validate.same(table)} and new.file_line not in (select unnest($1::bigint[])))",
        [[int(line) for line in waiting]])}


def vanished(connection, name):
    """Return the store's rows, the notebook's left out, that the file does not bear (list of str): each in words."""
    table = catalogue.tables()[name]
    return _in_words(connection, table, f"recorded_in <> 'notebook' and {_absent(table)}"
                     if table.has_row_identity else _absent(table))


def drop_vanished(connection, name, kept):
    """Take the rows that the file does not bear from ``standing_<name>``.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With temporary tables ``standing_<name>`` and ``given_<name>``.
    name : str
    kept : collection of str
        Identifiers that the notebook's rows need; the notebook's own rows stay anyway.

    Returns
    -------
    dropped, stayed : list of str
        Each row in words.
    """
    table = catalogue.tables()[name]
    is_kept = "recorded_in = 'notebook'" if table.has_row_identity else "false"
    if table.declares and kept:
        connection.execute("create or replace temp table needed_ids as select unnest($1::varchar[]) as id",
                           [list(kept)])
        is_kept = f'"{table.declares}" in (select id from needed_ids)'
    dropped = _in_words(connection, table, f"not ({is_kept}) and {_absent(table)}")
    stayed = _in_words(connection, table, f"{is_kept} and {_absent(table)}") if not table.has_row_identity else []
    connection.execute(f"delete from standing_{name} as old where not ({is_kept}) and {_absent(table)}")
    return dropped, stayed


def losses(connection):
    """Return what the new store would hold no longer of the present one.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With temporary tables ``accepted_<table>``: what each table shall hold.

    Returns
    -------
    list of tuple
        table, rows now, rows fewer; where rows have a key, those whose key is gone. Tables that lose none are absent.
    """
    found = []
    for name, table in catalogue.tables().items():
        rows, kept = (read.rows(connection, f"select count(*) from {store}{name}")[0][0]
                      for store in ("main.", "accepted_"))
        lost = rows - kept if table.has_row_identity else read.rows(
            connection, f"select count(*) from main.{name} as old where not exists"
                        f" (from accepted_{name} as new where {_same_key(table)})")[0][0]
        if lost > 0:
            found.append((name, rows, lost))
    return found


def _same_key(table):
    # Another spelling of an identifier is no other row.
    return " and ".join(f'lower(cast(old."{column}" as varchar)) is not distinct from'
                        f' lower(cast(new."{column}" as varchar))' for column in table.identity)


def drop_former(connection, name, kept):
    """Take from ``standing_<name>`` the rows staged as ``former_<name>`` that the file does not bear.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With ``standing_<name>``, ``given_<name>`` and ``former_<name>``.
    name : str
    kept : collection of str
        Identifiers that the notebook's rows need; those rows, and the notebook's own, stay.

    Returns
    -------
    list of str
        Each row dropped, in words.
    """
    table = catalogue.tables()[name]
    alike = " and ".join(f'old."{column.name}" is not distinct from new."{column.name}"'
                         for column in table.file_columns)
    is_free = "old.recorded_in <> 'notebook'" if table.has_row_identity else "true"
    if table.declares:
        connection.execute("create or replace temp table needed_ids as select unnest($1::varchar[]) as id",
                           [list(kept)])
        is_free = f'old."{table.declares}" not in (select id from needed_ids)'
    condition = (f"{is_free} and {_absent(table)}"
                 f" and exists (from ({validate.typed_rows(table, 'former')}) as new where {alike})")
    words = _in_words(connection, table, condition)
    connection.execute(f"delete from standing_{name} as old where {condition}")
    return words


def _absent(table):
    return f"not exists (from given_{table.name} as new where {validate.same(table)})"


def _in_words(connection, table, condition):
    if read.is_empty(connection, f"standing_{table.name}"):
        return []
    cells = ", ".join(f"'{column.name} ' || \"{column.name}\"" for column in table.file_columns)
    found = read.rows(connection, f"select concat_ws(', ', {cells}) from standing_{table.name} as old"
                                  f" where {condition} order by 1")
    return [words for (words,) in found]
