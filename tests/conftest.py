"""What every test may ask for, and what holds for all of them."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parents[1]

# The same examples on every machine, and no test that fails because the machine was busy.
settings.register_profile("sparebench", deadline=None, derandomize=True)
settings.load_profile("sparebench")

# Kernels and child processes find the code wherever they start.
os.environ["PYTHONPATH"] = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))


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
