"""Mend what can be mended without a guess; list every mend with before and after."""

import re

import pandas as pd

from pipeline.ingest import records
from pipeline.ingest.dates import read_days
from pipeline.store import catalogue

DECIMAL_COMMA = r"[+-]?\d+,(\d{1,2}|\d{4,})"


def repair(raw, known):
    """Return a file's frame with its cells mended, and the list of mends.

    Parameters
    ----------
    raw : pipeline.ingest.read.RawTable
    known : pipeline.ingest.identifiers.Known
        Identifiers and aliases seen so far; this file's own identifiers are added to it.

    Returns
    -------
    frame : pandas.DataFrame
    mends : list of pandas.DataFrame
        Entries of :mod:`pipeline.ingest.records`.
    """
    table = catalogue.tables()[raw.name]
    frame, mends = raw.frame.copy(), list(raw.records)
    known.declare(raw)
    for column in (column for column in table.file_columns if column.name in raw.columns):
        for mend in (_trimmed, _lower_words, _days, _numbers, known.spelled, known.unaliased):
            after, rule, words = mend(table, column, frame[column.name])
            changed = after != frame[column.name]
            if rule and changed.any():
                mends.append(records.listed(raw.file, frame.loc[changed, "file_line"], column.name, frame.loc[changed, column.name],
                                            rule, words + after[changed], "repaired"))
            frame[column.name] = after
    return frame, mends


def two_readings(raw, frame):
    """Return entries for the days of a file that can be read in two ways (all set aside)."""
    found = []
    for column in catalogue.tables()[raw.name].file_columns:
        if column.type == "DATE" and column.name in raw.columns:
            _, readings = read_days(frame[column.name])
            odd = (frame[column.name] != "") & ~frame[column.name].str.fullmatch(r"\d{4}-\d{2}-\d{2}")
            for line, text in zip(frame.loc[odd, "file_line"], frame.loc[odd, column.name], strict=True):
                days = {pd.to_datetime(text, format=f, errors="coerce") for f in readings} - {pd.NaT}
                if len(days) > 1:
                    shown = " or ".join(sorted(f"{day:%Y-%m-%d}" for day in days))
                    found.append(records.listed(raw.file, [line], column.name, [text], "two_readings",
                                                [f"could be {shown}; write the day as 2025-03-09"], "set_aside"))
    return records.gathered(found)


def _trimmed(table, column, texts):
    return texts.str.replace("\u00a0", " ").str.strip(), "blanks", "blanks around it dropped: "


def _lower_words(table, column, texts):
    allowed = [re.findall(r"'([^']*)'", text) for text, columns in table.checks if columns == (column.name,) and " IN (" in text]
    if not allowed:
        return texts, None, ""
    lower = texts.str.lower().str.replace(r"[\s-]+", "_", regex=True)
    return texts.where(~lower.isin(allowed[0]), lower), "spelling", "taken as "


def _days(table, column, texts):
    if column.type != "DATE":
        return texts, None, ""
    return read_days(texts)[0], "date_spelling", "the whole column reads as "


def _numbers(table, column, texts):
    # Pieces are whole: 1,5 pieces is a slip to be asked about, 12,50 in money is a spelling.
    if column.type != "DOUBLE" and not column.type.startswith("DECIMAL"):
        return texts, None, ""
    comma = texts.str.fullmatch(DECIMAL_COMMA)
    return texts.where(~comma, texts.str.replace(",", ".")), "decimal_comma", "taken as "
