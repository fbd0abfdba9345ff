import numpy as np
import pytest
from numpy.testing import assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels.landed_cost import landed_cents, share_by_value


def test_several_orders_are_shared_each_on_its_own():
    extra, value, order = [100, 7, 0], [300, 100, 50, 50, 80], [0, 0, 1, 1, 2]
    assert_array_equal(share_by_value(extra, value, order), [75, 25, 4, 3, 0])


def test_equal_remainders_go_to_the_earlier_line():
    assert_array_equal(share_by_value([2], [1, 1, 1]), [1, 1, 0])


def test_a_discount_larger_than_freight_is_shared_too():
    shared = share_by_value([-100], [333, 333, 334])
    assert shared.sum() == -100
    assert_array_equal(shared, [-33, -33, -34])


def test_lines_worth_nothing_share_equally():
    assert_array_equal(share_by_value([10], [0, 0, 0]), [4, 3, 3])


def test_a_free_line_among_others_carries_nothing():
    assert_array_equal(share_by_value([10], [0, 500]), [0, 10])


def test_large_amounts_stay_exact():
    shared = share_by_value([999_999_999], [1_000_000_007, 1_000_000_009])
    assert shared.sum() == 999_999_999
    assert_array_equal(shared, [499999999, 500000000])


def test_refuses_amounts_beyond_exact_arithmetic():
    with pytest.raises(InvalidParameter, match="smaller amounts"):
        share_by_value([10**13], [10**9])


def test_refuses_a_negative_value():
    with pytest.raises(InvalidParameter, match="value_cents"):
        share_by_value([1], [-5])


def test_refuses_an_order_without_lines():
    with pytest.raises(InvalidParameter, match="order 1 has 9 cents"):
        share_by_value([1, 9], [5], [0])


def test_an_order_without_lines_and_nothing_to_share_is_fine():
    assert share_by_value([0, 0], np.zeros(0, int), np.zeros(0, int)).size == 0


def test_landed_is_value_plus_share():
    assert_array_equal(landed_cents([100, 200], [30]), [110, 220])
