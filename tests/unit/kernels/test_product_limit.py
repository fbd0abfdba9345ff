import warnings

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.stats import CensoredData, ecdf

from pipeline.errors import InvalidParameter
from pipeline.kernels.product_limit import at_risk, product_limit, product_limit_interval


def test_pieces_count_as_so_many_rows():
    repeated = product_limit([5, 5, 9, 9, 9], [True, True, False, True, True])
    counted = product_limit([5, 9, 9], [True, False, True], [2, 1, 2])
    assert_array_equal(np.stack(repeated), np.stack(counted))


def test_a_watch_that_ends_on_a_failure_day_counts_on_that_day():
    event_time, failed, watched = at_risk([7, 7], [True, False])
    assert (event_time.tolist(), failed.tolist(), watched.tolist()) == ([7], [1], [2])


def test_no_failures_gives_an_empty_curve():
    event_time, share = product_limit([3, 4], [False, False])
    assert event_time.size == share.size == 0


@pytest.mark.parametrize("seed", range(5))
def test_equals_the_general_purpose_library(seed):
    # referee: scipy.stats.ecdf on right-censored data, curve and Greenwood log-log interval
    rng = np.random.default_rng(seed)
    time, end = rng.weibull(1.5, 60).round(1) + 0.1, rng.uniform(0.3, 2, 60).round(1)
    is_failed, seen = time <= end, np.minimum(time, end)
    referee = ecdf(CensoredData(uncensored=seen[is_failed], right=seen[~is_failed])).sf
    event_time, share = product_limit(seen, is_failed)
    assert_allclose(share, referee.evaluate(event_time), atol=1e-12)
    low, high = product_limit_interval(seen, is_failed, 0.9)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # the library warns where the curve is 0 or 1
        wanted = referee.confidence_interval(0.9, method="log-log")
    is_open = share > 0
    assert_allclose(low[is_open], wanted.low.evaluate(event_time)[is_open], atol=1e-12)
    assert_allclose(high[is_open], wanted.high.evaluate(event_time)[is_open], atol=1e-12)


def test_interval_says_nothing_where_none_is_left():
    low, high = product_limit_interval([1, 2], [True, True])
    assert np.isnan(low[-1])
    assert np.isnan(high[-1])


def test_refuses_a_negative_time():
    with pytest.raises(InvalidParameter, match="time"):
        product_limit([-1.0], [True])
