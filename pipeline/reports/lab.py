"""Open a notebook in the browser: JupyterLab on this machine only, running, its code folded away."""

import os
import secrets
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
import webbrowser
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from pipeline.errors import StoreError, UsageError
from pipeline.reports import kernel, parameters

NOTEBOOKS = kernel.ROOT / "notebooks"
FILES = Path(__file__).with_name("lab_files")
START_SECONDS = 60


@dataclass(frozen=True)
class Lab:
    """A running JupyterLab.

    Parameters
    ----------
    url : str
        Address of the notebook, token included.
    process : subprocess.Popen
        The server.
    folder : pathlib.Path
        Scratch copies of the notebooks.
    """

    url: str
    process: subprocess.Popen
    folder: Path


def open_notebook(shop_file, out_dir, notebook="today", say=None):
    """Open one notebook in the browser and serve it until the reader stops the command.

    Parameters
    ----------
    shop_file : str or pathlib.Path
        The store.
    out_dir : str or pathlib.Path
        Where the server's log goes.
    notebook : str
        Name of the notebook, without its ending.
    say : callable, optional
        Called with lines for the terminal.

    Raises
    ------
    pipeline.errors.UsageError
        If there is no such notebook.
    pipeline.errors.StoreError
        If there is no such store, or the server does not start.
    """
    with serve(shop_file, out_dir, notebook) as lab:
        if say:
            say(f"{notebook} is open in the browser: {lab.url}")
            say("Stop with Ctrl-C. The notebooks stay as they are; the record form writes to the store.")
        webbrowser.open(lab.url)
        try:
            lab.process.wait()
        except KeyboardInterrupt:
            pass


@contextmanager
def serve(shop_file, out_dir, notebook="today"):
    """Serve scratch copies of the notebooks, and stop the server afterwards.

    Parameters
    ----------
    shop_file, out_dir, notebook
        As for `open_notebook`.

    Yields
    ------
    Lab
        Answering.
    """
    shop_file, out_dir = Path(shop_file).resolve(), Path(out_dir).resolve()
    _require(shop_file, notebook)
    out_dir.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="notebooks-") as scratch, _log(out_dir) as log:
        private, pages = Path(scratch, "private"), Path(scratch, "pages")
        _copy_notebooks(shop_file, pages)
        port, token = _free_port(), secrets.token_urlsafe(24)
        process = subprocess.Popen(
            _command(pages, private, port), env=_environment(private, token), cwd=pages, stdout=log, stderr=log
        )
        address = f"http://127.0.0.1:{port}"
        try:
            _wait_until_it_answers(process, f"{address}/api?token={token}", log.name)
            yield Lab(f"{address}/doc/tree/{notebook}.ipynb?token={token}", process, pages)
        finally:
            _stop(process)


def names():
    """Names of the notebooks there are.

    Returns
    -------
    list of str
        Without their ending, in alphabetical order.
    """
    return sorted(path.stem for path in NOTEBOOKS.glob("*.ipynb"))


def _require(shop_file, notebook):
    if notebook not in names():
        close = parameters.near_miss(notebook, names())
        hint = f" Did you mean {close}?" if close else ""
        raise UsageError(f"no notebook {notebook!r}.{hint} Wanted one of: {', '.join(names())}.")
    if not shop_file.is_file():
        raise StoreError(
            f"no store at {shop_file}. Run `python3 -m pipeline load FOLDER` first, "
            "or name it with --shop FILE."
        )


def _copy_notebooks(shop_file, pages):
    import nbformat

    pages.mkdir(parents=True)
    for name in names():
        notebook = parameters.notebook_with(NOTEBOOKS / f"{name}.ipynb", {"store": str(shop_file)})
        nbformat.write(notebook, pages / f"{name}.ipynb")


def _command(pages, private, port):
    settings = private / "settings"
    shutil.copytree(FILES / "settings", settings)
    options = [
        f"--ServerApp.root_dir={pages}",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        "--ServerApp.ip=127.0.0.1",
        "--ServerApp.open_browser=False",
        "--ServerApp.terminals_enabled=False",
        "--LabApp.extension_manager=readonly",
        "--LabApp.news_url=None",
        f"--LabServerApp.extra_labextensions_path={FILES / 'extensions'}",
        f"--LabApp.app_settings_dir={settings}",
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        options.append("--ServerApp.allow_root=True")
    return [sys.executable, "-m", "jupyterlab", *options]


def _environment(private, token):
    folders = {
        name: str(private / name.lower())
        for name in (
            "JUPYTER_CONFIG_DIR",
            "JUPYTER_DATA_DIR",
            "JUPYTERLAB_SETTINGS_DIR",
            "JUPYTERLAB_WORKSPACES_DIR",
        )
    }
    return {**kernel.environment(private / "ipython"), **folders, "JUPYTER_TOKEN": token}


def _free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _log(out_dir):
    return open(out_dir / "open.log", "w", encoding="utf-8")


def _wait_until_it_answers(process, url, log):
    deadline = time.monotonic() + START_SECONDS
    while time.monotonic() < deadline and process.poll() is None:
        try:
            urllib.request.urlopen(url, timeout=2).close()
            return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise StoreError(f"JupyterLab did not start within {START_SECONDS} seconds. Its messages are in {log}.")


def _stop(process):
    if process.poll() is None:
        process.terminate()
    try:
        process.wait(10)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
