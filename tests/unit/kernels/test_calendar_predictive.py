"""Distributions around calendar forecasts: against scipy and plain loops, without a look ahead, edges and refusals."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import calendar_predictive as predictive
from pipeline.kernels import scores

EVERY = pytest.mark.parametrize("method", predictive.METHODS)


@pytest.fixture
def series():
    rng = np.random.default_rng(5)
    made = rng.poisson(1.5, (36, 40)) * (rng.random((36, 40)) < rng.uniform(0.05, 0.6, 40))
    made[:, 0] = 0
    return made.astype(float)


def plain_crps(pmf, seen):
    """E|X - y| - E|X - X'| / 2 by summation over all pairs."""
    pieces = np.arange(pmf.size)
    apart = np.abs(pieces[:, None] - pieces)
    return pmf @ np.abs(pieces - seen) - pmf @ apart @ pmf / 2


@pytest.mark.parametrize("mean", [0.01, 0.4, 7.0, 300.0, 3000.0])
@pytest.mark.parametrize("ratio", [1.0, 1.0000001, 1.02, 2.5, 40.0])
def test_rows_are_negative_binomial_with_the_stated_mean_and_ratio(mean, ratio):
    pmf = predictive.negative_binomial_pmfs([mean], [ratio])[0]
    pieces = np.arange(pmf.size)
    known = stats.poisson(mean) if ratio < 1.0001 else stats.nbinom(mean / (ratio - 1), 1 / ratio)
    assert_allclose(pmf, known.pmf(pieces), atol=1e-7 if 1 < ratio < 1.0001 else 1e-12)
    assert 1 - pmf.sum() <= 2 * predictive.TAIL_SHARE
    assert known.sf(pmf.size - 2) > predictive.TAIL_SHARE / 2  # and no longer than it must be
    # What is cut off lies beyond the grid, and falls by e within a few ratios.
    cut = 4 * predictive.TAIL_SHARE * pmf.size
    assert_allclose(pmf @ pieces, mean, rtol=1e-9, atol=cut)
    assert_allclose(pmf @ (pieces - mean) ** 2, mean * ratio, rtol=1e-6, atol=cut * pmf.size)


def test_short_and_long_rows_share_one_grid():
    pmfs = predictive.negative_binomial_pmfs([0.0, 0.5, 90.0], [1.0, 3.0, 2.0])
    assert_array_equal(pmfs[0, :3], [1, 0, 0])
    assert_allclose(pmfs.sum(axis=1), 1, atol=1e-8)
    assert_allclose(pmfs[1, :50], stats.nbinom(0.25, 1 / 3).pmf(np.arange(50)), atol=1e-12)


def test_none_at_all_beside_hundreds_on_a_grid_of_the_same_length():
    pmfs = predictive.negative_binomial_pmfs([0.0, 700.0], [40.0, 1.0])
    assert_array_equal(pmfs[0], np.eye(1, pmfs.shape[1])[0])
    assert_allclose(pmfs[1], stats.poisson(700).pmf(np.arange(pmfs.shape[1])), atol=1e-12)


def test_crps_of_counts_equals_summation_over_all_pairs():
    rng = np.random.default_rng(8)
    mean, ratio = rng.uniform(0, 12, 60), 1 + rng.exponential(2, 60) * (rng.random(60) < 0.8)
    seen = rng.integers(0, 30, 60)
    pmfs = predictive.negative_binomial_pmfs(mean, ratio)
    by_pairs = [plain_crps(pmf, y) for pmf, y in zip(pmfs, seen, strict=True)]
    assert_allclose(scores.crps_pmf(pmfs, seen), by_pairs, atol=1e-6)
    assert_allclose(predictive.crps(mean, ratio, seen), by_pairs, atol=1e-6)


def test_crps_beyond_the_grid_counts_every_piece():
    assert_allclose(predictive.crps([0.0, 0.0], [1.0, 1.0], [0, 500]), [0, 500])


def plain_ratio(series, path, origin, window, ahead):
    """Errors of all windows one by one, shrunk to all series, as the notes say."""
    squared, expected = np.zeros((2, series.shape[1]))
    for one in range(series.shape[1]):
        for o in range(predictive.FIRST_ORIGIN, origin - window + 1):
            if np.isnan(series[o - predictive.FIRST_ORIGIN, one]):
                continue
            mean = window * path[o - 1, one]
            squared[one] += (series[o : o + window, one].sum() - mean) ** 2 / window
            expected[one] += mean / window
    known = series[:origin]
    size = np.array([known[known[:, one] > 0, one].mean() if (known[:, one] > 0).any() else 1.0
                     for one in range(known.shape[1])])
    squared, expected = squared / size**2, expected / size
    own = size * (squared + 30 * squared.sum() / expected.sum()) / (expected + 30)
    return np.maximum(1, 1 + (own - 1) * ahead / window)


@EVERY
@pytest.mark.parametrize("origin, ahead, window", [(36, 3, 3), (36, 12, 12), (30, 20, 12), (9, 6, 1), (8, 1, 1)])
def test_dispersion_is_what_past_windows_missed_by(series, method, origin, ahead, window):
    series[:4, 5], series[:20, 6] = np.nan, np.nan
    path = predictive.rates_path(series, method)
    mean, ratio = predictive.moments_at(series, path, origin, ahead)
    assert_allclose(mean, ahead * path[origin - 1])
    assert_allclose(ratio, plain_ratio(series, path, origin, window, ahead), rtol=1e-12)


@EVERY
def test_what_comes_after_the_origin_changes_nothing(series, method):
    changed = series.copy()
    changed[24:] = 40.0
    before, after = (predictive.moments_at(made, predictive.rates_path(made, method), 24, 6)
                     for made in (series, changed))
    assert_array_equal(before, after)


def test_a_steady_series_is_poisson_at_most():
    forecast = predictive.calendar_pmfs(np.full((24, 3), 2.0), "mean", 4)
    assert_array_equal(forecast.dispersion_ratio, 1.0)
    assert_allclose(forecast.pmf[0], stats.poisson(8).pmf(np.arange(forecast.pmf.shape[1])), atol=1e-12)


def test_forecasts_of_poisson_uses_are_close_to_poisson():
    series = np.random.default_rng(1).poisson(0.8, (60, 400))
    forecast = predictive.calendar_pmfs(series, "mean", 3)
    # 54 origins of about 33 periods each: doubt about the mean adds 3/33 or so.
    assert 1.0 < forecast.dispersion_ratio.mean() < 1.25


@EVERY
def test_a_series_never_used_is_none_for_certain(series, method):
    forecast = predictive.calendar_pmfs(series, method, 12)
    assert (forecast.rate_pcs[0], forecast.mean_pcs[0], forecast.pmf[0, 0]) == (0, 0, 1)
    assert_allclose(forecast.mean_pcs, 12 * forecast.rate_pcs)
    assert_allclose(forecast.pmf @ np.arange(forecast.pmf.shape[1]), forecast.mean_pcs, atol=1e-5)


def test_a_shop_that_used_nothing_is_answered():
    assert_array_equal(predictive.calendar_pmfs(np.zeros((10, 2)), "tsb", 3).pmf, [[1], [1]])


def test_the_comparators_are_five_and_what_is_served_comes_from_them_and_more():
    assert list(predictive.METHODS) == ["mean", "croston", "sba", "tsb", "aggregation"]
    assert set(predictive.METHODS) < set(predictive.SERVED_FROM)


@pytest.mark.parametrize("rows, method, ahead, said", [
    (36, "naive", 3, "method is 'naive'; wanted one of mean, croston"),
    (7, "mean", 3, "7 periods; wanted at least 8"),
    (36, "mean", 0, "n_periods_ahead"),
    (36, "mean", 1.5, "n_periods_ahead"),
])
def test_what_cannot_be_forecast_is_refused(series, rows, method, ahead, said):
    with pytest.raises(InvalidParameter, match=said):
        predictive.calendar_pmfs(series[:rows], method, ahead)


def test_a_series_no_longer_watched_is_refused(series):
    series[30:, 7] = np.nan
    with pytest.raises(InvalidParameter, match="newest period in series 7"):
        predictive.calendar_pmfs(series, "sba", 3)


@pytest.mark.parametrize("mean, ratio", [(-1, 1), (np.nan, 1), (1, 0.9), (1, np.nan)])
def test_moments_that_cannot_be_are_refused(mean, ratio):
    with pytest.raises(InvalidParameter, match="mean_pcs|dispersion_ratio"):
        predictive.negative_binomial_pmfs([mean], [ratio])


@pytest.mark.parametrize("origin", [7, 37])
def test_an_origin_outside_the_history_is_refused(series, origin):
    with pytest.raises(InvalidParameter, match="origin is"):
        predictive.moments_at(series, predictive.rates_path(series, "mean"), origin, 3)
