"""List every source line that breaks a rule of the catalogue, whole tables at a time."""

import re

import pandas as pd

from pipeline.store import catalogue, plausible, rule_words

NUMBER = r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"
WHOLE = r"[+-]?\d+(\.0*)?"
DAY = r"\d{4}-\d{2}-\d{2}"
OFFENCE_COLUMNS = ["line", "column", "value", "rule", "suggestion"]
# The rules that a row breaks by a row beside it alone.
BY_ANOTHER_ROW = ("double", "same_key")
# A row of the store has no line that its owner could look up.
_WHICH_LINE = "case when first_line < 0 then 'another row' else 'line ' || first_line end"


def stage(connection, name, frame, into="staged"):
    """Put the text of one file beside the store, each cell's typed reading next to it.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    name : str
        Table of the shop folder.
    frame : pandas.DataFrame
        Text columns by contract name, ``file_line`` (int, no two alike), ``extra`` (JSON text or None),
        ``recorded_in`` (text; the folder where absent). Contract columns the file lacks may be absent.
    into : str
        The temporary table is ``<into>_<name>``.
    """
    columns, given = catalogue.tables()[name].file_columns, set(frame.columns)
    text = ", ".join(f'{_text(column.name, given)} as "{column.name}"' for column in columns)
    typed = ", ".join(f'{_typed(column)} as "typed {column.name}"' for column in columns)
    recorded_in = f"coalesce({_text('recorded_in', given)}, 'folder')"
    connection.register("incoming_rows", frame)
    connection.execute(f"create or replace temp table {into}_{name} as select *, {typed} from (select"
                       f" cast(file_line as bigint) as file_line, cast(extra as varchar) as extra,"
                       f" {recorded_in} as recorded_in, {text} from incoming_rows)")
    connection.unregister("incoming_rows")


def stage_standing(connection, name, spellings, waits=None):
    """Stage the rows that a table of the store holds, so that they are judged beside what came in since.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    name : str
    spellings : dict of str to dict of str to str
        By column, identifiers that are spelled another way now: as stored, and as shown. ``file_line`` is
        -1, -2, ...: a row of the store has no line in a file.
    waits : pandas.DataFrame, optional
        Rows that the store held once, as for :func:`stage`, their lines below 0; the others follow below them.
    """
    table = catalogue.tables()[name]
    text = ", ".join(f'cast("{column.name}" as varchar) as "{column.name}"' for column in table.file_columns)
    typed = ", ".join(f'"{column.name}" as "typed {column.name}"' for column in table.file_columns)
    recorded_in = "recorded_in" if table.has_row_identity else "'folder'"
    if waits is not None:
        stage(connection, name, waits)
    start, into = ((0, f"create or replace temp table staged_{name} as") if waits is None else
                   (int(waits["file_line"].min()), f"insert into staged_{name} by name"))
    connection.execute(f"{into} select {start} - row_number() over () as file_line, extra,"
                       f" {recorded_in} as recorded_in, {text}, {typed} from main.{name}")
    for column, shown in spellings.items():
        pairs = [list(shown), list(shown.values())]
        connection.execute(f'update staged_{name} set "{column}" = said.after, "typed {column}" = said.after from'
                           " (select unnest($1::varchar[]) as before, unnest($2::varchar[]) as after) as said"
                           f' where "{column}" = said.before', pairs)


def offences(connection, name, refused, latest_on=None):
    """Return the values of a staged file that break a rule, one row for each value and rule.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With ``name`` staged, and the accepted rows of its parents.
    name : str
    refused : pandas.DataFrame
        Offences found before, as this function returns them: the other rules say nothing of their
        cells, nor of rows refused as a whole (no column).
    latest_on : datetime.date, optional
        The last day that a record may bear; by default :func:`pipeline.store.plausible.latest_on`.

    Returns
    -------
    pandas.DataFrame
        Columns line, column, value, rule, suggestion; sorted by line.
    """
    table, latest_on = catalogue.tables()[name], latest_on or plausible.latest_on()
    found = " union all ".join(_cell_rules(table, latest_on))
    if refused.empty:  # the rule for most files, and there is nothing to hold every cell against
        connection.execute(f"create or replace temp table broken_{name} as {found}")
    else:
        _refuse(connection, name, refused)
        connection.execute(f"insert into broken_{name} from ({found}) as found"
                           f" where not exists (from refused_rows as refused where refused.line = found.line"
                           ' and coalesce(refused."column" = found."column", true))')
        connection.unregister("refused_rows")
    if _has_several(connection, name):  # a lone row has none beside it
        connection.execute(f"insert into broken_{name} {_double_rule(table)}")
        if not table.has_row_identity:
            connection.execute(f"insert into broken_{name} {_same_key_rule(table)}")
    return _with_days(connection.execute(f'from broken_{name} order by line, "column", rule').df(), latest_on)


def _has_several(connection, name):
    return connection.execute(f"select count(*) > 1 from staged_{name}").fetchall()[0][0]


def _refuse(connection, name, refused):
    """Begin ``broken_<name>`` with offences found before, and leave them registered as ``refused_rows``."""
    connection.register("refused_rows", refused[OFFENCE_COLUMNS].astype({c: object for c in OFFENCE_COLUMNS[1:]}))
    connection.execute(f"create or replace temp table broken_{name} as select cast(line as bigint) as line,"
                       ' cast("column" as varchar) as "column", cast(value as varchar) as value,'
                       " cast(rule as varchar) as rule, cast(suggestion as varchar) as suggestion from refused_rows")


def _with_days(found, latest_on):
    """Name the day that may be meant behind each day that cannot be."""
    for at in found.index[found["rule"] == "implausible_day"]:
        meant = plausible.did_you_mean(found.loc[at, "value"], latest_on)
        found.loc[at, "suggestion"] += f"; did you mean {meant}?" if meant else "; a slip in the year?"
    return found


def already_there(connection, name, lines):
    """Return offences of staged rows that the store holds already, for rows that were set aside beside them.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With ``name`` staged and its offences found; with the good rows of the store as ``standing_<name>``.
    name : str
    lines : sequence of int
        The rows to ask about; those with an offence already are passed over.

    Returns
    -------
    pandas.DataFrame
        As :func:`offences` returns them; the rows count as broken from now on.
    """
    table = catalogue.tables()[name]
    rule, words = (("double", f"the same as a row that is in; {_way_out(table)}") if table.has_row_identity else
                   ("same_key", f"a row with the same {', '.join(table.identity)} is in; keep one of the two"))
    first = "null" if table.has_row_identity else _quoted(table.identity[0])
    shown = "null" if table.has_row_identity else f'"{table.identity[0]}"'
    found = connection.execute(
        f'select file_line as line, {first} as "column", {shown} as value, {_quoted(rule)} as rule,'
        f" {_quoted(words)} as suggestion from ({_typed_rows(table, 'not in')}) as new"
        " where file_line in (select unnest($1::bigint[]))"
        f" and exists (from standing_{name} as old where {same(table)}) order by line", [list(map(int, lines))]).df()
    connection.register("found_rows", found)
    connection.execute(f"insert into broken_{name} by name from found_rows")
    connection.unregister("found_rows")
    return found


def accept(connection, name, into="accepted"):
    """Keep the staged rows without an offence as ``<into>_<name>``; return how many (int)."""
    columns = ", ".join(f'"{column.name}"' for column in catalogue.tables()[name].columns)
    connection.execute(f"create or replace temp table {into}_{name} as select {columns}"
                       f" from ({_typed_rows(catalogue.tables()[name], 'not in')})")
    return connection.execute(f"select count(*) from {into}_{name}").fetchall()[0][0]


def put_by(connection, name):
    """Keep the staged rows with an offence as ``put_by_<name>``; return them as text (pandas.DataFrame).

    Returns
    -------
    pandas.DataFrame
        ``file_line``, ``extra``, ``recorded_in`` and the contract's columns.
    """
    table = catalogue.tables()[name]
    connection.execute(f"create or replace temp table put_by_{name} as {_typed_rows(table, 'in')}")
    cells = ", ".join(f'"{column.name}"' for column in table.file_columns)
    return connection.execute(f"select file_line, extra, recorded_in, {cells} from staged_{name}"
                              f" where file_line in (select line from broken_{name}) order by file_line desc").df()


def none_standing(connection, name):
    """Leave ``standing_<name>`` and ``put_by_<name>`` empty, as for a table that holds nothing; return no rows."""
    connection.execute(f"create or replace temp table standing_{name} as from main.{name} limit 0")
    connection.execute(f"create or replace temp table put_by_{name} as select *, cast(null as bigint) as file_line"
                       f" from main.{name} limit 0")
    columns = [column.name for column in catalogue.tables()[name].file_columns]
    return pd.DataFrame(columns=["file_line", "extra", "recorded_in", *columns])


def same(table):
    """Return the condition (SQL) under which a row ``old`` and a row ``new`` of a table are one."""
    return " and ".join(f'old."{column}" is not distinct from new."{column}"' for column in table.identity)


def typed_rows(table, staged="staged"):
    """Return the SELECT (SQL) of a table's staged rows as they were read, each with its ``file_line``."""
    cells = [f'"typed {column.name}" as "{column.name}"' for column in table.file_columns] + ["file_line", "extra"]
    if table.has_row_identity:
        cells += [f"{_row_hash(table)} as row_hash", "recorded_in"]
    return f"select {', '.join(cells)} from {staged}_{table.name}"


def _typed_rows(table, among):
    return f"{typed_rows(table)} where file_line {among} (select line from broken_{table.name})"


def _row_hash(table):
    """A row's checksum over its contract columns; JSON keeps their borders whatever a cell holds."""
    cells = ", ".join(f'cast("typed {column.name}" as varchar)' for column in table.file_columns)
    return f"md5(cast(to_json([{cells}]) as varchar))"


def _text(column, given):
    return f"nullif(cast(\"{column}\" as varchar), '')" if column in given else "cast(null as varchar)"


def _typed(column):
    cell = f'"{column.name}"'
    if column.type == "VARCHAR":
        return cell
    if column.type == "DATE":
        return f"case when regexp_full_match({cell}, '{DAY}') then try_cast({cell} as date) end"
    if column.type in ("BIGINT", "INTEGER"):
        return (f"case when regexp_full_match({cell}, '{WHOLE}')"
                f" then try_cast(try_cast({cell} as decimal(38, 6)) as {column.type}) end")
    finite = f" and isfinite(try_cast({cell} as double))"
    return f"case when regexp_full_match({cell}, '{NUMBER}'){finite} then try_cast({cell} as {column.type}) end"


def _cell_rules(table, latest_on):
    rules = []
    for column in table.file_columns:
        if column.is_required:
            rules.append(_select(table, column.name, "required", "a value is required here",
                                 f'"{column.name}" is null'))
        if column.type != "VARCHAR":
            rules.append(_select(table, column.name, *rule_words.wanted(column),
                                 f'"{column.name}" is not null and "typed {column.name}" is null'))
        if found := plausible.rule(table.name, column, latest_on):
            rules.append(_select(table, column.name, *found))
    rules += [_check_rule(table, text, columns) for text, columns in table.checks
              if not set(columns) & set(catalogue.FILLED)]
    if table.has_row_identity:
        rules.append(_select(table, "recorded_in", "allowed_values", "wanted folder or notebook",
                             "recorded_in not in ('folder', 'notebook')"))
    return rules + [_reference_rule(table, *reference) for reference in table.references]


def _check_rule(table, text, columns):
    broken = re.sub(r'(?<![\w\'"])"?(' + "|".join(columns) + r')"?(?![\w\'"])', r'"typed \1"', text)
    return _select(table, columns[0], *rule_words.check(text, columns), f"not {broken}")


def _reference_rule(table, column, parent, parent_column):
    where = f"accepted_{parent}" if parent in catalogue.tables() else f"main.{parent}"
    known = f'select "{parent_column}" from {where}'
    return _select(table, column, *rule_words.reference(parent, parent_column),
                   f'"{column}" is not null and "{column}" not in ({known})')


def _select(table, column, rule, words, condition):
    return (f'select file_line as line, {_quoted(column)} as "column", "{column}" as value, {_quoted(rule)} as rule,'
            f" {_quoted(words)} as suggestion from staged_{table.name} where {condition}")


def _double_rule(table):
    cells = ", ".join(f'"typed {column.name}"' for column in table.file_columns)
    words = f"'the same as ' || {_WHICH_LINE} || {_quoted('; ' + _way_out(table))}"
    return (f"select file_line, null, null, 'double', {words}"
            f" from ({_first_of_equals(table, cells)}) where file_line > first_line")


def _way_out(table):
    can_tell = any(column.name == "line" for column in table.file_columns)
    return "a number in `line` tells equal rows apart" if can_tell else "if both are true, write them as one row"


def _same_key_rule(table):
    cells = ", ".join(f'"typed {column}"' for column in table.identity)
    shown = " || ', ' || ".join(f"coalesce(\"{column}\", 'empty')" for column in table.identity)
    words = f" already gives other values for the same {', '.join(table.identity)}; keep one of the two"
    return (f"select file_line, {_quoted(table.identity[0])}, {shown}, 'same_key',"
            f" {_WHICH_LINE} || {_quoted(words)}"
            f" from ({_first_of_equals(table, cells)}) where file_line > first_line")


def _first_of_equals(table, cells):
    return (f"select *, min(file_line) over (partition by {cells}) as first_line from staged_{table.name}"
            f" where file_line not in (select line from broken_{table.name})")


def _quoted(text):
    return "'" + text.replace("'", "''") + "'"
