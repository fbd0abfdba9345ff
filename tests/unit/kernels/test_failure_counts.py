import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.special import erf
from scipy.stats import poisson

from pipeline.errors import InvalidParameter
from pipeline.kernels.failure_counts import failure_counts
from pipeline.kernels.renewal_function import weibull_renewals
from pipeline.kernels.weibull import survival


@pytest.mark.parametrize("time", [0.1, 1.0, 3.0, 6.0])
def test_lives_of_no_memory_are_poisson(time):
    wanted = [*poisson.pmf(np.arange(5), time), poisson.sf(4, time)]
    assert_allclose(failure_counts(time, 1.0, 1.0), wanted, atol=1e-8)


def test_two_exponential_lives_of_different_mean_by_hand():
    # at least two failures: a sum of two exponentials, P = 1 - (a e^-bt - b e^-at) / (a - b)
    a, b, time = 1 / 2, 1 / 5, 4.0
    found = failure_counts(time, 5.0, 1.0, first_scale=2.0, n_max=2)
    two = 1 - (a * np.exp(-b * time) - b * np.exp(-a * time)) / (a - b)
    assert_allclose(found, [np.exp(-a * time), 1 - np.exp(-a * time) - two, two], atol=1e-8)


def _two_rayleigh(time):
    """Share of sums of two Weibull lives of shape 2, scale 1, that end by a time; by parts, with the error function."""
    return 1 - np.exp(-(time**2)) - np.sqrt(np.pi / 2) * time * np.exp(-(time**2) / 2) * erf(time / np.sqrt(2))


@pytest.mark.parametrize("time", [0.4, 1.0, 2.5])
def test_two_lives_of_shape_two_in_closed_form(time):
    assert_allclose(failure_counts(time, 1.0, 2.0, n_max=2)[2], _two_rayleigh(time), atol=1e-9)


@pytest.mark.parametrize("shape", [1.0, 1.3, 2.0, 3.0, 5.0])
def test_default_steps_are_right_to_a_millionth_from_shape_one(shape):
    time, first = np.array([0.2, 1.0, 3.0, 6.0])[:, None], np.array([1.0, 1.7, 4.0])
    few, many = (failure_counts(time, 1.0, shape, 1.2, first, n_max=9, **more) for more in ({}, {"steps": 4096}))
    assert_allclose(few, many, atol=1e-6)


def test_below_shape_one_it_is_right_to_what_it_says():
    time, shape = np.array([0.2, 1.0, 3.0, 6.0, 10.0])[:, None], np.array([0.5, 0.7, 0.9])
    few, many = (failure_counts(time, 1.0, shape, **more) for more in ({}, {"steps": 4096}))
    assert_allclose(few, many, atol=2e-6)


@pytest.mark.parametrize(("steps", "lives"), [(16, 3.0), (32, 6.0)])
def test_few_steps_are_right_to_a_ten_thousandth(steps, lives):
    time, shape = np.linspace(0.1, lives, 12)[:, None], np.array([1.0, 1.4, 2.0, 3.0, 5.0])
    assert_allclose(failure_counts(time, 1.0, shape, steps=steps), failure_counts(time, 1.0, shape), atol=1e-4)


@pytest.mark.parametrize(("shape", "first_shape"), [(2.0, 2.0), (3.0, 1.1), (1.0, 2.0)])
def test_mean_is_the_renewal_function(shape, first_shape):
    time = np.array([0.3, 1.0, 4.0])
    chance = failure_counts(time, 1.0, shape, 0.7, first_shape, n_max=30)
    wanted = weibull_renewals(time, 1.0, shape, 0.7, first_shape)
    assert_allclose(chance @ np.arange(31), wanted, atol=2e-6)


def test_sums_to_one_and_no_failure_is_the_survival_of_the_first_life():
    rng = np.random.default_rng(3)
    time, scale, shape, first_scale, first_shape = rng.uniform(0.3, 4.0, (5, 200))
    chance = failure_counts(time, scale, shape, first_scale, first_shape)
    assert chance.shape == (200, 6)
    assert (chance >= 0).all()
    assert_allclose(chance.sum(axis=-1), 1.0, rtol=0, atol=4e-16)
    assert_allclose(chance[:, 0], survival(time, first_scale, first_shape), rtol=0, atol=3e-16)


def test_a_longer_horizon_never_means_fewer_failures():
    chance = failure_counts(np.linspace(0, 5, 60)[:, None], 1.0, np.array([0.8, 1.0, 2.5]))
    at_least = np.cumsum(chance[..., ::-1], axis=-1)[..., ::-1]
    assert (np.diff(at_least, axis=0) >= -1e-12).all()


def test_equals_simulation_with_a_kept_first_life():
    rng = np.random.default_rng(8)
    n = 200_000
    first, later = 80 * rng.weibull(1.2, n), 200 * np.cumsum(rng.weibull(2.5, (n, 8)), axis=1)
    calls = (first <= 500) + (first[:, None] + later <= 500).sum(axis=1)
    seen = np.bincount(np.minimum(calls, 4), minlength=5) / n
    found = failure_counts(500.0, 200.0, 2.5, first_scale=80.0, first_shape=1.2, n_max=4)
    assert (np.abs(found - seen) < 4 * np.sqrt(found * (1 - found) / n) + 1e-6).all()


def test_no_time_no_failure_and_lives_far_too_short_fail_as_often_as_counted():
    assert_allclose(failure_counts(0.0, 1.0, 2.0), [1, 0, 0, 0, 0, 0])
    assert_allclose(failure_counts(1e6, 1.0, 40.0), [0, 0, 0, 0, 0, 1], atol=1e-9)


def test_one_cell_beyond_none():
    assert_allclose(failure_counts(1.0, 1.0, 2.0, n_max=1), [np.exp(-1), 1 - np.exp(-1)])


def test_broadcasts_and_answers_many_rows():
    time = np.linspace(0, 3, 900)
    found = failure_counts(time[:, None], np.array([1.0, 2.0]), 1.0, steps=512)
    assert found.shape == (900, 2, 6)
    assert_allclose(found[..., 1], np.stack([time * np.exp(-time), time / 2 * np.exp(-time / 2)], axis=-1), atol=1e-8)


@pytest.mark.parametrize(
    "bad", [{"time": -1.0}, {"scale": 0.0}, {"shape": np.nan}, {"first_shape": -2.0}, {"n_max": 0}, {"steps": 1.5}]
)
def test_refuses_impossible_lives(bad):
    arguments = {"time": 1.0, "scale": 1.0, "shape": 2.0, **bad}
    with pytest.raises(InvalidParameter, match=next(iter(bad))):
        failure_counts(**arguments)
