from math import factorial

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.special import gamma

from pipeline.errors import InvalidParameter
from pipeline.kernels.renewal_function import expected_failures, renewals_of_many_lives, weibull_renewals
from pipeline.kernels.weibull import survival


def _series(time, shape, terms=60):
    """Smith & Leadbetter's power series, good in ordinary arithmetic up to about one life."""
    power = [gamma(1 + n * shape) / factorial(n) for n in range(terms)]
    weight = [0.0]
    for n in range(1, terms):
        weight.append(power[n] - sum(power[j] * weight[n - j] for j in range(1, n)))
    return sum(
        (-1) ** (n - 1) * weight[n] * time ** (n * shape) / gamma(1 + n * shape) for n in range(1, terms)
    )


@pytest.mark.parametrize("shape", [1.1, 1.5, 2.0, 2.5])
@pytest.mark.parametrize("time", [0.1, 0.5, 1.0])
def test_equals_the_power_series_to_a_millionth(time, shape):
    assert_allclose(weibull_renewals(time, 1.0, shape), _series(time, shape), atol=1e-6)


@pytest.mark.parametrize("shape", [0.7, 1.0, 3.0, 5.0])
def test_doubling_the_steps_changes_less_than_a_millionth(shape):
    time = np.array([0.2, 1.0, 4.0, 10.0])
    assert_allclose(
        weibull_renewals(time, 1.0, shape), weibull_renewals(time, 1.0, shape, steps=1024), atol=1e-6
    )


def test_equals_simulation_with_a_kept_first_life():
    rng = np.random.default_rng(5)
    n = 200_000
    first, later = 80 * rng.weibull(1.2, n), 200 * np.cumsum(rng.weibull(2.5, (n, 6)), axis=1)
    calls = (first <= 300) + (first[:, None] + later <= 300).sum(axis=1)
    found = weibull_renewals(300.0, 200.0, 2.5, first_scale=80.0, first_shape=1.2)
    assert_allclose(found, calls.mean(), atol=4 * calls.std() / np.sqrt(n))


def test_equals_simulation_with_an_aged_first_life():
    rng = np.random.default_rng(6)
    n, age = 200_000, 150.0
    uniform = rng.random(n) * np.exp(-((age / 200) ** 2.5))
    first = 200 * (-np.log(uniform)) ** (1 / 2.5) - age
    later = 200 * np.cumsum(rng.weibull(2.5, (n, 6)), axis=1)
    calls = (first <= 300) + (first[:, None] + later <= 300).sum(axis=1)
    found = weibull_renewals(300.0, 200.0, 2.5, age=age)
    assert_allclose(found, calls.mean(), atol=4 * calls.std() / np.sqrt(n))


def test_far_out_it_grows_by_one_per_mean_life():
    # elementary renewal theorem, with its constant: t / mean + (variance / mean^2 - 1) / 2
    mean, second = gamma(1.5), gamma(2.0)
    wanted = 12 / mean + (second / mean**2 - 1) / 2 - 0.5
    assert_allclose(weibull_renewals(12.0, 1.0, 2.0), wanted, atol=1e-5)


def test_whole_curve_ends_where_the_single_answer_is():
    steps = 2048
    end = 2 * np.arange(1, steps + 1) / steps
    curve = expected_failures(1 - survival(end, 1.0, 2.0), survival(end - 1 / steps, 1.0, 2.0))
    assert (np.diff(curve) > 0).all()
    assert_allclose(curve[-1], weibull_renewals(2.0, 1.0, 2.0), atol=1e-6)


def test_broadcasts_over_tables():
    found = weibull_renewals(np.array([[30.0], [60.0]]), np.array([50.0, 80.0, 100.0]), 1.5)
    assert found.shape == (2, 3)
    assert_allclose(found[1, 2], weibull_renewals(60.0, 100.0, 1.5))


def test_many_rows_are_all_answered():
    time = np.linspace(0, 3, 1500)
    found = weibull_renewals(time, 1.0, 1.0, steps=32)
    assert_allclose(found, time, atol=1e-5)


@pytest.mark.parametrize("bad", [{"time": -1.0}, {"scale": 0.0}, {"shape": np.nan}, {"age": -2.0}])
def test_refuses_impossible_lives(bad):
    arguments = {"time": 1.0, "scale": 1.0, "shape": 2.0, **bad}
    with pytest.raises(InvalidParameter, match=next(iter(bad))):
        weibull_renewals(**arguments)


def test_refuses_a_share_above_one():
    with pytest.raises(InvalidParameter, match="first_share"):
        expected_failures([0.5, 1.2], [1.0, 0.5])


@pytest.mark.parametrize("shape", [0.8, 1.2, 2.0, 5.0])
@pytest.mark.parametrize("lives", [0.1, 0.6, 3.0, 12.0, 35.0, 90.0])
def test_however_many_lives_the_answer_is_that_of_many_steps(shape, lives):
    many = weibull_renewals(lives, 1.0, shape, 0.3, shape, steps=4096)
    assert_allclose(renewals_of_many_lives(lives, 1.0, shape, 0.3, shape), many, rtol=2e-3, atol=2e-4)
