"""Corrections an owner keeps beside the files: a value known to be wrong, what it says, and what it should say."""

from pipeline.errors import RecordsError
from pipeline.ingest import records
from pipeline.ingest.identifiers import fold
from pipeline.store import catalogue

COLUMNS = ("file", "key", "line", "column", "expected_value", "new_value", "reason")
_NEEDED = ("file", "column", "expected_value", "new_value")


def apply(tables, given):
    """Apply corrections to the tables they name; what a file really says is kept beside.

    Parameters
    ----------
    tables : dict of str to RawTable
        Changed in place: ``frame`` bears the new values, ``typed`` the old ones.
    given : tuple or None
        File name, header, rows and lines of the corrections.

    Returns
    -------
    list of pandas.DataFrame
        What was corrected (``repaired``), and each correction that no longer fits (``noted``).

    Raises
    ------
    RecordsError
        If a column of the corrections is missing.
    """
    if given is None:
        return []
    file, *_ = given
    entries = []
    for correction in _read(*given):
        said, found = _apply_one(tables, correction)
        if said:
            entries.append(records.listed(file, [correction["at"]], correction["column"],
                                          [correction["expected_value"]], "correction_not_applied", said, "noted"))
        entries += found
    return entries


def _read(file, header, rows, lines):
    names = [cell.strip().lower() for cell in header]
    absent = [name for name in _NEEDED if name not in names]
    if "line" not in names and "key" not in names:
        absent.append("key or line")
    if absent:
        raise RecordsError(f"{file}: the header lacks {', '.join(absent)}; found {', '.join(names)}. "
                           f"Wanted {', '.join(COLUMNS)}. Nothing was loaded.")
    return [{name: "" for name in COLUMNS} | {name: cell.strip() for name, cell in zip(names, row, strict=False)}
            | {"at": at} for row, at in zip(rows, lines, strict=True)]


def _apply_one(tables, correction):
    """Why a correction was not applied ("" where it was), and the entries it makes."""
    name = fold(correction["file"]).removesuffix(".csv")
    table, column = tables.get(name), fold(correction["column"])
    if table is None:
        return f"{correction['file']} is not among what was loaded; not applied", []
    if column not in table.columns:
        return f"{table.file} has no column {correction['column']}; not applied", []
    at, doubt = _rows_meant(table, correction)
    if doubt:
        return doubt, []
    found = table.frame.loc[at, column].str.strip()
    stands = found == correction["expected_value"]
    if not stands.any():
        shown = " or ".join(f"'{text}'" for text in found.unique()[:3])
        is_done = (found == correction["new_value"]).all()
        say = "it says so already" if is_done else f"expected '{correction['expected_value']}', found {shown}"
        return f"{say}: not applied; remove or mend this correction", []
    if stands.sum() > 1:
        lines = ", ".join(map(str, table.frame.loc[stands[stands].index, "file_line"]))
        return f"fits lines {lines} of {table.file}; give the line. Not applied", []
    return "", [_set(table, stands[stands].index, column, correction)]


def _rows_meant(table, correction):
    """Index of the rows a correction names by line or key, and a doubt in words where that fails."""
    if correction["line"]:
        at = table.frame.index[table.frame["file_line"].astype(str) == correction["line"]]
        return at, "" if len(at) else f"{table.file} has no row on line {correction['line']}; not applied"
    if not correction["key"]:
        return [], "names neither a key nor a line; not applied"
    identity = catalogue.tables()[table.name].identity
    parts = [column for column in identity if column in table.frame] or [
        column.name for column in catalogue.tables()[table.name].file_columns if column.is_required][:1]
    keys = table.frame[parts[0]].map(fold)
    for column in parts[1:]:
        keys = keys + ", " + table.frame[column].map(fold)
    at = table.frame.index[keys == fold(correction["key"])]
    return at, "" if len(at) else f"{table.file} has no row with {', '.join(parts)} '{correction['key']}'; not applied"


def _set(table, at, column, correction):
    if table.typed is None:
        table.typed = table.frame.copy()
    before = table.frame.loc[at, column].tolist()
    table.frame.loc[at, column] = correction["new_value"]
    table.corrected.update(table.frame.loc[at, "file_line"])
    why = f" ({correction['reason']})" if correction["reason"] else ""
    words = f"corrected to {correction['new_value'] or 'empty'}{why}"
    return records.listed(table.file, table.frame.loc[at, "file_line"], column, before, "correction", words, "repaired")
