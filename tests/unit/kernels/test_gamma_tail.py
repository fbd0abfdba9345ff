import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate
from scipy.special import gammaincc
from scipy.stats import gamma

from pipeline.kernels import gamma_tail


@pytest.mark.parametrize("shape", [0.2, 1.0, 3.7, 60.0])
@pytest.mark.parametrize("x", [1e-6, 0.5, 4.0, 80.0])
def test_log_survival_equals_the_library_where_that_still_has_digits(shape, x):
    assert_allclose(gamma_tail.log_survival(shape, x), np.log(gammaincc(shape, x)), rtol=1e-9, atol=1e-14)


def test_log_survival_is_smooth_where_one_method_takes_over_from_the_other():
    x = np.linspace(440, 500, 400)  # survival falls through 1e-200 on the way
    slope = np.diff(gamma_tail.log_survival(3.0, x))
    assert (np.diff(slope) < 1e-9).all() and (np.abs(np.diff(slope, 2)) < 1e-8).all()


def test_log_survival_of_an_exponential_is_a_straight_line_however_far():
    assert_allclose(gamma_tail.log_survival(1.0, np.array([1.0, 700.0, 1e5])), [-1.0, -700.0, -1e5])


@pytest.mark.parametrize(("shape", "x"), [(0.6, 0.3), (2.5, 1.0), (2.5, 9.0), (30.0, 55.0)])
def test_means_beyond_a_point_equal_quadrature(shape, x):
    density = gamma(shape).pdf
    share, _ = integrate.quad(density, x, np.inf)
    first, _ = integrate.quad(lambda t: t * density(t), x, np.inf)
    logs, _ = integrate.quad(lambda t: np.log(t) * density(t), x, np.inf)
    assert_allclose(gamma_tail.mean_beyond(shape, x), first / share, rtol=1e-7)
    assert_allclose(gamma_tail.mean_log_beyond(shape, x), logs / share, rtol=1e-7)


def test_far_out_the_mean_beyond_stays_just_above_the_point():
    beyond = gamma_tail.mean_beyond(4.0, np.array([1e3, 1e4]))
    assert_allclose(beyond - [1e3, 1e4], [1.003, 1.0003], atol=1e-4)
    assert (gamma_tail.mean_log_beyond(4.0, np.array([1e3, 1e4])) > np.log([1e3, 1e4])).all()
