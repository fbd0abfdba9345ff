import numpy as np
import pytest

from pipeline.errors import InvalidParameter
from pipeline.kernels import require


def test_values_in_range_come_back_as_floats():
    assert require.positive("price", [1, 2]).dtype == float
    assert require.not_negative("price", 0) == 0


@pytest.mark.parametrize("wrong", [0, -1, np.nan, np.inf])
def test_positive_refuses(wrong):
    with pytest.raises(InvalidParameter, match="price is .*; wanted a finite number above 0"):
        require.positive("price", [1.0, wrong])


def test_the_refusal_says_where():
    with pytest.raises(InvalidParameter, match=r"at position \[1, 0\]"):
        require.not_negative("hours", [[1.0, 2.0], [-3.0, 4.0]])


@pytest.mark.parametrize("wrong", [0, 1.5, -2, np.nan])
def test_whole_positive_refuses(wrong):
    with pytest.raises(InvalidParameter, match="pack_pcs is .*; wanted a whole number of at least 1"):
        require.whole_positive("pack_pcs", wrong)


def test_a_share_that_looks_like_percent_is_said_to():
    with pytest.raises(
        InvalidParameter, match="service_share is 95; wanted a share between 0 and 1. Did you mean 0.95"
    ):
        require.share("service_share", 95)


@pytest.mark.parametrize("wrong", [-0.1, 101.0, np.nan])
def test_share_refuses(wrong):
    with pytest.raises(InvalidParameter, match="wanted a share between 0 and 1"):
        require.share("share", wrong)


def test_pmf_is_rescaled_to_sum_to_one_exactly():
    made = require.pmf("pmf", [[0.5, 0.5 + 5e-7]])
    assert made.sum() == pytest.approx(1, abs=1e-15)


def test_pmf_cut_short_is_refused():
    with pytest.raises(InvalidParameter, match=r"sum of pmf is 0\.9 .*lengthen the grid"):
        require.pmf("pmf", [0.5, 0.4])


def test_pmf_with_a_negative_or_missing_probability_is_refused():
    for wrong in (-0.5, np.nan):
        with pytest.raises(InvalidParameter, match="wanted probabilities of at least 0"):
            require.pmf("pmf", [1.5, wrong])
