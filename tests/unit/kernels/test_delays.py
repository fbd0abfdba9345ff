"""Delays from one event to another: steps, censoring, conditional windows, exposure."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels import delays

THREE = delays.fit_delay([10, 20, 30], [True] * 3)


def test_three_finished_waits_leave_a_quarter_beyond_the_longest():
    assert_allclose(THREE.share, [0.25, 0.25, 0.25])
    assert_allclose(THREE.tail_share, 0.25)
    assert_allclose(THREE.tail_days, 10.0)  # half the mean delay


def test_unfinished_waits_count_as_longer_not_as_nothing():
    # Waits 10, 20+ and 30 by product limit: 1/3 at 10, the rest of the mass at 30.
    censored = delays.fit_delay([10, 20, 30], [True, False, True])
    assert_allclose(censored.days, [10, 30])
    assert_allclose(censored.share, np.array([1 / 3, 2 / 3]) * 0.75)
    dropped = delays.fit_delay([10, 30], [True, True])
    assert delays.happened_share(censored, 15) < delays.happened_share(dropped, 15)


def test_a_job_spreads_one_weight_over_its_takings():
    together = delays.fit_delay([5, 5, 5, 40], [True] * 4, [1 / 3, 1 / 3, 1 / 3, 1])
    assert_allclose(together.share, np.array([0.5, 0.5]) * 2 / 3)


def test_share_happened_rises_from_none_to_all():
    days = np.linspace(-5, 400, 2000)
    share = delays.happened_share(THREE, days)
    assert share[0] == 0 and (np.diff(share) >= -1e-15).all()
    assert_allclose(share[-1], 1, atol=1e-9)


def test_window_is_conditional_on_not_yet():
    # After 15 days: one of three has come; of the three quarters left, a quarter falls by day 25.
    assert_allclose(delays.window_share(THREE, [15], 10), [1 / 3])
    # On day 20 the event of day 20 would have been seen: only what comes later counts.
    assert_allclose(delays.window_share(THREE, [20], 10), [0.25 / 0.5])


def test_a_wait_longer_than_any_seen_still_ends():
    found = delays.window_share(THREE, [200], 10)
    assert_allclose(found, 1 - np.exp(-1), rtol=1e-9)


def test_exposure_is_the_integral_of_the_share_happened():
    for window in (5.0, 25.0, 90.0):
        days = np.linspace(0, window, 400_001)
        wanted = np.trapezoid(delays.happened_share(THREE, days), days)
        assert_allclose(delays.exposure_days(THREE, window), wanted, rtol=1e-4, atol=1e-4)


def test_exposure_takes_many_windows_at_once():
    windows = np.array([[10.0, 91.0], [365.0, 0.0]])
    found = delays.exposure_days(THREE, windows)
    assert found.shape == (2, 2) and found[1, 1] == 0
    assert_allclose(found[0, 1], delays.exposure_days(THREE, 91.0))


def test_an_event_on_the_first_day_exposes_the_whole_window():
    at_once = delays.fit_delay(np.zeros(9999), [True] * 9999)
    assert_allclose(delays.exposure_days(at_once, 91.0), 91, atol=0.01)


def test_steady_bookings_bring_rate_times_exposure():
    # Simulated shop: bookings at 0.2 a day from day 0 on, used 10, 20 or 30 days later.
    rng = np.random.default_rng(2)
    sure = delays.Delay(np.array([10.0, 20.0, 30.0]), np.full(3, 1 / 3), 0.0, 10.0)
    booked = rng.uniform(0, 91, rng.poisson(0.2 * 91 * 20_000))
    used = booked + rng.choice([10, 20, 30], booked.size)
    assert_allclose((used <= 91).sum() / 20_000, 0.2 * delays.exposure_days(sure, 91.0), rtol=0.01)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: delays.fit_delay([5], [False]), "holds no wait that ended"),
        (lambda: delays.fit_delay([], []), "holds no wait that ended"),
        (lambda: delays.fit_delay([-1], [True]), "delay_days"),
        (lambda: delays.fit_delay([1], [True, True]), "wanted one each"),
        (lambda: delays.window_share(THREE, [1], -1), "window_days"),
        (lambda: delays.exposure_days(THREE, -1), "window_days"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
