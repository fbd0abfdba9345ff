import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import CensoredData, weibull_min

from pipeline.errors import InvalidParameter
from pipeline.kernels.weibull import mean_and_sd, quantile, survival, weibull_fit


def _sample(rng, size, shape=1.5, scale=100.0):
    life, end = scale * rng.weibull(shape, size), rng.uniform(20, 160, size)
    return np.minimum(life, end), life <= end


@pytest.mark.parametrize("seed", range(6))
def test_equals_the_general_purpose_library(seed):
    # referee: scipy.stats.weibull_min.fit on censored data
    time, is_failed = _sample(np.random.default_rng(seed), 40)
    data = CensoredData(uncensored=time[is_failed], right=time[~is_failed])
    shape, _, scale = weibull_min.fit(data, floc=0)
    fit = weibull_fit(time, is_failed)
    assert_allclose([fit.shape[0], fit.scale[0]], [shape, scale], rtol=1e-3)
    likelihood = weibull_min.logpdf(time[is_failed], fit.shape[0], scale=fit.scale[0]).sum()
    likelihood += weibull_min.logsf(time[~is_failed], fit.shape[0], scale=fit.scale[0]).sum()
    assert_allclose(fit.log_likelihood[0], likelihood)


def test_groups_are_fitted_as_if_alone():
    rng = np.random.default_rng(11)
    samples = [_sample(rng, size) for size in (5, 17, 40)]
    group = np.repeat([0, 1, 2], [5, 17, 40])
    order = rng.permutation(group.size)
    time, is_failed = (np.concatenate(each)[order] for each in zip(*samples, strict=True))
    together = weibull_fit(time, is_failed, group[order])
    for number, sample in enumerate(samples):
        alone = weibull_fit(*sample)
        for name in ("scale", "shape", "log_likelihood", "log_scale_error", "log_covariance"):
            assert_allclose(getattr(together, name)[number], getattr(alone, name)[0], rtol=1e-9)


def test_pieces_count_as_so_many_rows():
    repeated = weibull_fit([3, 3, 8, 9, 9], [True, True, True, False, False])
    counted = weibull_fit([3, 8, 9], [True, True, False], pieces=[2, 1, 2])
    assert_allclose([counted.scale, counted.shape], [repeated.scale, repeated.shape])


def test_one_failure_before_the_end_of_the_watch_is_fitted():
    # mean log failure time < log longest time, so a maximum exists although only one failed
    fit = weibull_fit([10, 90, 90], [True, False, False])
    assert fit.reason[0] == ""
    near = [
        weibull_min.logpdf(10, k, scale=s) + 2 * weibull_min.logsf(90, k, scale=s)
        for k in fit.shape[0] * np.array([0.99, 1.01])
        for s in fit.scale[0] * np.array([0.99, 1.01])
    ]
    assert max(near) < fit.log_likelihood[0]


def test_groups_without_a_finite_maximum_are_named_and_get_no_number():
    # group 0: the one failure is the longest time, so the likelihood grows with the shape without end;
    # group 1: nothing failed; group 2: nothing was watched; group 3 is fine
    fit = weibull_fit(
        [90, 10, 50, 60, 5, 9, 12], [True, False, False, False, True, True, False], [0, 0, 1, 1, 3, 3, 3], 4
    )
    assert fit.reason.tolist() == ["no finite maximum", "no failures", "no failures", ""]
    assert np.isnan(fit.shape[:3]).all()
    assert np.isfinite(fit.shape[3])
    likelihood = [
        weibull_min.logpdf(90, k, scale=90.0) + weibull_min.logsf(10, k, scale=90.0) for k in (5, 50, 500)
    ]
    assert likelihood[0] < likelihood[1] < likelihood[2]


def test_nearly_equal_failures_have_a_steep_shape():
    fit = weibull_fit([100.0, 100.001], [True, True])
    assert fit.reason[0] == ""
    assert fit.shape[0] > 1e4
    assert_allclose(fit.scale[0], 100.0, rtol=1e-4)


def test_unit_of_time_changes_the_scale_only():
    time, is_failed = _sample(np.random.default_rng(2), 30)
    days, seconds = weibull_fit(time, is_failed), weibull_fit(time * 86400, is_failed)
    assert_allclose(seconds.scale / 86400, days.scale)
    assert_allclose([seconds.shape, seconds.log_scale_error], [days.shape, days.log_scale_error])


def test_a_watch_of_no_length_says_nothing():
    with_zero = weibull_fit([0, 3, 5, 9], [False, True, True, False])
    without = weibull_fit([3, 5, 9], [True, True, False])
    assert_allclose(with_zero.shape, without.shape)
    assert with_zero.pieces == without.pieces == 3


def test_refuses_a_failure_at_time_zero():
    with pytest.raises(InvalidParameter, match="half a day"):
        weibull_fit([0, 3], [True, False])


def test_refuses_a_missing_time():
    with pytest.raises(InvalidParameter, match="time"):
        weibull_fit([np.nan, 3], [False, False])


def test_quantile_and_survival_undo_each_other():
    share = np.array([0.01, 0.5, 0.9])
    assert_allclose(1 - survival(quantile(share, 300.0, 1.7), 300.0, 1.7), share)


def test_survival_of_an_aged_piece_is_conditional():
    assert_allclose(survival(50, 300.0, 2.0, age=100), survival(150, 300.0, 2.0) / survival(100, 300.0, 2.0))


def test_mean_and_sd_equal_the_general_purpose_library():
    mean, variance = weibull_min.stats(1.3, scale=70.0)
    assert_allclose(mean_and_sd(70.0, 1.3), [mean, np.sqrt(variance)])


def test_median_property():
    fit = weibull_fit([3, 5, 9], [True, True, True])
    assert_allclose(survival(fit.median, fit.scale, fit.shape), 0.5)


def _many_groups(n_groups=3000, censored_share=0.6):
    rng = np.random.default_rng(17)
    size = rng.integers(5, 61, n_groups)
    group = np.repeat(np.arange(n_groups), size)
    life = 100 * rng.weibull(1.5, group.size)
    end = np.quantile(life, 1 - censored_share)
    return np.minimum(life, end), life <= end, group, n_groups


def test_thousands_of_small_groups_have_no_false_answer():
    # every group has either a number at which the likelihood is flat, or a reason; none has both or neither
    time, is_failed, group, n_groups = _many_groups()
    fit = weibull_fit(time, is_failed, group, n_groups)
    is_fitted = fit.reason == ""
    assert (np.isfinite(fit.shape) == is_fitted).all()
    failures = np.bincount(group, is_failed, n_groups)
    top = np.array([time[group == g].max() for g in range(n_groups)])
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_log = np.bincount(group, is_failed * np.log(time), n_groups) / failures
    assert (is_fitted == ((failures > 0) & (mean_log < np.log(top) - 1e-12))).all()


def test_thousands_of_small_groups_are_at_their_maximum():
    time, is_failed, group, n_groups = _many_groups()
    fit = weibull_fit(time, is_failed, group, n_groups)
    keep = np.flatnonzero(fit.reason == "")

    def likelihood(scale, shape):
        z = np.log(time / scale[group])
        each = is_failed * (np.log(shape[group] / time) + shape[group] * z) - np.exp(shape[group] * z)
        return np.bincount(group, each, n_groups)[keep]

    best = likelihood(fit.scale, fit.shape)
    assert_allclose(best, fit.log_likelihood[keep], rtol=1e-9)
    for scale_step, shape_step in ((1.001, 1.0), (0.999, 1.0), (1.0, 1.001), (1.0, 0.999), (1.001, 1.001)):
        assert (likelihood(fit.scale * scale_step, fit.shape * shape_step) < best).all()


def test_groups_with_a_single_failure_are_mostly_fitted():
    time, is_failed, group, n_groups = _many_groups(censored_share=0.9)
    fit = weibull_fit(time, is_failed, group, n_groups)
    single = fit.failures == 1
    assert single.sum() > 100
    assert (fit.reason[single] == "").all()


def test_standard_errors_are_those_of_repeated_samples():
    rng = np.random.default_rng(23)
    n_groups, size = 2000, 80
    life = 100 * rng.weibull(1.8, (n_groups, size))
    time = np.minimum(life, 120.0)
    fit = weibull_fit(time.ravel(), (life <= 120).ravel(), np.repeat(np.arange(n_groups), size))
    assert_allclose(np.median(fit.log_shape_error), np.log(fit.shape).std(), rtol=0.06)
    assert_allclose(np.median(fit.log_scale_error), np.log(fit.scale).std(), rtol=0.06)
    covariance = np.cov(np.log(fit.scale), np.log(fit.shape))[0, 1]
    assert_allclose(np.median(fit.log_covariance), covariance, atol=0.0005)
