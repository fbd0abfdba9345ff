"""Bookings to be made, by run: rate, trend, waits, and jobs lost without a word."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import job_arrivals


def test_a_trend_is_the_mean_of_its_belief():
    # By quadrature: times given their number have density proportional to exp(g t) on the history.
    ages, years = np.array([30.0, 100, 150, 200, 420, 700]), 2.0
    time = years / 2 - ages / job_arrivals.DAYS_A_YEAR

    def weight(g):
        total = integrate.quad(lambda t: np.exp(g * t), -years / 2, years / 2)[0]
        return np.exp(g * time.sum() - ages.size * np.log(total)) * stats.norm.pdf(g, 0, 0.1)

    whole = integrate.quad(weight, -0.8, 0.8)[0]
    want = integrate.quad(lambda g: g * weight(g), -0.8, 0.8)[0] / whole
    mean, sd = job_arrivals.log_trend(ages, years * job_arrivals.DAYS_A_YEAR)
    assert_allclose(mean, want, atol=1e-6)
    assert 0.08 < sd < 0.1


def test_no_booking_leaves_the_trend_at_none():
    mean, sd = job_arrivals.log_trend([], 700)
    assert_allclose([mean, sd], [0, 0.1], atol=1e-6)


def test_many_bookings_outweigh_the_belief():
    rng = np.random.default_rng(2)
    years, growth = 4.0, 0.3
    time = np.log1p(rng.random(4000) * np.expm1(growth * years)) / growth
    mean, sd = job_arrivals.log_trend((years - time) * job_arrivals.DAYS_A_YEAR, years * job_arrivals.DAYS_A_YEAR)
    assert abs(mean - growth) < 3 * sd + 0.02


@pytest.mark.parametrize("half_life", [100.0, 700.0, 1e7])
def test_the_mean_age_is_an_integral(half_life):
    history = 900.0
    weight = integrate.quad(lambda a: 0.5 ** (a / half_life), 0, history)[0]
    want = integrate.quad(lambda a: a * 0.5 ** (a / half_life), 0, history)[0] / weight
    assert_allclose(job_arrivals.mean_age_days(history, half_life), want, rtol=1e-4)


def test_arrivals_follow_rate_and_trend():
    rng, n = np.random.default_rng(4), 4000
    scope, booked = job_arrivals.draw_arrivals(np.tile([0.05, 0.02], (n, 1)), np.full(n, 0.4), 30.0, 365.0, rng)
    growth = 0.4 / job_arrivals.DAYS_A_YEAR
    reach = (np.exp(growth * 365) - np.exp(growth * 30)) / growth
    for place, rate in enumerate((0.05, 0.02)):
        number = (scope == place).sum(axis=1)
        assert_allclose(number.mean(), rate * reach, rtol=0.03)
        assert_allclose(number.var(), rate * reach, rtol=0.1)
    days = booked[scope >= 0]
    assert days.min() >= 30 and days.max() <= 365
    assert days.mean() > (30 + 365) / 2


def test_no_rate_brings_no_job():
    scope, booked = job_arrivals.draw_arrivals(np.zeros((3, 2)), np.zeros(3), 0.0, 365.0, np.random.default_rng(1))
    assert scope.shape == booked.shape == (3, 0)


def test_a_wait_goes_on_as_the_longer_ones_did():
    drawn = job_arrivals.draw_waits([5, 40, 60], 30, 500, np.random.default_rng(1))
    assert set(drawn) == {10.0, 30.0}
    beyond = job_arrivals.draw_waits([5, 40, 60], 90, 4000, np.random.default_rng(1))
    assert_allclose(beyond.mean(), 17.5, rtol=0.06)
    assert (job_arrivals.draw_waits([], 0, 9, np.random.default_rng(1)) > 0).all()


def test_a_wait_not_begun_yet_counts_from_its_beginning():
    assert set(job_arrivals.draw_waits([-3, 4], -20, 50, np.random.default_rng(1))) == {17.0, 24.0}


def test_what_waits_longer_than_all_is_more_likely_lost():
    share = job_arrivals.come_share(np.arange(100), [-5, 50, 99, 500], 0.03)
    assert_allclose(share[0], 0.97)
    assert (np.diff(share) <= 0).all()
    assert_allclose(share[-1], (0.97 / 101) / (0.97 / 101 + 0.03))


@pytest.mark.parametrize(("mean", "excess", "variance"), [(4.0, 0.5, 6.0), (4.0, 0.0, 4.0), (4.0, -0.5, 2.0)])
def test_counts_have_their_mean_and_variance(mean, excess, variance):
    drawn = job_arrivals.draw_counts(mean, excess, 40_000, np.random.default_rng(6))
    assert_allclose(drawn.mean(), mean, rtol=0.02)
    assert_allclose(drawn.var(), variance, rtol=0.04)


def test_bad_counts_are_refused():
    with pytest.raises(InvalidParameter, match="excess"):
        job_arrivals.draw_counts(1.0, -1.5, 3, np.random.default_rng(1))
    with pytest.raises(InvalidParameter, match="mean"):
        job_arrivals.draw_counts(-1.0, 0.0, 3, np.random.default_rng(1))
