"""Published numbers for the calendar forecasts and for the score, each with its source.

The letter says where the published figure was taken from: Q read on the cited page, P shipped in a registry
package that was read, M recalled from the cited work and reproduced to every digit, D derived from the citation.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.kernels import intermittent, scores
from tests.support import car_parts

# Lubricant "productC", 36 months (Hyndman & Athanasopoulos, Forecasting: Principles and Practice).
LUBRICANT = np.array([0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0, 0, 0, 0, 7, 0, 0, 0, 0,
                      0, 0, 0, 3, 1, 0, 0, 1, 0, 1, 0, 0])[:, None]


def test_croston_on_the_lubricant_series():
    # A-F1 [M]: FPP, time series of counts. Sizes 2 1 11 2 6 3 7 3 1 1 1, intervals 2 2 2 5 2 1 6 8 1 3 2;
    # from the first of each at 0.1: size 2.750, interval 2.793, forecast 0.985.
    size, interval = intermittent.sizes_and_intervals(LUBRICANT[:, 0])
    assert_array_equal(size, [2, 1, 11, 2, 6, 3, 7, 3, 1, 1, 1])
    assert_array_equal(interval, [2, 2, 2, 5, 2, 1, 6, 8, 1, 3, 2])
    smoothed = intermittent.croston_state(LUBRICANT, 0.1)
    assert_allclose(np.ravel(smoothed), [2.750254, 2.793280], atol=5e-7)
    assert_allclose(intermittent.croston(LUBRICANT, 0.1), [0.985], atol=5e-4)
    assert_allclose(intermittent.croston(LUBRICANT, 0.1), [0.984597], atol=5e-7)


def test_sba_on_the_lubricant_series():
    # A-F2 [P]: Syntetos & Boylan (2005), IJF 21, 303-314: (1 - 0.1/2) x Croston.
    assert_allclose(intermittent.syntetos_boylan(LUBRICANT, 0.1), [0.9353667], atol=5e-8)


@pytest.mark.parametrize(("of_size", "of_use", "published"), [(0.1, 0.1, 0.8040651), (0.2, 0.1, 0.7526517)])
def test_tsb_on_the_lubricant_series(of_size, of_use, published):
    # A-F3 [P]: Teunter, Syntetos & Babai (2011), EJOR 214, 606-615. Chance starts at 0 (first month unused),
    # size at the first size: conventions, stated.
    assert_allclose(intermittent.teunter_syntetos_babai(LUBRICANT, of_size, of_use), [published], atol=5e-8)


@pytest.mark.parametrize(("mean_interval", "better"), [(1.12, "croston"), (1.6, "sba"), (3.0, "sba")])
def test_sba_overtakes_croston_where_the_cut_off_says(mean_interval, better):
    # A-F4 [M]: cut-off p = 1.32 at even sizes (Syntetos, Boylan & Croston 2005, JORS 56, 495-503; 1.3248 from the
    # approximate mean squared errors at smoothing 0.1). Simulated: even sizes, chance of use 1/p each period.
    rng = np.random.default_rng(20050501)
    series = (rng.random((150, 60_000)) < 1 / mean_interval).astype(float)
    error = {
        "croston": ((intermittent.croston(series, 0.1) - 1 / mean_interval) ** 2).mean(),
        "sba": ((intermittent.syntetos_boylan(series, 0.1) - 1 / mean_interval) ** 2).mean(),
    }
    assert min(error, key=error.get) == better


@pytest.mark.parametrize(("mean_interval", "published"), [(2, 0.693147), (3, 0.549306), (5, 0.402359)])
def test_inversion_bias_of_croston(mean_interval, published):
    # A-F5 [D]: Syntetos & Boylan (2001), IJPE 71, 457-466: E[1/T] = ln(p)/(p-1), T geometric with mean p. With
    # smoothing 1 Croston's forecast is size over the last interval: its mean is that figure, not the true 1/p.
    assert_allclose(np.log(mean_interval) / (mean_interval - 1), published, atol=5e-7)
    rng = np.random.default_rng(2001)
    series = rng.random((120, 120_000)) < 1 / mean_interval
    forecast = intermittent.croston(series, 1.0)
    assert_allclose(forecast.mean(), published, atol=4 * forecast.std() / np.sqrt(forecast.size))


def test_crps_of_the_standard_normal_at_its_centre():
    # A-F6 [P]: (sqrt 2 - 1)/sqrt(pi) = 0.2336949773 (Gneiting & Raftery 2007, JASA 102, 359-378).
    assert_allclose(scores.crps_normal(0, 1, 0), 0.2336949773, atol=5e-11)


def test_crps_of_ten_draws_by_hand():
    # A-F6 [P]: {0 0 0 1 0 2 0 0 5 0} seen 1. Mean distance (7 + 0 + 1 + 4)/10 = 1.2; all pairs: 7x(1+2+5) + 1 + 4
    # + 3 = 64, twice over 100 and halved 0.64, over 90 and halved 0.7111.
    draws, seen = [[0, 0, 0, 1, 0, 2, 0, 0, 5, 0]], [1]
    assert_allclose(scores.crps_ensemble(draws, seen), [0.56], atol=1e-12)
    assert_allclose(scores.crps_ensemble_fair(draws, seen), [0.4888889], atol=5e-8)
    by_pairs = np.abs(np.subtract.outer(draws[0], draws[0])).sum()
    assert by_pairs == 2 * 64


def test_j06_scripts_decompose_as_printed():
    # A-F7 [Q]: FPP3 tables 13.1 and 13.2, medicine group J06, first 12 months 1 1 1 0 0 1 3 1 1 1 1 1:
    # sizes 1 1 1 1 3 1 1 1 1 1; intervals from the second use on 1 1 3 1 1 1 1 1 1 (the first is blank there).
    size, interval = intermittent.sizes_and_intervals([1, 1, 1, 0, 0, 1, 3, 1, 1, 1, 1, 1])
    assert_array_equal(size, [1, 1, 1, 1, 3, 1, 1, 1, 1, 1])
    assert_array_equal(interval[1:], [1, 1, 3, 1, 1, 1, 1, 1, 1])


@car_parts.needs_car_parts
def test_car_parts_facts_and_why_the_zero_forecast_must_not_win():
    # A-F8 [P/D]: Hyndman, Koehler, Ord & Snyder (2008); CC BY 4.0, doi 10.5281/zenodo.4656021. 2,674 series of 51
    # months, 2,509 complete, zero share 0.7478, 66,194 pieces, at most 52.
    table = car_parts.every_series()
    assert table.shape == (51, 2674)
    known = ~np.isnan(table)
    assert (known.all(axis=0).sum(), (~known).sum()) == (2509, 6122)
    assert_allclose((table[known] == 0).mean(), 0.7478, atol=5e-5)
    assert (np.nansum(table), np.nanmax(table)) == (66194, 52)
    whole = car_parts.whole_series()
    past, held_out = whole[:39], whole[39:]
    for method in (intermittent.croston, intermittent.syntetos_boylan, intermittent.teunter_syntetos_babai,
                   intermittent.aggregate_disaggregate, intermittent.mean_rate):
        forecast = method(past)
        assert np.isfinite(forecast).all() and 0.3 < forecast.mean() < 0.7
        # On mean absolute error "nothing is ever used" beats every one of them.
        assert np.abs(held_out).mean() < np.abs(held_out - forecast).mean()


def test_crps_of_counts_equals_a_general_scoring_library():
    # Reference library: scoringrules 0.10 (Apache-2): ensembles, the normal and the Poisson.
    library = pytest.importorskip("scoringrules")
    from scipy import stats

    rng = np.random.default_rng(6)
    draws, seen = rng.poisson(2.5, (40, 25)), rng.poisson(2.5, 40)
    assert_allclose(scores.crps_ensemble(draws, seen),
                    library.crps_ensemble(seen.astype(float), draws.astype(float), estimator="nrg"), atol=1e-10)
    assert_allclose(scores.crps_ensemble_fair(draws, seen),
                    library.crps_ensemble(seen.astype(float), draws.astype(float), estimator="fair"), atol=1e-10)
    pmf = stats.poisson(2.5).pmf(np.arange(80))
    assert_allclose(scores.crps_pmf(np.tile(pmf, (40, 1)), seen), library.crps_poisson(seen, 2.5), atol=1e-10)
    pmf = stats.nbinom(1.7, 0.4).pmf(np.arange(200))
    assert_allclose(scores.crps_pmf(np.tile(pmf, (40, 1)), seen), library.crps_negbinom(seen, 1.7, 0.4), atol=1e-8)
    x = rng.normal(size=40)
    assert_allclose(scores.crps_normal(0.3, 1.2, x), library.crps_normal(x, 0.3, 1.2), atol=1e-12)
