import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.life_left import life_left, life_left_gained
from pipeline.kernels.renewal_function import weibull_renewals
from pipeline.kernels.weibull import mean_and_sd

NEW, KEPT = (200.0, 2.5), (80.0, 1.2)  # scale and shape


def _left_by_simulation(rng, first, horizon, n=200_000):
    lives = NEW[0] * rng.weibull(NEW[1], (n, 16))
    lives[:, 0] = first[0] * rng.weibull(first[1], n)
    ends = np.cumsum(lives, axis=1)
    assert (ends[:, -1] > horizon).all()
    left = np.where(ends > horizon, ends, np.inf).min(axis=1) - horizon
    return left.mean(), left.std() / np.sqrt(n)


@pytest.mark.parametrize("horizon", [0.0, 60.0, 300.0])
@pytest.mark.parametrize("first", [NEW, KEPT])
def test_equals_simulation(horizon, first):
    seen, error = _left_by_simulation(np.random.default_rng(11), first, horizon)
    failures = weibull_renewals(horizon, *NEW, *first)
    found = life_left(horizon, mean_and_sd(*first)[0], mean_and_sd(*NEW)[0], failures)
    assert_allclose(found, seen, atol=4 * error)


@pytest.mark.parametrize("horizon", [60.0, 300.0])
def test_gain_equals_the_difference_of_two_simulations(horizon):
    new, kept = (_left_by_simulation(np.random.default_rng(12), first, horizon) for first in (NEW, KEPT))
    means = [mean_and_sd(*one)[0] for one in (KEPT, NEW)]
    failures = [weibull_renewals(horizon, *NEW, *one) for one in (KEPT, NEW)]
    found = life_left_gained(horizon, *means, *failures)
    assert_allclose(found, (new[0] - kept[0]) / means[1], atol=4 * np.hypot(new[1], kept[1]) / means[1])


def test_lives_of_no_memory_and_equal_rate_gain_nothing():
    time = np.array([0.0, 10.0, 500.0])
    assert_allclose(life_left_gained(time, 50.0, 50.0, time / 50, time / 50), 0.0, atol=1e-12)


def test_at_once_it_is_the_life_the_kept_piece_has_lost():
    assert_allclose(life_left_gained(0.0, np.array([250.0, 1000.0]), 1000.0, 0.0, 0.0), [0.75, 0.0])


def test_a_call_back_that_keeping_brings_leaves_a_newer_piece():
    # by hand: (1 - 1/4) - (0.9 - 0.1) = -0.05
    assert_allclose(life_left_gained(100.0, 250.0, 1000.0, 0.9, 0.1), -0.05)


def test_no_gain_goes_beyond_one_new_piece():
    assert life_left_gained(10.0, 5000.0, 1000.0, 0.0, 0.0) == -1
    assert life_left_gained(1000.0, 100.0, 500.0, 2.0, 4.0) == 1


def test_life_left_is_not_below_zero_and_broadcasts():
    assert_allclose(life_left(np.array([[10.0], [2.0]]), np.array([3.0, 4.0]), 5.0, 1.0), [[0, 0], [6, 7]])


@pytest.mark.parametrize(
    "bad", [{"time": -1.0}, {"kept_mean_life": 0.0}, {"new_mean_life": np.nan}, {"kept_failures": -0.1}]
)
def test_refuses_the_impossible(bad):
    arguments = {"time": 1.0, "kept_mean_life": 2.0, "new_mean_life": 3.0, "kept_failures": 0.1, "new_failures": 0.1}
    with pytest.raises(InvalidParameter, match=next(iter(bad)).split("_", 1)[-1]):
        life_left_gained(**arguments | bad)
