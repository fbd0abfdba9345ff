"""Expected failures over the belief about lives and use: horizons, clocks, settings."""

import dataclasses
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions.scope_outlook import KEPT, KIND, KINDS, LOG_USE_SD, N_DRAWS, NEW, TREATED, Outlook
from pipeline.kernels.renewal_function import weibull_renewals
from pipeline.kernels.weibull_posterior import weibull_posterior
from pipeline.models.life_table import KEYS
from pipeline.models.lives import Lives
from pipeline.models.lives_watched import MONTH_DAYS

CLASSES = ("coil", "sleeve")
EFFECTS = (0.0, 0.2, 0.5, -0.6)  # on the logarithm of life, in the order of `judgement.JUDGED`


@dataclasses.dataclass(frozen=True)
class Plays:
    plays_per_month_home: float = 100.0
    plays_per_month_route: float = 1000.0


def _lives(medians=None, spread=1e-3, plays_share=1.0):
    """Lives known almost exactly: median by (class, new or kept, clock), shape 1.5; and what ages the classes."""
    rows = [
        (name, was, judged, clock)
        for name in CLASSES
        for was, judged in (("new", ""), *(("kept", state) for state in KEPT))
        for clock in ("plays", "months")
    ]
    given = medians or {}

    def known(part_was):
        wanted = [row for row in rows if row[1:3] in (("new", ""), ("kept", "unjudged")) and row[1] == part_was]
        median = [given.get((name, was, clock), 5000.0 if clock == "plays" else 50.0) for name, was, _, clock in wanted]
        prior = np.stack([median, *np.broadcast_arrays(spread, 1.5, spread, median)[:3]], axis=1)
        return weibull_posterior(np.zeros(0), np.zeros(0, bool), prior)

    table = pd.DataFrame(rows, columns=KEYS).assign(plays_share=plays_share)
    return Lives(table, known("new"), known("kept"), np.array([EFFECTS]), 0)


def _outlook(lives=None, seed=1):
    return Outlook(lives or _lives(), Plays(), np.random.default_rng(seed))


def _failures(outlook, route_share, is_clock_plays, horizon_days):
    """Failures of a new and of an unjudged kept piece of every class, each of shape (n_draws, n_classes)."""
    new, kept = (
        outlook.failures(route_share, is_clock_plays, horizon_days, [KIND[kind]] * len(CLASSES), range(len(CLASSES)))
        for kind in ((NEW, ""), ("unjudged", ""))
    )
    return SimpleNamespace(
        new=new.expected, kept=kept.expected, new_survival=new.survival, kept_survival=kept.survival,
        new_gained=new.life_gained, kept_gained=kept.life_gained)


def test_classes_are_in_alphabetical_order():
    assert _outlook().classes == ["coil", "sleeve"]


def test_shape_is_draws_by_classes():
    found = _failures(_outlook(), 0.0, True, 90.0)
    for values in (found.kept, found.new, found.kept_survival, found.new_survival):
        assert values.shape == (N_DRAWS, len(CLASSES))


def test_on_the_months_clock_use_does_not_matter():
    found = _failures(_outlook(), np.nan, False, 365.25)
    scale = 50.0 / np.log(2) ** (1 / 1.5)
    assert_allclose(found.new, weibull_renewals(12.0, scale, 1.5), rtol=0.02)


def test_on_the_plays_clock_the_mean_use_is_the_shops_figure():
    outlook = _outlook()
    assert_allclose(outlook._use.mean(), 1.0, atol=0.12)
    assert_allclose(np.log(outlook._use).std(), LOG_USE_SD, atol=0.08)


@pytest.mark.parametrize("route_share", [0.0, 0.5, 1.0])
def test_a_class_that_ages_by_the_calendar_does_not_care_how_its_machine_is_played(route_share):
    outlook = _outlook(_lives(plays_share=0.0))
    with_counter, without = (_failures(outlook, route_share, known, 365.25) for known in (True, False))
    assert_allclose(with_counter.kept, without.kept)
    assert_allclose(with_counter.new, weibull_renewals(12.0, 50.0 / np.log(2) ** (1 / 1.5), 1.5), rtol=0.02)


@pytest.mark.parametrize(("route_share", "per_month"), [(0.0, 100.0), (1.0, 1000.0)])
def test_a_class_that_ages_by_plays_lives_its_plays_over_the_machine_s_a_month(route_share, per_month):
    outlook = _outlook()
    scale, shape, new_scale, _ = outlook.lives(route_share, True, [KIND["unjudged", ""]], [0])
    months = 5000.0 / np.log(2) ** (1 / 1.5) / (per_month * outlook._use[:, None])
    assert_allclose(scale, months, rtol=0.01)
    assert_allclose(new_scale, months, rtol=0.01)
    assert_allclose(shape, 1.5, rtol=0.01)
    assert_allclose(outlook.time(365.25), 12.0)


def test_a_clock_in_doubt_is_each_in_its_share_of_the_draws():
    found, plays, months = (
        _failures(_outlook(_lives(plays_share=share)), 1.0, True, 365.25).kept for share in (0.25, 1.0, 0.0))
    is_by_plays = np.isclose(found, plays, rtol=0.05)
    assert_allclose(is_by_plays.mean(axis=0), 0.25, atol=1 / N_DRAWS)
    assert_allclose(found[~is_by_plays], months[~is_by_plays], rtol=0.05)
    # the two classes draw each their own clock
    assert 0 < (is_by_plays[:, 0] != is_by_plays[:, 1]).mean() < 0.5


def test_without_plays_a_month_a_life_is_told_in_months():
    class Unplayed:
        plays_per_month_home = plays_per_month_route = 0.0

    outlook = Outlook(_lives(), Unplayed(), np.random.default_rng(1))
    assert_allclose(_failures(outlook, 1.0, True, 90.0).kept, _failures(outlook, 1.0, False, 90.0).kept)


def test_a_machine_on_route_wears_faster():
    outlook = _outlook()
    home, mixed, route = (_failures(outlook, share, True, 180.0).kept.mean() for share in (0.0, 0.5, 1.0))
    assert home < mixed < route


def test_a_mixture_is_the_two_settings_in_their_shares():
    outlook = _outlook()
    home, route = (_failures(outlook, share, True, 180.0).kept[:, 0] for share in (0.0, 1.0))
    mixed = _failures(outlook, 0.25, True, 180.0).kept[:, 0]
    on_route = np.isclose(mixed, route)
    assert_allclose(on_route.mean(), 0.25, atol=1 / N_DRAWS)
    assert_allclose(mixed[~on_route], home[~on_route])


def test_a_setting_nobody_knows_is_taken_as_at_home():
    outlook = _outlook()
    unknown, home = (_failures(outlook, share, True, 90.0) for share in (np.nan, 0.0))
    assert_allclose(unknown.kept, home.kept)


def test_longer_horizons_bring_more_failures():
    outlook = _outlook()
    days = [30.0, 90.0, 365.0, 1826.0]
    expected = [_failures(outlook, 0.0, True, each).kept.mean() for each in days]
    assert (np.diff(expected) > 0).all()


def test_no_horizon_no_failures():
    found = _failures(_outlook(), 0.0, True, 0.0)
    assert_allclose(found.kept, 0, atol=1e-12)
    assert_allclose(found.kept_survival, 1)


def test_a_kept_piece_fails_by_its_own_life_and_its_replacement_by_the_new_one():
    lives = _lives({("sleeve", "kept", "months"): 5.0, ("sleeve", "new", "months"): 1e6})
    found = _failures(_outlook(lives), np.nan, False, 60 * MONTH_DAYS)
    sleeve = CLASSES.index("sleeve")
    # sooner or later it fails once, and what replaces it does not
    assert_allclose(found.kept[:, sleeve], 1.0, atol=1e-3)
    assert_allclose(found.new[:, sleeve], 0.0, atol=1e-3)


def test_first_failure_and_survival_agree_where_failures_are_rare():
    found = _failures(_outlook(), 0.0, True, 30.0)
    assert_allclose(found.kept, 1 - found.kept_survival, rtol=0.05)


def test_survival_is_a_share():
    found = _failures(_outlook(), 1.0, True, 1826.0)
    for values in (found.kept_survival, found.new_survival):
        assert ((values >= 0) & (values <= 1)).all()


def test_five_years_are_reckoned_to_a_ten_thousandth():
    # the few steps used here against many: mean lives down to a tenth of the horizon
    scale = np.array([0.1, 0.3, 1.0, 3.0])
    few, many = (weibull_renewals(1.0, scale, 1.8, steps=steps) for steps in (12, 512))
    assert_allclose(few[1:], many[1:], atol=1e-4)
    assert_allclose(few[0], many[0], rtol=0.01)


def test_an_answer_is_reckoned_once():
    outlook, asked = _outlook(), ([KIND[NEW, ""], KIND["good", ""]], [0, 1])
    assert outlook.failures(0.3, True, 90.0, *asked) is outlook.failures(0.3, True, 90.0, *asked)
    unknown = np.nan, False
    assert outlook.failures(*unknown, 90.0, *asked) is outlook.failures(*unknown, 90.0, *asked)
    assert outlook.failures(*unknown, 90.0, *asked) is not outlook.failures(*unknown, 91.0, *asked)


def test_without_a_counter_a_machine_is_played_as_others_of_its_setting():
    outlook = _outlook(_lives(plays_share=1.0))
    with_counter, without = (_failures(outlook, 1.0, known, 365.25) for known in (True, False))
    assert_allclose(with_counter.kept, without.kept)


def test_what_is_worn_fails_before_what_nobody_judged_and_that_before_what_was_found_good():
    kinds = [KIND[state, ""] for state in KEPT]
    found = _outlook().failures(0.0, False, 365.25, kinds, [0] * len(KEPT))
    assert (np.diff(found.expected, axis=1) < 0).all()
    assert (np.diff(found.survival, axis=1) > 0).all()


@pytest.mark.parametrize("state", KEPT)
@pytest.mark.parametrize("action", TREATED)
def test_a_treated_piece_s_life_lies_between_its_like_s_and_a_new_one_s(state, action):
    # logarithms of life: the like's, moved by the treatment's step towards the new one's
    outlook = _outlook(_lives({("coil", "new", "months"): 400.0}))
    scale, shape, new_scale, _ = outlook.lives(0.0, False, [KIND[state, ""], KIND[state, action]], [0, 0])
    step = TREATED[action]
    assert_allclose(scale[:, 1], scale[:, 0] ** (1 - step) * new_scale[:, 0] ** step)
    assert_allclose(shape[:, 1], 1.5, rtol=0.01)


def test_kinds_are_new_kept_in_each_state_and_each_of_these_treated():
    assert len(KINDS) == 1 + len(KEPT) * (1 + len(TREATED))
    assert [KINDS[place] for place in KIND.values()] == list(KIND)


def test_a_new_piece_gains_no_life_on_itself_and_an_old_one_some():
    found = _failures(_outlook(_lives({("coil", "kept", "months"): 20.0})), np.nan, False, 365.25)
    assert_allclose(found.new_gained, 0.0, atol=1e-12)
    assert (found.kept_gained[:, CLASSES.index("coil")] > 0).all()


def test_the_same_generator_gives_the_same_draws():
    first, second = (_failures(_outlook(seed=7), 0.4, True, 90.0).kept for _ in range(2))
    assert_allclose(first, second)


@pytest.mark.parametrize("spread", [0.05, 0.6])
def test_uncertain_lives_spread_the_answers(spread):
    narrow = _failures(_outlook(_lives(spread=1e-3)), np.nan, False, 365.25).kept[:, 0]
    wide = _failures(_outlook(_lives(spread=spread)), np.nan, False, 365.25).kept[:, 0]
    assert wide.std() > 3 * narrow.std()
