"""The set-up where something is missing: one sentence that says what to do, and nothing half made is trusted."""

import errno
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import venv
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace

import pytest

from pipeline import __main__ as command
from pipeline import bootstrap, pip_run
from pipeline.errors import SetupError

ROOT = Path(__file__).resolve().parents[2]
POSIX_ONLY = pytest.mark.skipif(os.name == "nt", reason="Windows has other signals and rights")


def last_sentence(ran):
    """What a failed run said last; fails on a traceback or another exit code than 1."""
    assert ran.returncode == 1, ran.stderr
    assert "Traceback" not in ran.stderr
    return ran.stderr.strip().splitlines()[-1]


@contextmanager
def index_that_never_answers():
    with socket.create_server(("127.0.0.1", 0)) as server:
        held = []
        threading.Thread(target=lambda: held.append(server.accept()), daemon=True).start()
        yield f"http://127.0.0.1:{server.getsockname()[1]}/"
        for connection, _ in held:
            connection.close()


def closed_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.mark.parametrize("host", ["nowhere.invalid", "127.0.0.1"])
def test_offline(project, host):
    # A name that cannot exist (RFC 2606), and a door that is shut.
    del project.settings["PIP_NO_INDEX"], project.settings["PIP_FIND_LINKS"]
    project.settings["PIP_INDEX_URL"] = f"https://{host}:{closed_port()}/"
    ran = project.run("demo")
    assert last_sentence(ran).startswith("There is no connection to the package index. Connect to the internet")
    assert not project.mark.exists()
    assert pip_run.LOG in ran.stderr
    assert "tqdm" in project.log.read_text(encoding="utf-8")


def test_once_set_up_it_works_offline_and_an_addition_that_fails_harms_nothing(project):
    assert project.run("demo").returncode == 0
    shutil.rmtree(project.wheels)
    assert last_sentence(project.run("test"))
    assert project.run("demo").returncode == 0


def test_no_venv_module(project):
    project.without("ensurepip", "pip")  # Debian without python3-venv and python3-pip
    said = last_sentence(project.run("demo"))
    assert "its venv module is missing or not whole" in said
    assert "sudo apt install python{}.{}-venv".format(*sys.version_info[:2]) in said
    assert not project.mark.exists()
    project.without("venv")
    assert "its venv module is missing or not whole" in last_sentence(project.run("demo"))


def ends_soon(group):
    """Whether every process of a group ends within a minute."""
    for _ in range(600):
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.1)
    return False


@POSIX_ONLY
def test_ctrl_c_while_packages_are_fetched(project):
    del project.settings["PIP_NO_INDEX"], project.settings["PIP_FIND_LINKS"]
    with index_that_never_answers() as address:
        project.settings["PIP_INDEX_URL"] = address
        process = project.start("demo", start_new_session=True)
        deadline = time.monotonic() + 120
        while not (project.log.exists() and "Looking in indexes" in project.log.read_text()):
            assert process.poll() is None and time.monotonic() < deadline, "the set-up did not get to pip"
            time.sleep(0.1)
        os.killpg(process.pid, signal.SIGINT)  # what a terminal sends: to pip as well
        _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert said.strip().splitlines()[-1] == "Stopped. Run the same command again to go on."
    assert "Traceback" not in said
    assert not project.mark.exists()
    assert ends_soon(process.pid), "pip goes on in the background"


@POSIX_ONLY
def test_a_second_window_waits_for_the_first(project):
    import fcntl

    with open(project.root / ".venv.lock", "w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        assert last_sentence(project.run("demo")).startswith("Another window is setting up this folder now.")
    assert project.run("demo").returncode == 0


def reachable_by_anyone(folder):
    """A Python that a user without rights can start, of a version that will do; None where there is none."""
    code = "import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))"
    system = shutil.which("python3", path="/usr/local/bin:/usr/bin")
    for python in filter(None, (getattr(sys, "_base_executable", sys.executable), system)):
        try:
            ran = subprocess.run([python, "-c", code], cwd=folder, check=False, **as_nobody())
        except PermissionError:
            continue
        if ran.returncode == 0:
            return python
    return None


def as_nobody():
    return {"user": 65534, "group": 65534, "extra_groups": []} if os.geteuid() == 0 else {}


@POSIX_ONLY
def test_a_folder_that_cannot_be_written_to(project):
    # Outside pytest's own folders, which other users cannot even enter; root may write anywhere, so not as root.
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(project.root, Path(folder) / "bench")
        project.root = Path(folder) / "bench"
        os.chmod(folder, 0o755)
        os.chmod(project.root, 0o555)
        try:
            python = reachable_by_anyone(folder)
            if python is None:
                pytest.skip("no Python here that a user without rights may start")
            project.settings.pop("PYTHONPATH")
            said = last_sentence(project.run("demo", python=python, **as_nobody()))
        finally:
            os.chmod(project.root, 0o755)
    assert said.startswith(f"The folder {project.root} cannot be written to.")


def test_a_full_disk_before_anything_is_made(tmp_path, monkeypatch):
    monkeypatch.setattr(bootstrap.shutil, "disk_usage", lambda path: SimpleNamespace(free=4 * 10**8))
    home = small_home(tmp_path)
    with pytest.raises(SetupError, match=r"^The disk has 0\.4 GB free where setting up wants 1\.0 GB\. Free some"):
        bootstrap.fill(home, "run", lambda line: None, lambda line: None)
    assert not home.folder.exists()


def test_a_disk_that_fills_up_while_the_environment_is_made(tmp_path, monkeypatch):
    def create(builder, folder):
        Path(folder).mkdir()
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(venv.EnvBuilder, "create", create)
    home = small_home(tmp_path)
    with pytest.raises(SetupError, match="^The disk is full. Free about 1.5 GB"):
        bootstrap.fill(home, "run", lambda line: None, lambda line: None)
    assert home.whole_tiers() == []


def test_a_disk_that_fills_up_while_packages_are_unpacked(tmp_path):
    # pip's own words, as pip 24 writes them.
    words = "ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device"
    code = f"import sys; print('Installing collected packages: a, b'); print({words!r}); sys.exit(1)"
    pip, shown = [sys.executable, "-c", code], []
    with pytest.raises(SetupError, match="^The disk is full. Free about 1.5 GB.*own words are in .venv-setup.log"):
        pip_run.install(pip, [], small_home(tmp_path), shown.append)
    assert shown[-1] == ""


def small_home(root):
    (root / "pipeline").mkdir()
    for name in ("requirements", "requirements-test", "requirements-bench"):
        (root / "pipeline" / f"{name}.lock").write_text("tinybench==1.0\n")
    return bootstrap.PrivatePython(root)


@pytest.mark.parametrize("words, told", [
    ("Retrying after connection broken by 'NewConnectionError'\nERROR: No matching distribution found for duckdb",
     "There is no connection to the package index."),
    ("ERROR: No matching distribution found for duckdb==2.0.1", "A package does not exist for Python"),
    ("SSLError(SSLCertVerificationError(1, '[SSL: CERTIFICATE_VERIFY_FAILED]",
     "The package index did not prove who it is"),
    ("PermissionError: [Errno 13] Permission denied: '.venv'", "The folder bench cannot be written to."),
    ("OSError: [Errno 30] Read-only file system", "The folder bench cannot be written to."),
    ("zipfile.BadZipFile: Bad magic number", "A download arrived damaged."),
    ("something new\n", "The packages could not be installed: something new"),
    ("", "The packages could not be installed: no words at all"),
])
def test_pip_s_words_become_one_sentence(words, told):
    assert pip_run.sentence(words, "bench").startswith(told)


def old_pythons():
    found = {shutil.which(f"python3.{minor}") for minor in range(6, 11)} - {None}
    found |= {str(path) for path in Path.home().glob(".pyenv/versions/3.[6-9].*/bin/python3")}
    return sorted(found | {str(path) for path in Path.home().glob(".pyenv/versions/3.10.*/bin/python3")})


def test_an_old_python_is_told_so_and_gets_no_syntax_error():
    tried = 0
    for python in old_pythons():
        ran = subprocess.run([python, "-B", "-m", "pipeline", "demo"], cwd=ROOT, capture_output=True, text=True,
                             env={**os.environ, "PYTHONPATH": ""}, check=False)
        if "pyenv: " in ran.stderr:
            continue  # a launcher without its Python
        tried += 1
        assert last_sentence(ran).startswith("Sparebench needs Python 3.11 to 3.13; this is 3."), python
        assert len(ran.stderr.strip().splitlines()) == 1
    if not tried:
        pytest.skip("no Python before 3.11 on this machine")


@pytest.mark.parametrize("version, is_fine", [
    ((3, 10, 13), False), ((3, 11, 0), True), ((3, 13, 9), True), ((3, 14, 0), False), ((2, 7, 18), False)])
def test_which_pythons_will_do(version, is_fine, monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda name: None)
    complaint = command.python_complaint(version)
    assert (complaint == "") is is_fine
    if complaint:
        assert "Install one of these" in complaint


def test_a_python_that_would_do_is_named(monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda name: "there" if name == "python3.12" else None)
    assert command.python_complaint((3, 9, 2)) == (
        "Sparebench needs Python 3.11 to 3.13; this is 3.9. Run `python3.12 -m pipeline` instead.")
