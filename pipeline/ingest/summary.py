"""What became of a folder, in lines to print."""

from dataclasses import dataclass, field

import pandas as pd

# So many different causes of one rule are told one by one, so many values and lines named.
CAUSES, VALUES, LINES = 3, 3, 4


@dataclass
class LoadSummary:
    """What became of a folder.

    Attributes
    ----------
    folder : str
    files : pandas.DataFrame
        Columns file, rows_in, rows_loaded, rows_set_aside.
    records : pandas.DataFrame
        Every row set aside, every repair, every remark.
    verb : str
        ``check`` or ``load``.
    is_unchanged : bool
        True where the very same folder was loaded before.
    """

    folder: str
    files: pd.DataFrame
    records: pd.DataFrame
    verb: str
    is_unchanged: bool = False
    notes: list = field(default_factory=list)

    @property
    def exit_code(self):
        """0 done; 1 where ``check`` found rows that a load would set aside."""
        return int(self.verb == "check" and bool(self.files["rows_set_aside"].sum()))

    def lines(self):
        """Return the lines to print (list of str)."""
        done = "would load" if self.verb == "check" else "loaded"
        found = [f"{row.file}: {row.rows_loaded:,} of {row.rows_in:,} rows {done}"
                 + (f", {row.rows_set_aside:,} set aside" if row.rows_set_aside else "")
                 for row in self.files.itertuples()]
        if self.is_unchanged:
            found.append(f"{self.folder} is the same as when it was last loaded: nothing changed.")
        return [*found, *set_aside_lines(self.records), *_repair_lines(self.records), *note_lines(self.records),
                *self.notes]


def set_aside_lines(entries):
    """Return what was set aside, each line true for all the rows it names (list of str).

    Parameters
    ----------
    entries : pandas.DataFrame
        Columns of :mod:`pipeline.ingest.records`.
    """
    bad = entries[entries["outcome"] == "set_aside"]
    found = []
    for (file, column, rule), rows in bad.groupby(["file", "column", "rule"], sort=False, dropna=False):
        causes = rows["suggestion"].drop_duplicates().tolist()
        told = causes if len(causes) <= CAUSES else causes[:CAUSES - 1]
        found += [_told(file, column, rows[rows["suggestion"] == cause]) for cause in told]
        rest = rows[~rows["suggestion"].isin(told)]
        if len(rest):
            count = rest["line"].nunique()
            found.append(f"{file} {_which(rest['line'])}: {count:,} more rows break the rule `{rule}`, for causes named"
                         " in the list. Set aside.")
    return found


def note_lines(entries):
    """Return the remarks, one line for each file and kind (list of str)."""
    noted = entries[entries["outcome"] == "noted"]
    found = []
    for (file, rule), rows in noted.groupby(["file", "rule"], sort=False, dropna=False):
        first = rows.iloc[0]
        value = f" {first['value']}:" if isinstance(first["value"], str) and first["value"] != file else ""
        more = f" And {len(rows) - 1:,} more remark{'s' if len(rows) > 2 else ''} `{rule}`." if len(rows) > 1 else ""
        line = "" if pd.isna(first["line"]) else f" line {int(first['line'])}"
        found.append(f"{file}{line}:{value} {first['suggestion']}.{more}".replace("?.", "?"))
    return found


def _repair_lines(entries):
    cells = entries[entries["outcome"] == "repaired"].drop_duplicates(["file", "line", "column"])
    if len(cells) < 2:
        return ["1 cell was repaired, listed with before and after."] * len(cells)
    return [f"{len(cells):,} cells were repaired, each listed with before and after."]


def _told(file, column, rows):
    values = rows["value"].drop_duplicates()
    shown = [f"'{value}'" if isinstance(value, str) else "empty" for value in values.iloc[:VALUES]]
    if len(values) > VALUES:
        shown.append("...")
    is_found = isinstance(column, str) and (values.notna().any() or (rows["rule"] == "required").any())
    what = f"{column} is {', '.join(shown)}; " if is_found else ""
    return f"{file} {_which(rows['line'])}: {what}{rows['suggestion'].iloc[0]}. Set aside.".replace("?. Set", "? Set")


def _which(lines):
    lines = sorted({int(line) for line in lines})
    if len(lines) == 1:
        return f"line {lines[0]}"
    named = lines if len(lines) <= LINES + 1 else lines[:LINES]
    more = f" and {len(lines) - len(named):,} more" if len(named) < len(lines) else ""
    return f"lines {', '.join(map(str, named))}{more}"
