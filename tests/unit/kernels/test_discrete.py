"""Distributions over whole pieces: moments, quantiles and sums, against hand counts and scipy."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import discrete

DIE = np.array([0, 1, 1, 1, 1, 1, 1]) / 6


def test_mean_and_variance_of_a_die():
    assert_allclose(discrete.mean(DIE), 3.5)
    assert_allclose(discrete.variance(DIE), 35 / 12)


def test_moments_keep_leading_axes():
    rows = np.stack([DIE, np.eye(7)[2]])[None]
    assert_allclose(discrete.mean(rows), [[3.5, 2.0]])
    assert_allclose(discrete.variance(rows), [[35 / 12, 0.0]])


def test_quantile_is_the_first_count_that_covers_the_level():
    # Cumulative sixths: level 1/6 is covered by one exactly, a hair more needs two.
    assert_array_equal(discrete.quantiles(DIE, [1 / 6, 1 / 6 + 1e-6, 0.5, 0.99]), [1, 2, 3, 6])


def test_quantiles_agree_with_scipy_on_many_rows():
    levels = np.array([0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95])
    means = np.array([0.3, 2.0, 7.5])
    pmf = stats.poisson(means[:, None]).pmf(np.arange(60))
    assert_array_equal(discrete.quantiles(pmf, levels), stats.poisson(means[:, None]).ppf(levels))


def test_exceedance_keeps_small_tails():
    pmf = stats.poisson(0.5).pmf(np.arange(20))
    assert_allclose(discrete.exceedance(pmf)[:12], stats.poisson(0.5).sf(np.arange(12)), rtol=1e-6)


def test_convolve_two_dice_by_hand():
    # Seven falls in six ways of thirty-six, twelve in one.
    total = discrete.convolve(DIE, DIE)
    assert_allclose(total[[2, 7, 12]], [1 / 36, 6 / 36, 1 / 36], atol=1e-15)
    assert total.size == 13


def test_convolve_rows_against_direct_sums():
    rng = np.random.default_rng(3)
    first, second = rng.dirichlet(np.ones(5), 4), rng.dirichlet(np.ones(9), 4)
    wanted = [np.convolve(a, b) for a, b in zip(first, second, strict=True)]
    assert_allclose(discrete.convolve(first, second), wanted, atol=1e-15)


def test_a_distribution_cut_short_is_refused():
    with pytest.raises(InvalidParameter, match="sum of pmf is 0.9"):
        discrete.mean([0.5, 0.4])


@pytest.mark.parametrize("level", [0.0, 1.0, 1.2, -0.1])
def test_a_level_without_a_quantile_is_refused(level):
    with pytest.raises(InvalidParameter, match="levels"):
        discrete.quantiles(DIE, [0.5, level])


def test_power_of_two_covers_and_is_least():
    assert_array_equal(discrete.power_of_two([0.2, 1, 2, 3, 255, 256, 257]), [1, 1, 2, 4, 256, 256, 512])
    with pytest.raises(InvalidParameter, match="n_values"):
        discrete.power_of_two(0)
