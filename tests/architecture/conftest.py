"""What the architecture tests read: the repository's own files, nothing that a tool or a run has left."""

import ast
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
_LEFT_BY_RUNS = {
    ".git",
    ".venv",
    "out",
    "__pycache__",
    ".pytest_cache",
    ".ruff_cache",
    ".hypothesis",
    ".ipynb_checkpoints",
}


@pytest.fixture(scope="session")
def repository_files():
    """Every file that is, or is about to be, part of the repository."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    if listed.returncode == 0:
        found = [ROOT / name for name in listed.stdout.split("\0") if name]
    else:  # a copy without its history
        found = [path for path in ROOT.rglob("*") if not _LEFT_BY_RUNS & set(path.relative_to(ROOT).parts)]
    return sorted(path for path in set(found) if path.is_file())


@pytest.fixture(scope="session")
def package_files(repository_files):
    """The Python files of the package."""
    files = [
        path for path in repository_files if path.suffix == ".py" and (ROOT / "pipeline") in path.parents
    ]
    assert files, "no Python file found under pipeline/: this test would pass on nothing"
    return files


@pytest.fixture(scope="session")
def test_files(repository_files):
    """The Python files of the tests."""
    return [path for path in repository_files if path.suffix == ".py" and (ROOT / "tests") in path.parents]


@pytest.fixture
def tree_of():
    """Read a Python file into its syntax tree."""
    return lambda path: ast.parse(path.read_text(encoding="utf-8"), filename=str(path))
