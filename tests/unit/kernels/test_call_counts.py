"""How many call-backs a machine brings: by hand, beside convolution, and where there are very many."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import binom, poisson

from pipeline.errors import InvalidParameter
from pipeline.kernels.call_counts import CALLS, call_counts
from pipeline.kernels.failure_counts import failure_counts
from pipeline.kernels.failure_paths import failures_on_paths


def test_pieces_alike_are_binomial():
    found = call_counts([[[0.9, 0.1]]], [7.0], [0.0])
    assert_allclose(found, [*binom.pmf(range(3), 7, 0.1), binom.sf(2, 7, 0.1)], atol=1e-12)


def test_calls_without_a_part_are_poisson():
    found = call_counts([[[1.0, 0.0]]], [5.0], [0.7])
    assert_allclose(found, [*poisson.pmf(range(3), 0.7), poisson.sf(2, 0.7)], atol=1e-12)


def test_several_rows_beside_convolution():
    rng = np.random.default_rng(0)
    counts = rng.dirichlet(np.ones(6), (2, 3))
    pieces = np.array([2.0, 0.0, 3.0])
    by_hand = np.zeros(4)
    for draw in range(2):
        whole = np.ones(1)
        for row in range(3):
            for _ in range(int(pieces[row])):
                whole = np.convolve(whole, counts[draw, row])
        by_hand[:3] += whole[:3] / 2
        by_hand[3] += whole[3:].sum() / 2
    assert_allclose(call_counts(counts, pieces, [0.0, 0.0]), by_hand, atol=1e-12)


def test_the_belief_is_averaged_over_last():
    # two pieces of a class are both long-lived or both short-lived: not two independent ones of the average
    found = call_counts([[[1.0, 0.0]], [[0.0, 1.0]]], [2.0], [0.0, 0.0], n_max=3)
    assert_allclose(found, [0.5, 0.0, 0.5, 0.0], atol=1e-12)


@pytest.mark.parametrize("fraction", [0.1, 0.5, 0.93])
def test_a_fraction_of_a_piece_is_a_chance_of_one(fraction):
    found = call_counts([[[0.4, 0.5, 0.1]]], [fraction], [0.0])
    assert_allclose(found[0], 0.4**fraction)
    assert_allclose(found[1:] / found[1:].sum(), [5 / 6, 1 / 6, 0], atol=1e-9)


def test_a_fraction_of_a_piece_that_never_fails_never_calls():
    assert_allclose(call_counts([[[1.0, 0.0]]], [0.4], [0.0]), [1, 0, 0, 0], atol=1e-12)


@pytest.mark.parametrize("pieces", [16, 20, 40])
def test_more_calls_than_are_told_apart_are_more_and_not_fewer(pieces):
    # four failures of each piece: counted round the circle, the 64 of sixteen pieces would be none
    assert 16 * 4 == CALLS
    assert_allclose(call_counts([[[0.0, 0.0, 0.0, 0.0, 1.0]]], [pieces], [0.0]), [0, 0, 0, 1], atol=1e-7)


@pytest.mark.parametrize("pieces", [0.0, 0.3, 2.4, 40.7, 300.0])
def test_shares_are_shares_and_add_up_to_one(pieces):
    rng = np.random.default_rng(1)
    found = call_counts(rng.dirichlet(np.ones(6), (20, 4)), [pieces] * 4, rng.random(20))
    assert_allclose(found.sum(), 1)
    assert ((found >= 0) & (found <= 1)).all()


@pytest.mark.parametrize(
    ("counts", "pieces", "other"),
    [
        ([[[1.1, -0.1]]], [1.0], [0.0]),
        ([[[0.9, 0.1]]], [-1.0], [0.0]),
        ([[[0.9, 0.1]]], [1.0], [-0.1]),
        ([[[0.9, 0.1]]], [1.0, 2.0], [0.0]),
        ([[[0.9, 0.1]]], [1.0], [0.0, 0.0]),
    ],
)
def test_what_cannot_be_is_refused(counts, pieces, other):
    with pytest.raises(InvalidParameter):
        call_counts(counts, pieces, other)


def test_beside_machines_played_through():
    # three pieces that fail early and twelve that fail late, the life known only up to a factor
    rng, n_draws = np.random.default_rng(3), 40_000
    factor = np.exp(0.5 * rng.standard_normal((n_draws, 1)))
    pieces, scale, shape = np.array([3.0, 12.0]), np.array([4.0, 30.0]) * factor, np.array([[1.2, 2.0]]) + 0 * factor
    calls = failures_on_paths(rng, pieces, scale, shape, scale, shape, np.ones((n_draws, 1)))[:, :, 0].sum(axis=1)
    seen = np.array([(calls == 0).mean(), (calls == 1).mean(), (calls == 2).mean(), (calls >= 3).mean()])
    some = slice(0, 2000)
    found = call_counts(failure_counts(1.0, scale[some], shape[some], steps=32), pieces, np.zeros(2000))
    # both are samples of the belief: four standard errors of the smaller one
    assert_allclose(found, seen, atol=4 * 0.5 / np.sqrt(2000) * 0.5)
