"""The whole shop in one checksummed file, and the way back from it."""

import contextlib
import os
import shutil
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import RecordsError, StoreError
from pipeline.ingest import archive, export, scratch
from pipeline.store import build, connect, copies, stop

_MIGRATED = "migrated.duckdb"


@dataclass(frozen=True)
class BackedUp:
    """A back-up that was made and read back: its file, its size in bytes, and its manifest."""

    file: str
    size_bytes: int
    manifest: dict

    def lines(self):
        """Return the lines to print (list of str)."""
        return [f"{self.file}: {self.size_bytes / 1e6:,.1f} MB, read back and whole: the store"
                f" ({_shop(self.manifest)}), and the same as a shop folder.",
                "It names customers. Keep it on another disk than the shop."]


@dataclass(frozen=True)
class Restored:
    """A store that was put back: its file, the back-up's manifest, and where the former store is (None: none was)."""

    shop_file: str
    manifest: dict
    kept: Path | None

    def lines(self):
        """Return the lines to print (list of str)."""
        told = [f"{self.shop_file}: the shop as backed up on {self.manifest['made_at']} ({_shop(self.manifest)})."]
        if self.manifest["edition"] < build.SCHEMA_VERSION:
            told.append(f"It was of edition {self.manifest['edition']}; it was brought to {build.SCHEMA_VERSION}.")
        if self.kept:
            told.append(f"The store that was there is kept as {self.kept}.")
        return told


def back_up(shop_file, file, made_at):
    """Write the whole shop into one new file: the store, the same as CSV, and their checksums.

    Parameters
    ----------
    shop_file : str or pathlib.Path
        The store, of this edition or an older one.
    file : str or pathlib.Path
        A zip file that is not there yet.
    made_at : datetime.datetime
        Time that the back-up bears.

    Returns
    -------
    BackedUp

    Raises
    ------
    RecordsError
        If the file is there.
    StoreError
        If the store cannot be opened, or the file cannot be written or does not read back. No file remains.
    """
    file = Path(file)
    if file.exists():
        raise RecordsError(f"{file} is there; a back-up is never written over. Name a new file.")
    half, parts = Path(f"{file}.unfinished"), Path(f"{file}.parts.unfinished")
    try:
        with (stop.held_back(f"the back-up is {file}.") as hold, scratch.parents(file),
              scratch.folder(parts, {archive.STORE, archive.FOLDER, _MIGRATED})):
            manifest = _gather(shop_file, parts, made_at)
            archive.pack(parts, manifest, half, made_at)
            _refuse_unlike(half, file, manifest)
            hold()
            os.replace(half, file)
    except OSError as error:
        raise StoreError(f"{file}: cannot be written ({error.strerror or error}). No back-up was made; make room or"
                         " choose another place.") from None
    finally:
        _take_away(half)
    return BackedUp(str(file), file.stat().st_size, manifest)


def restore(file, shop_file):
    """Put the store of a back-up in place; a store that is there is kept beside it.

    Parameters
    ----------
    file, shop_file : str or pathlib.Path
        What :func:`back_up` wrote, and the store.

    Returns
    -------
    Restored

    Raises
    ------
    RecordsError
        If the file is no back-up, or not whole, or its store does not hold what it says.
    StoreError
        If the back-up is of a newer release, or the store is open elsewhere or cannot be written. The present store
        is as it was.
    """
    file, shop_file = Path(file), Path(shop_file)
    half = Path(f"{shop_file}.unfinished")
    copies.refuse_open_elsewhere(shop_file)
    try:
        with (stop.held_back(f"the back-up's store is {shop_file}, and one that was there is kept beside it.") as hold,
              archive.opened(file) as (packed, manifest), scratch.parents(shop_file)):
            _refuse_newer(manifest, file)
            archive.refuse_damaged(packed, manifest, file)
            _take_away(half)
            archive.unpack_store(packed, half)
            _made_ready(half, manifest, file)
            hold()
            kept = copies.put_in_place(half, shop_file)
    except OSError as error:
        raise StoreError(f"{shop_file}: cannot be written ({error.strerror or error}). The shop is as it was; make"
                         " room and run this again.") from None
    finally:
        _take_away(half)
    return Restored(str(shop_file), manifest, kept)


def _gather(shop_file, parts, made_at):
    """Lay the store's copy and its shop folder into `parts`; return the manifest (dict)."""
    store, folder = parts / archive.STORE, parts / archive.FOLDER
    copies.take(shop_file, store)
    edition, rows = copies.holdings(store)
    current = store
    if edition < build.SCHEMA_VERSION:
        # Kept as it is; a copy is brought up to date to be read.
        current = Path(shutil.copyfile(store, parts / _MIGRATED))
        connect.open_write(current).close()
    folder.mkdir()
    with connect.open_read(current) as connection:
        export.write(connection, folder, True, archive.FOLDER)
    return {"kind": archive.KIND, "edition": edition, "release": copies.release(),
            "made_at": made_at.isoformat(sep=" ", timespec="seconds"), "rows": rows,
            "members": archive.signed(parts, [store, *sorted(folder.iterdir())])}


def _refuse_unlike(half, file, manifest):
    """Read a new back-up from the disk; refuse it where that gives anything but what was meant."""
    with contextlib.suppress(RecordsError), archive.opened(half) as (packed, found):
        archive.refuse_damaged(packed, manifest, half)
        if found == manifest:
            return
    raise StoreError(f"{file}: what was written does not read back. No back-up was made; choose another disk.")


def _refuse_newer(manifest, file):
    if manifest["edition"] > build.SCHEMA_VERSION:
        raise StoreError(f"{file}: {build.newer(manifest['edition'], build.SCHEMA_VERSION)} Nothing was changed.")


def _made_ready(half, manifest, file):
    """See that the store opens and holds what the manifest says, and bring an older one up to date."""
    try:
        found = copies.holdings(half)
    except StoreError as error:
        raise StoreError(f"{file}: its store does not open here. Unpack the file and load its {archive.FOLDER} instead."
                         f" Nothing was changed. ({error})") from None
    if found != (manifest["edition"], manifest["rows"]):
        raise RecordsError(f"{file}: its store does not hold what its {archive.MANIFEST} says. Use another back-up."
                           " Nothing was changed.")
    connect.open_write(half).close()
    connect.open_read(half).close()


def _take_away(half):
    """Remove an unfinished file and what DuckDB may keep beside it."""
    # Its folder may be gone again, or never have been there.
    with contextlib.suppress(OSError):
        half.unlink(missing_ok=True)
        copies.log_of(half).unlink(missing_ok=True)


def _shop(manifest):
    named = (("jobs", "jobs"), ("parts", "parts"), ("job_parts", "takings of parts"))
    return ", ".join(f"{manifest['rows'].get(table, 0):,} {words}" for table, words in named)
