"""Gauss rules for shares and odds: exact where theory says exact."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, special, stats
from scipy.special import roots_jacobi

from pipeline.errors import InvalidParameter
from pipeline.kernels.quadrature import beta_nodes, odds_nodes


def test_nodes_equal_scipys_gauss_jacobi_roots():
    node, weight = beta_nodes([2.5], [0.7], 9)
    t, w = roots_jacobi(9, 0.7 - 1, 2.5 - 1)
    assert_allclose(node[0], (1 + t) / 2, atol=1e-13)
    assert_allclose(weight[0], w / w.sum(), rtol=1e-10)


@pytest.mark.parametrize(("alpha", "beta"), [(0.5, 0.5), (1, 1), (0.02, 3.0), (40.0, 0.3), (3e4, 7e4)])
def test_moments_are_exact_up_to_twice_the_nodes(alpha, beta):
    node, weight = beta_nodes([alpha], [beta], 5)
    for order in range(10):
        wanted = stats.beta(alpha, beta).moment(order) if order else 1
        assert_allclose((weight * node**order).sum(), wanted, rtol=1e-6, atol=1e-10)


def test_many_rows_are_treated_alike():
    alpha, beta = np.array([1.0, 2.0, 30.0]), np.array([4.0, 0.5, 30.0])
    node, weight = beta_nodes(alpha, beta, 6)
    for row in range(3):
        alone = beta_nodes(alpha[row : row + 1], beta[row : row + 1], 6)
        assert_allclose(node[row], alone[0][0], atol=1e-14)
        assert_allclose(weight[row], alone[1][0], atol=1e-14)


def test_odds_rule_has_the_beta_prime_moments():
    # Odds of the complement of Beta(a, b): mean b/(a-1), second moment b(b+1)/((a-1)(a-2)).
    for a, b in [(2.2, 0.3), (3.0, 10.0), (50.0, 4.0), (1e6, 0.1)]:
        odds, weight = odds_nodes([a], [b], 3)
        assert_allclose(weight.sum(), 1, rtol=1e-9)
        assert_allclose((weight * odds).sum(), b / (a - 1), rtol=1e-6)
        assert_allclose((weight * odds**2).sum(), b * (b + 1) / ((a - 1) * (a - 2)), rtol=1e-6)


def test_odds_rule_on_a_generating_function_against_adaptive_integration():
    a, b, size, z = 6.0, 9.0, 2.0, 0.3
    odds, weight = odds_nodes([a], [b], 3)
    wanted, _ = integrate.quad(lambda p: stats.beta(a, b).pdf(p) * (1 + (1 - p) / p * (1 - z)) ** -size, 0, 1)
    assert_allclose((weight * (1 + odds * (1 - z)) ** -size).sum(), wanted, rtol=2e-3)


def test_odds_without_a_variance_are_refused():
    with pytest.raises(InvalidParameter, match="alpha - 2"):
        odds_nodes([2.0], [1.0], 3)


def test_bad_parameters_are_refused():
    with pytest.raises(InvalidParameter, match="alpha"):
        beta_nodes([0.0], [1.0], 3)
    with pytest.raises(InvalidParameter, match="n_nodes is 0"):
        beta_nodes([1.0], [1.0], 0)


def test_many_nodes_average_as_exactly_as_few():
    # E theta^k of Beta(a, b) is B(a + k, b) / B(a, b); beyond 25 nodes another routine finds them.
    alpha, beta, power = np.array([0.4, 3.0, 30.0]), np.array([1.5, 2.0, 50.0]), 40
    wanted = np.exp(special.betaln(alpha + power, beta) - special.betaln(alpha, beta))
    for n_nodes in (25, 26, 64):
        node, weight = beta_nodes(alpha, beta, n_nodes)
        assert_allclose((weight * node**power).sum(axis=1), wanted, rtol=1e-9)
        assert (np.diff(node, axis=1) > 0).all()
