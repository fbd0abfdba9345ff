import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import dblquad
from scipy.stats import norm

from pipeline.errors import InvalidParameter
from pipeline.kernels.weibull import weibull_fit
from pipeline.kernels.weibull_posterior import prior_spread, weibull_posterior

NO_LIVES = (np.zeros(0), np.zeros(0, bool))


def _direct(time, is_failed, prior):
    """Mean of the log median and of the log shape by adaptive quadrature: nothing shared with the grid."""
    median, median_sd, shape, shape_sd = prior

    def density(log_shape, log_median, power=lambda m, s: 1.0):
        k = np.exp(log_shape)
        z = (time / np.exp(log_median)) ** k * np.log(2)
        log_density = (is_failed * (np.log(k) + np.log(z / time)) - z).sum()
        log_density -= ((log_median - np.log(median)) / median_sd) ** 2 / 2
        log_density -= ((log_shape - np.log(shape)) / shape_sd) ** 2 / 2
        return np.exp(log_density) * power(log_median, log_shape)

    box = (
        np.log(median) - 7 * median_sd,
        np.log(median) + 7 * median_sd,
        np.log(shape) - 6 * shape_sd,
        np.log(shape) + 6 * shape_sd,
    )
    total, of_median, of_shape = (
        dblquad(density, *box, args=(power,), epsabs=1e-12, epsrel=1e-6)[0]
        for power in (lambda m, s: 1.0, lambda m, s: m, lambda m, s: s)
    )
    return of_median / total, of_shape / total


def test_equals_adaptive_quadrature():
    time, is_failed = np.array([20.0, 45.0, 90.0, 90.0, 90.0]), np.array([1, 1, 0, 0, 0])
    prior = [150.0, 0.7, 1.4, 0.4]
    believed = weibull_posterior(time, is_failed, [prior])
    probability = believed.probability[0]
    found = probability.sum(1) @ believed.log_median[0], probability.sum(0) @ believed.log_shape[0]
    assert_allclose(found, _direct(time, is_failed, prior), atol=2e-3)


def test_without_lives_the_prior_is_what_is_believed():
    believed = weibull_posterior(*NO_LIVES, [[400.0, 0.5, 1.5, 0.3]])
    assert_allclose(believed.median_quantile(0.5), 400.0, rtol=1e-3)
    assert_allclose(believed.median_quantile(0.05), 400 * np.exp(-1.645 * 0.5), rtol=1e-2)
    assert_allclose(believed.shape_quantile(0.95), 1.5 * np.exp(1.645 * 0.3), rtol=1e-2)
    assert believed.prior_weight_share > 0.99


def test_as_the_prior_fades_the_centre_is_the_maximum_likelihood_fit():
    rng = np.random.default_rng(1)
    time = 200 * rng.weibull(1.8, 4000)
    end = rng.uniform(50, 300, 4000)
    seen, is_failed = np.minimum(time, end), time <= end
    fit = weibull_fit(seen, is_failed)
    believed = weibull_posterior(seen, is_failed, [[20.0, 50.0, 5.0, 50.0]])
    assert_allclose(believed.median_quantile(0.5), fit.median, rtol=2e-3)
    assert_allclose(believed.shape_quantile(0.5), fit.shape, rtol=2e-3)
    reach = 1.2816 * fit.log_shape_error
    assert_allclose(np.log(believed.shape_quantile(0.9)), np.log(fit.shape) + reach, atol=2e-3)
    assert believed.prior_weight_share < 1e-4


def test_two_failures_in_ten_leave_the_median_wide_open():
    # at a guess worth one failure the 90 % interval must span at least a factor of 3
    prior = [[200.0, prior_spread(1.5, 1.0)[0], 1.5, prior_spread(1.5, 1.0)[1]]]
    believed = weibull_posterior([10, 40] + [90] * 8, [True] * 2 + [False] * 8, prior)
    assert believed.median_quantile(0.95) / believed.median_quantile(0.05) > 3
    assert 0.2 < believed.prior_weight_share[0] < 0.9


def test_quiet_watches_only_lengthen_lives():
    prior = [[100.0, 0.7, 1.5, 0.3]] * 3
    believed = weibull_posterior([90.0] * 210, [False] * 210, prior, [1] * 10 + [2] * 200)
    median = believed.median_quantile(0.5)
    assert median[0] < median[1] < median[2]


def test_pieces_count_as_so_many_rows():
    prior = [[100.0, 0.7, 1.5, 0.3]]
    repeated = weibull_posterior([5, 90, 90, 90], [True, False, False, False], prior)
    counted = weibull_posterior([5, 90], [True, False], prior, pieces=[1, 3])
    assert_allclose(repeated.probability, counted.probability, atol=1e-12)


def test_draws_represent_the_belief():
    believed = weibull_posterior([20, 45, 90, 90], [True, True, False, False], [[150.0, 0.7, 1.4, 0.4]])
    scale, shape = believed.draws(np.random.default_rng(0), 4000)
    median = scale * np.log(2) ** (1 / shape)
    for share in (0.1, 0.5, 0.9):
        assert_allclose(np.quantile(median, share), believed.median_quantile(share)[0], rtol=0.03)
        assert_allclose(np.quantile(shape, share), believed.shape_quantile(share)[0], rtol=0.03)


def test_draws_repeat_with_the_generator():
    believed = weibull_posterior(*NO_LIVES, [[150.0, 0.7, 1.4, 0.4]] * 2)
    first, second = (believed.draws(np.random.default_rng(5), 50) for _ in range(2))
    assert_allclose(first, second)
    assert not np.allclose(first[0][0], first[0][1])


def test_median_of_true_life_is_covered_as_often_as_said():
    # lives drawn from the prior itself: an 80 % interval must hold the truth in 80 of 100
    rng = np.random.default_rng(8)
    n_groups, n_pieces = 400, 12
    median, shape = 100 * np.exp(rng.normal(0, 0.7, n_groups)), 1.5 * np.exp(rng.normal(0, 0.3, n_groups))
    life = median[:, None] * (rng.exponential(1 / np.log(2), (n_groups, n_pieces))) ** (1 / shape[:, None])
    seen = np.minimum(life, 90.0).ravel()
    believed = weibull_posterior(
        seen, seen < 90, [[100.0, 0.7, 1.5, 0.3]] * n_groups, np.repeat(np.arange(n_groups), n_pieces)
    )
    low, high = believed.median_quantile(0.1), believed.median_quantile(0.9)
    assert 0.75 < ((low < median) & (median < high)).mean() < 0.85


def test_a_guess_worth_more_failures_is_narrower():
    few, many = prior_spread(1.5, 1.0), prior_spread(1.5, 4.0)
    assert_allclose(np.array(few) / np.array(many), 2.0)


@pytest.mark.parametrize("weight", [0.0, -1.0, np.nan])
def test_refuses_a_guess_worth_nothing(weight):
    with pytest.raises(InvalidParameter, match="weight"):
        prior_spread(1.5, weight)


def test_refuses_a_prior_without_spread():
    with pytest.raises(InvalidParameter, match="prior"):
        weibull_posterior(*NO_LIVES, [[100.0, 0.0, 1.5, 0.3]])


def test_evidence_equals_adaptive_quadrature():
    time, is_failed = np.array([20.0, 45.0, 90.0, 90.0]), np.array([1, 1, 0, 0])

    def density(log_shape, log_median):
        k = np.exp(log_shape)
        z = (time / np.exp(log_median)) ** k * np.log(2)
        likelihood = np.exp((is_failed * (np.log(k) + np.log(z / time)) - z).sum())
        return likelihood * norm.pdf(log_median, np.log(150), 0.7) * norm.pdf(log_shape, np.log(1.4), 0.4)

    direct = dblquad(density, np.log(150) - 4.5, np.log(150) + 4.5, np.log(1.4) - 2.4, np.log(1.4) + 2.4)[0]
    believed = weibull_posterior(time, is_failed, [[150.0, 0.7, 1.4, 0.4]])
    assert_allclose(believed.log_evidence, np.log(direct), atol=1e-3)


def test_evidence_of_rescaled_times_differs_by_the_failures():
    # times in another unit under a guess in that unit: the same lives, densities per another unit
    time, is_failed = np.array([20.0, 45.0, 90.0, 90.0]), np.array([1, 1, 0, 0])
    plain = weibull_posterior(time, is_failed, [[150.0, 0.7, 1.4, 0.4]]).log_evidence
    scaled = weibull_posterior(time / 3, is_failed, [[50.0, 0.7, 1.4, 0.4]]).log_evidence
    assert_allclose(scaled - 2 * np.log(3), plain, atol=1e-5)
