"""Scores of stated distributions: brute force, hand sums, and their defining properties."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import scores


def test_crps_of_counts_equals_the_brute_force_double_sum():
    # CRPS = E|X - y| - E|X - X'|/2, summed over every pair of values.
    rng = np.random.default_rng(1)
    pmf = rng.dirichlet(np.full(9, 0.5), 20)
    observed = rng.integers(0, 14, 20)
    k = np.arange(9)
    between = np.einsum("ri,rj,ij->r", pmf, pmf, np.abs(k[:, None] - k))
    wanted = (pmf * np.abs(k - observed[:, None])).sum(axis=1) - between / 2
    assert_allclose(scores.crps_pmf(pmf, observed), wanted, atol=1e-12)


def test_crps_of_a_certain_forecast_is_the_absolute_error():
    assert_allclose(scores.crps_pmf(np.eye(6)[[3, 3, 3]], [3, 5, 9]), [0, 2, 6])


def test_ensemble_is_the_pmf_of_its_draws():
    draws = np.array([[0, 0, 0, 1, 0, 2, 0, 0, 5, 0]])
    pmf = np.bincount(draws[0], minlength=6) / 10
    assert_allclose(scores.crps_ensemble(draws, [1]), scores.crps_pmf(pmf, [1]))


def test_fair_score_is_unbiased_for_few_draws():
    # Over many three-draw samples its mean is the score of the distribution they came from.
    rng = np.random.default_rng(2)
    draws = rng.poisson(2.0, (200_000, 3))
    true = scores.crps_pmf(stats.poisson(2.0).pmf(np.arange(40)), [4])[0]
    four = np.full(len(draws), 4)
    assert_allclose(scores.crps_ensemble_fair(draws, four).mean(), true, atol=0.01)
    assert scores.crps_ensemble(draws, four).mean() > true + 0.1


def test_crps_of_the_normal_by_integration():
    mean, sd, y = 1.0, 2.0, 2.3
    x = np.linspace(-30, 30, 600_001)
    wanted = np.trapezoid((stats.norm(mean, sd).cdf(x) - (x >= y)) ** 2, x)
    assert_allclose(scores.crps_normal(mean, sd, y), wanted, atol=1e-4)


def test_quantile_loss_is_least_at_the_quantile():
    pmf = stats.poisson(3.0).pmf(np.arange(40))
    stated = np.arange(12)
    loss = [(pmf * scores.quantile_loss(q, np.arange(40), 0.9)).sum() for q in stated]
    assert stated[int(np.argmin(loss))] == stats.poisson(3.0).ppf(0.9)


def test_crps_is_twice_the_quantile_loss_over_all_levels():
    # Gneiting & Raftery (2007), section 4.2: the CRPS integrates the loss of every quantile.
    pmf = stats.poisson(2.0).pmf(np.arange(40))
    levels = (np.arange(20_000) + 0.5) / 20_000
    quantile = stats.poisson(2.0).ppf(levels)
    assert_allclose(2 * scores.quantile_loss(quantile, 4, levels).mean(), scores.crps_pmf(pmf, [4])[0], atol=1e-3)


def test_transform_is_uniform_when_the_forecast_is_right():
    rng = np.random.default_rng(4)
    observed = rng.poisson(0.4, 20_000)
    pmf = np.tile(stats.poisson(0.4).pmf(np.arange(20)), (20_000, 1))
    place = scores.randomised_pit(pmf, observed, rng)
    assert stats.kstest(place, "uniform").pvalue > 0.01
    # Plain coverage of the 10 % to 90 % quantiles, 0 to 1 piece: 94 %, not 80 %.
    assert np.mean(observed <= 1) > 0.93


def test_transform_beyond_the_grid_is_one():
    assert scores.randomised_pit([[0.5, 0.5]], [7], np.random.default_rng(0))[0] == 1.0


def test_transform_repeats_with_the_same_generator():
    pmf = np.tile([0.2, 0.5, 0.3], (3, 1))
    first, second = (scores.randomised_pit(pmf, [0, 1, 2], np.random.default_rng(9)) for _ in range(2))
    assert_allclose(first, second)
    assert (first[0] <= 0.2) and (0.2 <= first[1] <= 0.7) and (first[2] >= 0.7)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: scores.crps_pmf([[0.5, 0.5]], [1, 2]), "wanted one each"),
        (lambda: scores.crps_pmf([[0.5, 0.5]], [-1]), "observed_pcs"),
        (lambda: scores.crps_pmf([[0.5, 0.4]], [1]), "sum of pmf"),
        (lambda: scores.crps_ensemble_fair([[1.0]], [1.0]), "wanted at least 2"),
        (lambda: scores.crps_ensemble(np.empty((1, 0)), [1.0]), "wanted at least 1"),
        (lambda: scores.crps_normal(0, 0, 0), "sd"),
        (lambda: scores.quantile_loss(1, 1, 95), "Did you mean 0.95"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
