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
        Columns file, rows_in, rows_loaded, rows_set_aside, holds.
    records : pandas.DataFrame
        Every row set aside, every repair, every remark.
    verb : str
        ``check`` or ``load``.
    is_unchanged : bool
        True where the very same folder was loaded before.
    notes : list of str
        Further lines to print.
    earlier : list of tuple
        table, and rows of earlier loads that are in now, that still wait, and that no longer hold.
    is_refused : bool
        True for a load that its terms did not allow, and that loaded nothing.
    refusal : str
        Why; empty for a strict load that found rows to set aside.
    losses : list of tuple
        For a replacing load, table, rows before and rows fewer.
    """

    folder: str
    files: pd.DataFrame
    records: pd.DataFrame
    verb: str
    is_unchanged: bool = False
    notes: list = field(default_factory=list)
    earlier: list = field(default_factory=list)
    is_refused: bool = False
    refusal: str = ""
    losses: list = field(default_factory=list)

    @property
    def newly_set_aside(self):
        """How many rows this load set aside (int): of its files, and of the store where they no longer hold."""
        return int(self.files["rows_set_aside"].sum()) + sum(lost for *_, lost in self.earlier)

    @property
    def exit_code(self):
        """0 done; 1 where ``check`` found rows that a load would set aside, or a load was refused."""
        return int(self.is_refused or (self.verb == "check" and bool(self.newly_set_aside)))

    def lines(self):
        """Return the lines to print (list of str)."""
        done = "would load" if self.verb == "check" or self.is_refused else "loaded"
        found = [f"{row.file}: {row.rows_loaded:,} of {row.rows_in:,} rows {done}"
                 + (f", {row.rows_set_aside:,} set aside" if row.rows_set_aside else "")
                 for row in self.files.itertuples() if row.rows_in]
        if empty := self.files.loc[self.files["rows_in"] == 0, "holds"].tolist():
            found.append(f"No rows in {', '.join(empty[:VALUES])}"
                         + (f" and {len(empty) - VALUES} more." if len(empty) > VALUES else "."))
        if self.is_unchanged:
            found.append(f"{self.folder} is the same as when it was last loaded: nothing changed.")
        if self.is_refused:
            found.append(self.refusal or f"Nothing was loaded: {_rows(self.newly_set_aside)} would be set aside, and "
                         "--strict allows none. The shop is as it was. Mend them, or load without --strict.")
        return [*found, *_earlier_lines(self.earlier), *set_aside_lines(self.records), *_repair_lines(self.records),
                *note_lines(self.records), *self.notes]


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
        value = _shown(first) if isinstance(first["value"], str) and first["value"] != file else ""
        more = f" And {len(rows) - 1:,} more remark{'s' if len(rows) > 2 else ''} `{rule}`." if len(rows) > 1 else ""
        line = "" if pd.isna(first["line"]) else f" line {int(first['line'])}"
        found.append(f"{file}{line}:{value} {first['suggestion']}.{more}".replace("?.", "?"))
    return found


def _shown(entry):
    is_of_column = isinstance(entry["column"], str)
    return f" '{entry['value']}' ({entry['column']}):" if is_of_column else f" {entry['value']}:"


def _earlier_lines(earlier):
    found = []
    for name, now_in, still, lost in earlier:
        if now_in:
            found.append(f"{name}, loaded earlier: {_rows(now_in)} set aside then "
                         f"{'is' if now_in == 1 else 'are'} in now.")
        if still:
            found.append(f"{name}, loaded earlier: {_rows(still)} set aside then still "
                         f"{'waits' if still == 1 else 'wait'}.")
        if lost:
            found.append(f"{name}, loaded earlier: {_rows(lost)} no longer "
                         f"{'holds' if lost == 1 else 'hold'} and {'is' if lost == 1 else 'are'} set aside.")
    return found


def _rows(number):
    return "1 row" if number == 1 else f"{number:,} rows"


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
    if lines[0] < 0:
        return "1 row" if len(lines) == 1 else f"{len(lines):,} rows"
    if len(lines) == 1:
        return f"line {lines[0]}"
    named = lines if len(lines) <= LINES + 1 else lines[:LINES]
    more = f" and {len(lines) - len(named):,} more" if len(named) < len(lines) else ""
    return f"lines {', '.join(map(str, named))}{more}"
