"""The worlds of the forecast proof are the ones laid down: as many, as different, and the same to the last byte."""

import pytest

from pipeline.store import connect, read
from tests.support import forecast_worlds

BY_NAME = {entry.name: entry for entry in forecast_worlds.WORLDS}


def test_there_are_twenty_that_stay_and_five_that_change():
    assert [entry.is_changing for entry in forecast_worlds.WORLDS] == [False] * 20 + [True] * 5
    assert len(BY_NAME) == len({entry.seed for entry in forecast_worlds.WORLDS}) == 25
    assert set(forecast_worlds.DIGESTS) == set(BY_NAME)


def test_they_cover_what_a_small_shop_meets():
    steady = [entry.world for entry in forecast_worlds.STEADY]
    rates = [world.jobs_per_year for world in steady]
    assert (min(rates), max(rates)) == (15, 120)
    assert sum(rate < 30 for rate in rates) >= 4
    assert 6 <= sum(not world.with_bookings for world in steady) <= 8
    assert {world.work.roughness_law for world in steady} == {"normal", "two_kinds"}
    assert {0.4, 1.0} <= {world.work.roughness_sd for world in steady}
    assert min(world.bookings.trend_share for world in steady) < 0 < max(world.bookings.trend_share for world in steady)
    assert sum(world.bookings.burst_jobs > 1 for world in steady) >= 4
    assert all(world.years == 4 and not world.habits.with_faults for world in steady)


def test_the_changes_fall_in_the_later_half():
    changes = [entry.world.changes for entry in forecast_worlds.CHANGING]
    endings = [c.ending_after_share for c in changes if c.ending_family]
    switches = [c.switch_after_share for c in changes if c.thorough_to_fix_only_share]
    habits = [c.policy_after_share for c in changes if c.policy_log_odds]
    assert (len(endings), len(switches), len(habits)) == (2, 1, 2)
    assert all(0.5 <= share <= 0.8 for share in endings + switches + habits)


@pytest.mark.parametrize("name", ["steady-018", "ending-034"])
def test_a_world_is_the_one_laid_down(name):
    assert forecast_worlds.digest(BY_NAME[name]) == forecast_worlds.DIGESTS[name]


@pytest.mark.slow
@pytest.mark.parametrize("name", BY_NAME)
def test_every_world_is_the_one_laid_down(name):
    assert forecast_worlds.digest(BY_NAME[name]) == forecast_worlds.DIGESTS[name]


def test_a_changed_record_has_another_digest(monkeypatch):
    entry = BY_NAME["steady-015"]
    given = forecast_worlds.tables(entry)
    given["job_parts"][0]["qty_pcs"] += 1
    monkeypatch.setattr(forecast_worlds, "tables", lambda _: given)
    assert forecast_worlds.digest(entry) != forecast_worlds.DIGESTS["steady-015"]


def test_a_world_becomes_a_store_with_all_its_records(tmp_path):
    entry = BY_NAME["steady-015"]
    given = forecast_worlds.tables(entry)
    path = forecast_worlds.store(entry, tmp_path / "steady-015.duckdb")
    with connect.open_read(path) as connection:
        for name in ("jobs", "job_parts", "orders", "counts"):
            (count,), = read.rows(connection, f"select count(*) from {name}")
            assert count == len(given[name]), name
