"""Lives from delivery are the stated Weibulls; call-backs come from them and from what needs no part."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from pipeline.demo import catalogue, lives, use
from pipeline.demo.owner import true_median
from pipeline.demo.world import SCOPES, World

MONTH = 30.44


def job(scope="fix_only", plays_per_month=70.0, index=0, family="dotmatrix", needs=()):
    machine = SimpleNamespace(plays_per_month=plays_per_month)
    return SimpleNamespace(
        scope=scope, machine=machine, index=index, family=family, needs=list(needs), delivered=0
    )


def life_days(world, name, was, scope, plays_per_month=70.0, n=40000):
    wear = np.full(n, catalogue.WEAR_CLASSES.index(name))
    rng = np.random.default_rng(8)
    return lives.life_days(rng, world, wear, was, job(scope, plays_per_month))


@pytest.mark.parametrize("name", catalogue.WEAR_CLASSES)
def test_a_new_piece_lives_the_stated_weibull(name, world):
    clock, shape, new, _ = lives.CLASS_LIVES[name]
    days = life_days(world, name, "new", "thorough") / MONTH * (70.0 if clock == "plays" else 1.0)
    # Weibull: half are gone at scale * log(2)^(1/shape), 63.2 % at the scale itself (1 - 1/e).
    assert np.mean(days < new * np.log(2) ** (1 / shape)) == pytest.approx(0.5, abs=0.012)
    assert np.mean(days < new) == pytest.approx(1 - np.exp(-1), abs=0.012)


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("name", ["switch", "display"])
def test_a_kept_piece_is_worn_as_often_as_its_scope_says(name, scope, world):
    shape, good, worn = lives.scales(world, name, "kept")
    share = world.lives.worn_share[SCOPES.index(scope)]
    per_month = 70.0 if lives.CLASS_LIVES[name][0] == "plays" else 1.0
    clock = life_days(world, name, "kept", scope) / MONTH * per_month
    for at in (0.5 * worn, worn, good):
        gone = share * (1 - np.exp(-((at / worn) ** shape))) + (1 - share) * (
            1 - np.exp(-((at / good) ** shape))
        )
        assert np.mean(clock < at) == pytest.approx(gone, abs=0.012)


def test_the_median_of_kept_pieces_is_the_mixtures(world):
    per_month = 70.0
    clock = life_days(world, "sleeve", "kept", "fix_only") / MONTH * per_month
    assert np.median(clock) == pytest.approx(true_median(world, "sleeve", "kept"), rel=0.03)
    assert true_median(world, "sleeve", "new") == pytest.approx(240_000 * np.log(2) ** 0.5, rel=1e-6)


def test_more_play_means_a_shorter_life_only_on_the_play_clock(world):
    for name, ratio in (("sleeve", 10.0), ("display", 1.0)):
        slow, fast = (life_days(world, name, "new", "thorough", plays) for plays in (50.0, 500.0))
        np.testing.assert_allclose(slow / fast, ratio)


def test_a_longer_lived_world_has_longer_lives(world):
    longer = replace(world, lives=replace(world.lives, life_factor=3.0))
    ratio = life_days(longer, "coil", "kept", "refresh") / life_days(world, "coil", "kept", "refresh")
    np.testing.assert_allclose(ratio, 3.0)


@pytest.mark.parametrize("name", catalogue.WEAR_CLASSES)
def test_new_outlives_kept_and_good_outlives_worn(name, world):
    shape, new, also_new = lives.scales(world, name, "new")
    _, good, worn = lives.scales(world, name, "kept")
    assert new == also_new > good > worn > 0
    assert 0.5 < shape < 3


def calls_of(world, scope, n=500, watch=180):
    found = []
    for index in range(n):
        one = job(scope, index=index)
        fit = use.fitted(5, world, one.family)
        share = fit.share[:, SCOPES.index(scope)]
        one.needs = [(int(i), int(fit.pieces[i]), "policy") for i in np.flatnonzero(share > 0.5)]
        found.append(lives.call_backs(5, world, one, watch))
    return found


@pytest.fixture(scope="module")
def by_scope():
    return {scope: calls_of(World(), scope) for scope in SCOPES}


def test_calls_come_within_the_watch_and_in_order(by_scope):
    for calls in by_scope.values():
        for one in calls:
            days = [call.reported for call in one]
            assert days == sorted(days)
            assert all(0 <= day < 180 for day in days)


def test_small_jobs_come_back_more_often_than_thorough_ones(by_scope):
    # About one in four small jobs and one in ten thorough ones; common practice, no source.
    share = {scope: np.mean([bool(one) for one in calls]) for scope, calls in by_scope.items()}
    assert 0.15 < share["fix_only"] < 0.35
    assert 0.04 < share["thorough"] < 0.17
    assert share["thorough"] < share["refresh"] < share["fix_only"]


def test_opening_more_causes_more_calls_without_a_part(world):
    means = world.lives.other_calls
    assert means[0] < means[1] < means[2]


def test_calls_without_a_part_come_as_often_as_stated(world):
    loud = replace(world, lives=replace(world.lives, other_calls=(2.0, 2.0, 2.0)))
    calls = [call for one in calls_of(loud, "thorough", 200, 10_000) for call in one if call.fitting is None]
    assert abs(len(calls) / 200 - 2.0) < 4 * np.sqrt(2.0 / 200)
    days = np.array([call.reported for call in calls])
    assert days.mean() == pytest.approx(42.0 - 0.5, abs=4 * 42 / np.sqrt(len(days)))
    assert {call.cause for call in calls} == set(lives.OTHER_CAUSES)


def test_a_call_names_its_piece_or_none(by_scope):
    for call in (call for calls in by_scope.values() for one in calls for call in one):
        assert (call.fitting is None) == (call.part_was == "")
        assert call.part_was in ("", "new", "kept")
        assert call.hours >= 0.25
        assert call.hours * 4 == round(call.hours * 4)
        assert 2 <= call.visit_days <= 11


def test_pieces_that_live_for_ever_never_call(world):
    eternal = replace(world, lives=replace(world.lives, life_factor=1e9, other_calls=(0.0, 0.0, 0.0)))
    assert all(not one for one in calls_of(eternal, "fix_only", 40))


def test_a_piece_put_in_at_a_call_can_fail_again(world):
    frail = replace(world, lives=replace(world.lives, life_factor=0.001))
    one = job("fix_only")
    calls = [call for call in lives.call_backs(5, frail, one, 400) if call.fitting is not None]
    again = [call for call in calls if call.part_was == "new"]
    assert again  # nothing was fitted by the job, so what fails as new was put in at a call
    assert min(call.reported for call in again) >= 5
