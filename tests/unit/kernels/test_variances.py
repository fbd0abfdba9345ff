import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from pipeline.kernels.variances import efficiency_variance, price_variance, quantity_variance, rate_variance

amounts = st.floats(0, 1e4)


@given(amounts, amounts, amounts, amounts)
def test_price_and_quantity_add_up_to_the_whole_difference(
    actual_pcs, actual_price, standard_pcs, standard_price
):
    whole = actual_pcs * actual_price - standard_pcs * standard_price
    parts = price_variance(actual_pcs, actual_price, standard_price)
    parts += quantity_variance(actual_pcs, standard_pcs, standard_price)
    assert_allclose(parts, whole, atol=1e-6)


@given(amounts, amounts, amounts, amounts)
def test_rate_and_efficiency_add_up_to_the_whole_difference(
    actual_hours, actual_rate, standard_hours, standard_rate
):
    whole = actual_hours * actual_rate - standard_hours * standard_rate
    parts = rate_variance(actual_hours, actual_rate, standard_rate)
    parts += efficiency_variance(actual_hours, standard_hours, standard_rate)
    assert_allclose(parts, whole, atol=1e-6)


def test_dearer_is_positive():
    assert price_variance(10, 5.0, 4.0) > 0
    assert quantity_variance(11, 10, 4.0) > 0
    assert rate_variance(10, 65.0, 60.0) > 0
    assert efficiency_variance(11, 10, 60.0) > 0


def test_whole_arrays_and_unknowns():
    assert_allclose(price_variance([1, 2, np.nan], [3, 4, 5], 2.0), [1, 4, np.nan])
