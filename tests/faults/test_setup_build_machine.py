"""What a build machine runs: `.ci/run` in a world of stand-ins for apt, Python and Chromium."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.skipif(os.name == "nt" or not shutil.which("bash"), reason="needs bash")


@pytest.fixture
def machine(tmp_path):
    """A folder of programs, the only ones the script can find; what they were called with is in `calls`."""
    programs = tmp_path / "bin"
    programs.mkdir()
    for name in ("bash", "dirname", "cat"):
        (programs / name).symlink_to(shutil.which(name))

    def put(name, script):
        path = programs / name
        path.write_text(f'#!{shutil.which("bash")}\necho "{name} $*" >> "{tmp_path}/calls"\n{script}\n')
        path.chmod(0o755)

    def run():
        ran = subprocess.run([str(ROOT / ".ci" / "run")], cwd=tmp_path, env={"PATH": str(programs), "CI": "true"},
                             stdin=subprocess.PIPE, capture_output=True, text=True, check=False)
        return ran, (tmp_path / "calls").read_text().splitlines()

    put("python3", 'echo "in $PWD, read: $(cat)"; echo "3 failed, 700 passed in 60.00s"; exit 7')
    put("id", "echo 0")
    return put, run


def test_the_suite_s_closing_line_and_exit_code_pass_through(machine):
    put, run = machine
    put("chromium", "")
    ran, calls = run()
    assert ran.returncode == 7
    assert ran.stdout == f"in {ROOT}, read: \n3 failed, 700 passed in 60.00s\n"
    assert calls == ["python3 -m pipeline test"]


def test_chromium_is_installed_where_it_is_missing(machine):
    put, run = machine
    put("apt-get", 'echo "apt says much"')
    ran, calls = run()
    assert [call.split()[0] for call in calls] == ["id", "apt-get", "apt-get", "python3"]
    assert calls[1].endswith(" update -qq")
    assert calls[2].endswith(" chromium")
    assert "apt says much" not in ran.stdout  # the closing line stays the last word


@pytest.mark.parametrize("fails", ["update", "install"])
def test_a_failed_installation_stops_nothing(machine, fails):
    put, run = machine
    put("apt-get", f'[[ "$*" == *{fails}* ]] && exit 100; exit 0')
    ran, calls = run()
    assert ran.returncode == 7
    assert "Chromium could not be installed; the browser tests will be skipped" in ran.stderr
    assert calls[-1] == "python3 -m pipeline test"


def test_without_rights_nothing_is_installed(machine):
    put, run = machine
    put("id", "echo 1000")
    put("apt-get", "exit 0")
    ran, calls = run()
    assert not any(call.startswith("apt-get") for call in calls)
    assert "no Chromium here and no right to install one" in ran.stderr
    assert ran.returncode == 7
