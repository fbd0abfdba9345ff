"""What is needed and what is there: ranges, locks, the private Python's mark."""

import importlib.metadata
import os
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import bootstrap, requirements, suite
from pipeline.errors import SetupError, StoreError


@pytest.mark.parametrize("text, installed, is_met", [
    ("pandas==3.1.*", "3.1.0", True),
    ("pandas==3.1.*", "3.1.9.post2", True),
    ("pandas==3.1.*", "3.10.0", False),
    ("pandas==3.1.*", "3.2", False),
    ("pandas==3.1.*", "4.1.0", False),
    ("pandas==3.1.*", None, False),
    ("pytest==9.*", "9.2.0", True),
    ("pytest==9.*", "10.0", False),
    ("jsonschema<4.25", "4.24.1", True),
    ("jsonschema<4.25", "4.9.0", True),
    ("jsonschema<4.25", "4.25.0", False),
    ("jsonschema<4.25", "5.0", False),
    ("tqdm==4.70.*", "4.70.0rc1", True),
])
def test_whether_a_version_lies_in_a_range(text, installed, is_met):
    assert requirements.is_met(text, installed) is is_met


@pytest.mark.parametrize("text", ["pandas>=3.1", "pandas", "pandas~=3.1.0", "pandas==3.1.*,<4"])
def test_a_range_in_another_form_is_refused_rather_than_misread(text):
    with pytest.raises(ValueError, match=r"wanted name==1\.2\.\* or name<1\.2"):
        requirements.split_range(text)


def test_the_environment_of_these_tests_satisfies_what_it_was_made_for():
    assert requirements.is_satisfied("test")


def test_one_package_missing_is_not_satisfied(monkeypatch):
    found = importlib.metadata.version

    def version(name):
        if name == "duckdb":
            raise importlib.metadata.PackageNotFoundError(name)
        return found(name)

    monkeypatch.setattr(requirements.metadata, "version", version)
    assert not requirements.is_satisfied("run")


def test_each_tier_names_more_than_the_one_before():
    run, test, bench = (requirements.direct(tier) for tier in requirements.TIERS)
    assert run == test[: len(run)] and test == bench[: len(test)]
    assert len(run) < len(test) < len(bench)


@pytest.fixture
def home(tmp_path):
    """A private Python with nothing in it but the link to an interpreter."""
    (tmp_path / "pipeline").mkdir()
    for tier, lines in {"run": "a==1\n", "test": "a==1\nb==1\n", "bench": "a==1\nb==1\nc==1\n"}.items():
        (tmp_path / requirements.LOCKS[tier]).write_text(lines)
    made = bootstrap.PrivatePython(tmp_path)
    made.python.parent.mkdir(parents=True)
    made.python.touch()
    return made


def test_the_mark_says_which_tiers_are_whole(home):
    assert home.whole_tiers() == []
    home.set_mark(["run"])
    assert home.whole_tiers() == ["run"]
    home.set_mark(["run", "test"])
    assert home.whole_tiers() == ["run", "test"]
    assert home.can_grow()


def test_a_new_lock_of_the_tests_leaves_the_run_tier_whole_but_is_no_ground_to_add_to(home):
    home.set_mark(["run", "test"])
    (home.root / requirements.LOCKS["test"]).write_text("a==1\nb==2\n")
    assert home.whole_tiers() == ["run"]
    assert not home.can_grow()


@pytest.mark.parametrize("content", [b"", b"run", b"run abc\n", b"\xff\xfe"])
def test_a_mark_that_was_cut_short_counts_for_nothing(home, content):
    home.mark.write_bytes(content)
    assert home.whole_tiers() == []
    assert not home.can_grow()


def test_line_ends_of_the_lock_do_not_matter(home):
    home.set_mark(["run"])
    (home.root / requirements.LOCKS["run"]).write_bytes(b"# fetched on Windows\r\na==1\r\n")
    assert home.whole_tiers() == ["run"]


def test_an_environment_of_the_user_s_own_finds_the_code(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", "elsewhere")
    monkeypatch.setattr(requirements, "is_satisfied", lambda tier: True)
    monkeypatch.setattr(bootstrap.PrivatePython, "is_running", lambda home: False)
    bootstrap.ensure("run", ["demo"], None, None)
    assert os.environ["PYTHONPATH"].split(os.pathsep) == [str(bootstrap.ROOT), "elsewhere"]


def test_an_environment_that_stays_unfinished_is_not_entered_for_ever(monkeypatch):
    monkeypatch.setenv("SPAREBENCH_ENTERED", "1")
    monkeypatch.setattr(bootstrap.PrivatePython, "is_running", lambda home: True)
    monkeypatch.setattr(bootstrap.PrivatePython, "whole_tiers", lambda home: [])
    with pytest.raises(SetupError, match="Delete the folder .venv"):
        bootstrap.ensure("run", ["demo"], None, None)


def test_windows_waits_for_the_inner_command_and_passes_its_exit_code_on(monkeypatch):
    # Windows has no exec, and its Ctrl-C reaches both: the outer one must wait for the inner one's last words.
    class Child:
        answers = [KeyboardInterrupt(), 7]

        def __init__(self, command, env):
            assert command[1:] == ["-m", "pipeline", "demo"]
            assert "PYTHONHOME" not in env

        def wait(self):
            answer = self.answers.pop(0)
            if isinstance(answer, BaseException):
                raise answer
            return answer

    monkeypatch.setenv("PYTHONHOME", "x")
    monkeypatch.setattr(subprocess, "Popen", Child)
    python = bootstrap.PrivatePython().python
    monkeypatch.setattr(bootstrap, "PrivatePython", lambda: type("Home", (), {"python": python}))
    monkeypatch.setattr(bootstrap.os, "name", "nt")
    with pytest.raises(SystemExit) as stopped:
        bootstrap._enter(python, ["demo"])
    assert stopped.value.code == 7


@pytest.fixture
def load_writes(monkeypatch):
    """A load that leaves a file with a word in it."""
    monkeypatch.setattr("pipeline.ingest.shop_folder.load", lambda folder, store, out: store.write_text("new"))


def test_the_suite_runs_pytest_on_a_demo_store_made_anew(tmp_path, monkeypatch, load_writes):
    ran = []
    result = subprocess.CompletedProcess([], 3)
    monkeypatch.setattr(subprocess, "run", lambda command, **options: ran.append((command, options["cwd"])) or result)
    store = tmp_path / "out" / "demo" / "shop.duckdb"
    store.parent.mkdir(parents=True)
    store.write_text("old")
    store.with_name("shop.duckdb.wal").write_text("what a stopped program left behind")
    assert suite.run(["-k", "kit"], tmp_path) == 3
    assert ran == [([sys.executable, "-m", "pytest", "-n", "2", "--dist", "loadfile", "-k", "kit"], tmp_path)]
    assert [path.name for path in store.parent.iterdir()] == ["shop.duckdb"]
    assert store.read_text() == "new"


def test_a_demo_store_that_is_held_is_told(tmp_path, monkeypatch, load_writes):
    def replace(draft, store):
        raise PermissionError(13, "in use")

    monkeypatch.setattr(suite.os, "replace", replace)
    with pytest.raises(StoreError, match=r"another program holds this file \(in use\)"):
        suite.renew_demo_store(tmp_path, Path("demo"))
