"""What is served: the method that did best on the past, by windows that have wholly come."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import calendar_predictive as predictive
from pipeline.kernels import calendar_served as served
from pipeline.kernels import scores


@pytest.fixture
def series():
    rng = np.random.default_rng(9)
    return rng.poisson(1.2, (40, 30)) * (rng.random((40, 30)) < rng.uniform(0.05, 0.7, 30)).astype(float)


def test_scores_of_the_past_are_those_of_forecasts_made_then(series):
    found = served.past_crps(series, "sba", 4, [20, 36])
    for score, origin in zip(found, (20, 36), strict=True):
        forecast = predictive.calendar_pmfs(series[:origin], "sba", 4)
        came = series[origin : origin + 4].sum(axis=0).astype(int)
        assert_allclose(score, scores.crps_pmf(forecast.pmf, came).mean(), atol=1e-6)


def test_the_best_on_the_past_is_served(series):
    chosen, forecast = served.serve(series, 3)
    assert set(chosen.crps_pcs) == set(predictive.SERVED_FROM)
    assert chosen.crps_pcs[chosen.method] == min(chosen.crps_pcs.values())
    assert chosen.origins.max() == 37
    assert_array_equal(forecast.pmf, predictive.calendar_pmfs(series, chosen.method, 3).pmf)


def test_steady_use_and_use_that_fell_asleep_are_served_differently():
    steady = np.random.default_rng(2).poisson(0.7, (60, 300)).astype(float)
    assert served.choose(steady, 3).method == "mean"
    asleep = steady.copy()
    asleep[30:] = 0
    assert served.choose(asleep, 3).method.startswith("tsb")


def test_a_heavy_series_decides():
    # Half the series fell asleep, half go on: whichever weighs more is served its method.
    rng = np.random.default_rng(4)
    series = rng.poisson(1.0, (60, 200)).astype(float)
    series[25:, :100] = 0
    weight = np.where(np.arange(200) < 100, 1e-6, 1.0)
    assert served.choose(series, 3, weight).method == "mean"
    assert served.choose(series, 3, weight[::-1]).method.startswith("tsb")


def test_series_begun_late_are_scored_only_once_begun(series):
    late = series.copy()
    late[:30, :10] = np.nan
    assert_allclose(served.past_crps(late, "mean", 4, [20]), served.past_crps(series[:, 10:], "mean", 4, [20]))


def test_a_short_history_is_served_the_mean_and_says_that_none_was_judged(series):
    chosen, forecast = served.serve(series[:10], 6)
    assert (chosen.method, chosen.origins.size, chosen.crps_pcs) == ("mean", 0, {})
    assert_allclose(forecast.rate_pcs, series[:10].mean(axis=0))


@pytest.mark.parametrize("n_periods", range(9, 60, 7))
@pytest.mark.parametrize("ahead", [1, 3, 12])
def test_origins_leave_room_for_a_window_and_a_history(n_periods, ahead):
    origins = served.judged_origins(n_periods, ahead)
    assert origins.size <= served.MOST_ORIGINS and (np.diff(origins) > 0).all()
    assert (origins + ahead <= n_periods).all() and (origins >= predictive.LEAST_PERIODS).all()
    assert bool(origins.size) is (n_periods - ahead >= predictive.LEAST_PERIODS)


def test_windows_not_yet_over_and_weights_of_none_are_refused(series):
    with pytest.raises(InvalidParameter, match="wanted at most 37"):
        served.past_crps(series, "mean", 3, [38])
    with pytest.raises(InvalidParameter, match="series_weight"):
        served.choose(series, 3, np.zeros(30))
