import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.renewals import convolve, renewal_numbers


def by_recursion(pmf, n_values):
    numbers = np.zeros(n_values)
    numbers[0] = 1 / (1 - pmf[0])
    for j in range(1, n_values):
        sizes = np.arange(1, min(j, len(pmf) - 1) + 1)
        numbers[j] = (pmf[sizes] @ numbers[j - sizes]) / (1 - pmf[0])
    return numbers


@pytest.mark.parametrize("n_values", [1, 2, 7, 64, 301])
def test_doubling_equals_the_plain_recursion(n_values):
    rng = np.random.default_rng(n_values)
    pmf = rng.dirichlet(np.full(9, 0.6), size=25)
    expected = [by_recursion(row, n_values) for row in pmf]
    assert_allclose(renewal_numbers(pmf, n_values), expected, rtol=1e-9, atol=1e-11)


def test_rare_demand_keeps_its_digits():
    rare = np.array([[1 - 3e-6, 1e-6, 2e-6]])
    assert_allclose(renewal_numbers(rare, 5)[0], by_recursion(rare[0], 5), rtol=1e-9)


def test_a_geometric_demand_has_constant_numbers():
    # P(d) = p (1 - p)^d: m(0) = 1 / (1 - p) and m(j) = p / (1 - p) from then on, by hand
    p = 0.4
    pmf = p * (1 - p) ** np.arange(80)
    numbers = renewal_numbers([pmf / pmf.sum()], 20)[0]
    assert_allclose(numbers[0], 1 / (1 - p))
    assert_allclose(numbers[1:], p / (1 - p), rtol=1e-9)


def test_an_item_without_demand_is_refused():
    with pytest.raises(InvalidParameter, match="chance of any demand in a period is 0"):
        renewal_numbers([[0.5, 0.5], [1.0, 0.0]], 4)


def test_convolution_does_not_wrap():
    rng = np.random.default_rng(0)
    first, second = rng.random((3, 11)), rng.random((3, 6))
    expected = [np.convolve(a, b) for a, b in zip(first, second, strict=True)]
    assert_allclose(convolve(first, second, 16), expected, atol=1e-12)
    assert_allclose(convolve(first, second, 30)[:, 16:], 0, atol=1e-12)
