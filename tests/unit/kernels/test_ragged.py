"""Distributions of different lengths side by side are treated as one by one."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import discrete, ragged


def drawn(n_rows, rng):
    """Return distributions of 1 to 60 values with thin upper ends."""
    made = [np.exp(-rng.uniform(0.1, 3) * np.arange(rng.integers(1, 61))) for _ in range(n_rows)]
    return [pmf / pmf.sum() for pmf in made]


def test_each_is_cut_where_it_would_be_cut_alone():
    pmfs = drawn(200, np.random.default_rng(1))
    for found, pmf in zip(ragged.trimmed(pmfs, 1e-6), pmfs, strict=True):
        assert_array_equal(found, discrete.trimmed(pmf, 1e-6))


def test_blocks_hold_every_distribution_once_filled_up_with_nothing():
    pmfs = drawn(50, np.random.default_rng(2))
    lengths = discrete.power_of_two([pmf.size for pmf in pmfs])
    seen = []
    for places, block in ragged.blocks(pmfs, lengths):
        assert_array_equal(lengths[places], block.shape[1])
        for place, row in zip(places, block, strict=True):
            assert_array_equal(row[: pmfs[place].size], pmfs[place])
            assert not row[pmfs[place].size:].any()
        seen += places.tolist()
    assert sorted(seen) == list(range(50))


def test_none_are_none():
    assert ragged.trimmed([]) == [] and list(ragged.blocks([], [])) == []


def test_what_is_no_distribution_is_refused():
    with pytest.raises(InvalidParameter, match="sum of pmf"):
        ragged.trimmed([np.ones(1), np.array([0.5, 0.2])])
    assert_allclose(ragged.trimmed([np.ones(1)])[0], [1.0])
