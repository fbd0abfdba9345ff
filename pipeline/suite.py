"""The whole test suite in one run of pytest: tests, doctests and notebooks under one closing line."""

import os
import subprocess
import sys

from pipeline import bootstrap
from pipeline.errors import StoreError

# Two processes for two cores; a file stays whole in one of them, so that a notebook's cells share a kernel.
_PYTEST = ["-m", "pytest", "-n", "2", "--dist", "loadfile"]


def run(words, root=bootstrap.ROOT):
    """Run pytest over everything that pyproject.toml names, or over the paths given.

    Parameters
    ----------
    words : list of str
        Further words for pytest, such as `-k ledger` or `tests/unit`; they come last, so they win.
    root : Path
        The folder that holds pyproject.toml.

    Returns
    -------
    int
        pytest's own exit code.

    Raises
    ------
    StoreError
        If the demo store, which the notebooks read, cannot be made anew.
    """
    renew_demo_store(root / "out" / "demo")
    return subprocess.run([sys.executable, *_PYTEST, *words], cwd=root, check=False).returncode


def renew_demo_store(out_dir, folder=bootstrap.ROOT / "data" / "demo"):
    """Load the demo shop into a new store and put it in the place of the one there.

    Parameters
    ----------
    out_dir : Path
        Gets `shop.duckdb`.
    folder : Path
        The demo's shop folder.

    Raises
    ------
    StoreError
        If the old store cannot be replaced, because another program holds it.
    """
    from pipeline.ingest import shop_folder

    store, draft = out_dir / "shop.duckdb", out_dir / "shop.new.duckdb"
    out_dir.mkdir(parents=True, exist_ok=True)
    draft.unlink(missing_ok=True)
    shop_folder.load(folder, draft, out_dir)
    try:
        store.with_name(store.name + ".wal").unlink(missing_ok=True)  # it belongs to the old store alone
        os.replace(draft, store)
    except OSError as error:
        raise StoreError(
            f"{store}: another program holds this file ({error.strerror}). Close it and run the same "
            "command again."
        ) from error
