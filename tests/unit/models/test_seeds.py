"""Seed tables: present, plausible, and each value marked with where it comes from."""

import pandas as pd
import pytest

from pipeline.errors import SetupError
from pipeline.models import seeds


@pytest.mark.parametrize("table", ["wear", "assemblies", "piece_hours", "stages"])
def test_every_row_says_that_it_is_from_memory(table):
    found = pd.read_csv(seeds.FOLDER / f"{table}.csv")
    assert found["provenance"].str.startswith("from memory").all()
    assert not found.drop(columns="provenance").isna().any().any()


def test_new_pieces_outlast_kept_ones():
    wear = seeds.wear()
    assert (wear["median_plays_new"] > wear["median_plays_kept"]).all()
    assert (wear["median_months_new"] > wear["median_months_kept"]).all()


def test_weights_are_weak():
    # the owner's guess is worth half a machine to two
    assert seeds.wear()["weight_jobs"].between(0.5, 2).all()


def test_work_on_an_assembled_machine_takes_longer():
    table = seeds.assemblies()
    assert (table["installed_hours"] >= table["bench_hours"]).all()
    assert 1.3 < seeds.installed_ratio() < 2.5


def test_stages_are_those_of_the_records_and_sum_to_one():
    shares = seeds.stages()
    assert shares.index.tolist() == [
        "intake",
        "teardown",
        "cleaning",
        "bench",
        "wiring",
        "reassembly",
        "test",
        "admin",
    ]
    assert abs(shares.sum() - 1) < 1e-12
    assert abs(shares["cleaning"] / shares["intake"] - 2.5) < 1e-12  # what was remembered, in proportion


def test_a_missing_table_says_so(tmp_path):
    with pytest.raises(SetupError, match="wear.csv is missing"):
        seeds.wear(tmp_path)
