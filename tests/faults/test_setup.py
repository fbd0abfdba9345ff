"""The set-up, end to end, where all goes well or an earlier one did not."""

import os
import subprocess
import zipfile
from pathlib import Path

import pytest


def test_a_fresh_machine_needs_one_command(project):
    project.without()  # with ensurepip, the usual way
    ran = project.run("demo")
    assert ran.returncode == 0, ran.stderr
    assert f"ran in {project.root / '.venv'}" in ran.stdout
    assert "tinybench 1.0" in ran.stdout
    assert "Setting up a private Python" in ran.stderr
    assert "Ready after" in ran.stderr
    assert project.mark.exists()


def test_the_second_start_sets_up_nothing(ready_project):
    before = ready_project.log.stat().st_mtime_ns
    ran = ready_project.run("demo")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ready_project.log.stat().st_mtime_ns == before


def test_the_tests_add_their_own_packages_by_themselves(ready_project):
    ran = ready_project.run("test")
    assert ran.returncode == 5, ran.stderr  # the suite's own exit code passes through
    assert "Adding what `test` needs" in ran.stderr
    fetched = ready_project.log.read_text(encoding="utf-8")
    assert "tinytest" in fetched
    assert "tinybench" not in fetched
    assert "Setting up" not in ready_project.run("demo").stderr


def test_an_addition_that_was_cut_short_is_written_again(ready_project):
    packages = next((ready_project.root / ".venv").glob("**/site-packages"))
    with zipfile.ZipFile(ready_project.wheels / "tinytest-1.0-py3-none-any.whl") as wheel:
        wheel.extract("tinytest-1.0.dist-info/METADATA", packages)  # named as there, but without its module
    assert ready_project.run("test").returncode == 5


def test_a_half_made_environment_is_made_anew(project):
    left = project.root / ".venv" / "left-by-a-power-cut.txt"
    left.parent.mkdir()
    left.write_text("half")
    assert project.run("demo").returncode == 0
    assert not left.exists()


@pytest.mark.parametrize("spoil", ["mark", "lock", "python"])
def test_what_no_longer_fits_is_made_anew(ready_project, spoil):
    if spoil == "mark":
        ready_project.mark.write_text("run 0123\n")
    elif spoil == "python":
        ready_project.inner_python.unlink()
    else:
        ready_project.write_wheel(ready_project.wheels, "tinybench", "1.1")
        ready_project.lock("tinybench==1.1\n", "tinytest==1.0\n")
    ran = ready_project.run("demo")
    assert ran.returncode == 0, ran.stderr
    assert "Setting up" in ran.stderr
    assert ("tinybench 1.1" if spoil == "lock" else "tinybench 1.0") in ran.stdout


def test_a_moved_folder_is_set_up_anew(ready_project):
    ready_project.root = ready_project.root.rename(ready_project.root.with_name("elsewhere"))
    ran = ready_project.run("demo")
    assert ran.returncode == 0, ran.stderr
    assert f"ran in {ready_project.root / '.venv'}" in ran.stdout


@pytest.mark.skipif(os.name == "nt", reason="making a link there needs a right that few have")
def test_a_link_in_its_place_is_refused_and_what_it_leads_to_stays(project, tmp_path):
    other = tmp_path / "of another folder"
    other.mkdir()
    (other / "precious").write_text("kept")
    (project.root / ".venv").symlink_to(other, target_is_directory=True)
    ran = project.run("demo")
    assert ran.returncode == 1 and "is a link to another folder" in ran.stderr and "Traceback" not in ran.stderr
    assert (other / "precious").read_text() == "kept"


def test_the_code_is_found_from_any_folder(ready_project):
    # Notebook kernels start in notebooks/.
    ran = subprocess.run([ready_project.inner_python, "-c", "import pipeline.errors; print(pipeline.errors.__file__)"],
                         cwd=ready_project.root.parent, env=ready_project.environment(), capture_output=True, text=True,
                         encoding="utf-8", check=False)
    assert ran.stdout.strip() == str(ready_project.root / "pipeline" / "errors.py"), ran.stderr


def test_an_unfinished_environment_started_from_within_mends_itself(ready_project):
    ready_project.mark.unlink()
    ran = ready_project.run("demo", python=str(ready_project.inner_python))
    assert ran.returncode == 0, ran.stderr
    assert ready_project.mark.exists()


def test_no_environment_is_made_where_everything_is_there_already(project):
    there = Path(project.settings["PYTHONPATH"])
    for wheel in project.wheels.glob("*.whl"):
        zipfile.ZipFile(wheel).extractall(there)
    ran = project.run("demo")
    assert ran.returncode == 0, ran.stderr
    assert not (project.root / ".venv").exists()
    assert f"ran in {project.root}" not in ran.stdout


def test_another_version_there_is_not_enough(project):
    there = Path(project.settings["PYTHONPATH"])
    project.write_wheel(project.root.parent, "tinybench", "1.10")
    zipfile.ZipFile(project.root.parent / "tinybench-1.10-py3-none-any.whl").extractall(there)
    assert "Setting up" in project.run("demo").stderr
