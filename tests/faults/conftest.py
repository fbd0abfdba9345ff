"""A small project to set up: a real interpreter, a real `.venv`, a real pip, tiny packages, no network."""

import copy
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PLAIN_PYTHON = getattr(sys, "_base_executable", sys.executable)  # as on a fresh machine, not the one of the tests
FILES = ["__init__.py", "__main__.py", "bootstrap.py", "command_line.py", "errors.py", "pip_run.py", "requirements.py",
         "trouble_log.py", "store/__init__.py", "store/stop.py"]

# Stands for the real verbs: says in which Python it runs and what it can import.
VERB = """
import sys
class Summary:
    exit_code = failures = 0
    def lines(self):
        import tinybench
        return [f"ran in {sys.prefix}", f"tinybench {tinybench.VERSION}"]
def load(folder, shop_file, out_dir):
    return Summary()
def report(shop_file, out_dir, only, settings, progress):
    return Summary()
"""


# Stands for the progress bar, which the command line expects among the packages.
BAR = """
class tqdm:
    def __init__(self, **words): pass
    def __enter__(self): return self
    def __exit__(self, *found): pass
"""


def write_wheel(folder, name, version="1.0", body=""):
    """A package of one module, as pip takes it."""
    info = f"{name}-{version}.dist-info"
    files = {
        f"{name}.py": f"VERSION = {version!r}\n{body}",
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: test\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = "".join(f"{path},,\n" for path in [*files, f"{info}/RECORD"])
    with zipfile.ZipFile(folder / f"{name}-{version}-py3-none-any.whl", "w") as wheel:
        for path, text in {**files, f"{info}/RECORD": record}.items():
            wheel.writestr(path, text)


class Project:
    """A copy of the command line in a folder of its own, wanting `tinybench`, and `tinytest` for its tests."""

    def __init__(self, root):
        self.root, self.wheels = root, root.parents[1] / "wheels"  # pip splits a path at spaces
        (root / "pipeline" / "ingest").mkdir(parents=True)
        (root / "pipeline" / "reports").mkdir()
        for name in FILES:
            (root / "pipeline" / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / "pipeline" / name, root / "pipeline" / name)
        for place in ("ingest/shop_folder.py", "reports/run.py"):
            (root / "pipeline" / place).write_text(VERB)
        (root / "pipeline" / "suite.py").write_text("import sys\ndef run(words):\n    import tinytest\n    return 5\n")
        self.wheels.mkdir()
        for name in ("tinybench", "tinytest"):
            write_wheel(self.wheels, name)
        write_wheel(self.wheels, "tqdm", body=BAR)
        (root / "pyproject.toml").write_text(
            '[project]\ndependencies = ["tinybench==1.0.*"]\n'
            '[project.optional-dependencies]\ntest = ["tinytest==1.0.*"]\nbench = []\n'
        )
        self.lock("tinybench==1.0\n", "tinytest==1.0\n")
        self.settings = {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": str(self.wheels), "PIP_CONFIG_FILE": os.devnull}
        self.without("ensurepip")  # the Python's own pip fills the environment, three seconds faster each time

    def lock(self, run, test):
        for tier, lines in {"": run, "-test": run + test, "-bench": run + test}.items():
            (self.root / "pipeline" / f"requirements{tier}.lock").write_text(f"# a comment\ntqdm==1.0\n{lines}")

    def without(self, *modules):
        """Hide modules of the plain Python, as a system does that packages them apart."""
        hidden = self.wheels.with_name("hidden")
        shutil.rmtree(hidden, ignore_errors=True)
        hidden.mkdir()
        for name in modules:
            (hidden / f"{name}.py").write_text(f"raise ImportError('no {name} here')\n")
        self.settings["PYTHONPATH"] = str(hidden)

    def environment(self):
        dropped = ("PYTHONPATH", "VIRTUAL_ENV", "PYTHONHOME", "SPAREBENCH_ENTERED", "PYTHONWARNINGS")
        kept = {name: value for name, value in os.environ.items() if name not in dropped}
        kept = {name: value for name, value in kept.items() if not name.startswith("PIP_")}
        return {**kept, **self.settings, "PYTHONUTF8": "1"}

    def start(self, *words, python=PLAIN_PYTHON, **options):
        return subprocess.Popen([python, "-B", "-m", "pipeline", *words], cwd=self.root, env=self.environment(),
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True,
                                encoding="utf-8", **options)

    def run(self, *words, python=PLAIN_PYTHON, **options):
        with self.start(*words, python=python, **options) as process:
            out, err = process.communicate(timeout=300)
        return subprocess.CompletedProcess(words, process.returncode, out, err)

    write_wheel = staticmethod(write_wheel)

    @property
    def mark(self):
        return self.root / ".venv" / ".ready"

    @property
    def log(self):
        return self.root / ".venv-setup.log"

    @property
    def inner_python(self):
        return self.root / ".venv" / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def project_in(folder):
    """A project in a folder whose name has a space and letters beyond ASCII, as in many a user's folder."""
    made = Project(folder / "Grüße vom Flipper" / "spare bench")
    probe = subprocess.run([PLAIN_PYTHON, "-m", "pip", "--python", PLAIN_PYTHON, "--version"],
                           capture_output=True, check=False)
    if probe.returncode:
        made.without()
    return made


@pytest.fixture
def project(tmp_path):
    return project_in(tmp_path)


@pytest.fixture(scope="module")
def set_up_once(tmp_path_factory):
    """A project that was set up, and a copy of all its files from then."""
    made = project_in(tmp_path_factory.mktemp("set-up"))
    assert made.run("demo").returncode == 0
    return made, shutil.copytree(made.wheels.parent, tmp_path_factory.mktemp("kept") / "then", symlinks=True)


@pytest.fixture
def ready_project(set_up_once):
    """A project that was set up, for what comes afterwards: always in one place, as an environment knows its own."""
    made, then = set_up_once
    shutil.rmtree(made.wheels.parent)
    shutil.copytree(then, made.wheels.parent, symlinks=True)
    ready = copy.copy(made)
    ready.settings = dict(made.settings)
    return ready
