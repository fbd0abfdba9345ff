import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import CensoredData, lognorm

from pipeline.kernels.lognormal_life import lognormal_fit


def _sample(rng, size):
    life, end = np.exp(rng.normal(4.0, 0.8, size)), rng.uniform(20, 160, size)
    return np.minimum(life, end), life <= end


@pytest.mark.parametrize("seed", range(5))
def test_equals_the_general_purpose_library(seed):
    # referee: scipy.stats.lognorm.fit on censored data
    time, is_failed = _sample(np.random.default_rng(seed), 40)
    sd, _, scale = lognorm.fit(CensoredData(uncensored=time[is_failed], right=time[~is_failed]), floc=0)
    fit = lognormal_fit(time, is_failed)
    assert_allclose([fit.log_mean[0], fit.log_sd[0]], [np.log(scale), sd], rtol=1e-3)
    likelihood = lognorm.logpdf(time[is_failed], fit.log_sd[0], scale=np.exp(fit.log_mean[0])).sum()
    likelihood += lognorm.logsf(time[~is_failed], fit.log_sd[0], scale=np.exp(fit.log_mean[0])).sum()
    assert_allclose(fit.log_likelihood[0], likelihood)


def test_without_censoring_it_is_the_mean_and_spread_of_the_logs():
    time = np.array([3.0, 8.0, 20.0, 21.0])
    fit = lognormal_fit(time, np.ones(4, bool))
    assert_allclose([fit.log_mean[0], fit.log_sd[0]], [np.log(time).mean(), np.log(time).std()])


def test_groups_are_fitted_as_if_alone():
    rng = np.random.default_rng(4)
    samples = [_sample(rng, size) for size in (6, 25)]
    time, is_failed = (np.concatenate(each) for each in zip(*samples, strict=True))
    together = lognormal_fit(time, is_failed, np.repeat([1, 0], [6, 25]))
    for number, sample in ((1, samples[0]), (0, samples[1])):
        assert_allclose(together.log_sd[number], lognormal_fit(*sample).log_sd[0], rtol=1e-7)


def test_groups_without_a_finite_maximum_are_named():
    fit = lognormal_fit([90, 10, 50], [True, False, False], [0, 0, 1], 2)
    assert fit.reason.tolist() == ["no finite maximum", "no failures"]
    assert np.isnan(fit.log_mean).all()


def test_one_failure_before_the_end_of_the_watch_is_fitted():
    fit = lognormal_fit([10, 90, 90], [True, False, False])
    assert fit.reason[0] == ""
    mean, sd = fit.log_mean[0], fit.log_sd[0]
    near = [
        lognorm.logpdf(10, s, scale=np.exp(m)) + 2 * lognorm.logsf(90, s, scale=np.exp(m))
        for m in (mean - 0.05, mean + 0.05)
        for s in (sd * 0.98, sd * 1.02)
    ]
    assert max(near) < fit.log_likelihood[0]
