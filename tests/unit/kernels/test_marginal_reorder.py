"""The worth of the next lot: transforms against sums by hand, stalls against enumeration, the point against all."""

from itertools import product

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from pipeline.kernels import marginal_reorder as margin
from pipeline.kernels.marginal_reorder import GRID


def single_pieces(share):
    """Needs of kinds that take one piece at most: share by kind and part."""
    share = np.atleast_2d(np.asarray(share, dtype=float))
    return margin.needs(share, np.tile([0.0, 1.0], (*share.shape, 1)), np.ones(share.shape))


def sizes_of(*pmfs, share=1.0, most_jobs=1.0):
    """Needs of one part, one kind for each distribution of pieces given need."""
    pmf = np.array(pmfs, dtype=float)[:, None]
    return margin.needs(np.full((len(pmfs), 1), share), pmf, np.full((len(pmfs), 1), most_jobs))


def compound(count_pmf, size_pmf, length=GRID):
    """Pieces of a random number of uses, by repeated convolution."""
    total, power = np.zeros(length), np.eye(1, length)[0]
    for chance in count_pmf:
        total += chance * power
        power = np.convolve(power, size_pmf)[:length]
    return total


def test_known_jobs_add_up_as_convolved_by_hand():
    rng = np.random.default_rng(1)
    sizes, chance = rng.dirichlet(np.ones(4), 3), rng.uniform(0.1, 0.9, 3)
    sizes[:, 0] = 0
    sizes /= sizes.sum(axis=1, keepdims=True)
    wanted = np.ones(1)
    for size, one in zip(sizes, chance, strict=True):
        wanted = np.convolve(wanted, (1 - one) * np.eye(1, 4)[0] + one * size)
    found = margin.pmf(margin.log_known(sizes_of(*sizes), chance[:, None]).sum(axis=0))
    assert_allclose(found[0, : wanted.size], wanted, atol=1e-10)
    assert_allclose(found[0, wanted.size:], 0, atol=1e-10)


def test_twelve_like_jobs_are_binomial_even_where_a_transform_vanishes():
    # At a chance of one half the transform of a single piece is 0 at the highest frequency.
    one = margin.log_known(single_pieces([[0.5]]), np.array([[0.5]]))
    assert_allclose(margin.pmf(12 * one)[0, 0], stats.binom.pmf(np.arange(GRID), 12, 0.5), atol=1e-10)


def test_jobs_with_doubt_about_their_rate_are_negative_binomial():
    # Six jobs, half of which need the part: 3 uses of a gamma rate, squared coefficient of variation 0.4.
    found = margin.pmf(margin.log_stream(single_pieces([[0.5]]), np.array([[6.0]]), np.array([[0.4]])))
    wanted = stats.nbinom.pmf(np.arange(GRID), 1 / 0.4, 1 / (1 + 0.4 * 3))
    assert_allclose(found[0], wanted, atol=stats.nbinom.sf(GRID - 1, 1 / 0.4, 1 / (1 + 0.4 * 3)) + 1e-10)


@pytest.mark.parametrize("size", [[0.0, 1.0], [0.0, 0.7, 0.2, 0.1], [0.0, 0.0, 0.5, 0.0, 0.5]])
def test_uses_of_several_pieces_are_compound(size):
    needs, n_uses = np.arange(60), 2.0
    gamma, poisson = (margin.pmf(margin.log_stream(sizes_of(size), np.array([[n_uses]]), np.array([[doubt]])))[0]
                      for doubt in (0.1, 0.0))
    assert_allclose(gamma, compound(stats.nbinom.pmf(needs, 10, 1 / (1 + 0.1 * n_uses)), size), atol=1e-10)
    # A doubt of none is reckoned as one of 1e-9, which moves probabilities by as much.
    assert_allclose(poisson, compound(stats.poisson.pmf(needs, n_uses), size), atol=4e-9)


def test_a_stream_has_the_mean_and_the_variance_of_its_jobs():
    size, n_jobs, share, doubt = np.array([0.0, 0.6, 0.3, 0.1]), np.array([4.0, 2.0]), 0.4, np.array([0.3, 0.0])
    needs = sizes_of(size, size, share=share)
    found = margin.pmf(margin.log_stream(needs, n_jobs[:, None], doubt[:, None]))[0]
    place, first, second = np.arange(GRID), size @ np.arange(4), size @ np.arange(4) ** 2
    uses = n_jobs * share
    assert_allclose(found.sum(), 1, atol=1e-9)
    assert_allclose(found @ place, (uses * first).sum(), rtol=1e-7)
    variance = (uses * second + doubt * (uses * first) ** 2).sum()
    assert_allclose(found @ place**2 - (found @ place) ** 2, variance, rtol=1e-6)


def test_streams_and_known_jobs_of_all_kinds_are_one_sum():
    needs = sizes_of([0, 1.0, 0], [0, 0.5, 0.5], share=0.5)
    stream = margin.log_stream(needs, np.array([[2.0], [1.0]]), np.full((2, 1), 0.2))
    known = margin.log_known(needs, np.array([[0.3], [0.8]])).sum(axis=0)
    wanted = np.convolve(margin.pmf(stream)[0], margin.pmf(known)[0])[:GRID]
    assert_allclose(margin.pmf(stream + known)[0], wanted, atol=1e-10)


def test_stalls_are_those_counted_one_by_one():
    rng = np.random.default_rng(2)
    for _ in range(20):
        before, need = rng.dirichlet(np.ones(12)), np.r_[0, rng.dirichlet(np.ones(5))]
        n_jobs = rng.uniform(0, 2)
        wanted = np.zeros(GRID)
        for taken, own in product(range(before.size), range(need.size)):
            wanted[: taken + own] += n_jobs * before[taken] * need[own]  # positions below what is asked for
        pad = [np.r_[one, np.zeros(GRID - one.size)] for one in (before, need)]
        found = margin.stall_gain(np.fft.rfft(pad[0]) * n_jobs * np.fft.rfft(pad[1]))
        assert_allclose(found, wanted, atol=1e-10)
        assert (np.diff(found) <= 1e-12).all()


def test_a_part_by_the_hundred_is_counted_in_bundles_and_never_short():
    pieces = np.zeros(101)
    pieces[[7, 100]] = 0.5
    needs = sizes_of(pieces, most_jobs=5.0)
    bundle = int(needs.bundle_pcs[0])
    mean, largest = 5 * 53.5, 100
    spread = margin.SPREAD * np.sqrt(5 * (0.5 * 49 + 0.5 * 10_000))
    assert bundle == np.ceil((mean + spread + largest) / (GRID - 1)) > 1
    laid = np.fft.irfft(needs.pieces[0, 0], GRID)
    in_bundles = np.flatnonzero(laid > 1e-9)
    assert_array_equal(in_bundles, [-(-7 // bundle), -(-100 // bundle)])
    assert_allclose(laid[in_bundles], 0.5)
    assert (in_bundles * bundle >= [7, 100]).all()


def test_bundled_demand_is_never_less_than_that_by_the_piece():
    rng = np.random.default_rng(3)
    pieces = np.r_[0, rng.dirichlet(np.ones(40))]
    needs, n_jobs, length = sizes_of(pieces, share=0.6, most_jobs=8.0), 8.0, 1024
    bundle = int(needs.bundle_pcs[0])
    assert bundle > 1
    bundled = margin.pmf(margin.log_stream(needs, np.array([[n_jobs]]), np.array([[0.0]])))[0]
    exact = compound(stats.poisson.pmf(np.arange(60), n_jobs * 0.6), pieces, length)
    position = np.arange(length // bundle) * bundle
    enough = np.minimum(np.arange(position.size), GRID - 1)
    assert (np.cumsum(bundled)[enough] <= np.cumsum(exact)[position] + 1e-7).all()  # what goes round the grid
    assert (bundled @ np.arange(GRID)) * bundle < 1.5 * exact @ np.arange(length)  # more, but not much more


def test_a_part_taken_singly_is_counted_by_the_piece_and_parts_keep_their_own_bundles():
    pieces = np.zeros((1, 2, 51))
    pieces[0, 0, 1] = pieces[0, 1, 50] = 1.0
    needs = margin.needs(np.array([[0.5, 0.5]]), pieces, np.full((1, 2), 4.0))
    assert needs.bundle_pcs[0] == 1 < needs.bundle_pcs[1]
    alone = needs.take(np.array([1]))
    assert_array_equal(alone.bundle_pcs, needs.bundle_pcs[1:])
    assert_array_equal(alone.pieces, needs.pieces[:, 1:])
    assert_array_equal(alone.share, [[0.5]])


def test_a_part_that_no_kind_needs_takes_no_room():
    needs = margin.needs(np.zeros((1, 1)), np.tile([0.0] * 500 + [1.0], (1, 1, 1)), np.ones((1, 1)))
    assert_array_equal(needs.bundle_pcs, [1])


@pytest.mark.parametrize("n_parts", [0, 3])
def test_where_no_job_ever_comes_nothing_is_needed(n_parts):
    needs = margin.needs(np.zeros((0, n_parts)), np.zeros((0, n_parts, 2)), np.zeros((0, n_parts)))
    assert_array_equal(needs.bundle_pcs, np.ones(n_parts))
    none = margin.pmf(margin.log_stream(needs, np.zeros((0, n_parts)), np.zeros((0, n_parts))))
    assert_allclose(none, np.tile(np.eye(1, GRID), (n_parts, 1)), atol=1e-12)


def test_the_point_is_the_highest_position_worth_a_lot():
    gain = np.zeros((2, GRID))
    gain[:, :4] = 0.5, 0.1, 0.1, 0.02
    assert_array_equal(margin.reorder_point(gain, np.array([0.1, 0.6]), np.array([1, 1])), [2, -1])
    assert_array_equal(margin.reorder_point(gain, np.array([0.02, 0.3]), np.array([10, 10])), [39, 9])
    assert_array_equal(margin.reorder_point(gain, np.array([np.inf, 0.1 + 1e-9]), np.array([1, 1])), [-1, 0])


def test_a_gain_that_rises_by_rounding_does_not_raise_the_point():
    gain = np.zeros((1, GRID))
    gain[0, :5] = 0.5, 0.2, 0.05, 0.1, 0.3
    assert_array_equal(margin.reorder_point(gain, np.array([0.1]), np.array([1])), [1])


def random_gains(rng, n_parts):
    """Gains of parts that a stream of jobs and one known job need."""
    needs = single_pieces(rng.uniform(0.05, 1, (1, n_parts)))
    stream = margin.log_stream(needs, np.full((1, n_parts), rng.uniform(0, 1.5)), rng.uniform(0, 1, (1, n_parts)))
    known = margin.log_known(needs, rng.uniform(0, 1) * needs.share)[0]
    return margin.stall_gain(np.exp(stream + known) * rng.uniform(0, 1) * needs.share[0][:, None] * needs.pieces[0])


def test_the_points_of_all_parts_are_the_best_of_all_vectors():
    # Cost of a vector: holding for every position up to the point, stalls at every position above it.
    rng, top, n_deep = np.random.default_rng(4), 8, 0
    for _ in range(300):
        n_parts = int(rng.integers(1, 4))
        gain, least = random_gains(rng, n_parts), np.exp(rng.uniform(np.log(0.01), np.log(0.5), n_parts))
        vectors = np.array(list(product(range(-1, top + 1), repeat=n_parts)))
        cost = np.zeros(len(vectors))
        for part in range(n_parts):
            of_point = [least[part] * (s + 1) + gain[part, s + 1:].sum() for s in range(-1, top + 1)]
            cost += np.array(of_point)[vectors[:, part] + 1]
        found = margin.reorder_point(gain, least, np.ones(n_parts, dtype=int))
        assert found.max() <= top  # else the enumeration is too small to judge
        own = cost[np.flatnonzero((vectors == found).all(axis=1))]
        assert_allclose(own, cost.min(), rtol=1e-12)
        n_deep += found.max() >= 1
    assert n_deep > 50
