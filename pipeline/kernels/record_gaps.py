"""Stretches of time without a record that the records' own rhythm does not explain."""

from dataclasses import dataclass

import numpy as np

from pipeline.kernels import require

FEWEST_DAYS = 6  # days with a record below which no rhythm can be told
SHORTEST_GAP_DAYS = 28.0  # people take holidays: common practice, no source
CHANCE = 0.01  # a steady keeper of records is told of a gap in one shop of a hundred
# Gaps as a random day meets them: of exponential gaps with mean 1 half the time lies in longer ones (root of
# exp(x) = 2 (1 + x): the median of a gamma of shape 2).
MEDIAN_BY_TIME = 1.6783469900166605


@dataclass(frozen=True)
class Gaps:
    """All gaps between neighbouring days, ends included; arrays of shape (n_days + 1,).

    Attributes
    ----------
    from_day, to_day : ndarray of float
        Days with a record on either side; the first gap begins and the last one ends with the time watched.
    usual_days : ndarray of float
        Half of the other days lie in gaps at least this long. Not a number where no rhythm can be told.
    limit_days : ndarray of float
        A gap longer than this is long for these records.
    """

    from_day: np.ndarray
    to_day: np.ndarray
    usual_days: np.ndarray
    limit_days: np.ndarray

    @property
    def gap_days(self):
        """Length of each gap, days."""
        return self.to_day - self.from_day

    @property
    def is_long(self):
        """Whether each gap is longer than its limit (ndarray of bool)."""
        return self.gap_days > self.limit_days


def gaps(days, first_day, last_day):
    """Measure every gap between records against the rhythm that the others keep.

    The usual gap is a median over time, not over gaps: who counts all bins in one week twice a year has gaps of a day
    and of half a year, and the rhythm is half a year. The mean behind it is that of gaps as chance spreads them
    (exponential), and the limit is what the longest of so many gaps stays below in 99 shops of 100; steadier records
    stay below it more surely. The gap measured takes no part in its own measure.

    Parameters
    ----------
    days : array_like of float, shape (n_days,)
        Days on which something was recorded, in any order; doubles count once.
    first_day, last_day : float
        Time watched: first and last day on which it could have been recorded.

    Returns
    -------
    Gaps

    Raises
    ------
    InvalidParameter
        If a day is negative or not finite (days are counted from any day before all of them).

    References
    ----------
    Feller (1971), An Introduction to Probability Theory and its Applications II, 2nd ed., section I.4 (the gap that
    covers a given day is longer than the others; from memory). Longest of n exponential gaps: P(all < x) =
    (1 - exp(-x / mean))**n.

    Examples
    --------
    >>> twice_a_year = gaps([0, 1, 2, 180, 181, 182, 360, 361, 362], 0, 540)
    >>> twice_a_year.gap_days.max(), twice_a_year.is_long.any()
    (np.float64(178.0), np.False_)
    >>> daily = gaps([*range(0, 100), *range(160, 300)], 0, 300)
    >>> daily.gap_days[daily.is_long], daily.usual_days[daily.is_long]
    (array([61.]), array([1.]))
    """
    days = np.unique(require.not_negative("days", days))
    days = days[(days >= first_day) & (days <= last_day)]
    ends = np.concatenate([[first_day], days, [last_day]]).astype(float)
    length = np.diff(ends)
    if days.size < FEWEST_DAYS:
        unknown = np.full(length.size, np.nan)
        return Gaps(ends[:-1], ends[1:], unknown, unknown)
    usual = _usual_without_each(length)
    longest = -np.log(-np.expm1(np.log1p(-CHANCE) / length.size)) * usual / MEDIAN_BY_TIME
    return Gaps(ends[:-1], ends[1:], usual, np.maximum(longest, SHORTEST_GAP_DAYS))


def _usual_without_each(length):
    """Median over time of all gaps but one, for each left out."""
    order = np.argsort(length, kind="stable")
    ordered = length[order]
    covered = np.cumsum(ordered)
    half = (covered[-1] - ordered) / 2
    place = np.searchsorted(covered, half)
    is_past = place >= np.arange(length.size)  # the one left out lies before: what it covers does not count
    place = np.where(is_past, np.searchsorted(covered, half + ordered), place)
    usual = np.empty(length.size)
    usual[order] = ordered[np.minimum(place, length.size - 1)]
    return usual
