"""Calendar forecasts of 30,000 series from a long table beside a general-purpose library: equal, processor time.

Run with `python3 -m pipeline test -m bench tests/benchmarks` once the packages of the bench tier are there.
"""

import warnings

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels import calendar_paths, calendar_table
from tests.support.processor_time import processor_seconds

SERIES, MONTHS, ORIGINS = 30_000, 48, 12
TABLE_RATIO, FITTED_RATIO, VALIDATION_RATIO = 25, 40, 400
REPEATS = 8  # ours is over before the clock has ticked often


@pytest.fixture(scope="module")
def table():
    """One row per part and month, identifiers categorical; a part is used in 2 to 60 % of its months."""
    rng = np.random.default_rng(20261129)
    used = rng.random((MONTHS, SERIES)) < rng.uniform(0.02, 0.6, SERIES)
    pieces = used * (1 + rng.poisson(0.8, used.shape))
    parts = [f"part-{number:05d}" for number in range(SERIES)]
    return pd.DataFrame({
        "unique_id": pd.Categorical.from_codes(np.repeat(np.arange(SERIES), MONTHS), parts),
        "ds": np.tile(np.arange(MONTHS), SERIES),
        "y": pieces.T.ravel().astype(float),
    })


def ours(table, n_origins=1):
    """SBA and TSB after each of the newest months, shape (n_origins, SERIES) each."""
    codes = table["unique_id"].cat.codes.to_numpy()
    series = calendar_table.dense(table["ds"].to_numpy(), codes, table["y"].to_numpy())
    return (calendar_paths.syntetos_boylan(series, n_origins=n_origins),
            calendar_paths.teunter_syntetos_babai(series, n_origins=n_origins))


def by_series(frame, name, rows):
    """Column of the library's answer as (rows, SERIES), the newest rows of each series."""
    return frame[name].to_numpy().reshape(SERIES, -1)[:, -rows:].T


@pytest.mark.bench
def test_table_and_backtest_beside_a_library(table):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own deprecations are not ours to mend
        library = pytest.importorskip("statsforecast", reason="the bench tier is not installed")
        from statsforecast.models import TSB, CrostonSBA

        def asked():
            return library.StatsForecast(models=[CrostonSBA(), TSB(0.1, 0.1)], freq=1, n_jobs=1)

        def fitted():
            one = asked()
            one.forecast(df=table, h=1, fitted=True)
            return one.forecast_fitted_values()

        newest, table_seconds = processor_seconds(lambda: asked().forecast(df=table, h=1), 2)
        in_sample, fitted_seconds = processor_seconds(fitted)
        validated, validation_seconds = processor_seconds(
            lambda: asked().cross_validation(df=table, h=1, n_windows=ORIGINS, step_size=1))
    forecast, our_seconds = processor_seconds(lambda: ours(table), REPEATS)
    # Forecasts of the last 12 months were made after the month before each; the 13th row from the end is the first.
    backtest, backtest_seconds = processor_seconds(lambda: ours(table, ORIGINS + 1), REPEATS)
    for name, rates, origins in zip(("CrostonSBA", "TSB"), forecast, backtest, strict=True):
        assert_allclose(rates[-1], newest[name], atol=1e-9)
        assert_allclose(origins[:-1], by_series(in_sample, name, ORIGINS), atol=1e-9)
        assert_allclose(origins[:-1], by_series(validated, name, ORIGINS), atol=1e-9)
    ratios = (table_seconds / our_seconds, fitted_seconds / backtest_seconds, validation_seconds / backtest_seconds)
    print(f"table {table_seconds:.2f} s there, {our_seconds:.3f} s here: {ratios[0]:.0f} times; backtest fitted "
          f"{fitted_seconds:.2f} s, validation {validation_seconds:.2f} s there, {backtest_seconds:.3f} s here: "
          f"{ratios[1]:.0f} and {ratios[2]:.0f} times")
    assert ratios[0] >= TABLE_RATIO and ratios[1] >= FITTED_RATIO and ratios[2] >= VALIDATION_RATIO
