"""`load` at ten thousand, a hundred thousand and a million takings: seconds of processor and peak memory grow no
faster than the rows."""

import json
import subprocess
import sys

import pytest

pytestmark = pytest.mark.bench
SIZES = (10_000, 100_000, 1_000_000)

# A folder of 300 parts and one job for every 40 takings, made and loaded in a process of its own.
MAKE = """
import sys
from pathlib import Path
import numpy as np
rows, folder = int(sys.argv[1]), Path(sys.argv[2])
folder.mkdir()
rng = np.random.default_rng(rows)
jobs = rows // 40
start = np.datetime64("2015-01-01")
days = start + rng.integers(0, 3600, jobs)
parts = [f"part-{n}" for n in range(300)]
folder.joinpath("parts.csv").write_text("part,description\\n" + "".join(f"{part},words\\n" for part in parts))
folder.joinpath("jobs.csv").write_text("job,family,scope,booked_on,delivered_on\\n" + "".join(
    f"J{n},f{n % 5},{('fix_only', 'refresh', 'thorough')[n % 3]},{day},{day + 60}\\n" for n, day in enumerate(days)))
at = rng.integers(0, jobs, rows)
took = zip(at, rng.integers(0, 300, rows), rng.integers(1, 13, rows), days[at] + rng.integers(0, 60, rows), strict=True)
folder.joinpath("job_parts.csv").write_text("job,part,qty_pcs,used_on,line\\n" + "".join(
    f"J{job},{parts[part]},{pieces},{day},{line}\\n" for line, (job, part, pieces, day) in enumerate(took)))
"""
LOAD = """
import json, resource, sys
from pipeline.ingest import shop_folder
summary = shop_folder.load(sys.argv[1], sys.argv[2], sys.argv[3])
used = resource.getrusage(resource.RUSAGE_SELF)
loaded = int(summary.files.set_index("file").loc["job_parts.csv", "rows_loaded"])
print(json.dumps({"rows": loaded, "seconds": used.ru_utime + used.ru_stime, "megabytes": used.ru_maxrss / 1024}))
"""


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """Rows, seconds of processor (user and system) and peak memory of a first and of a changed second load."""
    pytest.importorskip("resource", reason="this system does not tell a process's peak memory")
    found = {}
    for rows in SIZES:
        place = tmp_path_factory.mktemp(f"rows-{rows}")
        run(MAKE, rows, place / "shop")
        first = json.loads(run(LOAD, place / "shop", place / "shop.duckdb", place / "out"))
        with open(place / "shop" / "job_parts.csv", "a", encoding="utf-8") as takings:
            takings.write("J1,part-1,1,2015-06-01,-1\n")
        second = json.loads(run(LOAD, place / "shop", place / "shop.duckdb", place / "out"))
        found[rows] = (first, second)
        print(f"\n{rows:>9,} takings: first load {first['seconds']:.1f} s of processor, {first['megabytes']:.0f} MB; "
              f"changed and again {second['seconds']:.1f} s, {second['megabytes']:.0f} MB")
    return found


def run(code, *words):
    done = subprocess.run([sys.executable, "-c", code, *map(str, words)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_every_taking_is_in(measured):
    for rows, (first, second) in measured.items():
        assert (first["rows"], second["rows"]) == (rows, rows + 1)


@pytest.mark.parametrize("what", ["seconds", "megabytes"])
@pytest.mark.parametrize("which", [0, 1], ids=["first load", "changed and again"])
def test_growth_is_no_worse_than_linear(measured, what, which):
    for small, large in zip(SIZES, SIZES[1:], strict=False):
        ratio = measured[large][which][what] / measured[small][which][what]
        assert ratio <= large / small, f"{small:,} to {large:,} takings: {what} grew {ratio:.1f} times"
