import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.stats import binom

from pipeline.errors import InvalidParameter
from pipeline.kernels.group_intervals import margin_for_markup, markup_for_margin, median_interval


@pytest.mark.parametrize("count", range(1, 40))
@pytest.mark.parametrize("level", [0.5, 0.8, 0.9, 0.95])
def test_narrowest_pair_that_reaches_the_level(count, level):
    # brute force over all symmetric pairs of order statistics
    coverage = {r: 1 - 2 * binom.cdf(r - 1, count, 0.5) for r in range(1, count // 2 + 1)}
    reaching = [r for r, share in coverage.items() if share >= level]
    wanted = max(reaching) if reaching else 1
    _, low, high, coverage_share, _ = median_interval(np.arange(1.0, count + 1), level=level)
    assert (low[0], high[0]) == (wanted, count + 1 - wanted)
    assert_allclose(coverage_share[0], coverage.get(wanted, 0.0), atol=1e-12)


def test_groups_apart_and_empty_ones_unknown():
    median, low, high, coverage_share, count = median_interval([5.0, -1.0, 2.0, 9.0], [2, 0, 0, 2], 3)
    assert_array_equal(median, [0.5, np.nan, 7.0])
    assert_array_equal(low, [-1.0, np.nan, 5.0])
    assert_array_equal(high, [2.0, np.nan, 9.0])
    assert_array_equal(coverage_share, [0.5, 0.0, 0.5])
    assert_array_equal(count, [2, 0, 2])


def test_unknown_values_are_left_out_and_not_counted():
    median, *_, count = median_interval([1.0, np.nan, 3.0])
    assert (median[0], count[0]) == (2.0, 2)


def test_one_value_has_no_interval_to_speak_of():
    _, low, high, coverage_share, _ = median_interval([7.0])
    assert (low[0], high[0], coverage_share[0]) == (7.0, 7.0, 0.0)


def test_covers_as_often_as_it_says():
    rng = np.random.default_rng(2)
    group = np.repeat(np.arange(4000), 9)
    _, low, high, coverage_share, _ = median_interval(rng.lognormal(0, 1, group.size), group, level=0.9)
    assert_allclose(((low < 1) & (high > 1)).mean(), coverage_share[0], atol=0.015)


def test_no_values_at_all():
    median, *_ = median_interval(np.zeros(0), np.zeros(0, int), 2)
    assert np.isnan(median).all()


def test_refuses_a_level_in_percent():
    with pytest.raises(InvalidParameter, match="Did you mean 0.9"):
        median_interval([1.0], level=90)


def test_markup_and_margin_undo_each_other():
    margin = np.array([-0.5, 0.0, 0.3, 0.9])
    assert_allclose(margin_for_markup(markup_for_margin(margin)), margin, atol=1e-12)


def test_refuses_a_margin_no_price_reaches():
    with pytest.raises(InvalidParameter, match="margin_share"):
        markup_for_margin(1.0)


def test_refuses_a_markup_that_leaves_no_price():
    with pytest.raises(InvalidParameter, match="markup_share"):
        margin_for_markup(-1.0)
