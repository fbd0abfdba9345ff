"""The committed demo is what the generator makes, byte for byte, and nothing else."""

import ast
import subprocess
import sys

import pytest

from pipeline.demo import generate, write
from pipeline.demo.world import World


def bytes_of(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    generate.generate(generate.DEMO_SEED, folder)
    return folder


def test_the_committed_demo_is_what_the_generator_makes(made, demo_folder):
    fresh, committed = bytes_of(made), bytes_of(demo_folder)
    assert sorted(fresh) == sorted(committed)
    assert [name for name in fresh if fresh[name] != committed[name]] == []


def test_the_demo_is_small(demo_folder):
    assert sum(len(content) for content in bytes_of(demo_folder).values()) < 1_500_000


def test_files_end_lines_with_a_line_feed_and_are_ascii(demo_folder):
    for name, content in bytes_of(demo_folder).items():
        assert b"\r" not in content, name
        assert content.endswith(b"\n"), name
        assert content.isascii(), name


def test_the_module_runs_silently(tmp_path, root):
    run = subprocess.run(
        [sys.executable, "-W", "error", "-m", "pipeline.demo.generate", str(tmp_path / "out"), "--seed", "3"],
        cwd=root,
        capture_output=True,
        text=True,
        check=False,
    )
    assert (run.returncode, run.stdout, run.stderr) == (0, "", "")
    assert {path.stem for path in (tmp_path / "out").glob("*.csv")} == set(write.COLUMNS)


def test_a_negative_seed_is_refused(tmp_path, capsys):
    with pytest.raises(SystemExit) as stopped:
        generate.main([str(tmp_path), "--seed", "-1"])
    assert stopped.value.code == 2
    assert "--seed is -1" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_the_default_seed_is_the_committed_one_and_generating_twice_changes_nothing(made):
    before = bytes_of(made)
    written = {path: path.stat().st_mtime_ns for path in made.rglob("*.csv")}
    generate.main([str(made)])
    assert bytes_of(made) == before
    assert all(path.stat().st_mtime_ns > was for path, was in written.items())


def test_the_same_seed_gives_the_same_records_and_the_default_world_is_used_where_none_is_given(shop):
    again = generate.simulate(5, World())
    assert again.tables == shop.tables
    assert again.truth_tables == shop.truth_tables


def test_another_seed_gives_other_records(shop):
    other = generate.simulate(6)
    assert other.tables["job_parts"] != shop.tables["job_parts"]
    assert other.truth_tables["use"] != shop.truth_tables["use"]


def test_the_generator_needs_numpy_and_the_standard_library_only(root):
    found = set()
    for path in (root / "pipeline" / "demo").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                found.add(".".join(node.module.split(".")[:2]))
    assert found - set(sys.stdlib_module_names) == {"numpy", "pipeline.demo"}


def test_a_year_has_about_sixty_jobs_and_all_scopes_of_every_family(shop):
    jobs = [row for row in shop.tables["jobs"] if row["status"] == "delivered"]
    assert 48 <= len(jobs) / 4 <= 72
    assert {(row["family"], row["scope"]) for row in jobs} >= {
        (family, scope)
        for family in ("solidstate", "dotmatrix")
        for scope in ("fix_only", "refresh", "thorough")
    }


def test_every_column_of_a_row_is_one_of_the_contracts(shop):
    for name, rows in shop.tables.items():
        known = set(write.COLUMNS[name].split())
        for row in rows:
            assert set(row) <= known, name
