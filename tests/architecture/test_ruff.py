"""The tree is ruff clean, by the rules in pyproject.toml."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def ruff(*words):
    return subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--no-cache", *map(str, words)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_tree_is_clean():
    ran = ruff(".")
    assert ran.returncode == 0, ran.stdout + ran.stderr


def test_an_offence_is_found(tmp_path):
    offender = tmp_path / "planted.py"
    offender.write_text("import os\n\n\ndef f(x=[]):\n    return x\n", encoding="utf-8")
    ran = ruff("--config", ROOT / "pyproject.toml", offender)
    assert ran.returncode == 1
    assert all(rule in ran.stdout for rule in ("F401", "B006", "D103"))
