"""What ages a wear class, plays or the calendar: told by the shop's calls, and by the guess where there are none."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.special import logit
from scipy.stats import norm

from pipeline.models import life_clock, life_guesses, lives, lives_watched, seeds
from tests.support import hand_shop

STEPS = np.linspace(-6, 6, 301)  # of a standard normal: the rule of trapezes is as good as exact
PLAYS = {"home": 60, "route": 600}
HEAD = "job family scope booked_on delivered_on status setting plays_quality"
WEAR = "wear_class median_plays_kept median_plays_new median_months_kept median_months_new shape weight_jobs"


def _shop(clock, n_jobs=60, median=9.0, seed=2):
    """Sleeves kept at home and on route, failing by a median in months, or in plays as of a machine played 180 a month.

    Nothing of the guesses tells the clocks apart: they are equal at 180 plays a month, between the settings.
    """
    rng = np.random.default_rng(seed)
    jobs, used, calls = [HEAD], ["job part qty_pcs"], ["job reported_on part part_was"]
    for n in range(n_jobs):
        setting = ("home", "route")[n % 2]
        jobs.append(f"G{n} ss fix_only 2025-01-01 2025-03-01 delivered {setting} read")
        used.append(f"G{n} knob 1")
        per_month = 1.0 if clock == "months" else PLAYS[setting] / 180
        months = median * (rng.exponential(1, 6) / np.log(2)) ** (1 / 1.6) / per_month
        days = np.ceil(months * lives_watched.MONTH_DAYS)
        calls += [f"G{n} {np.datetime64('2025-03-01') + int(day)} sleeve kept" for day in days[days < 180]]
    return {
        "shop": "key value\ntoday 2026-07-01\ncallback_watch_days 180\n"
        + "\n".join(f"plays_per_month_{setting} {plays}" for setting, plays in PLAYS.items()),
        "families": "family name\nss Solid-state",
        "parts": "part description wear_class\nsleeve Sleeve sleeve\nknob Knob -",
        "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3",
        "family_assemblies": "family assembly count\nss flip 3",
        "assembly_parts": "assembly part qty_pcs\nflip sleeve 2",
        "wear": f"{WEAR}\nsleeve 1800 3600 10 20 1.6 1",
        "jobs": "\n".join(jobs),
        "job_parts": "\n".join(used),
        "callbacks": "\n".join(calls),
    }


def _share(tables, wear_class="sleeve"):
    with hand_shop.store(**tables) as connection:
        found = lives.fit(connection).table.groupby("wear_class")["plays_share"].unique()
    assert (found.str.len() == 1).all()
    return found[wear_class][0]


def _prior(wear_class):
    return seeds.wear().set_index("wear_class").loc[wear_class, "plays_share"]


@pytest.mark.parametrize("seed", range(3))
def test_the_clock_by_which_pieces_failed_is_found(seed):
    assert _share(_shop("months", seed=seed)) < 0.02
    assert _share(_shop("plays", seed=seed)) > 0.98


def test_of_two_classes_each_has_its_own():
    by_months, by_plays = _shop("months", seed=5), _shop("plays", seed=6)
    tables = {
        **by_months,
        "parts": "part description wear_class\nsleeve Sleeve ring\ncoil Coil sleeve\nknob Knob -",
        "assembly_parts": "assembly part qty_pcs\nflip sleeve 2\nflip coil 2",
        "wear": by_months["wear"] + "\nring 1800 3600 10 20 1.6 1",
        "callbacks": by_months["callbacks"] + "\n"
        + "\n".join(by_plays["callbacks"].replace("sleeve", "coil").splitlines()[1:]),
    }
    assert _share(tables, "ring") < 0.05
    assert _share(tables, "sleeve") > 0.95


def test_where_nothing_was_watched_the_guess_stands():
    tables = {**_shop("plays"), "callbacks": "job reported_on part part_was"}
    assert_allclose(_share(tables), _prior("sleeve"), atol=1e-3)


def test_without_failures_of_a_class_a_few_quiet_machines_leave_the_guess_where_it_was():
    tables = {**_shop("plays", n_jobs=4), "wear": f"{WEAR}\nsleeve 180000 360000 1000 2000 1.6 1",
              "callbacks": "job reported_on part part_was\nG0 2025-03-20 knob kept"}  # fmt: skip
    assert_allclose(_share(tables), _prior("sleeve"), atol=0.01)


def test_machines_whose_plays_are_not_known_do_not_tell():
    tables = _shop("months")
    tables["jobs"] = tables["jobs"].replace("read", "unknown")
    assert_allclose(_share(tables), _prior("sleeve"), atol=1e-3)


def test_where_all_machines_are_played_alike_and_the_guesses_agree_nothing_tells():
    # one clock is then the other in another unit: what is left is the unit, and it must not count
    tables = _shop("months")
    tables["jobs"] = tables["jobs"].replace("home", "route")
    tables["wear"] = f"{WEAR}\nsleeve 6000 12000 10 20 1.6 1"
    assert_allclose(logit(_share(tables)), logit(_prior("sleeve")), atol=0.02)


def test_the_bayes_factor_is_that_of_both_likelihoods_integrated_over_their_guesses():
    days, is_failed = np.array([50.0, 120.0, 90.0, 180.0, 180.0]), np.array([1, 1, 1, 0, 0], dtype=bool)
    per_month = np.array([60.0, 600.0, 600.0, 60.0, 600.0])
    months = days / lives_watched.MONTH_DAYS
    guesses = pd.DataFrame({
        "wear_class": "coil", "part_was": "kept", "clock": ["plays", "months"], "median": [1800.0, 9.0], "shape": 1.6,
        "log_median_sd": 0.7, "log_shape_sd": 0.25, "plays_share": 0.4})  # fmt: skip
    told = pd.DataFrame({
        "part_was": "kept", "group": np.repeat([0, 1], 5), "kind": 0, "pieces": 1.0,
        "time": np.concatenate([months * per_month, months]), "is_failed": np.tile(is_failed, 2)})  # fmt: skip
    found = lives._plays_share(guesses, guesses.assign(part_was="new"), told, np.zeros(4))["coil"]

    def evidence(unit, median):
        """Density of the failures per month; a month is ``unit`` of the clock."""
        log_median, log_shape = np.log(median) + 0.7 * STEPS[:, None, None], np.log(1.6) + 0.25 * STEPS[:, None]
        shape, time = np.exp(log_shape), months * unit
        scale = np.exp(log_median) / np.log(2) ** (1 / shape)
        log_hazard = np.log(shape / scale * (time / scale) ** (shape - 1) * unit)
        likelihood = np.exp(log_hazard[..., is_failed].sum(axis=-1) - ((time / scale) ** shape).sum(axis=-1))
        prior = norm.pdf(STEPS)
        return prior @ likelihood @ prior

    odds = 0.4 / 0.6 * evidence(per_month, 1800.0) / evidence(np.ones(5), 9.0)
    assert_allclose(found / (1 - found), odds, rtol=0.01)


def test_a_seed_table_without_the_column_has_no_idea(monkeypatch):
    table = seeds.wear()
    monkeypatch.setattr(seeds, "wear", lambda: table.drop(columns="plays_share"))
    with hand_shop.store(**_shop("plays")) as connection:
        assert set(life_guesses.guesses(connection)["plays_share"]) == {0.5}


def test_every_seed_leaves_both_clocks_a_chance():
    assert seeds.wear()["plays_share"].between(0.1, 0.9).all()


@pytest.mark.parametrize("n_draws", [1, 7, 160])
def test_clocks_are_drawn_evenly_and_apart(n_draws):
    share = np.array([0.0, 0.1, 0.5, 0.9, 1.0])
    found = life_clock.even_draws(np.random.default_rng(1), share, n_draws)
    assert found.shape == (5, n_draws) and found.dtype == bool
    assert (np.abs(found.sum(axis=1) - share * n_draws) < 1).all()
    assert not found[0].any() and found[-1].all()


def test_clocks_of_two_classes_are_drawn_independently():
    found = life_clock.even_draws(np.random.default_rng(2), [0.5, 0.5], 4000)
    assert abs(np.corrcoef(found)[0, 1]) < 0.06


def test_clock_draws_are_of_the_classes_sorted():
    tables = _shop("plays", n_jobs=8)
    with hand_shop.store(**tables) as connection:
        fitted = lives.fit(connection)
    share = fitted.table.groupby("wear_class")["plays_share"].first()
    found = fitted.clock_draws(np.random.default_rng(1), 500)
    assert list(share.index) == ["other", "sleeve"]
    assert_allclose(found.mean(axis=1), share, atol=1 / 500)
