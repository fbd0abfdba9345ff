"""Wear-out mixed with random failures: exact, found where it is, seldom seen where it is not."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import norm

from pipeline.errors import InvalidParameter
from pipeline.kernels.mixed_hazard import mixed_hazard
from pipeline.kernels.weibull_posterior import weibull_posterior

PRIOR = [100.0, 0.7, 2.0, 0.25]


def _mixed_lives(rng, n, share, median, k):
    """Lives of which ``share`` of the hazard by the median is random, the rest wear-out: the earlier of the two."""
    with np.errstate(divide="ignore"):
        random = rng.exponential(1, n) * median / (np.log(2) * share)
        worn = median * (rng.exponential(1, n) / (np.log(2) * (1 - share))) ** (1 / k)
    return np.minimum(random, worn)


def _direct(time, is_failed, prior):
    """Log evidence and mean share, on a plain product of Gauss-Legendre points over a fixed box."""
    node, weight = np.polynomial.legendre.leggauss(80)

    def over(low, high):
        return low + (high - low) * (node + 1) / 2, weight / 2 * (high - low)

    log_m, of_m = over(np.log(prior[0]) - 6 * prior[1], np.log(prior[0]) + 6 * prior[1])
    log_k, of_k = over(0.0, np.log(prior[2]) + 6 * prior[3])
    share, of_share = over(0.0, 1.0)
    m, k, s = np.meshgrid(np.exp(log_m), np.exp(log_k), share, indexing="ij")
    log_likelihood = np.zeros(m.shape)
    for t, failed in zip(time, is_failed, strict=True):
        log_likelihood -= np.log(2) * (s * t / m + (1 - s) * (t / m) ** k)
        if failed:
            log_likelihood += np.log(np.log(2) * (s / m + (1 - s) * k / m * (t / m) ** (k - 1)))
    of_k = of_k * norm.pdf(log_k, np.log(prior[2]), prior[3]) / norm.sf(0, np.log(prior[2]), prior[3])
    of_m = of_m * norm.pdf(log_m, np.log(prior[0]), prior[1])
    mass = np.exp(log_likelihood) * of_m[:, None, None] * of_k[:, None] * of_share
    return np.log(mass.sum()), (mass * s).sum() / mass.sum()


@pytest.mark.parametrize("prior", [PRIOR, [40.0, 0.9, 1.2, 0.3], [300.0, 0.5, 1.0, 0.25]])
def test_equals_quadrature(prior):
    time = np.array([3.0, 12, 30, 41, 44, 60, 60, 60, 60])
    is_failed = time < 60
    evidence, share = _direct(time, is_failed, prior)
    found = mixed_hazard(time, is_failed, [prior])
    single = weibull_posterior(time, is_failed, [prior]).log_evidence
    assert_allclose(found.log_bayes_factor + single, evidence, atol=3e-3)
    assert_allclose(found.share_mean, share, atol=2e-3)


def test_groups_do_not_touch_each_other():
    rng = np.random.default_rng(0)
    lives = [_mixed_lives(rng, n, 0.5, 100.0, 4.0) for n in (30, 7)]
    group = np.repeat([0, 2], [30, 7])
    together = mixed_hazard(np.concatenate(lives), np.ones(37, bool), [PRIOR] * 3, group)
    for place, time in ((0, lives[0]), (2, lives[1])):
        alone = mixed_hazard(time, np.ones(time.size, bool), [PRIOR])
        assert_allclose(together.log_bayes_factor[place], alone.log_bayes_factor[0], atol=1e-9)
        assert_allclose(together.share_mean[place], alone.share_mean[0], atol=1e-9)


def test_without_lives_nothing_is_known():
    found = mixed_hazard(np.zeros(0), np.zeros(0, bool), [PRIOR])
    assert_allclose(found.log_bayes_factor, 0, atol=2e-3)
    assert_allclose([found.share_mean[0], found.share_low[0], found.share_high[0]], [0.5, 0.1, 0.9], atol=0.01)


def test_pieces_count_as_so_many_rows():
    counted = mixed_hazard([20.0, 50, 60], [True, True, False], [PRIOR], pieces=[2, 1, 5])
    repeated = mixed_hazard([20.0, 20, 50] + [60.0] * 5, [True] * 3 + [False] * 5, [PRIOR])
    assert_allclose(counted.log_bayes_factor, repeated.log_bayes_factor, atol=1e-9)
    assert counted.failures == 3


def test_mixtures_are_found():
    rng = np.random.default_rng(1)
    n_groups, n = 40, 120
    share = rng.uniform(0.25, 0.6, n_groups)
    time = np.concatenate([_mixed_lives(rng, n, s, 100.0, 5.0) for s in share])
    group = np.repeat(np.arange(n_groups), n)
    found = mixed_hazard(np.minimum(time, 130), time < 130, [[100.0, 0.7, 3.0, 0.4]] * n_groups, group)
    assert (found.log_bayes_factor > np.log(3)).mean() > 0.9
    assert_allclose(np.mean(found.share_mean - share), 0, atol=0.08)


def test_the_share_is_covered_as_often_as_said():
    # median, shape and share drawn from their priors: an 80 % interval must hold the truth in 80 of 100
    rng = np.random.default_rng(4)
    n_groups, n = 160, 25
    share, median = rng.uniform(0, 1, n_groups), np.exp(rng.normal(np.log(100), 0.7, n_groups))
    k = np.exp(rng.normal(np.log(4.0), 0.25, n_groups))
    time = np.concatenate([_mixed_lives(rng, n, *each) for each in zip(share, median, k, strict=True)])
    group = np.repeat(np.arange(n_groups), n)
    found = mixed_hazard(np.minimum(time, 130), time < 130, [[100.0, 0.7, 4.0, 0.25]] * n_groups, group)
    assert 0.73 < ((found.share_low < share) & (share < found.share_high)).mean() < 0.87


def test_pure_wear_out_is_seldom_flagged():
    # shapes drawn from the prior itself; over a thousand such groups 4 in 100 are flagged (in theory at most a third)
    n_groups, flagged = 80, []
    for n, end in ((12, 200.0), (40, 90.0), (100, 130.0)):
        rng = np.random.default_rng(n)
        k = np.repeat(np.exp(rng.normal(np.log(2.0), 0.25, n_groups)), n)
        m = np.repeat(np.exp(rng.normal(np.log(100.0), 0.7, n_groups)), n)
        life = m * (rng.exponential(1, n * n_groups) / np.log(2)) ** (1 / k)
        group = np.repeat(np.arange(n_groups), n)
        found = mixed_hazard(np.minimum(life, end), life < end, [PRIOR] * n_groups, group)
        flagged.append((found.log_bayes_factor > np.log(3)) & (found.failures >= 5))
    assert np.mean(flagged) < 0.08


@pytest.mark.parametrize("unit", [1e-3, 1.0, 1e6])
def test_the_unit_of_time_does_not_matter(unit):
    time = np.array([3.0, 12, 30, 41, 44, 60, 60])
    found = mixed_hazard(time * unit, time < 60, [[100.0 * unit, 0.7, 2.0, 0.25]])
    assert_allclose(found.log_bayes_factor, mixed_hazard(time, time < 60, [PRIOR]).log_bayes_factor, atol=1e-6)


def test_many_failures_stay_finite():
    rng = np.random.default_rng(3)
    life = 5000 * (rng.exponential(1, 3000) / np.log(2)) ** (1 / 2.0)
    found = mixed_hazard(np.minimum(life, 3000).round(-2) + 50, life < 3000, [PRIOR])
    assert np.isfinite(found.log_bayes_factor).all()
    assert found.share_low <= found.share_mean <= found.share_high


def test_refuses_a_prior_without_spread():
    with pytest.raises(InvalidParameter, match="prior"):
        mixed_hazard([1.0], [True], [[100.0, 0.0, 2.0, 0.25]])
