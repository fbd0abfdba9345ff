"""What is needed is said in several places for several tools; they agree."""

import ast
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from pipeline import __main__ as command
from pipeline import requirements

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]

# conda-forge's name where it differs, and the module's name where that does.
CONDA_NAMES = {"duckdb": "python-duckdb", "playwright": "playwright-python"}
MODULES = {"vl-convert-python": "vl_convert", "pytest-xdist": "xdist"}
NEEDED_UNSEEN = {
    "ipykernel": "runs the notebooks",
    "jsonschema": "held below the version that slows every start",
    "jupyterlab": "started as a program",
    "openpyxl": "pandas reads and writes workbooks with it",
}


def conda_ranges(text):
    """`name=1.2` and `name<1.2` lines of an environment.yml, as pyproject.toml would write them."""
    ranges = {}
    for name, sign, version in re.findall(r"^  - ([a-z0-9-]+)(=|<|>=)([0-9.,<]+)\s*$", text, re.MULTILINE):
        ranges[name] = f"=={version}.*" if sign == "=" else f"{sign}{version}"
    return ranges


def pip_ranges(lines):
    """Ranges of pyproject.toml by conda-forge's names."""
    split = (re.fullmatch(r"([A-Za-z0-9_.-]+?)((?:==|<).+)", line).groups() for line in lines)
    return {CONDA_NAMES.get(name, name): rest for name, rest in split}


def top_imports(paths):
    """Every module that a set of files imports, first part only, wherever in the file."""
    found = set()
    for path in paths:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level:
                found.add(node.module.split(".")[0])
    return found - set(sys.stdlib_module_names) - {"pipeline"}


def modules_of(tier):
    names = [requirements.split_range(line)[0] for line in requirements.direct(tier)]
    return {MODULES.get(name, name) for name in names}


def version_in_lock(tier, name):
    pins = dict(re.match(r"([A-Za-z0-9_.-]+)==([^ ]+)", line).groups() for line in requirements.locked(tier))
    return pins.get(name)


def test_environment_yml_names_the_same_packages_and_versions():
    said = conda_ranges((ROOT / "environment.yml").read_text(encoding="utf-8"))
    assert said.pop("python") == PROJECT["requires-python"]
    assert said == pip_ranges(requirements.direct("test"))


def test_the_command_line_and_the_project_want_the_same_python():
    oldest, newest = command.OLDEST, command.NEWEST
    assert PROJECT["requires-python"] == f">={oldest[0]}.{oldest[1]},<{newest[0]}.{newest[1] + 1}"


@pytest.mark.parametrize("tier", requirements.TIERS)
def test_the_lock_holds_every_direct_package_in_its_range(tier):
    for text in requirements.direct(tier):
        name = requirements.split_range(text)[0]
        assert requirements.is_met(text, version_in_lock(tier, name)), (
            f"{text}, but the lock has another version"
        )


@pytest.mark.parametrize("smaller, larger", [("run", "test"), ("test", "bench")])
def test_a_larger_tier_holds_the_smaller_one_line_by_line(smaller, larger):
    assert set(requirements.locked(smaller)) < set(requirements.locked(larger))


@pytest.mark.parametrize("tier", requirements.TIERS)
def test_every_line_of_the_lock_is_one_version_with_or_without_a_marker(tier):
    # Which also means: no address, no option, no path.
    pattern = re.compile(r"[a-z0-9][a-z0-9.-]*==[0-9][0-9a-z.]*( ; [a-z_ <>=!'0-9.*()A-Z]+)?")
    lines = requirements.locked(tier)
    assert [line for line in lines if not pattern.fullmatch(line)] == []
    assert len(lines) > 90


@pytest.mark.parametrize("tier", requirements.TIERS)
def test_the_lock_is_whole_for_the_python_that_runs(tier):
    # What the packages installed here need, by their own word, the lock pins, too.
    from importlib import metadata

    from packaging.requirements import Requirement
    from packaging.utils import canonicalize_name

    pinned = {canonicalize_name(Requirement(line).name) for line in requirements.locked(tier)}
    for name in pinned:
        try:
            needs = metadata.requires(name) or []
        except metadata.PackageNotFoundError:
            continue
        wanted = [Requirement(text) for text in needs]
        missing = [
            str(one)
            for one in wanted
            if (one.marker is None or one.marker.evaluate({"extra": ""}))
            and canonicalize_name(one.name) not in pinned
        ]
        assert missing == [], f"{name} needs {missing}"


def test_an_installed_copy_has_every_file_that_the_code_reads(repository_files):
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    named = {pattern.rpartition("*")[2] for pattern in settings["tool"]["setuptools"]["package-data"]["pipeline"]}
    read = {path.suffix for path in repository_files if ROOT / "pipeline" in path.parents and path.suffix != ".py"}
    assert read <= named


def test_the_run_tier_stays_lean():
    names = {line.split("==")[0] for line in requirements.locked("run")}
    assert not names & {"pyarrow", "matplotlib", "pytest", "numba", "scikit-learn", "rfc3987-syntax"}


def test_the_package_imports_nothing_undeclared(package_files):
    assert top_imports(package_files) - modules_of("run") == set()


def test_the_tests_import_nothing_undeclared(test_files):
    locked = {line.split("==")[0].replace("-", "_") for line in requirements.locked("bench")}
    assert top_imports(test_files) - modules_of("bench") - locked - {"tests"} == set()


def test_nothing_is_declared_that_nobody_uses(package_files):
    unused = modules_of("run") - top_imports(package_files)
    seldom = {MODULES.get(name, name) for name in NEEDED_UNSEEN}
    assert unused <= seldom, f"declared, never imported: {sorted(unused - seldom)}"


def test_an_undeclared_import_is_found(tmp_path):
    planted = tmp_path / "planted.py"
    planted.write_text(
        "def f():\n    import seaborn.palettes, os\n    from pandas import api\n", encoding="utf-8"
    )
    assert top_imports([planted]) == {"seaborn", "pandas"}


def test_a_different_conda_version_is_found():
    assert conda_ranges("deps:\n  - python-duckdb=2.1\n  - jsonschema<4.25\n") == {
        "python-duckdb": "==2.1.*",
        "jsonschema": "<4.25",
    }
    assert pip_ranges(["duckdb==2.0.*", "jsonschema<4.25"]) == {
        "python-duckdb": "==2.0.*",
        "jsonschema": "<4.25",
    }


def test_the_build_machine_runs_the_readme_s_command():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    last = script.strip().splitlines()[-1]
    assert last == "exec python3 -m pipeline test </dev/null"  # exec: its exit code is ours
    assert re.search(r"^python3 -m pipeline test$", readme, re.MULTILINE)
    assert re.search(r"^python3 -m pipeline demo$", readme, re.MULTILINE)


def test_the_build_machine_s_script_is_sound_and_may_be_run():
    script = ROOT / ".ci" / "run"
    assert subprocess.run(["bash", "-n", str(script)], check=False).returncode == 0
    assert script.stat().st_mode & 0o111


@pytest.mark.parametrize("module", ["__init__", "__main__", "errors", "bootstrap", "pip_run", "requirements"])
def test_what_runs_before_the_set_up_can_be_read_by_an_old_python(module):
    text = (ROOT / "pipeline" / f"{module}.py").read_text(encoding="utf-8")
    ast.parse(text, feature_version=(3, 8))
