"""List every source line that breaks a rule of the catalogue, whole tables at a time."""

import re

from pipeline.store import catalogue

NUMBER = r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"
WHOLE = r"[+-]?\d+(\.0*)?"
DAY = r"\d{4}-\d{2}-\d{2}"
OFFENCE_COLUMNS = ["line", "column", "value", "rule", "suggestion"]


def stage(connection, name, frame):
    """Put the text of one file beside the store, and its typed reading next to it.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    name : str
        Table of the shop folder.
    frame : pandas.DataFrame
        Text columns by contract name, ``file_line`` (int), ``extra`` (JSON text or None). Contract columns
        the file lacks may be absent.
    """
    table = catalogue.tables()[name]
    connection.register("incoming_rows", frame)
    given = set(frame.columns)
    text = ", ".join(f'{_text(column, given)} as "{column.name}"' for column in table.file_columns)
    connection.execute(f"create or replace temp table staged_{name} as"
                       f" select cast(file_line as bigint) as file_line, {text}, cast(extra as varchar) as extra from incoming_rows")
    connection.unregister("incoming_rows")
    typed = ", ".join(f'{_typed(column)} as "{column.name}"' for column in table.file_columns)
    connection.execute(f"create or replace temp table typed_{name} as select file_line, {typed}, extra from staged_{name}")


def offences(connection, name):
    """Return the values of a staged file that break a rule, one row for each value and rule.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        With ``name`` staged, and the accepted rows of its parents.
    name : str

    Returns
    -------
    pandas.DataFrame
        Columns line, column, value, rule, suggestion; sorted by line.
    """
    table = catalogue.tables()[name]
    connection.execute(f"create or replace temp table broken_{name} as {' union all '.join(_cell_rules(table))}")
    connection.execute(f"insert into broken_{name} {_double_rule(table)}")
    if not table.has_row_identity:
        connection.execute(f"insert into broken_{name} {_same_key_rule(table)}")
    return connection.execute(f'select line, "column", value, rule, suggestion from broken_{name}'
                              f' order by line, "column", rule').df()


def accept(connection, name):
    """Keep the staged rows without an offence as ``accepted_<name>``; return how many (int)."""
    table = catalogue.tables()[name]
    filled = ""
    if table.has_row_identity:
        filled = f", {row_hash(table)} as row_hash, 'folder' as recorded_in"
    connection.execute(f"create or replace temp table accepted_{name} as select * exclude (file_line){filled} from typed_{name}"
                       f" where file_line not in (select line from broken_{name})")
    return connection.execute(f"select count(*) from accepted_{name}").fetchall()[0][0]


def row_hash(table):
    """Return the SQL expression of a row's checksum over all contract columns of ``table`` (str)."""
    cells = ", ".join(f"coalesce(cast(\"{column.name}\" as varchar), chr(30))" for column in table.file_columns)
    return f"md5(concat_ws(chr(31), {cells}))"


def _text(column, given):
    return f'nullif(cast("{column.name}" as varchar), \'\')' if column.name in given else "cast(null as varchar)"


def _typed(column):
    cell = f'"{column.name}"'
    if column.type == "VARCHAR":
        return cell
    if column.type == "DATE":
        return f"case when regexp_full_match({cell}, '{DAY}') then try_cast({cell} as date) end"
    if column.type in ("BIGINT", "INTEGER"):
        return (f"case when regexp_full_match({cell}, '{WHOLE}')"
                f" then try_cast(try_cast({cell} as decimal(38, 6)) as {column.type}) end")
    return f"case when regexp_full_match({cell}, '{NUMBER}') then try_cast({cell} as {column.type}) end"


def _cell_rules(table):
    rules = []
    for column in table.file_columns:
        if column.is_required:
            rules.append(_select(table, column.name, "required", "a value is required here",
                                 f'staged."{column.name}" is null'))
        if column.type != "VARCHAR":
            rules.append(_select(table, column.name, wanted(column)[0], f"wanted {wanted(column)[1]}",
                                 f'staged."{column.name}" is not null and typed."{column.name}" is null'))
    rules += [_check_rule(table, text, columns) for text, columns in table.checks
              if not set(columns) & set(catalogue.FILLED)]
    return rules + [_reference_rule(table, *reference) for reference in table.references]


def _check_rule(table, text, columns):
    rule, words = check_in_words(text, columns)
    broken = re.sub(r'(?<![\w\'"])"?(' + "|".join(columns) + r')"?(?![\w\'"])', r'typed."\1"', text)
    return _select(table, columns[0], rule, words, f"not {broken}")


def _reference_rule(table, column, parent, parent_column):
    known = f'select "{parent_column}" from main.{parent}'
    if parent in catalogue.tables():
        known += f' union all select "{parent_column}" from accepted_{parent}'
    return _select(table, column, f"unknown_{parent_column}", f"wanted a {parent_column} listed in {parent}",
                   f'typed."{column}" is not null and typed."{column}" not in ({known})')


def _select(table, column, rule, words, condition):
    return (f"select staged.file_line as line, {_quoted(column)} as \"column\", staged.\"{column}\" as value, {_quoted(rule)} as rule,"
            f" {_quoted(words)} as suggestion from staged_{table.name} as staged"
            f" inner join typed_{table.name} as typed on staged.file_line = typed.file_line where {condition}")


def _double_rule(table):
    cells = ", ".join(f'"{column.name}"' for column in table.file_columns)
    tell = "; a number in `line` tells equal rows apart" if "line" in cells.replace('"', "").split(", ") else ""
    return (f"select file_line, null, null, 'double', 'the same as line ' || first_line || {_quoted(tell)} from ("
            f"select file_line, min(file_line) over (partition by {cells}) as first_line from typed_{table.name}"
            f" where file_line not in (select line from broken_{table.name})) where file_line > first_line")


def _same_key_rule(table):
    cells = ", ".join(f'"{column}"' for column in table.identity)
    shown = " || ', ' || ".join(f"coalesce(cast(\"{column}\" as varchar), 'empty')" for column in table.identity)
    return (f"select file_line, {_quoted(table.identity[0])}, shown, 'same_key',"
            f" 'line ' || first_line || ' already gives other values for {', '.join(table.identity)}; keep one of the two'"
            f" from (select file_line, {shown} as shown, min(file_line) over (partition by {cells}) as first_line from typed_{table.name}"
            f" where file_line not in (select line from broken_{table.name})) where file_line > first_line")


def wanted(column):
    """Return the name of the rule and the words for what a value of ``column`` must be (str, str)."""
    if column.type == "DATE":
        return "date", "a day as 2025-03-09"
    if column.type in ("BIGINT", "INTEGER"):
        return "whole_number", "a whole number of pieces" if column.name.endswith("_pcs") else "a whole number"
    return "number", "a number with a decimal point, as 12.50"


def check_in_words(text, columns):
    """Turn a CHECK expression of the catalogue into the name of its rule and words (str, str).

    Examples
    --------
    >>> check_in_words("(qty_pcs != 0)", ("qty_pcs",))
    ('not_zero', 'wanted anything but 0')
    >>> check_in_words("(delivered_on >= booked_on)", ("delivered_on", "booked_on"))
    ('order_of_days', 'delivered_on must not be before booked_on')
    """
    if found := re.search(r" IN \((.*)\)\)$", text):
        return "allowed_values", "wanted one of " + ", ".join(re.findall(r"'([^']*)'", found[1]))
    if len(columns) == 2 and ">=" in text:
        return "order_of_days", f"{columns[0]} must not be before {columns[1]}"
    if found := re.search(r"BETWEEN (\S+) AND ([^\s)]+)", text):
        return "range", f"wanted a number from {found[1]} to {found[2]}"
    for sign, rule, words in (("!= 0", "not_zero", "anything but 0"), ("> 0", "range", "more than 0"),
                              (">= 0", "range", "0 or more")):
        if sign in text:
            return rule, f"wanted {words}"
    return "rule", f"wanted {text}"


def _quoted(text):
    return "'" + text.replace("'", "''") + "'"
