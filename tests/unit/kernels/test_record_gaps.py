"""Gaps between records: the rhythm is the shop's own, and steady records are left in peace."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import record_gaps
from pipeline.kernels.record_gaps import gaps


def test_gaps_lie_between_neighbouring_days_and_reach_both_ends():
    found = gaps([30, 10, 20, 20, 40, 50, 60], 4, 75)
    assert_array_equal(found.from_day, [4, 10, 20, 30, 40, 50, 60])
    assert_array_equal(found.to_day, [10, 20, 30, 40, 50, 60, 75])
    assert_array_equal(found.gap_days, [6, 10, 10, 10, 10, 10, 15])


def test_days_outside_the_time_watched_do_not_count():
    found = gaps([1, 10, 20, 30, 40, 50, 60, 99], 5, 70)
    assert found.from_day[0] == 5 and found.to_day[-1] == 70 and found.gap_days.size == 7


@pytest.mark.parametrize("days", [[], [7], [1, 2, 3, 4, 300]])
def test_too_few_days_have_no_rhythm_and_no_long_gap(days):
    found = gaps(days, 0, 400)
    assert np.isnan(found.usual_days).all() and not found.is_long.any()


def test_the_usual_gap_is_a_median_over_time_not_over_gaps():
    # By hand: gaps 1, 1, 1, 1, 100, 100, 100 days. Without one of 100: 204 days, the 102nd lies in a gap of 100.
    days = np.cumsum([0, 1, 1, 1, 1, 100, 100])
    found = gaps(days, 0, days[-1] + 100)
    assert found.usual_days.max() == 100 and found.usual_days[-1] == 100


def test_the_gap_measured_takes_no_part_in_its_own_measure():
    # By hand: ten gaps of 5 and one of 500. Without it every day lies in a gap of 5; without one of 5, most do not.
    days = np.cumsum([0] + [5] * 10)
    found = gaps(days, 0, days[-1] + 500)
    assert_array_equal(found.usual_days[1:], [500] * 10 + [5])  # the first gap has no length
    assert_array_equal(np.flatnonzero(found.is_long), [11])


def test_leaving_each_gap_out_is_what_a_plain_loop_does():
    rng = np.random.default_rng(5)
    length = rng.integers(0, 30, 60).astype(float)

    def without(place):
        rest = np.sort(np.delete(length, place))
        return rest[np.searchsorted(np.cumsum(rest), rest.sum() / 2)]

    assert_array_equal(record_gaps._usual_without_each(length), [without(place) for place in range(60)])


def test_half_the_days_lie_in_gaps_longer_than_the_constant_says():
    # Reference: a gap met by a random day of exponential gaps is a gamma variable of shape 2 (scipy as referee).
    assert_allclose(record_gaps.MEDIAN_BY_TIME, stats.gamma(2).median(), rtol=1e-12)


def test_the_limit_is_the_longest_gap_chance_leaves_in_99_of_100():
    # By hand: n = 201 gaps of mean m: (1 - exp(-x/m))**201 = 0.99 gives x = m * 9.9034; m = usual / 1.6783.
    days = np.cumsum(np.full(200, 40.0))
    found = gaps(days, 0, days[-1] + 40)
    assert_allclose(found.limit_days, 40 / 1.6783469900166605 * 9.9034, rtol=1e-4)


def test_steady_chance_is_told_of_a_gap_in_about_one_shop_of_a_hundred():
    rng = np.random.default_rng(11)
    told = 0
    for _ in range(400):
        days = np.cumsum(rng.exponential(30.0, 120))
        told += gaps(days, 0, days[-1]).is_long.any()
    assert told <= 16  # 4 expected; the rest is room for a rhythm that is itself estimated


def test_a_dense_record_is_not_told_of_a_holiday():
    working = [day for day in range(365) if day % 7 < 5 and not 200 <= day < 221]
    assert not gaps(working, 0, 364).is_long.any()


def test_a_month_without_a_daily_record_is_told():
    working = [day for day in range(365) if day % 7 < 5 and not 200 <= day < 235]
    found = gaps(working, 0, 364)
    assert found.is_long.sum() == 1
    place = int(np.flatnonzero(found.is_long)[0])
    assert found.from_day[place] == 199 and found.to_day[place] == 235


@pytest.mark.parametrize("days_each_time", [1, 3, 10])
def test_who_counts_twice_a_year_is_left_in_peace(days_each_time):
    days = [year * 365 + half * 182 + day for year in range(5) for half in (0, 1) for day in range(days_each_time)]
    assert not gaps(days, 0, 5 * 365).is_long.any()


def test_who_counted_twice_a_year_and_stopped_for_three_is_told():
    days = [year * 365 + half * 182 + day for year in range(5) for half in (0, 1) for day in range(3)]
    found = gaps(days, 0, 8.5 * 365)
    assert_array_equal(np.flatnonzero(found.is_long), [found.gap_days.size - 1])


@pytest.mark.parametrize("shift", [0, 3, 700_000])
def test_the_day_from_which_days_are_counted_does_not_matter(shift):
    days = np.array([0, 3, 9, 11, 60, 61, 64, 190]) + shift
    found, plain = gaps(days, shift, 200 + shift), gaps(days - shift, 0, 200)
    assert_allclose(found.limit_days, plain.limit_days)
    assert_array_equal(found.is_long, plain.is_long)


def test_no_gap_is_long_that_is_shorter_than_four_weeks():
    found = gaps(np.arange(0, 1000), 0, 999 + 27)
    assert not found.is_long.any() and (found.limit_days >= record_gaps.SHORTEST_GAP_DAYS).all()


@pytest.mark.parametrize("bad", [[-1.0, 2], [np.nan, 3]])
def test_days_that_cannot_be_are_refused(bad):
    with pytest.raises(InvalidParameter, match="days"):
        gaps(bad, 0, 10)
