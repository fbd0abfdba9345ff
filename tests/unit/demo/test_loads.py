"""The loader sets aside what was planted, and nothing else."""

import csv

import pytest

from pipeline.demo import generate
from pipeline.demo.world import Habits, World

shop_folder = pytest.importorskip("pipeline.ingest.shop_folder")


@pytest.fixture(scope="module")
def planted(demo_folder):
    with open(demo_folder / "truth" / "faults.csv", encoding="utf-8", newline="") as file:
        return {
            tuple(row[name] for name in ("file", "line", "column", "rule", "outcome"))
            for row in csv.DictReader(file)
        }


def verdicts(folder, out_dir):
    """What the loader says of single rows of a shop folder."""
    listed = shop_folder.check(folder, out_dir).records
    listed = listed[listed["line"].notna() & listed["outcome"].isin(["set_aside", "repaired"])]
    return {
        (row.file, str(row.line), row.column if isinstance(row.column, str) else "", row.rule, row.outcome)
        for row in listed.itertuples()
    }


def test_the_loader_finds_every_planted_fault_and_no_other(demo_folder, planted, tmp_path):
    assert verdicts(demo_folder, tmp_path) == planted


def test_a_shop_without_faults_loads_whole(tmp_path):
    world = World(habits=Habits(with_faults=False), years=2)
    generate.generate(21, tmp_path / "shop", world)
    assert verdicts(tmp_path / "shop", tmp_path) == set()


def test_a_shop_without_bookings_loads_whole(tmp_path):
    world = World(habits=Habits(with_faults=False), years=1, with_bookings=False)
    generate.generate(22, tmp_path / "shop", world)
    assert verdicts(tmp_path / "shop", tmp_path) == set()
