"""Identifiers: case and blanks do not count, the first spelling seen is shown, aliases resolve to parts."""

import pandas as pd

from pipeline.store import catalogue, read


class Known:
    """Every identifier the store and the files read so far know, by its folded spelling.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        The store the folder is meant for.
    aliases : RawTable or None
        The folder's own aliases file.
    """

    def __init__(self, connection, aliases=None):
        self._first = {}
        for table in catalogue.tables().values():
            if len(table.identity) == 1 and not table.has_row_identity:
                (column,) = table.identity
                rows = read.rows(connection, f'select "{column}" from {table.name}')
                self._first.setdefault(column, {}).update({_fold(text): text for (text,) in rows})
        self._aliases = {_fold(alias): part for alias, part in read.rows(connection, "select alias, part from aliases")}
        if aliases is not None:
            self._aliases |= dict(zip(aliases.frame["alias"].map(_fold), aliases.frame["part"].str.strip(), strict=True))

    def declare(self, raw):
        """Add the identifiers a file declares, first spelling first."""
        table = catalogue.tables()[raw.name]
        if table.has_row_identity or len(table.identity) != 1 or table.identity[0] not in raw.columns:
            return
        first = self._first.setdefault(table.identity[0], {})
        for text in raw.frame[table.identity[0]]:
            first.setdefault(_fold(text), " ".join(text.split()) if text.strip() else text)

    def names(self, column):
        """Return the known spellings of an identifier (list of str)."""
        return list(self._first.get(column, {}).values())

    def spelled(self, table, column, texts):
        """Return a column's identifiers in the first spelling seen.

        Parameters
        ----------
        table : pipeline.store.catalogue.Table
        column : pipeline.store.catalogue.Column
        texts : pandas.Series of str

        Returns
        -------
        texts : pandas.Series of str
        rule, words : str
            For the list of mends; rule is None where the column holds no identifier.
        """
        named = column.name if table.identity == (column.name,) else _target(table, column)
        if named is None:
            return texts, None, ""
        first = texts.map(_fold).map(self._first.get(named, {})).astype(object)
        return first.where(first.notna(), texts), "spelling", "taken as "

    def unaliased(self, table, column, texts):
        """Return a column of parts with every alias resolved; arguments and result as :meth:`spelled`."""
        if _target(table, column) != "part":
            return texts, None, ""
        first, folded = self._first.get("part", {}), texts.map(_fold)
        meant = folded.map(self._aliases).map(lambda part: first.get(_fold(part)), na_action="ignore").astype(object)
        is_alias = ~folded.isin(first.keys()) & meant.notna()
        return texts.where(~is_alias, meant), "alias", "taken as "


def _target(table, column):
    return next((parent_column for name, _, parent_column in table.references if name == column.name), None)


def _fold(text):
    return " ".join(text.split()).casefold() if isinstance(text, str) else pd.NA
