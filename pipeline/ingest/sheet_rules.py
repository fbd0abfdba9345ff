"""Drop-down lists and checks on the cells of our workbooks, from the rules of the catalogue."""

import re

from pipeline.store import catalogue, rule_words

ROOM = 2000  # rows that bear lists and checks; more rows load all the same
# Identifiers that may be given without a list of their own: the list is offered, nothing is said against others.
_FREE = ("assembly", "machine", *catalogue.REGISTERS.values())
_SIGNS = {">= 0": ("greaterThanOrEqual", 0), "> 0": ("greaterThan", 0), "!= 0": ("notEqual", 0)}


def offer_words(sheet, table, letters, last_row):
    """Offer the words of the columns that hold one of a few.

    Parameters
    ----------
    sheet : openpyxl worksheet
    table : pipeline.store.catalogue.Table
    letters : dict of str to str
        Column name to its letter in the sheet.
    last_row : int
        Rows 2 to this one.
    """
    for name, letter in letters.items():
        if words := table.words(name):
            # A list written out may have 255 characters; a test keeps the schema's words below that.
            _add(sheet, letter, last_row, "stop", f"Wanted one of {', '.join(words)}.", type="list",
                 formula1='"' + ",".join(words) + '"')


def check_values(sheet, table, letters, last_row):
    """Check days and numbers as they are typed; arguments as :func:`offer_words`."""
    for column in (column for column in table.file_columns if column.name in letters and column.type != "VARCHAR"):
        rules = [text for text, columns in table.checks if columns == (column.name,)]
        words = [rule_words.check(text, (column.name,))[1] for text in rules] or [rule_words.wanted(column)[1]]
        _add(sheet, letters[column.name], last_row, "stop", f"{words[0][:1].upper()}{words[0][1:]}.",
             **_limits(column, rules))


def offer_listed(sheet, table, letters, last_row, ranges):
    """Offer the identifiers listed in another sheet.

    Parameters
    ----------
    sheet, table, letters, last_row
        As :func:`offer_words`.
    ranges : dict of str to str
        Identifier (``part``, ``job``, ...) to the range where it is listed.
    """
    for name, letter in letters.items():
        named, parent = listed_as(table, name)
        if named not in ranges or parent == table.name:
            continue
        where = ranges[named].partition("!")[0]
        words = f"Wanted {named} as listed in the sheet {where}" + (", or an alias." if named == "part" else ".")
        # An alias, or a row typed first, is no fault: the question may be answered with yes.
        _add(sheet, letter, last_row, None if named in _FREE else "warning", words, type="list",
             formula1=f"={ranges[named]}")


def listed_as(table, name):
    """Return which identifier a column holds and the table that lists it (str, str); None, None where none.

    Parameters
    ----------
    table : pipeline.store.catalogue.Table
    name : str
        Its column.
    """
    for column, parent, parent_column in table.references:
        if column == name:
            return parent_column, parent
    free = {"assembly": "assemblies", "machine": "machines"}
    return (name, free[name]) if name in free else (None, None)


def _limits(column, rules):
    kind = {"DATE": "date", "BIGINT": "whole", "INTEGER": "whole"}.get(column.type, "decimal")
    if kind == "date":
        return {"type": kind, "operator": "greaterThanOrEqual", "formula1": "1"}
    for text in rules:
        if found := re.search(r"BETWEEN (\S+) AND ([^\s)]+)", text):
            return {"type": kind, "operator": "between", "formula1": found[1], "formula2": found[2]}
        for sign, (operator, limit) in _SIGNS.items():
            if text.endswith(f" {sign})"):
                return {"type": kind, "operator": operator, "formula1": str(limit)}
    return {"type": kind, "operator": "between", "formula1": "-1000000000", "formula2": "1000000000"}


def _add(sheet, letter, last_row, severity, words, **rule):
    from openpyxl.worksheet.datavalidation import DataValidation

    rule = DataValidation(allow_blank=True, showErrorMessage=severity is not None, errorStyle=severity,
                          errorTitle="Not as the rules want it", error=words[:225], **rule)
    rule.add(f"{letter}2:{letter}{max(last_row, 2)}")
    sheet.data_validations.append(rule)
