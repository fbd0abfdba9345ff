"""Places for what is half-written: gone again whatever cuts the work short."""

import contextlib
import shutil
from pathlib import Path

from pipeline.errors import RecordsError


@contextlib.contextmanager
def parents(path):
    """Make the folders above a path for a ``with`` block; those it made go again where the block fails."""
    missing = [parent for parent in Path(path).absolute().parents if not parent.exists()]
    try:
        Path(path).absolute().parent.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException:
        for parent in missing:
            with contextlib.suppress(OSError):
                parent.rmdir()
        raise


@contextlib.contextmanager
def folder(path, names):
    """Have an empty folder for a ``with`` block; it goes at the end, however that comes.

    Parameters
    ----------
    path : pathlib.Path
        Its place; what a killed run left there is taken away.
    names : collection of str
        What such a run can have left.

    Yields
    ------
    pathlib.Path

    Raises
    ------
    RecordsError
        If something else stands in that place.
    """
    if path.exists():
        if not path.is_dir() or any(left.name not in names for left in path.iterdir()):
            raise RecordsError(f"{path} is in the way; move it away and run this again. Nothing was written.")
        shutil.rmtree(path)
    try:
        path.mkdir()
        yield path
    finally:
        shutil.rmtree(path, ignore_errors=True)
