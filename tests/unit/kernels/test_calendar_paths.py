"""Calendar forecasts after every period: each row against the forecast of what was known then; series begun late."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import calendar_paths, intermittent
from pipeline.kernels.calendar_predictive import SERVED_FROM

EVERY = pytest.mark.parametrize("path", SERVED_FROM.values(), ids=SERVED_FROM)


@pytest.fixture
def series():
    rng = np.random.default_rng(11)
    made = rng.poisson(1.5, (40, 50)) * (rng.random((40, 50)) < rng.uniform(0.03, 0.9, 50))
    made[:, 0], made[:, 1] = 0, 2
    return made.astype(float)


@EVERY
def test_each_origin_knows_what_came_before_and_nothing_else(series, path):
    every = path(series, n_origins=len(series))
    for origin in (1, 2, 7, 23, 40):
        assert_allclose(every[origin - 1], path(series[:origin])[-1], atol=1e-12)
    changed = series.copy()
    changed[23:] += 5
    assert_array_equal(path(changed, n_origins=40)[:23], every[:23])


@EVERY
def test_the_newest_origins_are_the_last_rows_of_all(series, path):
    assert_array_equal(path(series, n_origins=12), path(series, n_origins=40)[-12:])


@EVERY
def test_a_series_begun_late_is_forecast_as_if_the_table_began_there(series, path):
    late, begin = series.copy(), np.arange(50) % 30
    late[np.arange(40)[:, None] < begin] = np.nan
    found = path(late, n_origins=40)
    for one in range(50):
        assert np.isnan(found[: begin[one], one]).all()
        alone = path(series[begin[one] :, [one]], n_origins=40 - begin[one])
        assert_allclose(found[begin[one] :, one], alone[:, 0], atol=1e-12)


@EVERY
def test_a_series_no_longer_watched_is_unknown_and_not_zero(series, path):
    ended = series.copy()
    ended[30:, 3] = np.nan
    found = path(ended, n_origins=40)
    assert np.isnan(found[30:, 3]).all()
    assert_array_equal(found[:30, 3], path(series, n_origins=40)[:30, 3])
    assert_array_equal(np.delete(found, 3, axis=1), np.delete(path(series, n_origins=40), 3, axis=1))


@EVERY
def test_input_is_left_alone(series, path):
    series[:3, 4] = np.nan
    before = series.copy()
    path(series, n_origins=5)
    assert_array_equal(series, before)


@EVERY
@pytest.mark.parametrize("bad, said", [
    ([[1.0], [np.nan], [1.0]], "missing periods between known ones"),
    ([[np.nan, 1.0], [np.nan, 1.0]], "in series 0"),
    ([[1.0], [-1.0]], "at least 0"),
    ([[np.inf]], "finite"),
    ([1.0, 2.0], "periods by series"),
])
def test_series_that_cannot_be_are_refused(path, bad, said):
    with pytest.raises(InvalidParameter, match=said):
        path(bad)


@pytest.mark.parametrize("n_origins", [0, 41, -1])
def test_origins_that_cannot_be_are_refused(series, n_origins):
    with pytest.raises(InvalidParameter, match="n_origins"):
        calendar_paths.mean(series, n_origins)


@pytest.mark.parametrize("smoothing", [0, -0.1, 1.5])
def test_a_smoothing_that_cannot_be_is_refused(series, smoothing):
    for path in (calendar_paths.croston, calendar_paths.teunter_syntetos_babai, calendar_paths.aggregate_disaggregate):
        with pytest.raises(InvalidParameter, match="smoothing_share"):
            path(series, smoothing)


def test_the_forecasts_from_the_next_period_on_are_the_last_row(series):
    assert_array_equal(intermittent.mean_rate(series), calendar_paths.mean(series)[-1])
    assert_array_equal(intermittent.croston(series, 0.2), calendar_paths.croston(series, 0.2)[-1])


def test_no_series_at_all_is_answered_with_none():
    assert calendar_paths.croston(np.empty((3, 0)), n_origins=3).shape == (3, 0)
    assert calendar_paths.aggregate_disaggregate(np.empty((3, 0)), n_origins=2).shape == (2, 0)
