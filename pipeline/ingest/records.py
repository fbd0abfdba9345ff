"""The list of what was set aside, repaired and noted while records were taken in."""

from pathlib import Path

import pandas as pd

from pipeline.ingest import unfinished

COLUMNS = ["file", "line", "column", "value", "rule", "suggestion", "outcome"]
_NONE = pd.DataFrame({name: pd.Series(dtype="Int64" if name == "line" else object) for name in COLUMNS})


def listed(file, lines, column, values, rule, suggestions, outcome):
    """Return entries of the list for many lines.

    Parameters
    ----------
    file, column, rule, suggestions : str or sequence of str
        One for all entries, or one each. ``suggestions`` say what was done or is wanted.
    lines : sequence of int
        Lines in the file, the header being line 1; ``pandas.NA`` where it is the whole file.
    values : sequence of str
        What was found, as written.
    outcome : str
        ``set_aside``, ``repaired`` or ``noted``.

    Returns
    -------
    pandas.DataFrame
        Columns file, line, column, value, rule, suggestion, outcome.
    """
    if not len(lines := list(lines)):
        return _NONE.copy()

    def each(cell):
        return pd.Series([cell] * len(lines) if cell is None or isinstance(cell, str) else list(cell), dtype=object)

    return pd.DataFrame({"file": each(file), "line": pd.array(lines, dtype="Int64"), "column": each(column),
                         "value": each(values), "rule": each(rule), "suggestion": each(suggestions),
                         "outcome": each(outcome)})


def of_file(file, value, rule, suggestion):
    """Return one ``noted`` entry that speaks of a whole file."""
    return listed(file, [pd.NA], None, [value], rule, suggestion, "noted")


def dropped(file, rows):
    """Return one ``noted`` entry for each row (str) that a load took out of the store."""
    return listed(file, [pd.NA] * len(rows), None, rows, "dropped",
                  "not in what was handed over: no longer in the store", "noted")


def in_words(row):
    """Return a row of cells (dict) in words (str)."""
    return ", ".join(f"{column} {cell}" for column, cell in row.items()
                     if column not in ("file_line", "extra", "recorded_in") and isinstance(cell, str))


def gathered(parts):
    """Return one list from many, in order of file and line."""
    parts = [part for part in parts if len(part)]
    if not parts:
        return _NONE.copy()
    whole = pd.concat([part.astype({"line": "Int64"} | {c: object for c in COLUMNS if c != "line"}) for part in parts],
                      ignore_index=True)
    return whole.sort_values(["file", "line"], kind="stable", na_position="first", ignore_index=True)


def place(out_dir):
    """Return where the list stands (pathlib.Path)."""
    return Path(out_dir) / "tables" / "records.csv"


def list_in(out_dir):
    """Write the list within a ``with`` block; it takes its name when the block ends well, and goes when it fails.

    Parameters
    ----------
    out_dir : str or pathlib.Path

    Returns
    -------
    context manager
        As :func:`pipeline.ingest.unfinished.named_at_the_end`: yields a callable that takes the entries
        (pandas.DataFrame) and raises RecordsError where they cannot be written.
    """
    return unfinished.named_at_the_end(place(out_dir), _write, "list")


def _write(path, entries):
    entries.to_csv(path, index=False, encoding="utf-8", lineterminator="\n")
