"""The list of what was set aside, repaired and noted while records were taken in."""

import pandas as pd

COLUMNS = ["file", "line", "column", "value", "rule", "suggestion", "outcome"]


def listed(file, lines, column, values, rule, suggestions, outcome):
    """Return entries of the list for many lines of one file.

    Parameters
    ----------
    file : str
        File name.
    lines : sequence of int
        Lines in the file, the header being line 1.
    column, rule, outcome : str
        The same for all entries; outcome is ``set_aside``, ``repaired`` or ``noted``.
    values, suggestions : sequence of str or str
        What was found, and what was done or is wanted.

    Returns
    -------
    pandas.DataFrame
        Columns file, line, column, value, rule, suggestion, outcome.
    """
    entries = pd.DataFrame({"line": pd.array(list(lines), dtype="Int64")})
    entries["file"], entries["column"], entries["rule"], entries["outcome"] = file, column, rule, outcome
    entries["value"] = values if isinstance(values, str) else list(values)
    entries["suggestion"] = suggestions if isinstance(suggestions, str) else list(suggestions)
    return entries[COLUMNS]


def of_file(file, value, rule, suggestion):
    """Return one ``noted`` entry that speaks of a whole file."""
    return listed(file, [pd.NA], None, [value], rule, [suggestion], "noted")


def gathered(parts):
    """Return one list from many, in order of file and line."""
    parts = [part for part in parts if len(part)]
    if not parts:
        return pd.DataFrame({name: pd.Series(dtype="Int64" if name == "line" else object) for name in COLUMNS})
    whole = pd.concat([part.astype({"line": "Int64"}).astype({c: object for c in COLUMNS if c != "line"})
                       for part in parts], ignore_index=True)
    return whole.sort_values(["file", "line"], kind="stable", na_position="first", ignore_index=True)
