"""Effects common to all groups: exact against quadrature, found in simulated lives, free of what the groups are."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.shared_effects import shared_effects
from pipeline.kernels.weibull_posterior import weibull_posterior

ONE = [[0.0, 0.0], [0.3, 0.6]]


def _lives(rng, n_pieces, medians, shape, effect, end):
    """Groups of two kinds watched to ``end``; (time, is_failed, group, kind)."""
    group, kind = (a.ravel() for a in np.meshgrid(range(len(medians)), [0, 1], indexing="ij"))
    group, kind = np.repeat(group, n_pieces), np.repeat(kind, n_pieces)
    life = np.asarray(medians)[group] * np.exp(np.asarray(effect)[kind])
    life = life * (rng.exponential(1, group.size) / np.log(2)) ** (1 / shape)
    return np.minimum(life, end), life < end, group, kind


def _marginal(effect, time, is_failed, group, kind, prior):
    """Log posterior of one effect, by the kernel of single groups on rescaled times."""
    believed = weibull_posterior(time * np.exp(-effect * kind), is_failed, prior, group)
    failures = (is_failed * kind).sum()
    return believed.log_evidence.sum() - failures * effect - ((effect - 0.3) / 0.6) ** 2 / 2


def test_centre_and_spread_equal_quadrature_over_the_effect():
    lives = _lives(np.random.default_rng(3), 12, [80.0, 150.0], 1.7, [0.0, 0.5], 90.0)
    prior = [[100.0, 0.7, 1.6, 0.3]] * 2
    found = shared_effects(*lives[:2], prior, *lives[2:], ONE)
    points = np.linspace(-1.5, 3.0, 46)
    density = np.exp([_marginal(point, *lives, prior) - _marginal(found.mean[1], *lives, prior) for point in points])
    density /= density.sum()
    mean = density @ points
    sd = np.sqrt(density @ (points - mean) ** 2)
    # the marginal leans to one side a little: the price of a normal approximation
    assert abs(found.mean[1] - mean) < 0.15 * sd
    assert_allclose(np.sqrt(found.covariance[1, 1]), sd, rtol=0.08)


def test_the_centre_is_where_the_posterior_is_highest():
    lives = _lives(np.random.default_rng(5), 20, [60.0, 200.0, 90.0], 2.0, [0.0, -0.6], 80.0)
    prior = [[100.0, 0.7, 1.6, 0.3]] * 3
    found = shared_effects(*lives[:2], prior, *lives[2:], ONE)
    at = [_marginal(found.mean[1] + step, *lives, prior) for step in (-0.05, 0.0, 0.05)]
    assert at[1] > max(at[0], at[2])
    # the curvature there is what the covariance says
    assert_allclose((2 * at[1] - at[0] - at[2]) / 0.05**2, 1 / found.covariance[1, 1], rtol=0.02)


def test_the_true_effect_is_found_and_covered_as_often_as_said():
    covered, far = [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        truth = rng.normal(0.3, 0.6)
        lives = _lives(rng, 15, rng.lognormal(np.log(150), 0.7, 6), 1.6, [0.0, truth], 90.0)
        found = shared_effects(*lives[:2], [[150.0, 0.7, 1.6, 0.3]] * 6, *lives[2:], ONE)
        far.append((found.mean[1] - truth) / np.sqrt(found.covariance[1, 1]))
        covered.append(abs(far[-1]) < 1.2816)
    assert 0.68 <= np.mean(covered) <= 0.92
    assert abs(np.mean(far)) < 0.35


def test_a_kind_common_where_lives_are_short_is_not_blamed_for_it():
    # kinds are alike in life; all of kind 1 but few of kind 0 stand in the short-lived group
    rng = np.random.default_rng(2)
    group = np.repeat([0, 0, 1, 1], [300, 30, 30, 300])
    kind = np.repeat([0, 1, 0, 1], [300, 30, 30, 300])
    life = np.array([900.0, 100.0])[group] * (rng.exponential(1, group.size) / np.log(2)) ** (1 / 1.6)
    found = shared_effects(
        np.minimum(life, 90), life < 90, [[300.0, 1.2, 1.6, 0.3]] * 2, group, kind, [[0, 0], [0, 1.0]]
    )
    raw = np.log([(life < 90)[kind == k].mean() for k in (0, 1)])
    assert raw[1] - raw[0] > 1.0
    assert abs(found.mean[1]) < 2 * np.sqrt(found.covariance[1, 1])


def test_without_lives_the_guess_stays():
    found = shared_effects(np.zeros(0), np.zeros(0, bool), [[100.0, 0.7, 1.6, 0.3]], np.zeros(0, int),
                           np.zeros(0, int), [[0, 0], [0.5, 0.4], [-0.6, 0.5]])  # fmt: skip
    assert_allclose(found.mean, [0, 0.5, -0.6])
    assert_allclose(found.covariance, np.diag([0, 0.16, 0.25]))
    assert found.pieces.tolist() == [0, 0, 0]


def test_counts_are_by_kind():
    found = shared_effects([10, 90, 90.0], [True, False, False], [[100.0, 0.7, 1.6, 0.3]], [0, 0, 0], [1, 1, 0],
                           ONE, pieces=[1, 4, 9])  # fmt: skip
    assert (found.failures.tolist(), found.pieces.tolist()) == ([0, 1], [9, 5])


@pytest.mark.parametrize("kind", [[2], [-1]])
def test_refuses_a_kind_without_prior(kind):
    with pytest.raises(InvalidParameter, match="group"):
        shared_effects([5.0], [True], [[100.0, 0.7, 1.6, 0.3]], [0], kind, ONE)


def test_refuses_a_negative_spread():
    with pytest.raises(InvalidParameter, match="effect_prior"):
        shared_effects([5.0], [True], [[100.0, 0.7, 1.6, 0.3]], [0], [0], [[0.0, -1.0]])
