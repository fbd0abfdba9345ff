"""Other worlds can be asked for; impossible ones are refused."""

from dataclasses import FrozenInstanceError, replace
from datetime import date

import numpy as np
import pytest

from pipeline.demo import generate, jobs
from pipeline.demo.world import TOPICS, Bookings, Habits, Lives, Work, World, stream


@pytest.mark.parametrize("jobs_per_year", [15, 120])
def test_small_and_large_shops_keep_up_with_their_work(jobs_per_year):
    shop = generate.simulate(8, World(jobs_per_year=jobs_per_year))
    status = [row["status"] for row in shop.tables["jobs"]]
    delivered = status.count("delivered") / 4
    assert 0.7 * jobs_per_year < delivered < 1.25 * jobs_per_year
    assert status.count("booked") < 0.45 * jobs_per_year
    for name in ("job_parts", "order_lines", "counts", "job_hours", "callbacks"):
        assert shop.tables[name], name


def test_a_shorter_history_is_shorter():
    shop = generate.simulate(8, World(years=2))
    first = min(row["started_on"] for row in shop.tables["jobs"] if row["started_on"] != "")
    assert first >= date(2024, 11, 1)


def test_another_day_today_moves_everything():
    shop = generate.simulate(8, World(today=date(2024, 2, 29), years=1))
    on = [row["counted_on"] for row in shop.tables["counts"] if row["counted_on"] != ""]
    assert date(2023, 3, 1) <= min(on) and max(on) <= date(2024, 2, 29)


@pytest.mark.parametrize(
    "today, years, first_on, n_days",
    [
        (date(2026, 10, 31), 4, date(2022, 11, 1), 1461),
        (date(2024, 2, 29), 1, date(2023, 3, 1), 366),
        (date(2025, 12, 31), 1, date(2025, 1, 1), 365),
    ],
)
def test_the_records_span_whole_years_up_to_today(today, years, first_on, n_days):
    world = World(today=today, years=years)
    assert (world.first_on, world.n_days) == (first_on, n_days)
    assert world.on(0) == first_on
    assert world.on(n_days - 1) == today


@pytest.mark.parametrize(
    "world",
    [
        World(work=Work(roughness_law="two_kinds")),
        World(work=Work(roughness_sd=0.0)),
        World(bookings=Bookings(trend_share=0.15, season_share=0.0)),
        World(bookings=Bookings(burst_jobs=2.5)),
        World(lives=Lives(life_factor=0.5)),
        World(habits=Habits(with_faults=False, count_error_share=0.0)),
        World(weekly_hours=20.0, bays=2, jobs_per_year=25),
    ],
    ids=["two_kinds", "no_roughness", "trend", "bursts", "short_lives", "tidy", "one_bench"],
)
def test_variants_make_whole_records(world):
    shop = generate.simulate(11, replace(world, years=2))
    assert all(
        shop.tables[name] for name in ("jobs", "job_parts", "orders", "order_lines", "counts", "job_hours")
    )


def test_shorter_lives_bring_more_call_backs():
    def calls(factor):
        return len(generate.simulate(1, World(lives=Lives(life_factor=factor), years=2)).tables["callbacks"])

    assert calls(0.3) > 2 * calls(1.0)


def test_a_tidy_owner_counts_right():
    shop = generate.simulate(12, World(years=1, habits=Habits(with_faults=False, count_error_share=0.0)))
    last = {row["part"]: row["at_hand_pcs"] for row in shop.truth_tables["shelf"]}
    assert set(last) == {row["part"] for row in shop.tables["parts"]}
    assert all(isinstance(row["qty_pcs"], int) for row in shop.tables["counts"])


def test_worlds_are_values():
    assert World() == World()
    assert hash(World()) == hash(World())
    with pytest.raises(FrozenInstanceError):
        World().jobs_per_year = 3


@pytest.mark.parametrize(
    "make, said",
    [
        (lambda: World(jobs_per_year=0), "jobs_per_year is 0"),
        (lambda: World(years=0), "years is 0"),
        (lambda: World(bookings=Bookings(family_shares=(0.5, 0.5, 0.5, 0, 0))), "add up to 1.5"),
        (lambda: World(bookings=Bookings(family_shares=(1.2, -0.2, 0, 0, 0))), "none below 0"),
        (lambda: World(work=Work(roughness_law="cauchy")), "'cauchy'"),
    ],
)
def test_an_impossible_world_is_refused_in_words(make, said):
    with pytest.raises(ValueError, match=said):
        make()


def test_topics_have_numbers_of_their_own():
    drawn = {topic: stream(1, topic).random() for topic in TOPICS}
    assert len(set(drawn.values())) == len(TOPICS)
    assert stream(1, "job", 3).random() == stream(1, "job", 3).random()
    assert stream(1, "job", 3).random() != stream(1, "job", 4).random()
    assert stream(1, "job", 3).random() != stream(2, "job", 3).random()


def test_the_bench_grows_with_the_shop():
    assert World(jobs_per_year=120).bench_hours_per_week == 72.0
    assert World(weekly_hours=10.0).bench_hours_per_week == 10.0
    assert [World(jobs_per_year=n).bay_count for n in (10, 60, 120)] == [2, 6, 12]
    assert World(bays=3).bay_count == 3


def test_a_trend_shows_in_the_years():
    world = World(bookings=Bookings(trend_share=0.4, season_share=0.0))
    asked = [job.asked for seed in (1, 2, 3) for job in jobs.arrivals(seed, world) if job.asked >= 0]
    # 1.4^2 times as many in the later half: 66 of a hundred.
    assert np.mean(np.array(asked) >= world.n_days / 2) == pytest.approx(
        1.96 / 2.96, abs=4 * np.sqrt(0.22 / len(asked))
    )
