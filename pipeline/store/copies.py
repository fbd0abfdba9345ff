"""The store's file as a whole: copied while nobody writes to it, counted, and put in another's place."""

import contextlib
import os
import shutil
from pathlib import Path

import duckdb

from pipeline.errors import StoreError
from pipeline.store import build, connect


@contextlib.contextmanager
def open_any(path):
    """Open a store of this edition, or an older one as it is, for reading.

    Parameters
    ----------
    path : str or pathlib.Path

    Yields
    ------
    duckdb.DuckDBPyConnection
        Without views. While it is open nobody can write to the store.

    Raises
    ------
    StoreError
        As :func:`pipeline.store.connect.open_read`, but not for an older edition.
    """
    with connect._connected(connect.require(path), read_only=True) as connection:
        at = build.version(connection)
        if not at:
            raise StoreError(f"{path} holds no shop. Name the store with --shop FILE.")
        if at > build.SCHEMA_VERSION:
            raise StoreError(f"{path}: {build.newer(at, build.SCHEMA_VERSION)}")
        yield connection


def holdings(path):
    """Return what a store of any edition holds.

    Parameters
    ----------
    path : str or pathlib.Path

    Returns
    -------
    edition : int
    rows : dict of str to int
        Rows of each table.

    Raises
    ------
    StoreError
        As :func:`open_any`.
    """
    with open_any(path) as connection:
        names = connection.execute("select table_name from duckdb_tables() where not internal and not temporary"
                                   " order by table_name").fetchall()
        return build.version(connection), {
            name: connection.execute(f'select count(*) from main."{name}"').fetchall()[0][0] for (name,) in names}


def release():
    """Return the name under which this release builds a store (str)."""
    with connect.open_memory() as connection:
        return connection.execute("select built_by from store_version").fetchall()[0][0]


def take(shop_file, target):
    """Copy a store's file, byte for byte, while nobody can write to it.

    Parameters
    ----------
    shop_file, target : str or pathlib.Path

    Raises
    ------
    StoreError
        If there is no store, it is newer than this release, or it is open for writing elsewhere.
    OSError
        If the copy cannot be written.
    """
    shop_file = connect.require(shop_file)
    if log_of(shop_file).exists():
        # A crash left rows beside the file: opened for writing it takes them in, closed it holds them.
        connect._connected(shop_file, read_only=False).close()
    with open_any(shop_file):
        shutil.copyfile(shop_file, target)


def put_in_place(new, shop_file):
    """Give a store's file the name of the shop; the store that bears it now is kept beside.

    Parameters
    ----------
    new, shop_file : pathlib.Path
        In one folder.

    Returns
    -------
    pathlib.Path or None
        Where the former store is kept, ``NAME.before-restore-N.duckdb``; None where there was none.

    Raises
    ------
    StoreError
        If the store is open elsewhere, or the file cannot take its name. All is then as it was.
    """
    refuse_open_elsewhere(shop_file)
    kept = _free_name(shop_file)
    begun = []
    try:
        for old, now in ((shop_file, kept), (log_of(shop_file), log_of(kept)), (new, shop_file)):
            if old.exists():
                begun.append((old, now))
                os.replace(old, now)
    except BaseException as error:
        for old, now in reversed(begun):
            if now.exists() and not old.exists():
                os.replace(now, old)
        if isinstance(error, OSError):
            raise StoreError(f"{shop_file}: cannot be replaced ({error.strerror}). The shop is as it was; close every "
                             "window that has it open and run this again.") from None
        raise
    return kept if kept.exists() else None


def refuse_open_elsewhere(shop_file):
    """Raise StoreError where a store is open in another window, or is a folder; else do nothing.

    A file that does not open as a store at all is let through: that is what a back-up is restored for.
    """
    if shop_file.is_dir():
        raise StoreError(f"{shop_file} is a folder. Name the store with --shop FILE.")
    if shop_file.exists():
        try:
            duckdb.connect(str(shop_file), config=connect.SETTINGS).close()
        except duckdb.Error as error:
            if connect._LOCKED.search(str(error)):
                raise StoreError(connect._locked(shop_file, error)) from None


def log_of(shop_file):
    """Return where DuckDB keeps what it has not put into the store's file yet (pathlib.Path)."""
    return Path(f"{shop_file}.wal")


def _free_name(shop_file):
    number = 1
    while (kept := shop_file.with_name(f"{shop_file.stem}.before-restore-{number}.duckdb")).exists():
        number += 1
    return kept
