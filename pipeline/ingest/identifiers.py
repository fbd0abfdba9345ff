"""Identifiers: case and blanks do not count, the first spelling seen is shown, aliases resolve to parts."""

import unicodedata

import pandas as pd

from pipeline.ingest import currency
from pipeline.store import catalogue, read


class Known:
    """What the store and the folder know before any cell is mended: identifiers, aliases, the currency.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        The store the folder is meant for.
    tables : dict of str to RawTable
        The folder's files.
    staying : dict of str to set of str, optional
        Where the folder takes the place of the store: the identifiers that stay all the same, by table. The folder's
        spellings then go first, and its own aliases and currency alone count.
    once_stored : dict of str to pandas.DataFrame, optional
        Rows by table that the store held once, and that are judged again.
    """

    def __init__(self, connection, tables, staying=None, once_stored=None):
        is_alone = staying is not None
        self.currency = currency.of_shop(connection, tables, is_alone)
        self._first = {"key": {fold(key): key for key in catalogue.shop_keys()}}
        for table in catalogue.tables().values():
            if table.declares and not table.words(table.declares):
                stored = [] if is_alone else read.rows(connection, f'select "{table.declares}" from {table.name}')
                sources = [[text for (text,) in stored]]
                if table.name in (once_stored or ()):
                    sources.append(once_stored[table.name][table.declares])
                if table.name in tables and table.declares in tables[table.name].columns and table.name != "shop":
                    sources.append(tables[table.name].frame[table.declares].unique())
                for texts in (*sources, (staying or {}).get(table.name, ())):
                    self._declare(table.declares, texts)
        stored = [] if is_alone else read.rows(connection, "select alias, part from aliases")
        self._aliases = self._all_aliases(stored, tables.get("aliases"))

    def names(self, column):
        """Return the known spellings of an identifier (list of str)."""
        return list(self._first.get(column, {}).values())

    def spelled(self, table, column, texts):
        """Return a column's identifiers in the first spelling seen (pandas.Series of str).

        Parameters
        ----------
        table : pipeline.store.catalogue.Table
        column : pipeline.store.catalogue.Column
        texts : pandas.Series of str
        """
        named = column.name if column.name == table.declares else _target(table, column)
        if named not in self._first:
            return texts
        first = self._first[named]
        return pd.Series([first.get(fold(text), text) for text in texts], index=texts.index, dtype=object)

    def unaliased(self, table, column, texts):
        """Return a column of parts with every alias resolved; arguments and result as :meth:`spelled`."""
        if _target(table, column) != "part":
            return texts
        if not self._aliases:
            return texts
        parts = self._first["part"]
        return pd.Series([text if (folded := fold(text)) in parts else self._aliases.get(folded, text)
                          for text in texts], index=texts.index, dtype=object)

    def shown(self, name, texts):
        """Return identifiers that a table declares in the spelling that is shown (set of str)."""
        table = catalogue.tables()[name]
        column = next((column for column in table.file_columns if column.name == table.declares), None)
        return set(self.spelled(table, column, pd.Series(list(texts or ()), dtype=object))) if column else set()

    def respelled(self, connection, table):
        """Return the identifiers of a stored table that are shown in another spelling now.

        Parameters
        ----------
        connection : duckdb.DuckDBPyConnection
        table : pipeline.store.catalogue.Table

        Returns
        -------
        dict of str to dict of str to str
            By column: as stored, and as shown.
        """
        found = {}
        for column in table.file_columns:
            if _target(table, column) or column.name == table.declares:
                ids = read.rows(connection, f'select distinct "{column.name}" from {table.name}'
                                            f' where "{column.name}" is not null')
                stored = pd.Series([text for (text,) in ids], dtype=object)
                shown = self.spelled(table, column, stored)
                if (changed := shown != stored).any():
                    found[column.name] = dict(zip(stored[changed], shown[changed], strict=True))
        return found

    def _declare(self, column, texts):
        first = self._first.setdefault(column, {})
        for text in texts:
            if text.strip():
                first.setdefault(fold(text), " ".join(text.split()))

    def _all_aliases(self, stored, raw):
        """Folded alias to known part; an alias of an alias is followed, the first of two rows stands."""
        says = {fold(alias): fold(part) for alias, part in stored}
        if raw is not None:
            in_file = zip(raw.frame["alias"].map(fold), raw.frame["part"].map(fold), strict=True)
            says |= dict(reversed(list(in_file)))
        says.pop("", None)
        return {alias: self._first["part"][part] for alias in says if (part := self._followed(alias, says))}

    def _followed(self, alias, says):
        seen = set()
        while alias in says and alias not in seen:
            seen.add(alias)
            alias = says[alias]
            if alias in self._first.get("part", {}):
                return alias
        return None


def fold(text):
    """Return the form in which two spellings of one identifier are equal (str).

    Examples
    --------
    >>> fold(" Fli  Coil ") == fold("FLI COIL")
    True
    """
    return " ".join(unicodedata.normalize("NFC", text).split()).casefold()


def _target(table, column):
    """The identifier a column holds; assemblies and machines are spelled alike though a register need not be kept."""
    named = next((parent_column for name, _, parent_column in table.references if name == column.name), None)
    return named or (column.name if column.name in ("assembly", "machine") else None)


def distinct(texts):
    """Return each identifier once, in its first spelling, blanks around it dropped (pandas.Series of str)."""
    first = {}
    for text in texts.unique():
        if text.strip():
            first.setdefault(fold(text), " ".join(text.split()))
    return pd.Series(list(first.values()), dtype=object)
