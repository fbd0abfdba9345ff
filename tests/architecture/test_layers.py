"""Imports only go down: demo stands alone, kernels know numpy and scipy, reports know all below."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

# A layer may import itself and what stands here.
BELOW = {
    "errors": set(),
    "kernels": {"errors"},
    "store": {"kernels", "errors"},
    "ingest": {"store", "kernels", "errors"},
    "models": {"store", "kernels", "errors"},
    "decisions": {"models", "store", "kernels", "errors"},
    "reports": {"decisions", "models", "ingest", "store", "kernels", "errors"},
    "demo": set(),
}
COMMAND_LINE = {"__main__", "command_line", "suite", "bootstrap", "pip_run", "requirements", "trouble_log"}
FOREIGN_TO_KERNELS = (
    "pandas",
    "duckdb",
    "altair",
    "openpyxl",
    "pathlib",
    "os",
    "io",
    "time",
    "datetime",
    "sqlite3",
    "csv",
)
STANDARD_ONLY = (
    "__main__",
    "command_line",
    "suite",
    "bootstrap",
    "pip_run",
    "requirements",
    "trouble_log",
    "errors",
    "__init__",
)


def layer_of(path, package):
    """First folder below the package, or the module's own name."""
    inside = path.relative_to(package).with_suffix("").parts
    return inside[0]


def imported(tree, within=()):
    """(line, dotted name) of every import; a relative one is resolved against the package it stands in."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = list(within[: len(within) - node.level + 1]) if node.level else []
            module = ".".join(base + ([node.module] if node.module else []))
            yield node.lineno, module
            yield from ((node.lineno, f"{module}.{alias.name}") for alias in node.names)


def upward_imports(package):
    """Every arrow that runs up or across, as `file:line imports layer`."""
    found = []
    for path in sorted(package.rglob("*.py")):
        layer = layer_of(path, package)
        if layer in COMMAND_LINE or layer == "__init__":
            continue
        allowed = BELOW.get(layer)
        if allowed is None:
            found.append(f"{path.name}: {layer} is no layer of architecture.md")
            continue
        within = (package.name, *path.relative_to(package).parts[:-1])
        for line, name in imported(ast.parse(path.read_text(encoding="utf-8")), within):
            parts = name.split(".")
            if parts[0] == package.name and len(parts) > 1 and parts[1] not in {layer} | allowed:
                found.append(f"{path.relative_to(package.parent).as_posix()}:{line} imports {name}")
    return found


@pytest.fixture
def planted(tmp_path):
    """A small package with one file at a given place."""

    def plant(place, text):
        path = tmp_path / "pipeline" / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return tmp_path / "pipeline"

    return plant


def test_no_import_runs_up():
    assert upward_imports(ROOT / "pipeline") == []


@pytest.mark.parametrize(
    "place, text",
    [
        ("kernels/kit.py", "from pipeline.store import read\n"),
        ("store/read.py", "import numpy\nimport pipeline.reports.run\n"),
        ("models/use.py", "def f():\n    from pipeline import ingest\n"),
        ("ingest/load.py", "from ..models import use\n"),
        ("demo/jobs.py", "from pipeline.kernels import kit\n"),
        ("errors.py", "from pipeline import store\n"),
        ("decisions/orders/plan.py", "from ...reports import theme\n"),
    ],
)
def test_an_import_that_runs_up_is_found(planted, place, text):
    found = upward_imports(planted(place, text))
    assert found
    assert all(place.split("/")[-1] in line for line in found)


def test_an_import_that_runs_down_is_let_through(planted):
    planted(
        "reports/run.py",
        "from pipeline.decisions import plan\nfrom ..errors import UsageError\nimport pandas\n",
    )
    package = planted(
        "models/use.py", "from pipeline import store\nfrom . import hours\nfrom pipeline.errors import X\n"
    )
    assert upward_imports(package) == []


def test_a_new_folder_is_no_layer_until_said_so(planted):
    assert upward_imports(planted("planning/plan.py", "")) == [
        "plan.py: planning is no layer of architecture.md"
    ]


def test_kernels_know_no_files_no_frames_and_no_clock(package_files, tree_of):
    kernels = [path for path in package_files if path.parent.name == "kernels"]
    assert len(kernels) > 1
    found = [
        f"{path.name}:{line} {name}"
        for path in kernels
        for line, name in imported(tree_of(path))
        if name.split(".")[0] in FOREIGN_TO_KERNELS
    ]
    assert found == []


def test_kernels_import_where_pandas_and_duckdb_are_missing():
    # The finder refuses them even where they are installed, as a machine without them would.
    code = """
import sys, importlib, pkgutil
class Missing:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in ("pandas", "duckdb", "altair", "pyarrow"):
            raise ModuleNotFoundError(name)
sys.meta_path.insert(0, Missing())
import pipeline.kernels as kernels
names = [module.name for module in pkgutil.iter_modules(kernels.__path__)]
for name in names:
    importlib.import_module("pipeline.kernels." + name)
loaded = {name.split(".")[0] for name in sys.modules}
assert not loaded & {"pandas", "duckdb"}, loaded
try:
    import pandas
except ModuleNotFoundError:
    print(len(names))
"""
    ran = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    assert int(ran.stdout) >= 1


def test_the_command_line_starts_with_the_standard_library_alone():
    # Before the set-up nothing else is there: no site-packages (-S), no user folder (-s).
    code = (
        "import pipeline.__main__, pipeline.command_line, pipeline.bootstrap, pipeline.suite; print('fine')"
    )
    ran = subprocess.run(
        [sys.executable, "-S", "-s", "-E", "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ran.stdout.strip() == "fine", ran.stderr


def test_no_module_of_the_command_line_needs_more_than_it_says(package_files, tree_of):
    found = []
    for path in package_files:
        if path.parent.name == "pipeline" and path.stem in STANDARD_ONLY:
            top = [node for node in tree_of(path).body if isinstance(node, ast.Import | ast.ImportFrom)]
            names = {name.split(".")[0] for node in top for _, name in imported(ast.Module([node], []))}
            found += [f"{path.name}: {name}" for name in names - set(sys.stdlib_module_names) - {"pipeline"}]
    assert found == []
