"""Failures of single machines played through, beside what is known of renewals."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels.failure_paths import failures_on_paths
from pipeline.kernels.renewal_function import weibull_renewals
from pipeline.kernels.weibull import survival


def played(pieces, first, later, ends, n_draws=20_000, seed=0):
    """Failures (n_draws, n_rows, n_ends) of pieces with a first and a later life, each (scale, shape)."""
    lives = [np.broadcast_to(np.atleast_1d(value).astype(float), (n_draws, len(pieces))) for value in (*first, *later)]
    return failures_on_paths(np.random.default_rng(seed), pieces, *lives, np.broadcast_to(ends, (n_draws, len(ends))))


def test_lives_of_no_memory_fail_as_a_poisson_stream():
    counts = played([1.0], (2.0, 1.0), (2.0, 1.0), [6.0])[:, 0, 0]
    assert_allclose(counts.mean(), 3.0, atol=4 * np.sqrt(3 / 20_000))
    assert_allclose(counts.var(), 3.0, rtol=0.05)


@pytest.mark.parametrize(("first", "later"), [((3.0, 2.0), (3.0, 2.0)), ((1.0, 1.5), (8.0, 3.0))])
def test_mean_is_the_renewal_function_and_none_the_survival(first, later):
    ends = [1.0, 5.0]
    counts = played([1.0], first, later, ends)[:, 0]
    for place, end in enumerate(ends):
        error = counts[:, place].std() / np.sqrt(len(counts))
        assert abs(counts[:, place].mean() - weibull_renewals(end, *later, *first, steps=256)) < 4 * error
        quiet = survival(end, *first)
        assert abs((counts[:, place] == 0).mean() - quiet) < 4 * np.sqrt(quiet * (1 - quiet) / len(counts)) + 1e-9


def test_failures_never_become_fewer():
    counts = played([4.0], (1.0, 1.3), (1.0, 1.3), [0.5, 1.0, 3.0], n_draws=500)
    assert (np.diff(counts, axis=2) >= 0).all()
    assert counts[:, :, -1].sum() > counts[:, :, 0].sum()


def test_a_fraction_of_a_piece_is_there_that_often():
    counts = played([2.3], (1.0, 200.0), (1e9, 200.0), [5.0])[:, 0, 0]
    assert set(counts.tolist()) == {2, 3}
    assert_allclose((counts == 3).mean(), 0.3, atol=4 * np.sqrt(0.21 / 20_000))


def test_no_pieces_no_failures():
    assert played([0.0], (1.0, 1.0), (1.0, 1.0), [9.0], n_draws=50).sum() == 0
    assert played([3.0], (1.0, 1.0), (1.0, 1.0), [0.0], n_draws=50).sum() == 0


def test_each_row_has_its_own_life():
    counts = played([1.0, 1.0], ([1.0, 5.0], 300.0), ([1.0, 5.0], 300.0), [5.5], n_draws=100)[:, :, 0]
    assert_allclose(counts.mean(axis=0), [5, 1], atol=0.3)


def test_the_same_generator_gives_the_same_machines():
    first, second = (played([3.0], (2.0, 1.5), (2.0, 1.5), [4.0], n_draws=60, seed=9) for _ in range(2))
    assert (first == second).all()
