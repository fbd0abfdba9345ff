"""The rules of the catalogue in words: what a value must be, as the owner of a file reads it."""

import re

from pipeline.store import catalogue

# A sign that some kinds of row must have, as "((qty_pcs > 0) OR (NOT (kind IN ('made', 'found'))))".
_SIGN_OF_KIND = re.compile(r'\(\("?\w+"? ([<>]) 0\) OR \(NOT \("?\w+"? IN \((.*)\)\)\)\)')


def wanted(column):
    """Return the name of the rule and the words for what a value of a column must be.

    Parameters
    ----------
    column : pipeline.store.catalogue.Column

    Returns
    -------
    rule, words : str
    """
    if column.type == "DATE":
        return "date", "wanted a day as 2025-03-09"
    if column.type in ("BIGINT", "INTEGER"):
        return "whole_number", f"wanted a whole number{' of pieces' if column.name.endswith('_pcs') else ''}, as 12"
    return "number", "wanted a number with a decimal point, as 12.50"


def reference(parent, column):
    """Return the name of the rule and the words for a value that must be listed in another table (str, str)."""
    if parent == "shop_keys":
        return "unknown_key", f"wanted one of {', '.join(catalogue.shop_keys())}"
    return f"unknown_{column}", f"wanted a {column} listed in {parent}"


def check(text, columns):
    """Turn a CHECK expression of the catalogue into the name of its rule and words.

    Parameters
    ----------
    text : str
        As ``duckdb_constraints()`` gives it.
    columns : sequence of str
        The columns it speaks of.

    Returns
    -------
    rule, words : str
        Rule is ``rule`` where the expression has no words yet; a test keeps that from the schema.

    Examples
    --------
    >>> check("(qty_pcs != 0)", ("qty_pcs",))
    ('not_zero', 'wanted a whole number of pieces, not 0')
    >>> check("(delivered_on >= booked_on)", ("delivered_on", "booked_on"))
    ('order_of_days', 'delivered_on must not be before booked_on')
    >>> check("((qty_pcs < 0) OR (NOT (kind IN ('sold', 'written_off'))))", ("qty_pcs", "kind"))
    ('sign_of_kind', 'sold and written_off take pieces off the shelf: wanted fewer than 0, as -2')
    """
    if found := _SIGN_OF_KIND.fullmatch(text):
        return "sign_of_kind", _sign_words(found[1], re.findall(r"'([^']*)'", found[2]))
    if found := re.search(r" IN \((.*)\)\)$", text):
        return "allowed_values", "wanted one of " + ", ".join(re.findall(r"'([^']*)'", found[1]))
    if found := re.search(r"BETWEEN (\S+) AND ([^\s)]+)", text):
        return "range", f"wanted a number from {found[1]} to {found[2]}"
    if text.count("IS NOT NULL") == len(columns) > 1 and " OR " in text:
        return "required", f"wanted a value in {' or '.join(columns)}"
    if found := re.fullmatch(r'\("?(\w+_on)"? >= "?(\w+_on)"?\)', text):
        return "order_of_days", f"{found[1]} must not be before {found[2]}"
    for sign, rule, words in (("!= 0", "not_zero", ", not 0"), ("> 0", "range", " more than 0"),
                              (">= 0", "range", ", 0 or more")):
        if re.fullmatch(rf'\("?{columns[0]}"? {sign}\)', text):
            what = "a whole number of pieces" if columns[0].endswith("_pcs") else "a number"
            return rule, f"wanted {what}{words}"
    return "rule", f"wanted {text}"


def _sign_words(sign, kinds):
    named = " and ".join(filter(None, [", ".join(kinds[:-1]), kinds[-1]]))
    many = "" if len(kinds) > 1 else "s"
    if sign == "<":
        return f"{named} take{many} pieces off the shelf: wanted fewer than 0, as -2"
    return f"{named} put{many} pieces on the shelf: wanted more than 0, as 2"
