"""Mend what can be mended without a guess, list every mend; refuse what could be read in two ways."""

import pandas as pd

from pipeline.ingest import currency, dates, numbers, records
from pipeline.store import catalogue, validate


def repair(raw, known):
    """Mend a file's cells.

    Parameters
    ----------
    raw : pipeline.ingest.read.RawTable
    known : pipeline.ingest.identifiers.Known

    Returns
    -------
    frame : pandas.DataFrame
        As ``raw.frame``, mended.
    mends : list of pandas.DataFrame
        Entries of :mod:`pipeline.ingest.records`, the remarks made while reading among them.
    refused : pandas.DataFrame
        Cells and rows that no rule of the catalogue speaks of and that must not be taken
        (columns of :data:`pipeline.store.validate.OFFENCE_COLUMNS`).
    """
    table = catalogue.tables()[raw.name]
    frame, mends, refused = raw.frame.copy(), list(raw.records), [raw.refused]
    for column in (column for column in table.file_columns if column.name in raw.columns):
        # A column has few spellings and many rows: each spelling is mended once.
        codes, spellings = pd.factorize(frame[column.name])
        before = typed = pd.Series(spellings, dtype=object)
        for mend, rule, words in MENDS:
            after = mend(table, column, before, known)
            if after is not before and (changed := (after != before).to_numpy()).any():
                at = codes[changed[codes]]
                mends.append(records.listed(raw.file, frame.loc[changed[codes], "file_line"], column.name,
                                            before.iloc[at], rule, words + after.iloc[at], "repaired"))
            before = after
        frame[column.name] = before.to_numpy()[codes]
        refused += [_lines(frame, column, codes, rule, found)
                    for rule, found in _refusals(column, typed, before, known) if len(found)]
    refused.append(_of_other_currency(raw, known))
    return frame, mends, pd.concat([part for part in refused if len(part)] or [raw.refused], ignore_index=True)


def _refusals(column, typed, mended, known):
    if column.type == "DATE":
        yield "two_readings", dates.read_days(mended)[1]
    if column.is_money:
        yield "other_currency", currency.names_other(mended, known.currency)
    if column.is_number:
        yield "two_readings", numbers.two_readings(typed, mended)


def _lines(frame, column, codes, rule, found):
    """One offence for each line whose spelling was found."""
    suggestions = found.reindex(range(codes.max(initial=-1) + 1)).iloc[codes]
    is_bad = suggestions.notna().to_numpy()
    bad = {"line": frame.loc[is_bad, "file_line"], "column": column.name, "value": frame.loc[is_bad, column.name],
           "rule": rule, "suggestion": suggestions[is_bad].to_numpy()}
    return pd.DataFrame(bad)


def _of_other_currency(raw, known):
    words = currency.other_in_column(raw, known.currency)
    if words.empty:
        return raw.refused.iloc[:0]
    found = {"line": words.index, "column": "currency", "value": words.to_numpy(), "rule": "other_currency",
             "suggestion": known.currency.wanted}
    return pd.DataFrame(found, columns=validate.OFFENCE_COLUMNS)


def _trimmed(table, column, texts, known):
    # Most columns need no mending; a look at the texts themselves is cheaper than a series beside them.
    return texts.str.strip() if any(text != text.strip() for text in texts) else texts


def _words(table, column, texts, known):
    if not (words := table.words(column.name)):
        return texts
    lower = texts.str.lower().str.replace(r"[\s-]+", "_", regex=True)
    return texts.where(~lower.isin(words), lower)


def _days(table, column, texts, known):
    return dates.read_days(texts)[0] if column.type == "DATE" else texts


def _without_own_currency(table, column, texts, known):
    return currency.without_own(texts, known.currency) if column.is_money else texts


def _with_point(table, column, texts, known):
    # Pieces are whole: 1,5 pieces is a slip to be asked about, 12,50 in money is a spelling.
    is_setting = (table.name, column.name) == ("shop", "value")
    return numbers.with_point(texts) if column.is_number or is_setting else texts


def _rounded(table, column, texts, known):
    return numbers.rounded(texts, column) if column.is_money else texts


def _spelled(table, column, texts, known):
    return known.spelled(table, column, texts)


def _unaliased(table, column, texts, known):
    return known.unaliased(table, column, texts)


MENDS = (
    (_trimmed, "blanks", "blanks around it dropped: "),
    (_words, "spelling", "taken as "),
    (_days, "date_spelling", "read as "),
    (_without_own_currency, "own_currency", "taken as "),
    (_with_point, "decimal_comma", "taken as "),
    (_rounded, "rounded", "money is kept to four decimals: "),
    (_spelled, "spelling", "taken as "),
    (_unaliased, "alias", "taken as "),
)
