import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import minimize
from scipy.stats import gamma

from pipeline.errors import InvalidParameter
from pipeline.kernels import lead_time
from pipeline.kernels.lead_time import LeadTime

NO_QUOTE = [np.nan]


def orders(rng, n_orders, mean, shape, window_days):
    """Orders spread over a window that ends today: those that would arrive later are open."""
    takes = rng.gamma(shape, mean / shape, n_orders)
    age = rng.uniform(0, window_days, n_orders)
    return np.minimum(takes, age), takes > age


def likelihood_search(days, is_open):
    """Maximum of the censored likelihood by a general optimiser over scipy's own gamma distribution."""

    def minus_log(x):
        law = gamma(np.exp(x[1]), scale=np.exp(x[0] - x[1]))
        return -(law.logpdf(days[~is_open]).sum() + law.logsf(days[is_open]).sum())

    found = minimize(
        minus_log,
        [np.log(days.mean()), 0.0],
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000},
    )
    return np.exp(found.x), -found.fun


@pytest.mark.parametrize("seed", range(5))
def test_fit_is_the_maximum_a_general_optimiser_finds(seed):
    rng = np.random.default_rng(seed)
    days, is_open = orders(rng, 60, rng.uniform(4, 40), rng.uniform(0.8, 9), 90)
    fitted = lead_time.fit(days, is_open, np.zeros(60, int), NO_QUOTE, 0)
    (mean, shape), highest = likelihood_search(days, is_open)
    assert_allclose([fitted.mean_days[0], fitted.shape[0]], [mean, shape], rtol=2e-5)
    assert_allclose(lead_time.log_likelihood(fitted, days, is_open, np.zeros(60, int)), highest, atol=1e-7)


def test_without_open_orders_the_mean_is_the_plain_mean():
    days = np.array([3.0, 5.0, 9.0, 4.0])
    fitted = lead_time.fit(days, np.zeros(4, bool), np.zeros(4, int), NO_QUOTE, 0)
    assert_allclose(fitted.mean_days, days.mean())
    assert_allclose(fitted.shape, gamma.fit(days, floc=0)[0], rtol=1e-6)


def test_a_late_vendor_is_within_3_percent_at_200_orders_and_dropping_open_orders_reads_low():
    # mean 24 days, 200 orders placed over the last 60: many are still open today; averaged over 200 vendors
    rng = np.random.default_rng(11)
    days, is_open = orders(rng, 200 * 200, 24.0, 3.0, 60)
    vendor = np.repeat(np.arange(200), 200)
    no_quote = np.full(200, np.nan)
    fitted = lead_time.fit(days, is_open, vendor, no_quote, 0)
    received = ~is_open
    dropped = lead_time.fit(days[received], is_open[received], vendor[received], no_quote, 0)
    assert abs(fitted.mean_days.mean() / 24 - 1) < 0.03
    assert dropped.mean_days.mean() < 0.85 * 24


def test_vendors_fitted_together_are_as_fitted_alone():
    rng = np.random.default_rng(12)
    days, is_open = orders(rng, 90, 12.0, 2.0, 60)
    vendor = rng.integers(0, 3, 90)
    together = lead_time.fit(days, is_open, vendor, [10.0, np.nan, 30.0], 3.0)
    for v, quote in enumerate([10.0, np.nan, 30.0]):
        mine = vendor == v
        alone = lead_time.fit(days[mine], is_open[mine], np.zeros(mine.sum(), int), [quote], 3.0)
        assert_allclose([together.mean_days[v], together.shape[v]], [alone.mean_days[0], alone.shape[0]], rtol=1e-6)


def test_a_quote_alone_is_the_quote():
    fitted = lead_time.fit([], [], [], [9.0], 4.0)
    assert_allclose(fitted.mean_days, 9.0)
    assert_allclose(fitted.shape, lead_time.QUOTE_SHAPE, rtol=1e-9)


def test_receipts_outweigh_the_quote_as_they_come_in():
    gaps = []
    for n_orders in (1, 4, 20, 200):
        fitted = lead_time.fit([20.0] * n_orders, [False] * n_orders, [0] * n_orders, [5.0], 4.0)
        gaps.append(20 - fitted.mean_days[0])
        assert_allclose(fitted.mean_days, (4 * 5 + n_orders * 20) / (4 + n_orders))  # pseudo-receipts, by hand
    assert np.all(np.diff(gaps) < 0)


def test_lines_of_one_order_share_one_weight():
    once = lead_time.fit([4.0, 10.0], [False, False], [0, 0], [6.0], 2.0)
    lines = lead_time.fit([4.0, 10.0, 10.0], [False] * 3, [0] * 3, [6.0], 2.0, weight=[1, 0.5, 0.5])
    assert_allclose(lines.mean_days, once.mean_days)
    assert_allclose(lines.shape, once.shape)


def test_an_open_order_pulls_the_estimate_up_and_the_longer_the_more():
    means = [
        lead_time.fit([6.0, 8.0, 7.0, wait], [False, False, False, True], [0] * 4, [7.0], 3.0).mean_days[0]
        for wait in (1.0, 10.0, 30.0, 300.0)
    ]
    assert np.all(np.diff(means) > 0)


@pytest.mark.parametrize(
    ("days", "is_open"), [([], []), ([5.0], [False]), ([5.0, 5.0], [False, False]), ([9.0], [True])]
)
def test_no_maximum_means_no_number(days, is_open):
    fitted = lead_time.fit(days, is_open, [0] * len(days), NO_QUOTE, 3.0)
    assert np.isnan(fitted.mean_days[0]) and np.isnan(fitted.shape[0])


def test_quantiles_equal_the_library():
    fitted = LeadTime(np.array([12.0, np.nan]), np.array([2.5, np.nan]))
    found = lead_time.quantile_days(fitted, [0.1, 0.5, 0.9])
    assert_allclose(found[0], gamma(2.5, scale=12 / 2.5).ppf([0.1, 0.5, 0.9]), rtol=1e-9)
    assert np.isnan(found[1]).all()


def test_period_shares_equal_differences_of_the_distribution_and_keep_the_tail():
    fitted = LeadTime(np.array([12.0]), np.array([2.5]))
    shares = lead_time.period_shares(fitted, 7, 4)[0]
    reached = gamma(2.5, scale=12 / 2.5).cdf([0, 7, 14, 21])
    assert_allclose(shares, np.append(np.diff(reached), 1 - reached[-1]), rtol=1e-8)
    assert_allclose(shares.sum(), 1)


def test_arguments_that_do_not_fit_are_refused():
    with pytest.raises(InvalidParameter, match="days is 0"):
        lead_time.fit([0.0], [False], [0], [5.0], 1)
    with pytest.raises(InvalidParameter, match="wanted one row per order"):
        lead_time.fit([1.0, 2.0], [False], [0, 0], [5.0], 1)
    with pytest.raises(InvalidParameter, match="vendor is 3; wanted a row of quoted_days"):
        lead_time.fit([1.0], [False], [3], [5.0], 1)
    with pytest.raises(InvalidParameter, match="vendor is -1"):
        lead_time.fit([1.0], [False], [-1], [5.0], 1)
