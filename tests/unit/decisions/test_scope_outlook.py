"""Expected failures over the belief about lives and use: horizons, clocks, settings."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions.scope_outlook import LOG_USE_SD, N_DRAWS, Outlook
from pipeline.kernels.renewal_function import weibull_renewals
from pipeline.kernels.weibull_posterior import weibull_posterior
from pipeline.models.life_table import KEYS
from pipeline.models.lives import Lives
from pipeline.models.lives_watched import MONTH_DAYS

CLASSES = ("coil", "sleeve")


@dataclasses.dataclass(frozen=True)
class Plays:
    plays_per_month_home: float = 100.0
    plays_per_month_route: float = 1000.0


def _lives(medians=None, spread=1e-3):
    """Lives known almost exactly: median by (class, new or kept, clock), shape 1.5."""
    rows = [
        (name, was, judged, clock)
        for name in CLASSES
        for was, judged in (("new", ""), ("kept", "unjudged"))
        for clock in ("plays", "months")
    ]
    given = medians or {}

    def known(part_was):
        wanted = [row for row in rows if row[1] == part_was]
        median = [given.get((name, was, clock), 5000.0 if clock == "plays" else 50.0) for name, was, _, clock in wanted]
        prior = np.stack([median, *np.broadcast_arrays(spread, 1.5, spread, median)[:3]], axis=1)
        return weibull_posterior(np.zeros(0), np.zeros(0, bool), prior)

    return Lives(pd.DataFrame(rows, columns=KEYS), known("new"), known("kept"), np.zeros((1, 4)), 0)


def _outlook(lives=None, seed=1):
    return Outlook(lives or _lives(), Plays(), np.random.default_rng(seed))


def test_classes_are_in_alphabetical_order():
    assert _outlook().classes == ["coil", "sleeve"]


def test_shape_is_draws_by_classes():
    found = _outlook().failures(0.0, True, 90.0)
    for values in (found.kept, found.new, found.kept_survival, found.new_survival):
        assert values.shape == (N_DRAWS, len(CLASSES))


def test_on_the_months_clock_use_does_not_matter():
    found = _outlook().failures(0.5, False, 365.25)
    scale = 50.0 / np.log(2) ** (1 / 1.5)
    assert_allclose(found.new, weibull_renewals(12.0, scale, 1.5), rtol=0.02)


def test_on_the_plays_clock_the_mean_use_is_the_shops_figure():
    outlook = _outlook()
    assert_allclose(outlook._use.mean(), 1.0, atol=0.12)
    assert_allclose(np.log(outlook._use).std(), LOG_USE_SD, atol=0.08)


def test_a_machine_on_route_wears_faster():
    outlook = _outlook()
    home, mixed, route = (outlook.failures(share, True, 180.0).kept.mean() for share in (0.0, 0.5, 1.0))
    assert home < mixed < route


def test_a_mixture_is_the_two_settings_in_their_shares():
    outlook = _outlook()
    home, route = (outlook.failures(share, True, 180.0).kept[:, 0] for share in (0.0, 1.0))
    mixed = outlook.failures(0.25, True, 180.0).kept[:, 0]
    on_route = np.isclose(mixed, route)
    assert_allclose(on_route.mean(), 0.25, atol=1 / N_DRAWS)
    assert_allclose(mixed[~on_route], home[~on_route])


def test_a_setting_nobody_knows_is_taken_as_at_home():
    outlook = _outlook()
    unknown, home = (outlook.failures(share, True, 90.0) for share in (np.nan, 0.0))
    assert_allclose(unknown.kept, home.kept)


def test_longer_horizons_bring_more_failures():
    outlook = _outlook()
    days = [30.0, 90.0, 365.0, 1826.0]
    expected = [outlook.failures(0.0, True, each).kept.mean() for each in days]
    assert (np.diff(expected) > 0).all()


def test_no_horizon_no_failures():
    found = _outlook().failures(0.0, True, 0.0)
    assert_allclose(found.kept, 0, atol=1e-12)
    assert_allclose(found.kept_survival, 1)


def test_a_kept_piece_fails_by_its_own_life_and_its_replacement_by_the_new_one():
    lives = _lives({("sleeve", "kept", "months"): 5.0, ("sleeve", "new", "months"): 1e6})
    found = _outlook(lives).failures(0.0, False, 60 * MONTH_DAYS)
    sleeve = CLASSES.index("sleeve")
    # sooner or later it fails once, and what replaces it does not
    assert_allclose(found.kept[:, sleeve], 1.0, atol=1e-3)
    assert_allclose(found.new[:, sleeve], 0.0, atol=1e-3)


def test_first_failure_and_survival_agree_where_failures_are_rare():
    found = _outlook().failures(0.0, True, 30.0)
    assert_allclose(found.kept, 1 - found.kept_survival, rtol=0.05)


def test_survival_is_a_share():
    found = _outlook().failures(1.0, True, 1826.0)
    for values in (found.kept_survival, found.new_survival):
        assert ((values >= 0) & (values <= 1)).all()


def test_five_years_are_reckoned_to_a_ten_thousandth():
    # the few steps used here against many: mean lives down to a tenth of the horizon
    scale = np.array([0.1, 0.3, 1.0, 3.0])
    few, many = (weibull_renewals(1.0, scale, 1.8, steps=steps) for steps in (12, 512))
    assert_allclose(few[1:], many[1:], atol=1e-4)
    assert_allclose(few[0], many[0], rtol=0.01)


def test_an_answer_is_reckoned_once():
    outlook = _outlook()
    assert outlook.failures(0.3, True, 90.0) is outlook.failures(0.3, True, 90.0)
    # on the months clock the setting makes no difference
    assert outlook.failures(0.3, False, 90.0) is outlook.failures(0.9, False, 90.0)


def test_the_same_generator_gives_the_same_draws():
    first, second = (_outlook(seed=7).failures(0.4, True, 90.0).kept for _ in range(2))
    assert_allclose(first, second)


@pytest.mark.parametrize("spread", [0.05, 0.6])
def test_uncertain_lives_spread_the_answers(spread):
    narrow = _outlook(_lives(spread=1e-3)).failures(0.0, False, 365.25).kept[:, 0]
    wide = _outlook(_lives(spread=spread)).failures(0.0, False, 365.25).kept[:, 0]
    assert wide.std() > 3 * narrow.std()
