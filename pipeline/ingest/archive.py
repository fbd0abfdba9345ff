"""The file of a back-up: a zip whose manifest names every member with its size and checksum."""

import contextlib
import hashlib
import json
import os
import shutil
import zipfile
import zlib
from pathlib import PurePosixPath

from pipeline.errors import RecordsError

KIND = "Sparebench back-up"
MANIFEST, STORE, FOLDER = "manifest.json", "shop.duckdb", "shop-folder"
PIECE_BYTES = 1 << 20
# Far more than a manifest ever needs; what claims more is none.
MANIFEST_MOST_BYTES = 1 << 20
# What reading a file that is damaged, or made to mislead, can end in.
_UNREADABLE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, KeyError,
               TypeError, AttributeError, OSError)


def signed(folder, paths):
    """Return the size and checksum of files by their place in a folder.

    Parameters
    ----------
    folder : pathlib.Path
    paths : sequence of pathlib.Path
        Files in it.

    Returns
    -------
    dict of str to dict
        Place to `bytes` (int) and `sha256` (hex str).
    """
    found = {}
    for path in paths:
        with open(path, "rb") as stream:
            checksum = hashlib.file_digest(stream, "sha256").hexdigest()
        found[path.relative_to(folder).as_posix()] = {"bytes": path.stat().st_size, "sha256": checksum}
    return found


def pack(folder, manifest, file, made_at):
    """Write the members that a manifest names, and the manifest, into a new file.

    Parameters
    ----------
    folder : pathlib.Path
        Holds the members.
    manifest : dict
        With `members` as :func:`signed` gives them.
    file : pathlib.Path
    made_at : datetime.datetime
        Time that every member bears.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    with open(file, "wb") as stream:
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(_info(MANIFEST, made_at), json.dumps(manifest, indent=1, ensure_ascii=False))
            for name in manifest["members"]:
                with archive.open(_info(name, made_at), "w", force_zip64=True) as target:
                    with open(folder / name, "rb") as source:
                        shutil.copyfileobj(source, target, PIECE_BYTES)
        stream.flush()
        os.fsync(stream.fileno())


@contextlib.contextmanager
def opened(file):
    """Open a back-up.

    Parameters
    ----------
    file : pathlib.Path

    Yields
    ------
    archive : zipfile.ZipFile
    manifest : dict
        What it says of itself: kind, edition, release, made_at, rows, members.

    Raises
    ------
    RecordsError
        If there is no such file, or it is no back-up.
    """
    if not file.is_file():
        raise RecordsError(f"{file}: there is no such file. Name one that `back-up` wrote; nothing was changed.")
    try:
        archive = zipfile.ZipFile(file)
    except _UNREADABLE:
        raise RecordsError(f"{file} is no back-up, or only a part of one. Name another; nothing was changed.") from None
    with archive:
        if (manifest := _manifest(archive)) is None:
            raise RecordsError(f"{file} is no back-up of a shop: its {MANIFEST} is missing or is not ours. Name"
                               " another; nothing was changed.")
        yield archive, manifest


def refuse_damaged(archive, manifest, file):
    """Raise RecordsError where a member is missing, changed, or was put there by nobody we know.

    Parameters
    ----------
    archive, manifest
        As :func:`opened` yields them.
    file : pathlib.Path
        For the message.
    """
    names = [info.filename for info in archive.infolist()]
    strange = sorted(set(names) ^ {MANIFEST, *manifest["members"]}) + [name for name in names if names.count(name) > 1]
    if strange:
        raise RecordsError(f"{file}: {strange[0]} is missing or does not belong there. The back-up is damaged; use"
                           " another. Nothing was changed.")
    for name, said in manifest["members"].items():
        if not _stays_in_place(name) or not _is_as_said(archive, name, said):
            raise RecordsError(f"{file}: {name} is not as it was written. The back-up is damaged; use another. Nothing"
                               " was changed.")


def unpack_store(archive, path):
    """Write the store of a back-up, and nothing else of it, to a path (pathlib.Path)."""
    with archive.open(STORE) as source, open(path, "wb") as target:
        shutil.copyfileobj(source, target, PIECE_BYTES)
        target.flush()
        os.fsync(target.fileno())


def _info(name, made_at):
    info = zipfile.ZipInfo(name, made_at.timetuple()[:6])
    info.compress_type = zipfile.ZIP_DEFLATED
    return info


def _manifest(archive):
    """What a back-up says of itself, None where it is none."""
    try:
        info = archive.getinfo(MANIFEST)
        manifest = json.loads(archive.read(info)) if info.file_size <= MANIFEST_MOST_BYTES else {}
        numbers = [manifest["edition"], *manifest["rows"].values(), *(m["bytes"] for m in manifest["members"].values())]
        words = [manifest["made_at"], manifest["release"], *(m["sha256"] for m in manifest["members"].values())]
    except _UNREADABLE:
        return None
    is_sound = all(type(number) is int for number in numbers) and all(isinstance(word, str) for word in words)
    return manifest if is_sound and manifest.get("kind") == KIND and STORE in manifest["members"] else None


def _stays_in_place(name):
    """True for a name that unpacks where it should, on any system."""
    path = PurePosixPath(name)
    return name == path.as_posix() and not set(name) & set("\\:") and ".." not in path.parts and not path.is_absolute()


def _is_as_said(archive, name, said):
    try:
        if archive.getinfo(name).file_size != said["bytes"]:
            return False
        with archive.open(name) as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest() == said["sha256"]
    except _UNREADABLE:
        return False
