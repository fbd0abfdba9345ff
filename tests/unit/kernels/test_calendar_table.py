"""Long table to periods by series: against a plain loop, whatever the order; refusals that name the row."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels.calendar_table import dense


def test_a_long_table_equals_a_plain_loop_in_any_order():
    rng = np.random.default_rng(3)
    period, series = rng.integers(0, 9, 200), rng.integers(0, 7, 200).astype(np.int8)
    pieces = rng.integers(1, 5, 200)
    by_loop = np.zeros((12, 8))
    for row in range(200):
        by_loop[period[row], series[row]] += pieces[row]
    assert_array_equal(dense(period, series, pieces, 12, 8), by_loop)
    order = rng.permutation(200)
    assert_array_equal(dense(period[order], series[order], pieces[order], 12, 8), by_loop)


def test_size_follows_the_table_where_none_is_given():
    assert_array_equal(dense([1, 0], [0, 2], [4, 5]), [[0, 0, 5], [4, 0, 0]])


def test_codes_of_a_small_type_do_not_overflow():
    # 100 x 120 places would wrap in the eight bits of the codes.
    made = dense(np.array([99], np.int8), np.array([119], np.int8), [3])
    assert made.shape == (100, 120) and made[99, 119] == 3


def test_periods_before_a_series_begins_are_missing():
    assert_array_equal(dense([2], [0], [1], 3, 2, begin=[2, 0]), [[np.nan, 0], [np.nan, 0], [1, 0]])


def test_an_empty_table_is_all_none():
    assert_array_equal(dense([], [], [], 2, 3), np.zeros((2, 3)))


@pytest.mark.parametrize("rows, terms, said", [
    (([0, 1], [0], [1, 1]), {}, "series has 1 values"),
    (([-1], [0], [1]), {}, "period holds -1"),
    (([0], [-1], [1]), {}, "series holds -1"),  # a categorical column's code for a missing identifier
    (([3], [0], [1]), {"n_periods": 3}, "numbers from 0 to 2"),
    (([0.5], [0], [1]), {}, "whole numbers"),
    (([0], [0], [1]), {"begin": [1], "n_periods": 2}, "row 0 lies in period 0, before series 0 begins"),
])
def test_rows_that_fit_nowhere_are_refused(rows, terms, said):
    with pytest.raises(InvalidParameter, match=said):
        dense(*rows, **terms)
