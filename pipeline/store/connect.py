"""Open the store: one action, one connection, closed again."""

import re
import time
from pathlib import Path

import duckdb

from pipeline.errors import StoreError
from pipeline.store import build, views

# Extensions cannot be fetched at a bench without a network, and must never be tried.
OFFLINE = {"autoinstall_known_extensions": "false", "autoload_known_extensions": "false"}
TRIES, PAUSE_SECONDS = 5, 0.2


def open_read(path):
    """Open a store for reading, its views ready.

    Parameters
    ----------
    path : str or pathlib.Path
        The DuckDB file.

    Returns
    -------
    duckdb.DuckDBPyConnection
        Read-only; use it as a context manager.

    Raises
    ------
    StoreError
        If there is no such file, it is no store, it is newer than this release, or another process
        keeps it open for writing.
    """
    path = Path(path)
    if not path.is_file():
        raise StoreError(f"no store at {path}. Run `python3 -m pipeline load FOLDER --shop {path}` first.")
    return _ready(_connected(path, read_only=True), path)


def open_write(path):
    """Open a store for writing, built if new and migrated if old.

    Parameters
    ----------
    path : str or pathlib.Path
        The DuckDB file; its folder is made if missing.

    Returns
    -------
    duckdb.DuckDBPyConnection

    Raises
    ------
    StoreError
        As for :func:`open_read`, or if the folder cannot be written to.
    """
    path = Path(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"{path.parent}: {error.strerror}. Choose another place with --shop FILE.") from None
    connection = _connected(path, read_only=False)
    _brought_up_to_date(connection, path)
    return _ready(connection, path)


def open_memory():
    """Open an empty store in memory, for checking a folder without writing anything."""
    connection = duckdb.connect(config=OFFLINE)
    build.build(connection)
    views.create(connection)
    return connection


def _connected(path, read_only):
    for attempt in range(TRIES):
        try:
            return duckdb.connect(str(path), read_only=read_only, config=OFFLINE)
        except (duckdb.IOException, duckdb.ConnectionException) as error:
            if not _is_locked(error):
                raise StoreError(_explained(path, error)) from None
            if attempt == TRIES - 1:
                raise StoreError(_locked(path, error)) from None
            time.sleep(PAUSE_SECONDS)
        except duckdb.Error as error:
            raise StoreError(_explained(path, error)) from None


def _brought_up_to_date(connection, path):
    try:
        if connection.execute("select count(*) from duckdb_tables() where not internal").fetchall()[0][0]:
            build.migrate(connection)
        else:
            connection.execute("begin")
            build.build(connection)
            connection.execute("commit")
    except StoreError as error:
        connection.close()
        raise StoreError(f"{path}: {error}") from None


def _ready(connection, path):
    try:
        at = build.version(connection)
        if at != build.SCHEMA_VERSION:
            raise StoreError(f"{path}: the store is of edition {at}, wanted {build.SCHEMA_VERSION}. "
                             + ("Use the newer release that wrote it." if at > build.SCHEMA_VERSION
                                else "Run `python3 -m pipeline load FOLDER` once to bring it up to date."))
        views.create(connection)
    except (StoreError, duckdb.Error) as error:
        connection.close()
        raise (error if isinstance(error, StoreError) else StoreError(_explained(path, error))) from None
    return connection


def _is_locked(error):
    return "lock" in str(error).lower() or "different configuration" in str(error).lower()


def _locked(path, error):
    process = re.search(r"PID (\d+)", str(error))
    which = f", process {process[1]}" if process else ""
    return f"{path}: the shop is open in another window{which}. Close it there and run this again."


def _explained(path, error):
    first = str(error).splitlines()[0]
    return f"{path} cannot be opened as a shop's store ({first}). Name the store with --shop FILE."
