"""Worth of whole jobs drawn from beliefs: means and spreads by arithmetic, the margins of the shares, bad input."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import compound, job_amounts
from pipeline.kernels.job_amounts import JobDraws, draw_shares


def draws(share, loading=0.0, pieces=((0.0, 1.0),), price=(1.0,), n_draws=20_000, seed=1):
    """Draws with nothing in doubt about shares: every draw has the same."""
    n_parts = len(share)
    pieces = np.broadcast_to(np.asarray(pieces, dtype=float)[:, None], (n_parts, 1, len(pieces[0])))
    return JobDraws(np.tile(share, (n_draws, 1)), loading, pieces, np.ones((n_parts, 1)),
                    np.broadcast_to(price, n_parts), np.random.default_rng(seed))


def test_shares_keep_their_distributions_and_hang_together():
    alpha, beta = np.array([3.0, 0.4, 30.0]), np.array([7.0, 2.0, 30.0])
    alone, together = (draw_shares(alpha, beta, variance, 20_000, np.random.default_rng(2)) for variance in (0, 0.05))
    for place in range(3):
        for sample in (alone, together):
            assert stats.kstest(sample[:, place], stats.beta(alpha[place], beta[place]).cdf).statistic < 0.015
    assert abs(stats.spearmanr(alone[:, 0], alone[:, 2])[0]) < 0.03
    # In common: spread x (total + 1) x variance = 0.21 x 11 x 0.05 and 0.25 x 61 x 0.05; correlation of the normals
    # is the root of their product, of ranks 6 / pi x asin(half of it).
    expected = 6 / np.pi * np.arcsin(np.sqrt(0.1155 * 0.7625) / 2)
    assert_allclose(stats.spearmanr(together[:, 0], together[:, 2])[0], expected, atol=0.03)


def test_worth_of_independent_parts_has_the_binomial_mean_and_variance():
    worth = draws([0.3, 0.1], price=[2.0, 10.0]).of_jobs(np.full(20_000, 5))
    assert_allclose(worth.mean(), 5 * (0.3 * 2 + 0.1 * 10), rtol=0.02)
    assert_allclose(worth.var(), 5 * (0.21 * 4 + 0.09 * 100), rtol=0.04)


def test_pieces_of_a_use_are_drawn_as_given():
    worth = draws([1.0], pieces=[[0.0, 0.25, 0.0, 0.75]]).of_jobs(np.ones(20_000, dtype=int))
    assert_array_equal(np.unique(worth), [1.0, 3.0])
    assert_allclose((worth == 3).mean(), 0.75, atol=0.01)


def test_the_node_of_doubt_about_pieces_is_shared_by_all_jobs_of_a_draw():
    pieces = np.array([[[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]])
    made = JobDraws(np.ones((4000, 1)), 0.0, pieces, np.array([[0.5, 0.5]]), [1.0], np.random.default_rng(3))
    assert set(np.unique(made.of_jobs(np.full(4000, 10)))) == {10.0, 20.0}


def test_a_rough_job_takes_more_of_everything_and_the_mean_stays():
    share, one = np.full(60, 0.2), np.ones(20_000, dtype=int)
    smooth, rough = (draws(share, loading=loading).of_jobs(one) for loading in (0.0, 1.0))
    assert_allclose(smooth.mean(), 12, rtol=0.02)
    assert_allclose(rough.mean(), 12, rtol=0.02)
    assert_allclose(smooth.var(), 60 * 0.16, rtol=0.05)
    assert rough.var() > 4 * smooth.var()


def test_one_part_at_a_time_agrees_with_the_exact_distribution():
    # A share in doubt and a stream of Poisson jobs: the generating functions of the forecast are the referee.
    use = compound.UseRows(np.array([2.0]), np.array([6.0]), np.array([[[0.0, 0.6, 0.3, 0.1]]]), np.ones((1, 1)))
    exact = compound.predictive_pmfs(use, compound.JobRows(np.zeros((1, 0)), np.zeros((1, 0)), np.array([7.0]),
                                                           np.array([0.0])))[0]
    rng = np.random.default_rng(4)
    share = draw_shares(use.alpha, use.beta, 0.0, 60_000, rng)
    made = JobDraws(share, 0.9, use.pieces, use.piece_weight, [1.0], rng).of_jobs(rng.poisson(7.0, 60_000))
    found = np.bincount(made.round().astype(int), minlength=exact.size)[: exact.size] / made.size
    assert np.abs(np.cumsum(found) - np.cumsum(exact)).max() < 0.01


def test_the_rest_of_a_job_is_what_it_has_not_taken():
    made = draws([0.5, 0.5])
    rest = made.of_rest([True, False], 0.4, 0.5)
    # Half done without the part: 0.5 x 0.4 / (1 - 0.5 x 0.5).
    assert_allclose(rest.mean(), 0.2 / 0.75, atol=0.01)
    assert_array_equal(made.of_rest([True, True], 1.0, 0.0), 0.0)


def test_a_job_that_has_taken_much_is_expected_to_go_on():
    share = np.full(40, 0.3)
    much, little = np.arange(40) < 20, np.arange(40) < 1
    made = draws(share, loading=1.0, n_draws=4000)
    of_much, of_little = (made.of_rest(taken, 0.5, 0.5).mean() / (~taken).sum() for taken in (much, little))
    assert of_much > 2 * of_little


def test_single_jobs_sum_to_the_jobs_of_their_draw():
    share, pieces = draw_shares([3.0, 2.0, 8.0], [7.0, 18.0, 2.0], 0.1, 6000, np.random.default_rng(5)), [
        [0.0, 0.6, 0.3, 0.1]]
    made = JobDraws(share, 0.9, np.tile(pieces, (3, 1, 1)), np.ones((3, 1)), [1.0, 4.0, 0.5], np.random.default_rng(6))
    n_jobs = np.random.default_rng(7).poisson(2.0, 6000)
    draw = np.repeat(np.arange(6000), n_jobs)
    each = made.by_job(draw)
    assert each.shape == (draw.size, 3)
    summed = np.bincount(draw, each.sum(axis=1), 6000)
    whole = made.of_jobs(n_jobs)
    assert stats.ks_2samp(summed, whole).statistic < 0.03
    assert_allclose(summed.mean(), whole.mean(), rtol=0.04)
    assert_allclose(each.mean(axis=0), share[draw].mean(axis=0) * np.array([1.0, 4.0, 0.5]) * 1.5, rtol=0.05)
    # a rough job takes more of everything, in one job as in the sum
    used = each > 0
    assert np.corrcoef(used[:, 0], used[:, 2])[0, 1] > 0.05


def test_single_jobs_stand_in_the_order_given_under_the_beliefs_of_their_draw():
    share = np.array([[0.0, 1.0], [1.0, 0.0], [1.0, 1.0]])
    made = JobDraws(share, 0.0, np.tile([0.0, 1.0], (2, 1, 1)), np.ones((2, 1)), [1.0, 7.0], np.random.default_rng(8))
    draw = np.random.default_rng(9).integers(0, 3, job_amounts.JOBS_AT_ONCE + 500)
    assert_array_equal(made.by_job(draw), share[draw] * [1.0, 7.0])
    assert made.by_job([]).shape == (0, 2)


def test_no_jobs_are_worth_nothing():
    assert_array_equal(draws([0.5], n_draws=5).of_jobs(np.zeros(5, dtype=int)), 0)


def test_bad_input_is_refused():
    with pytest.raises(InvalidParameter, match="n_jobs"):
        draws([0.5], n_draws=1).of_jobs([-1])
    with pytest.raises(InvalidParameter, match="at most 1 together"):
        draws([0.5], n_draws=1).of_rest([False], 0.7, 0.7)
    with pytest.raises(InvalidParameter, match="unit_price"):
        draws([0.5], n_draws=1, price=[-1.0])
    with pytest.raises(InvalidParameter, match="one price for each part"):
        JobDraws(np.ones((2, 3)), 0.0, np.ones((2, 1, 2)), np.ones((2, 1)), [1.0, 1.0], np.random.default_rng(0))
    with pytest.raises(InvalidParameter, match="alpha"):
        draw_shares([0.0], [1.0], 0.0, 3, np.random.default_rng(0))
