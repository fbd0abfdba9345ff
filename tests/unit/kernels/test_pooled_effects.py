"""Sums over pairs of effects against the plain matrices that they stand for."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.pooled_effects import Effects

N_ROWS = 40


@pytest.fixture
def laid_out():
    """Effects, the same as a plain matrix, and the pools as indicators."""
    rng = np.random.default_rng(5)
    pool, factors = rng.integers(0, 9, N_ROWS), [rng.integers(0, n, N_ROWS) for n in (3, 6)]
    for group, n in zip((pool, *factors), (9, 3, 6), strict=True):
        group[:n] = np.arange(n)  # every level is met
    slopes = rng.normal(size=(N_ROWS, 2)) * (rng.random((N_ROWS, 2)) < 0.6)  # some rows have no slope
    x = np.hstack([slopes, *(np.eye(factor.max() + 1)[factor] for factor in factors)])
    return Effects.of(pool, factors, slopes), x, np.eye(9)[pool].T


def test_rows_and_sums_are_those_of_the_plain_matrices(laid_out):
    effects, x, pools = laid_out
    weight = np.random.default_rng(6).gamma(1.0, size=N_ROWS)
    assert_allclose(effects.rows.toarray(), x)
    assert_allclose(effects.pool_sums(weight), pools @ weight)
    assert_allclose(effects.towards(weight), x.T @ weight)
    assert_allclose(effects.held(weight).toarray(), pools @ (weight[:, None] * x), atol=1e-14)
    assert list(effects.n_levels) == [2, 3, 6] and list(np.bincount(effects.kind)) == [2, 3, 6]


def test_precision_is_what_is_left_when_pools_explain_their_part(laid_out):
    effects, x, pools = laid_out
    rng = np.random.default_rng(7)
    weight, variance = rng.gamma(1.0, size=N_ROWS), rng.gamma(1.0, size=9)
    held = pools @ (weight[:, None] * x)
    wanted = x.T @ (weight[:, None] * x) - held.T @ (variance[:, None] * held)
    assert_allclose(np.tril(effects.precision(weight, effects.held(weight), variance)), np.tril(wanted), atol=1e-12)


def test_doubts_are_quadratic_forms(laid_out):
    effects, x, pools = laid_out
    rng = np.random.default_rng(8)
    weight, variance = rng.gamma(1.0, size=N_ROWS), rng.gamma(1.0, size=9)
    root = rng.normal(size=(x.shape[1], x.shape[1]))
    covariance = root @ root.T
    held = variance[:, None] * (pools @ (weight[:, None] * x))
    apart = x - pools.T @ held
    of_row, of_pool = effects.doubts(effects.held(weight), variance, covariance)
    assert_allclose(of_row, np.einsum("ra,ab,rb->r", apart, covariance, apart) + pools.T @ variance, rtol=1e-10)
    assert_allclose(of_pool, np.einsum("pa,ab,pb->p", held, covariance, held) + variance, rtol=1e-10)


def test_a_pool_that_is_no_whole_number_is_refused():
    with pytest.raises(InvalidParameter, match="whole"):
        Effects.of(np.full(3, 0.5), [], np.ones((3, 1)))
