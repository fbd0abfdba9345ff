"""Pieces given use: whole sets and fewer pieces, cut off at what a machine holds."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import piece_belief


def row(*values):
    return [np.array([value], dtype=float) for value in values]


def test_set_belief_by_hand():
    # All: (6 + 1) / (10 + 2). Row 0: the pool's other row took 2 of 4: (2 * 7/12 + 2) / (2 + 4); worth two uses.
    alpha, beta = piece_belief.set_belief([4.0, 2.0], [6.0, 4.0], [True, True], [0, 0])
    centre = (2 * 7 / 12 + 2) / 6
    assert_allclose([alpha[0], beta[0]], [2 * centre + 4, 2 * (1 - centre) + 2])


def test_rows_where_no_set_is_known_say_nothing_of_sets():
    alone = piece_belief.set_belief([4.0], [6.0], [True], [0])
    beside = piece_belief.set_belief([4.0, 0.0], [6.0, 90.0], [True, False], [0, 0])
    assert_allclose([belief[0] for belief in beside], [belief[0] for belief in alone])


def test_without_an_end_pieces_are_one_and_a_negative_binomial_more():
    pieces, weight = piece_belief.pieces_given_use(*row(1e7, 3e7, 2.0, 1, 1, np.inf))
    assert_allclose(weight.sum(), 1)
    count = np.arange(pieces.shape[2] - 1)
    assert_allclose(weight[0] @ pieces[0, :, 1:], stats.nbinom(2, 0.25).pmf(count), atol=1e-6)
    assert (pieces[0, :, 0] == 0).all()


def test_a_machine_that_holds_four_gives_one_to_four_and_the_set_its_share():
    pieces, weight = piece_belief.pieces_given_use(*row(20.0, 15.0, 2.0, 6.0, 2.0, 4))
    pmf = weight[0] @ pieces[0]
    assert_allclose(pmf.sum(), 1)
    assert_allclose(pmf[5:], 0)
    stay = np.random.default_rng(2).beta(20, 15, 200_000)
    below = np.stack([stats.nbinom.pmf(k, 2.0, stay) for k in range(4)])
    below = (below / below.sum(axis=0)).mean(axis=1)
    assert_allclose(pmf[1:5], 0.25 * below + 0.75 * np.array([0, 0, 0, 1]), atol=5e-3)


def test_nodes_carry_the_doubt_about_the_share_of_sets():
    pieces, weight = piece_belief.pieces_given_use(*row(1e7, 1e-6, 2.0, 3.0, 1.0, 2))
    mean = pieces[0] @ np.arange(pieces.shape[2])  # 1 + share of sets, at each node
    belief = stats.beta(3, 1)
    assert_allclose(weight[0] @ mean, 1 + belief.mean(), rtol=1e-6)
    assert_allclose(weight[0] @ mean**2 - (weight[0] @ mean) ** 2, belief.var(), rtol=1e-4)


def test_a_part_a_machine_holds_once_is_taken_once():
    pieces, _ = piece_belief.pieces_given_use(*row(3.0, 500.0, 2.0, 1.0, 1.0, 1))
    assert_allclose(pieces[0, :, 1], 1)


def test_a_cut_far_below_what_was_expected_still_gives_a_distribution():
    pieces, _ = piece_belief.pieces_given_use(*row(3.0, 1e9, 200.0, 1.0, 9.0, 3))
    assert_allclose(pieces.sum(axis=2), 1)


def test_a_whole_set_far_beyond_what_is_taken_otherwise_keeps_its_share():
    # Two hundred lamps or a handful: the set lies beyond the tail of the smaller takings.
    pieces, weight = piece_belief.pieces_given_use(*row(50, 100, 5, 6, 4, 200))
    assert_allclose(pieces.sum(axis=2), 1)
    assert_allclose((weight * pieces[:, :, 200]).sum(), 0.6, atol=1e-6)


def test_no_rows():
    pieces, weight = piece_belief.pieces_given_use(*(np.empty(0) for _ in range(6)))
    assert pieces.shape[0] == 0 and weight.shape[0] == 0


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: piece_belief.set_belief([2.0], [1.0], [True], [0]), "uses - set_uses"),
        (lambda: piece_belief.set_belief([1.0], [1.0, 2.0], [True], [0]), "wanted one each"),
        (lambda: piece_belief.pieces_given_use(*row(3, 1, 1, 1, 1, 0.5)), "machine_pcs"),
        (lambda: piece_belief.pieces_given_use(*row(3, 1, 1, 1, 1, np.nan)), "machine_pcs"),
        (lambda: piece_belief.pieces_given_use(*row(2, 1, 1, 1, 1, 2)), "alpha"),
        (lambda: piece_belief.pieces_given_use(*row(3, 1e9, 1, 1, 1, np.inf)), "wanted at most"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
