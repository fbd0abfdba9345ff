"""What every test may ask for, and what holds for all of them."""

import os
import signal
import threading
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import settings

from tests.support.bare_tables import without_remarks
from tests.support.made_once import made_once
from tests.support.one_kernel import reports_in

ROOT = Path(__file__).resolve().parents[1]

# The same examples on every machine, and no test that fails because the machine was busy.
settings.register_profile("sparebench", deadline=None, derandomize=True)
settings.load_profile("sparebench")

# A shell without job control starts what runs in the background with Ctrl-C ignored, and every child inherits that; the
# tests press Ctrl-C, in this process and in others.
if threading.current_thread() is threading.main_thread() and signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# One thread for the matrices of each process: two processes of two threads each wait for one another on two cores. What
# starts the processes of a run reads this file before it starts them.
os.environ.setdefault("OMP_NUM_THREADS", "1")

# Kernels and child processes find the code wherever they start.
os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))


LONG_NOTEBOOKS = {"today.ipynb", "consumption.ipynb", "shelf.ipynb", "scope.ipynb"}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Run the longest notebooks by themselves under slow alone: the demo report runs them, and holds their answers.

    The plan and the backtest would be made once more for each; `pytest notebooks` runs them as ever.
    """
    if any(ROOT / "tests" in item.path.parents for item in items):
        for item in items:
            if item.path.name in LONG_NOTEBOOKS:
                item.add_marker(pytest.mark.slow)


@pytest.fixture(autouse=True)
def bare_tables(request):
    """Hundreds of small stores need not say what their columns mean; a test that reads it asks for ``remarks``."""
    if "remarks" in request.fixturenames:
        yield
    else:
        with without_remarks():
            yield


@pytest.fixture
def remarks():
    """Stores built in this test carry what the schema says of tables and columns, as every shop's store does."""


@pytest.fixture(scope="session")
def root():
    """The folder that holds `pipeline/`."""
    return ROOT


@pytest.fixture(scope="session")
def shared_shops():
    """Shop folders kept beside the repository, where there are any."""
    folder = ROOT.parent / "shared" / "shops"
    if not folder.is_dir():
        pytest.skip("no ../shared/shops beside the repository")
    return folder


def _loaded(folder):
    def make(place):
        from pipeline.ingest import shop_folder

        return SimpleNamespace(store=place / "shop.duckdb", out=place,
                               summary=shop_folder.load(folder, place / "shop.duckdb", place))
    return make


@pytest.fixture(scope="session")
def demo_shop(tmp_path_factory, root):
    """The demo shop, loaded once for all: its store, only to be read, its output folder and the summary of the load."""
    return made_once(tmp_path_factory, "demo-shop", _loaded(root / "data" / "demo"))


@pytest.fixture(scope="session")
def alder_lane(tmp_path_factory, shared_shops):
    """The records of a workshop as a person keeps them, in the same way; skipped where they are not at hand."""
    if not (shared_shops / "alder-lane").is_dir():
        pytest.skip("no ../shared/shops/alder-lane beside the repository")
    return made_once(tmp_path_factory, "alder-lane", _loaded(shared_shops / "alder-lane"))


@pytest.fixture(scope="session")
def demo_report(tmp_path_factory, demo_shop):
    """The whole report of the demo shop, written once for all."""
    from pipeline.reports import run

    return made_once(tmp_path_factory, "demo-report", lambda _: run.report(demo_shop.store, demo_shop.out))


@pytest.fixture(scope="module")
def warm_kernel():
    """One kernel for the reports of a module that ask for ``one_kernel``: its start takes longer than many a page."""
    from pipeline.reports import kernel

    with kernel.warm(kernel.ROOT / "notebooks") as running:
        yield running


@pytest.fixture
def one_kernel(warm_kernel):
    """Reports written in this test run in the module's kernel, each notebook from an empty namespace as ever."""
    with reports_in(warm_kernel):
        yield
