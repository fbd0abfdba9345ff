"""What every page needs to know of a store: the settings, names in words, and what is not there yet."""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

import pandas as pd

from pipeline.reports.formats import is_unknown, money
from pipeline.store import connect, read

_NAME_LENGTH = 40


@dataclass(frozen=True)
class Shop:
    """One store, as the pages see it.

    Parameters
    ----------
    path : str
        The DuckDB file.
    settings : pipeline.store.read.Settings
        Given by the owner or by default.
    families, parts, assemblies : dict of str to str
        Identifier to name in words.
    missing : pandas.DataFrame
        Columns ``file``, ``unlocks``: optional files that hold nothing yet.
    """

    path: str
    settings: read.Settings
    families: dict
    parts: dict
    assemblies: dict
    missing: pd.DataFrame

    @property
    def currency(self):
        """Currency code of all amounts."""
        return self.settings.currency

    def money(self, amount):
        """An amount in a sentence, in the shop's currency.

        Parameters
        ----------
        amount : float or None
            The amount.

        Returns
        -------
        str
            As `pipeline.reports.formats.money` writes it.
        """
        return money(amount, self.currency)

    def family_name(self, family):
        """A family's name in words.

        Parameters
        ----------
        family : str
            Its code.

        Returns
        -------
        str
            The code where no name is on record.
        """
        return self.families.get(family, family)

    def query(self, sql, parameters=()):
        """Ask the store one question.

        Parameters
        ----------
        sql : str
            A SELECT.
        parameters : sequence
            Values for its question marks.

        Returns
        -------
        pandas.DataFrame
            The answer.
        """
        with connect.open_read(self.path) as connection:
            return read.query(connection, sql, parameters)

    def named(self, frame):
        """Add names in words beside identifiers, for charts.

        Parameters
        ----------
        frame : pandas.DataFrame
            With any of the columns ``part``, ``family``, ``scope``.

        Returns
        -------
        pandas.DataFrame
            With ``part_name``, ``family_name``, ``scope_name`` and ``job_type`` where they can be made.
        """
        made = {}
        if "part" in frame:
            made["part_name"] = [self.part_name(part) for part in frame["part"]]
        if "family" in frame:
            made["family_name"] = [self.family_name(family) for family in frame["family"]]
        if "scope" in frame:
            made["scope_name"] = [scope_name(scope) for scope in frame["scope"]]
        if "family_name" in made and "scope_name" in made:
            made["job_type"] = [
                f"{family}, {scope}"
                for family, scope in zip(made["family_name"], made["scope_name"], strict=True)
            ]
        return frame.assign(**made)

    def part_name(self, part):
        """A part's identifier and description, short enough for an axis.

        Parameters
        ----------
        part : str or None
            Identifier.

        Returns
        -------
        str or None
            None where the identifier is unknown.
        """
        if is_unknown(part):
            return None
        name = f"{part} {self.parts.get(part, '')}".strip()
        return name if len(name) <= _NAME_LENGTH else f"{name[: _NAME_LENGTH - 1].rstrip()}…"

    @cached_property
    def unlocks(self):
        """What each missing file would unlock.

        Returns
        -------
        dict of str to str
            File name to words.
        """
        return dict(zip(self.missing["file"], self.missing["unlocks"], strict=True))


def scope_name(scope):
    """How far a job goes, in words.

    Parameters
    ----------
    scope : str
        ``fix_only``, ``refresh``, ``recommended`` or ``thorough``.

    Returns
    -------
    str
        The same without the underscore.

    Examples
    --------
    >>> scope_name("fix_only")
    'fix only'
    """
    return str(scope).replace("_", " ")


def stamp(path):
    """What changes when a store is written to.

    Parameters
    ----------
    path : str or pathlib.Path
        The DuckDB file.

    Returns
    -------
    tuple of (int, int) or None
        Time of the last change in nanoseconds, and size in bytes; None where there is no file.
    """
    try:
        found = Path(path).stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


def of(path):
    """The shop of a store, read once as long as the store does not change.

    Parameters
    ----------
    path : str or pathlib.Path
        The DuckDB file.

    Returns
    -------
    Shop
        Settings, names and missing files.

    Raises
    ------
    pipeline.errors.StoreError
        If the store cannot be read.
    """
    return _read(str(path), stamp(path))


@lru_cache(maxsize=4)
def _read(path, _stamp):
    with connect.open_read(path) as connection:
        return Shop(
            path=path,
            settings=read.settings(connection),
            missing=read.missing_files(connection),
            families=dict(read.rows(connection, "select family, name from families")),
            parts=dict(read.rows(connection, "select part, description from parts")),
            assemblies=dict(read.rows(connection, "select assembly, coalesce(name, assembly) from assemblies")),
        )
