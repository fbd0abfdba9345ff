"""Open the store: one action, one connection, closed again."""

import contextlib
import re
import time
from pathlib import Path

import duckdb

from pipeline.errors import StoreError
from pipeline.store import build, catalogue, stop

# Extensions cannot be fetched at a bench without a network, and must never be tried.
OFFLINE = {"autoinstall_known_extensions": "false", "autoload_known_extensions": "false"}
# DuckDB 2.0 reckons wrong bounds of a sum over a step that several others read, where that step joins a table without
# a row, and then drops rows that `having sum(...) > 0` should keep (found here; tests/unit/store/test_connect.py).
SETTINGS = OFFLINE | {"disabled_optimizers": "statistics_propagation"}
TRIES, PAUSE_SECONDS = 5, 0.2
# What DuckDB and the systems under it say of a file that another process, or this one, keeps open.
_LOCKED = re.compile(r"could not set lock|conflicting lock|used by another process|different configuration", re.I)


def open_read(path):
    """Open a store for reading.

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
    path = require(path)
    connection = _connected(path, read_only=True)
    with _closing_on_error(connection, path):
        return _ready(connection)


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
    with _closing_on_error(connection, path):
        if tables := _tables(connection):
            _refuse_stranger(tables)
            build.migrate(connection)
        else:
            with transaction(connection):
                build.build(connection)
        return _ready(connection)


def open_memory():
    """Open an empty store in memory, for checking a folder without writing anything."""
    connection = duckdb.connect(config=SETTINGS)
    connection.execute("set enable_progress_bar = false")
    build.build(connection, has_remarks=False)
    return connection


def copy_in(connection, path):
    """Copy what a store holds into an empty one that is open (see :func:`open_memory`)."""
    open_read(path).close()
    attach_standing(connection, path)
    for name in catalogue.every_table():
        if name not in catalogue.BUILT:
            connection.execute(f"insert into main.{name} by name from standing.{name}")
    connection.execute("detach standing")


def attach_standing(connection, path):
    """Attach a store that could be opened to a connection in memory, for reading, by the name ``standing``."""
    try:
        connection.execute(f"attach '{str(path).replace(chr(39), chr(39) * 2)}' as standing (read_only)")
    except duckdb.Error as error:
        raise StoreError((_locked if _LOCKED.search(str(error)) else _explained)(path, error)) from None


def require(path):
    """Return the path of a store that must be there (pathlib.Path); StoreError where it is not."""
    path = Path(path)
    if not path.is_file():
        raise StoreError(f"no store at {path}. Run `python3 -m pipeline load FOLDER --shop {path}` first.")
    return path


@contextlib.contextmanager
def change(path):
    """Change a store within a ``with`` block: all of it, or nothing.

    Parameters
    ----------
    path : str or pathlib.Path
        The DuckDB file; made if new, and taken away again where the block fails.

    Yields
    ------
    duckdb.DuckDBPyConnection
        In a transaction, committed at the end of the block.

    Raises
    ------
    StoreError
        If the store cannot be opened or written; what the block raises passes through. The shop is then as it was.
    """
    path = Path(path)
    is_new = not path.exists()
    connection = open_write(path)
    is_done = False
    try:
        with stop.as_ctrl_c(), connection, transaction(connection):
            yield connection
        is_done = True
    except duckdb.Error as error:
        raise StoreError(f"{path}: could not be written ({_first_line(error)}). The shop is as it was; see that "
                         "the disk has room and may be written to, then run this again.") from None
    finally:
        if is_new and not is_done:
            for left_over in (path, path.with_name(path.name + ".wal")):
                left_over.unlink(missing_ok=True)


@contextlib.contextmanager
def transaction(connection):
    """Commit at the end of a ``with`` block, or roll back where it fails or is cut."""
    connection.execute("begin")
    try:
        yield
        connection.execute("commit")
    except BaseException:
        # A transaction that the database itself gave up cannot be rolled back again.
        with contextlib.suppress(duckdb.Error):
            connection.execute("rollback")
        raise


def _connected(path, read_only):
    for attempt in range(TRIES):
        try:
            connection = duckdb.connect(str(path), read_only=read_only, config=SETTINGS)
            # Only __main__ prints; a long query would draw a bar of its own into our lines.
            connection.execute("set enable_progress_bar = false")
            return connection
        except duckdb.Error as error:
            if not _LOCKED.search(str(error)):
                raise StoreError(_explained(path, error)) from None
            if attempt == TRIES - 1:
                raise StoreError(_locked(path, error)) from None
            time.sleep(PAUSE_SECONDS)


@contextlib.contextmanager
def _closing_on_error(connection, path):
    try:
        yield
    except BaseException as error:
        connection.close()
        if isinstance(error, StoreError):
            raise StoreError(f"{path}: {error}") from None
        if isinstance(error, duckdb.Error):
            raise StoreError(_explained(path, error)) from None
        raise


def _ready(connection):
    tables = _tables(connection)
    if not tables:
        raise StoreError("the store holds no shop yet. Run `python3 -m pipeline load FOLDER` first.")
    _refuse_stranger(tables)
    at = build.version(connection)
    if at > build.SCHEMA_VERSION:
        raise StoreError(build.newer(at, build.SCHEMA_VERSION))
    if at < build.SCHEMA_VERSION:
        raise StoreError(f"the store is of edition {at}, wanted {build.SCHEMA_VERSION}."
                         " Run `python3 -m pipeline load FOLDER` once to bring it up to date.")
    return connection


def _tables(connection):
    return [name for (name,) in
            connection.execute("select table_name from duckdb_tables() where not internal order by all").fetchall()]


def _refuse_stranger(found):
    if "store_version" not in found:
        raise StoreError(f"this is a database, but not a shop's store: it holds {', '.join(found[:3])}. "
                         "Name the store with --shop FILE; nothing was changed.")


def _locked(path, error):
    process = re.search(r"PID (\d+)", str(error))
    which = f", process {process[1]}" if process else ""
    return f"{path}: the shop is open in another window{which}. Close it there and run this again."


def _explained(path, error):
    return f"{path} cannot be opened as a shop's store ({_first_line(error)}). Name the store with --shop FILE."


def _first_line(error):
    return str(error).splitlines()[0].rstrip(".")
