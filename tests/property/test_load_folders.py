"""Random small folders, sound and unsound: rows in = rows loaded + rows set aside; a second load changes nothing."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings

from pipeline.store import catalogue
from tests.support import small_shop
from tests.support.any_folder import FOLDERS, files_of

LOADS = settings(max_examples=3, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])


@LOADS
@given(FOLDERS)
@example({"parts": [("a", "w", "", "")], "jobs": [("a", "a", "fix_only", "", "", "")],
          "job_parts": [("a", "a", "1", "", "", ""), ("a", "a", "1", "", "", "")], "aliases": [("", "a"), ("A", "a")]})
@example({"parts": [("ß", "w", "", ""), ("SS", "w", "", "")], "jobs": [], "job_parts": [], "families": [("\x1f", "x")]})
def test_every_row_is_loaded_or_set_aside_and_a_second_load_changes_nothing(folder):
    _adds_up_and_is_settled(folder)


@pytest.mark.slow
@settings(LOADS, max_examples=300)
@given(FOLDERS)
def test_the_same_for_many_more_folders(folder):
    _adds_up_and_is_settled(folder)


def _adds_up_and_is_settled(folder):
    with tempfile.TemporaryDirectory() as made:
        shop = Path(made) / "shop"
        store, summary = small_shop.load(shop, files_of(folder))
        told = summary.files.set_index("file")
        for name in folder:
            row = told.loc[f"{name}.csv"]
            assert (
                row["rows_in"]
                == small_shop.data_rows(shop / f"{name}.csv")
                == row["rows_loaded"] + row["rows_set_aside"]
            )
            kept = small_shop.rows(store, f"select count(*) from set_aside_rows where file = '{name}.csv'")
            assert kept == [(row["rows_set_aside"],)]
            # A register without a row is filled from what uses it; to one with rows nothing is added.
            if row["rows_in"] or name not in catalogue.REGISTERS:
                assert small_shop.rows(store, f"select count(*) from {name}") == [(row["rows_loaded"],)]
        bad_lines = {(file, line) for file, line, *_ in small_shop.set_aside(summary)}
        assert len(bad_lines) == told["rows_set_aside"].sum()
        before = small_shop.contents(store)
        assert small_shop.load(shop)[1].is_unchanged
        assert small_shop.contents(store) == before
