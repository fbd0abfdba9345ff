"""Real sparse sales, the last year held out: what is served beside every comparator, and why not by absolute error."""

import warnings

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels import calendar_paths, scores
from pipeline.kernels import calendar_predictive as predictive
from pipeline.kernels import calendar_served as served
from tests.support import car_parts

pytestmark = car_parts.needs_car_parts
KNOWN_MONTHS = 39
WINDOWS = {12: [39], 3: [39, 42, 45, 48], 1: list(range(39, 51))}  # months ahead: months known at each origin
AHEAD = pytest.mark.parametrize("ahead", WINDOWS)


@pytest.fixture(scope="module", params=WINDOWS, ids=lambda ahead: f"{ahead} months")
def held_out(request):
    """Months ahead, what was chosen on the first 39 months, CRPS of every comparator and of it on the last 12."""
    series, ahead = car_parts.whole_series(), request.param
    chosen = served.choose(series[:KNOWN_MONTHS], ahead).method
    methods = dict.fromkeys([*predictive.METHODS, chosen])
    crps = {name: served.past_crps(series, name, ahead, WINDOWS[ahead]).mean() for name in methods}
    return ahead, chosen, crps


def came(ahead):
    return [car_parts.whole_series()[origin : origin + ahead].sum(axis=0).astype(int) for origin in WINDOWS[ahead]]


def test_what_is_served_scores_no_worse_than_any_comparator(held_out):
    ahead, chosen, crps = held_out
    worse = {name: round(score / crps[chosen] - 1, 3) for name, score in crps.items() if name in predictive.METHODS}
    print(f"{ahead} months: {chosen} {crps[chosen]:.4f}; comparators worse by {worse}")
    assert all(crps[chosen] <= score for score in crps.values())
    # By how much: the best of them (TSB) was seen 2.2 to 7.2 % worse, the mean 12 to 30 %.
    assert min(worse.values()) > 0.015 and worse["mean"] > 0.1


def test_the_all_zero_forecast_wins_absolute_error_and_loses_crps(held_out):
    # Three in four months saw no sale: zero is the median, so it has the least absolute error, and it is useless.
    ahead, chosen, crps = held_out
    seen = came(ahead)
    zero_crps = np.mean([scores.crps_pmf(np.ones((len(y), 1)), y).mean() for y in seen])
    series = car_parts.whole_series()
    by_month = {name: [] for name in crps}
    for origin in WINDOWS[ahead]:
        for name, errors in by_month.items():
            rate = predictive.SERVED_FROM[name](series[:origin])[-1]
            errors.append(np.abs(series[origin : origin + ahead] - rate).mean())
    zero_error = series[KNOWN_MONTHS:].mean()
    print(f"{ahead} months: absolute error a month {zero_error:.4f} of nothing, "
          f"{ {name: round(float(np.mean(errors)), 4) for name, errors in by_month.items()} }; CRPS {zero_crps:.4f}")
    assert all(zero_error < np.mean(errors) for errors in by_month.values())
    assert all(zero_crps > score for score in crps.values())


def test_the_served_distribution_holds_what_it_says(held_out):
    ahead, chosen, _ = held_out
    series, rng = car_parts.whole_series(), np.random.default_rng(1)
    place = np.concatenate([
        scores.randomised_pit(predictive.calendar_pmfs(series[:origin], chosen, ahead).pmf, y, rng)
        for origin, y in zip(WINDOWS[ahead], came(ahead), strict=True)])
    inside = ((place > 0.1) & (place < 0.9)).mean()
    print(f"{ahead} months: the 80 % interval of {chosen} held {inside:.3f}")
    assert 0.76 <= inside <= 0.84


def test_counts_score_as_by_summation_over_all_pairs():
    forecast = predictive.calendar_pmfs(car_parts.whole_series()[:KNOWN_MONTHS], "tsb", 12)
    small = np.flatnonzero(forecast.mean_pcs < 12)[::40]
    seen, pieces = came(12)[0][small], np.arange(forecast.pmf.shape[1])
    apart = np.abs(pieces[:, None] - pieces)
    # Gneiting & Raftery (2007), equation 21: E|X - y| - E|X - X'| / 2.
    by_pairs = [pmf @ np.abs(pieces - y) - pmf @ apart @ pmf / 2
                for pmf, y in zip(forecast.pmf[small], seen, strict=True)]
    assert small.size > 40
    assert_allclose(predictive.crps(forecast.mean_pcs[small], forecast.dispersion_ratio[small], seen), by_pairs,
                    atol=1e-6)


@pytest.mark.bench
def test_rates_equal_a_general_forecasting_library():
    """statsforecast 2.1 (Apache-2): the same conventions, fixed smoothing 0.1, every month, all 2,674 parts."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own deprecations are not ours to mend
        models = pytest.importorskip("statsforecast.models", reason="the bench tier is not installed")
    table = car_parts.every_series()
    ours = {"croston": models.CrostonClassic(), "sba": models.CrostonSBA(), "tsb": models.TSB(0.1, 0.1),
            "tsb 0.3/0.2": models.TSB(0.3, 0.2), "mean": models.HistoricAverage()}
    for name, model in ours.items():
        rates = predictive.SERVED_FROM[name](table, n_origins=len(table))
        for one, months in enumerate((~np.isnan(table)).sum(axis=0)):
            found = model.forecast(y=table[:months, one], h=1, fitted=name != "mean")
            assert_allclose(rates[months - 1, one], found["mean"][0], atol=1e-9)
            if name != "mean":  # the library's mean is fitted with what came later
                assert_allclose(rates[: months - 1, one], found["fitted"][1:], atol=1e-9)


@pytest.mark.bench
def test_aggregation_equals_a_library_smoothing_the_same_blocks():
    """statsforecast 2.1 smooths the blocks; its own aggregation begins them at the other end and picks a smoothing."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        models = pytest.importorskip("statsforecast.models", reason="the bench tier is not installed")
    series = car_parts.whole_series()
    rates, smooth = calendar_paths.aggregate_disaggregate(series)[-1], models.SimpleExponentialSmoothing(0.1)
    used = np.flatnonzero(series.any(axis=0))
    assert used.size > 2400
    for one in used:
        months = np.flatnonzero(series[:, one]) + 1
        length = round(np.diff(months, prepend=0).mean())
        blocks = series[len(series) % length :, one].reshape(-1, length).sum(axis=1)
        assert_allclose(rates[one], smooth.forecast(y=blocks, h=1)["mean"][0] / length, atol=1e-9)
