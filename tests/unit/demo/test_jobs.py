"""Jobs come as the world says: how many, which, how long ahead, how much work."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from pipeline.demo import jobs
from pipeline.demo.world import FAMILIES, SCOPES, Bookings, Work, World, stream

SEEDS = range(30, 42)


@pytest.fixture(scope="module")
def many():
    """Twelve shops' jobs, four years each."""
    return [job for seed in SEEDS for job in jobs.arrivals(seed, World())]


def in_time(all_jobs):
    return [job for job in all_jobs if job.asked >= 0]


def test_the_rate_over_a_year_is_the_stated_one(world):
    # Over 48 months the season cancels out; the trend is nil.
    mean = sum(jobs.booking_rate(world, day) for day in range(world.n_days)) / 4
    assert abs(mean - 60) < 0.1


def test_the_season_peaks_on_the_stated_day(world):
    year = [jobs.booking_rate(world, day) for day in range(365)]
    peak = world.on(int(np.argmax(year)))
    assert (peak.month, peak.day) in [(12, day) for day in range(1, 5)]
    assert max(year) / min(year) == pytest.approx(1.18 / 0.82, rel=1e-3)


def test_a_trend_raises_the_rate_year_by_year():
    world = World(bookings=Bookings(trend_share=0.2))
    year = [sum(jobs.booking_rate(world, 365 * y + day) for day in range(365)) for y in range(4)]
    assert [b / a for a, b in zip(year, year[1:], strict=False)] == pytest.approx([1.2] * 3, rel=0.01)


def test_as_many_jobs_come_as_the_world_says(many):
    accepted = sum(job.accepted for job in in_time(many))
    expected = 60 * 4 * len(SEEDS)
    assert abs(accepted - expected) < 4 * np.sqrt(expected)


def test_customers_accept_as_often_as_the_world_says(many, world):
    asked = in_time(many)
    share = np.mean([job.accepted for job in asked])
    assert abs(share - world.bookings.accept_share) < 4 * np.sqrt(0.74 * 0.26 / len(asked))


def test_families_and_scopes_come_in_the_stated_shares(many, world):
    asked = in_time(many)
    families = Counter(job.family for job in asked)
    for family, share in zip(FAMILIES, world.bookings.family_shares, strict=True):
        assert abs(families[family] / len(asked) - share) < 4 * np.sqrt(share * (1 - share) / len(asked))
    modern = [job for job in asked if job.family == "modern"]
    assert abs(np.mean([job.scope == "fix_only" for job in modern]) - 0.6) < 4 * np.sqrt(0.24 / len(modern))


@pytest.mark.parametrize("s", range(3))
def test_work_is_planned_as_far_ahead_as_the_world_says(many, world, s):
    wait = np.array([job.planned - job.answered for job in many if job.scope == SCOPES[s] and job.asked >= 0])
    mean, shape = world.bookings.start_mean_days[s], world.bookings.start_shape[s]
    # The gamma is cut to whole days and one is added: half a day more on average.
    assert abs(wait.mean() - mean - 0.5) < 4 * mean / np.sqrt(shape * len(wait))
    assert wait.min() >= 1


def test_a_job_is_asked_for_answered_and_planned_in_this_order(many):
    assert all(job.asked <= job.answered < job.planned for job in many)


def test_only_accepted_jobs_still_to_do_reach_back_before_the_records(many):
    early = [job for job in many if job.asked < 0]
    assert early
    assert all(job.accepted and job.planned >= 0 and job.asked >= -jobs.LEAD_IN_DAYS for job in early)


def test_numbers_follow_the_order_of_asking(world):
    asked = jobs.arrivals(30, world)
    assert [job.asked for job in asked] == sorted(job.asked for job in asked)
    for year in (22, 23, 24, 25, 26):
        mine = [job.job for job in asked if job.job.startswith(f"W{year}-")]
        assert mine == [f"W{year}-{n:03d}" for n in range(1, len(mine) + 1)]


def test_hours_have_the_stated_mean():
    world = World()
    rng = stream(1, "job")
    for f, family in enumerate(FAMILIES):
        for s in range(3):
            seen = np.array(
                [jobs.draw_hours(rng, world, family, s, float(rng.normal())) for _ in range(1500)]
            )
            assert abs(seen.mean() - world.work.mean_hours[f][s]) < 4.5 * seen.std() / np.sqrt(1500)


def test_hours_are_quarters_and_never_under_one(many):
    hours = np.array([job.hours for job in many])
    assert (hours * 4 == np.round(hours * 4)).all()
    assert hours.min() >= 1


def test_hours_per_scope_are_as_the_trade_has_them(many):
    # Clean and refresh 10 to 20 hours, everything stripped 50 to 100: one forum page, so a plausibility only.
    by_scope = {scope: [job.hours for job in many if job.scope == scope] for scope in SCOPES}
    assert 10 <= np.median(by_scope["refresh"]) <= 20
    assert 50 <= np.median(by_scope["thorough"]) <= 100
    assert 3 <= np.median(by_scope["fix_only"]) <= 9


def test_rough_machines_take_longer(many):
    thorough = [job for job in many if job.scope == "thorough"]
    log_hours = np.log([job.hours for job in thorough])
    rough = np.array([job.roughness for job in thorough])
    assert np.corrcoef(log_hours, rough)[0, 1] > 0.2
    flat = World(work=Work(hours_roughness=0.0))
    same = jobs.draw_hours(stream(1, "job"), flat, "modern", 2, 0.0)
    assert same == jobs.draw_hours(stream(1, "job"), flat, "modern", 2, 3.0)


def test_some_machines_come_back_in_another_year(many, world):
    machines = Counter(job.machine.machine for job in jobs.arrivals(31, world))
    assert 1 < max(machines.values()) < 10
    share = 1 - len(machines) / sum(machines.values())
    assert 0.08 < share < 0.25


def test_customers_may_bring_several_machines_at_once(world):
    bursty = replace(world, bookings=Bookings(burst_jobs=3.0))
    alone = Counter(job.asked for job in jobs.arrivals(32, world))
    together = [Counter(job.asked for job in jobs.arrivals(seed, bursty)) for seed in SEEDS]
    assert max(alone.values()) <= 4
    assert np.mean([max(days.values()) for days in together]) > 5
    # As many jobs all the same, only less evenly.
    total = sum(sum(days.values()) for days in together) / len(together)
    assert 0.75 < total / (60 * 4 / 0.74) < 1.25


def test_one_job_does_not_change_with_what_others_draw(world):
    one, two = (
        jobs.arrivals(33, world),
        jobs.arrivals(33, replace(world, lives=replace(world.lives, life_factor=2.0))),
    )
    assert [(j.hours, j.needs) for j in one] == [(j.hours, j.needs) for j in two]
