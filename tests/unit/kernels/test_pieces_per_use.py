"""Pieces taken by a job that uses a part: pooling, dispersion, beliefs and intervals."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import pieces_per_use
from pipeline.kernels.compound import UseRows


def test_nested_mean_by_hand():
    # Row 0 expects 3 at first; its wide pool adds 6 pieces over 2 uses: (3 + 6)/(1 + 2); alone in its close pool.
    found = pieces_per_use.nested_mean([2.0, 6.0, 0.0, 8.0], [1, 2, 0, 2], [3.0] * 4, [0, 0, 0, 1], [0, 1, 1, 2])
    assert_allclose(found[0], 9 / 3)
    # Row 1: wide pool (3 + 2)/(1 + 1), close pool adds nothing.
    assert_allclose(found[1], 5 / 2)


def test_nested_mean_of_the_only_row_is_what_was_expected():
    assert_allclose(pieces_per_use.nested_mean([5.0], [2], [1.5], [0]), [1.5])


def test_typical_extra_counts_every_part_once():
    # Stratum 0: parts with 0 and 3 extra a use, log2 0 and 2; stratum 1: one with 15, log2 4. Overall (0+2+4)/3 = 2.
    # Stratum 0: (0 + 2 + 2)/3, stratum 1: (4 + 2)/2.
    found = pieces_per_use.typical_extra([0.0, 2.0, 4.0, 30.0], [3, 1, 1, 2], [0, 1, 1, 2], [0, 0, 0, 1])
    assert_allclose(found, [2 ** (4 / 3) - 1] * 3 + [2**3 - 1])


def test_typical_extra_of_an_unused_stratum_is_that_of_all():
    found = pieces_per_use.typical_extra([3.0, 0.0], [1, 0], [0, 1], [0, 1])
    assert_allclose(found, [3.0, 3.0])


def test_typical_extra_without_any_use_is_none():
    assert_allclose(pieces_per_use.typical_extra([0.0], [0], [0], [0]), [0.0])


def test_size_is_recovered_from_many_uses():
    rng = np.random.default_rng(1)
    uses = np.full(300, 40)
    draws = rng.negative_binomial(1.5, 1.5 / (1.5 + 3.0), (300, 40))
    size = pieces_per_use.fit_size(draws.sum(1), (draws**2).sum(1), uses, np.repeat(np.arange(3), 100))
    assert_allclose(size, 1.5, rtol=0.15)


def test_size_of_a_part_seen_once_is_that_of_all_parts():
    rng = np.random.default_rng(2)
    draws = rng.negative_binomial(2.0, 0.5, (200, 30))
    extra, squares = np.append(draws.sum(1), 4), np.append((draws**2).sum(1), 16)
    part = np.append(np.arange(200) // 10, 20)
    size = pieces_per_use.fit_size(extra, squares, np.append(np.full(200, 30), 1), part)
    assert_allclose(size[20], 2.0, rtol=0.25)


def test_pieces_that_never_vary_reach_the_poisson_end():
    # Always two extra: less spread than any negative binomial has.
    size = pieces_per_use.fit_size([80.0], [160.0], [40.0], [0])
    assert size[0] == pieces_per_use.MOST_SIZE


def test_belief_keeps_the_pseudo_count_mean():
    size, weight = np.array([2.0, 0.5, 30.0]), np.array([3.0, 6.0, 1.0])
    alpha, beta = pieces_per_use.extra_posterior([8.0, 0.0, 90.0], [4.0, 0.0, 9.0], [1.0, 2.0, 12.0], size, weight)
    assert_allclose(size * beta / (alpha - 1), [(3 + 8) / 7, 2.0, (12 + 90) / 10])


def test_belief_always_has_a_variance():
    alpha, _ = pieces_per_use.extra_posterior([0.0], [0.0], [1.0], [0.5], [0.01])
    assert alpha[0] > 2


def test_pseudo_uses_are_many_where_families_are_alike_and_few_where_not():
    rng = np.random.default_rng(3)
    uses, size = np.full(300, 8.0), np.full(300, 2.0)
    alike = rng.negative_binomial(2.0 * 8, 2 / (2 + 3.0), 300)
    apart = rng.negative_binomial(2.0 * 8, 2 / (2 + np.geomspace(0.3, 30, 300)))
    centre = np.full(300, 3.0)
    assert pieces_per_use.fit_pseudo_uses(alike, uses, centre, size) > 16
    assert pieces_per_use.fit_pseudo_uses(apart, uses, centre, size) < 3


def test_interval_of_pieces_per_job_against_simulation():
    rng = np.random.default_rng(4)
    use = UseRows(np.array([3.0]), np.array([7.0]), np.array([[[0, 0.5, 0.5], [0, 0, 1.0]]]), np.array([[0.6, 0.4]]))
    mean, low, high = pieces_per_use.expected_pcs_interval(use, 0.8)
    per_job = rng.beta(3, 7, 400_000) * rng.choice([1.5, 2.0], 400_000, p=[0.6, 0.4])
    assert_allclose(mean, per_job.mean(), rtol=0.01)
    assert_allclose([low[0], high[0]], np.quantile(per_job, [0.1, 0.9]), rtol=0.01)


def test_interval_of_a_part_taken_singly_is_that_of_its_share():
    use = UseRows(np.array([3.0]), np.array([7.0]), np.array([[[0, 1.0]]]), np.ones((1, 1)))
    _, low, high = pieces_per_use.expected_pcs_interval(use, 0.8)
    assert_allclose([low[0], high[0]], stats.beta(3, 7).ppf([0.1, 0.9]), rtol=1e-6)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: pieces_per_use.nested_mean([1], [-1], [0], [0]), "count"),
        (lambda: pieces_per_use.nested_mean([1], [1], [-1], [0]), "start"),
        (lambda: pieces_per_use.nested_mean([1], [1], [0], [0, 0]), "group has 2 values"),
        (lambda: pieces_per_use.typical_extra([1], [1, 2], [0], [0]), "wanted one each"),
        (lambda: pieces_per_use.fit_size([-1], [1], [1], [0]), "extra"),
        (lambda: pieces_per_use.extra_posterior([1], [1], [1], [0], [1]), "size"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
