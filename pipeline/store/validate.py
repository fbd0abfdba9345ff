"""List every source line that breaks a rule of the catalogue, whole tables at a time."""

import re

from pipeline.store import catalogue, rule_words

NUMBER = r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"
WHOLE = r"[+-]?\d+(\.0*)?"
DAY = r"\d{4}-\d{2}-\d{2}"
OFFENCE_COLUMNS = ["line", "column", "value", "rule", "suggestion"]


def stage(connection, name, frame):
    """Put the text of one file beside the store, each cell's typed reading next to it.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    name : str
        Table of the shop folder.
    frame : pandas.DataFrame
        Text columns by contract name, ``file_line`` (int, no two alike), ``extra`` (JSON text or None).
        Contract columns the file lacks may be absent.
    """
    columns = catalogue.tables()[name].file_columns
    text = ", ".join(f'{_text(column, set(frame.columns))} as "{column.name}"' for column in columns)
    typed = ", ".join(f'{_typed(column)} as "typed {column.name}"' for column in columns)
    connection.register("incoming_rows", frame)
    connection.execute(f"create or replace temp table staged_{name} as select *, {typed} from (select"
                       f" cast(file_line as bigint) as file_line, cast(extra as varchar) as extra, {text}"
                       " from incoming_rows)")
    connection.unregister("incoming_rows")


def offences(connection, name, refused):
    """Return the values of a staged file that break a rule, one row for each value and rule.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With ``name`` staged, and the accepted rows of its parents.
    name : str
    refused : pandas.DataFrame
        Offences found before, as this function returns them: the other rules say nothing of their
        cells, nor of rows refused as a whole (no column).

    Returns
    -------
    pandas.DataFrame
        Columns line, column, value, rule, suggestion; sorted by line.
    """
    table = catalogue.tables()[name]
    connection.register("refused_rows", refused[OFFENCE_COLUMNS].astype({c: object for c in OFFENCE_COLUMNS[1:]}))
    connection.execute(f"create or replace temp table broken_{name} as select cast(line as bigint) as line,"
                       ' cast("column" as varchar) as "column", cast(value as varchar) as value,'
                       " cast(rule as varchar) as rule, cast(suggestion as varchar) as suggestion from refused_rows")
    connection.execute(f"insert into broken_{name} from ({' union all '.join(_cell_rules(table))}) as found"
                       " where not exists (from refused_rows as refused where refused.line = found.line"
                       ' and coalesce(refused."column" = found."column", true))')
    connection.unregister("refused_rows")
    connection.execute(f"insert into broken_{name} {_double_rule(table)}")
    if not table.has_row_identity:
        connection.execute(f"insert into broken_{name} {_same_key_rule(table)}")
    return connection.execute(f'from broken_{name} order by line, "column", rule').df()


def accept(connection, name, recorded_in="folder"):
    """Keep the staged rows without an offence as ``accepted_<name>``; return how many (int)."""
    table = catalogue.tables()[name]
    cells = [f'"typed {column.name}" as "{column.name}"' for column in table.file_columns] + ["extra"]
    if table.has_row_identity:
        cells += [f"{_row_hash(table)} as row_hash", f"{_quoted(recorded_in)} as recorded_in"]
    connection.execute(f"create or replace temp table accepted_{name} as select {', '.join(cells)} from staged_{name}"
                       f" where file_line not in (select line from broken_{name})")
    return connection.execute(f"select count(*) from accepted_{name}").fetchall()[0][0]


def _row_hash(table):
    """A row's checksum over its contract columns; JSON keeps their borders whatever a cell holds."""
    cells = ", ".join(f'cast("typed {column.name}" as varchar)' for column in table.file_columns)
    return f"md5(cast(to_json([{cells}]) as varchar))"


def _text(column, given):
    return f"nullif(cast(\"{column.name}\" as varchar), '')" if column.name in given else "cast(null as varchar)"


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


def _cell_rules(table):
    rules = []
    for column in table.file_columns:
        if column.is_required:
            rules.append(_select(table, column.name, "required", "a value is required here",
                                 f'"{column.name}" is null'))
        if column.type != "VARCHAR":
            rules.append(_select(table, column.name, *rule_words.wanted(column),
                                 f'"{column.name}" is not null and "typed {column.name}" is null'))
    rules += [_check_rule(table, text, columns) for text, columns in table.checks
              if not set(columns) & set(catalogue.FILLED)]
    return rules + [_reference_rule(table, *reference) for reference in table.references]


def _check_rule(table, text, columns):
    broken = re.sub(r'(?<![\w\'"])"?(' + "|".join(columns) + r')"?(?![\w\'"])', r'"typed \1"', text)
    return _select(table, columns[0], *rule_words.check(text, columns), f"not {broken}")


def _reference_rule(table, column, parent, parent_column):
    known = f'select "{parent_column}" from main.{parent}'
    if parent in catalogue.tables():
        known += f' union all select "{parent_column}" from accepted_{parent}'
    return _select(table, column, *rule_words.reference(parent, parent_column),
                   f'"{column}" is not null and "{column}" not in ({known})')


def _select(table, column, rule, words, condition):
    return (f'select file_line as line, {_quoted(column)} as "column", "{column}" as value, {_quoted(rule)} as rule,'
            f" {_quoted(words)} as suggestion from staged_{table.name} where {condition}")


def _double_rule(table):
    can_tell = any(column.name == "line" for column in table.file_columns)
    way_out = "a number in `line` tells equal rows apart" if can_tell else "if both are true, write them as one row"
    cells = ", ".join(f'"typed {column.name}"' for column in table.file_columns)
    return (f"select file_line, null, null, 'double', 'the same as line ' || first_line || {_quoted('; ' + way_out)}"
            f" from ({_first_of_equals(table, cells)}) where file_line > first_line")


def _same_key_rule(table):
    cells = ", ".join(f'"typed {column}"' for column in table.identity)
    shown = " || ', ' || ".join(f"coalesce(\"{column}\", 'empty')" for column in table.identity)
    words = f" already gives other values for the same {', '.join(table.identity)}; keep one of the two"
    return (f"select file_line, {_quoted(table.identity[0])}, {shown}, 'same_key',"
            f" 'line ' || first_line || {_quoted(words)}"
            f" from ({_first_of_equals(table, cells)}) where file_line > first_line")


def _first_of_equals(table, cells):
    return (f"select *, min(file_line) over (partition by {cells}) as first_line from staged_{table.name}"
            f" where file_line not in (select line from broken_{table.name})")


def _quoted(text):
    return "'" + text.replace("'", "''") + "'"
