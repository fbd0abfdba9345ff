"""Hours of a job: lognormal, small groups drawn towards their kind; past quotes against what they took."""

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import group_index, same_length, whole

# A kind's spread leans on that of all kinds together as if so many further jobs had been seen.
BORROWED_JOBS = 4.0
# Between-group over within-group variance, from "all groups alike" to "no group tells of another".
_VARIANCE_RATIOS = np.concatenate([[0.0], np.geomspace(1e-3, 30.0, 80)])


@dataclass(frozen=True)
class HoursFit:
    """Hours of one more job of each group; arrays of shape (n_groups,).

    Attributes
    ----------
    log_median, log_median_sd : ndarray of float
        Logarithm of the median hours and how uncertain it is.
    log_sd : ndarray of float
        Spread of the logarithm between jobs of one group, shared by the groups of a kind.
    spare_jobs : ndarray of float
        Jobs beyond those used up by the estimates (degrees of freedom), borrowed ones included.
    jobs_seen : ndarray of int64
        Jobs of the group itself; 0 where it speaks only for its kind.
    """

    log_median: np.ndarray
    log_median_sd: np.ndarray
    log_sd: np.ndarray
    spare_jobs: np.ndarray
    jobs_seen: np.ndarray

    @property
    def median_hours(self):
        """Half of such jobs take less."""
        return np.exp(self.log_median)

    @property
    def mean_hours(self):
        """Expected hours: the figure that adds up over jobs. Above the median."""
        return np.exp(self.log_median + (self.log_sd**2 + self.log_median_sd**2) / 2)

    def quantile_hours(self, share):
        """Hours that a share (0 to 1) of such jobs stays within, uncertainty of the fit included."""
        reach = stdtrit(self.spare_jobs, share)
        return np.exp(self.log_median + reach * np.sqrt(self.log_sd**2 + self.log_median_sd**2))

    def median_interval(self, level=0.8):
        """Interval (low, high) around the median hours, at a level of 0 to 1."""
        reach = stdtrit(self.spare_jobs, (1 + level) / 2) * self.log_median_sd
        return np.exp(self.log_median - reach), np.exp(self.log_median + reach)


def hours_fit(hours, group, kind_of_group):
    """Fit lognormal hours to each group; a group with few jobs leans on the others of its kind.

    Log hours are normal around their group's centre, and the centres of one kind are normal around
    that kind's centre. How much centres differ is averaged over, not picked, so a few groups that
    look alike by luck do not become one. Each kind has its own spread between jobs.

    Parameters
    ----------
    hours : array_like of float, shape (n_jobs,)
        Hours of each job, above 0.
    group : array_like of int, shape (n_jobs,)
        Group of each job (a family and scope, say), from 0.
    kind_of_group : array_like of int, shape (n_groups,)
        Kind of each group (its scope, say), from 0.

    Returns
    -------
    HoursFit
        Not a number for the groups of a kind without any job.

    Raises
    ------
    InvalidParameter
        If lengths differ, hours are not above 0, or there are not at least two jobs more than kinds.

    References
    ----------
    Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., section 5.4: normal hierarchical model,
    the between-group variance on a grid; restricted likelihood: Harville (1977), J. Amer. Statist.
    Assoc. 72, 320-338.
    """
    hours, group = same_length(hours=hours, group=group)
    log_hours = np.log(require.positive("hours", hours))
    kind = whole("kind_of_group", kind_of_group, low=0)
    group, _ = group_index(group, log_hours.size, kind.size)
    if log_hours.size - np.unique(kind[group]).size < 2:
        raise InvalidParameter(f"hours holds {hours.size} jobs; wanted at least two more than kinds of job.")
    jobs = np.bincount(group, minlength=kind.size)
    mean = np.bincount(group, log_hours, kind.size) / np.maximum(jobs, 1)
    within = np.bincount(group, (log_hours - mean[group]) ** 2, kind.size)
    found = np.full((4, kind.size), np.nan)
    common = _common_variance(log_hours, group, kind, within, jobs)
    for number in np.unique(kind[group]):
        members = kind == number
        found[:, members] = _one_kind(jobs[members], mean[members], within[members].sum(), common)
    return HoursFit(*found, jobs)


def _common_variance(log_hours, group, kind, within, jobs):
    """Variance between jobs of one group, or of one kind where no group has two."""
    spare = log_hours.size - (jobs > 0).sum()
    if spare > 0:
        return within.sum() / spare
    of_kind = kind[group]
    count = np.bincount(of_kind)
    mean = np.bincount(of_kind, log_hours) / np.maximum(count, 1)
    return ((log_hours - mean[of_kind]) ** 2).sum() / (log_hours.size - (count > 0).sum())


def _one_kind(jobs, mean, within, common):
    """Centres and their sds, spread and degrees of freedom for the groups of one kind; shape (4, n_groups)."""
    ratio, is_seen = _VARIANCE_RATIOS[:, None], jobs > 0
    count = np.maximum(jobs, 1)
    precision = np.where(is_seen, 1 / (ratio + 1 / count), 0.0)
    total = precision.sum(axis=1, keepdims=True)
    kind_mean = (precision * mean).sum(axis=1, keepdims=True) / total
    gap = np.where(is_seen, mean - kind_mean, 0.0)
    spare = jobs.sum() - 1 + BORROWED_JOBS
    squares = within + (precision * gap**2).sum(axis=1) + BORROWED_JOBS * common
    log_det = np.log(ratio * jobs + 1).sum(axis=1) + np.log(total[:, 0])
    log_weight = -(spare * np.log(np.maximum(squares, 1e-12)) + log_det) / 2 + np.log(_ratio_prior())
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    variance = squares / spare
    pull = np.where(is_seen, precision / count, 1.0)  # share left to the kind's mean
    centre = kind_mean + (1 - pull) * gap
    centre_variance = variance[:, None] * (ratio * pull + pull**2 / total)
    log_median = weight @ centre
    log_median_sd = np.sqrt(np.maximum(weight @ (centre_variance + centre**2) - log_median**2, 0.0))
    log_sd = np.sqrt(weight @ variance)
    return np.stack([log_median, log_median_sd, np.full(jobs.size, log_sd), np.full(jobs.size, spare)])


def _ratio_prior():
    """Weak prior on the standard-deviation ratio: half-Cauchy with scale 1 over the grid's cells."""
    edge = np.sqrt(_VARIANCE_RATIOS)
    middle = np.concatenate([[0.0], (edge[1:] + edge[:-1]) / 2, [np.inf]])
    return np.diff(np.arctan(middle)) * 2 / np.pi


def quote_bias(actual_hours, quoted_hours, group=None, n_groups=None, level=0.8):
    """Hours taken for every hour quoted, per group, with an interval.

    Parameters
    ----------
    actual_hours, quoted_hours : array_like of float, shape (n_jobs,)
        Of the same jobs; quotes above 0.
    group : array_like of int, shape (n_jobs,), optional
        Group numbers from 0; default all in one.
    n_groups : int, optional
        Number of groups, counting empty ones.
    level : float
        Share of such intervals meant to hold the true ratio, 0 to 1.

    Returns
    -------
    bias, low, high : ndarray of float, shape (n_groups,)
        Total taken / total quoted (1.1 = quotes are a tenth short). Not a number without a job; the
        interval is not a number with fewer than two.
    jobs : ndarray of int64, shape (n_groups,)
        Jobs that had both figures.

    Raises
    ------
    InvalidParameter
        If lengths differ, hours are negative or a quote is not above 0.

    References
    ----------
    Ratio of totals and its variance: Cochran (1977), Sampling Techniques, 3rd ed., section 6.4;
    interval on the log scale.

    Examples
    --------
    >>> bias, low, high, jobs = quote_bias([11.0, 22.0, 33.0], [10.0, 20.0, 30.0])
    >>> bias.round(6), low.round(6), jobs
    (array([1.1]), array([1.1]), array([3]))
    """
    actual, quoted = same_length(actual_hours=actual_hours, quoted_hours=quoted_hours)
    actual = require.not_negative("actual_hours", actual)
    quoted = require.positive("quoted_hours", quoted)
    group, n_groups = group_index(group, actual.size, n_groups)
    level = require.share("level", level)
    jobs = np.bincount(group, minlength=n_groups)
    taken, asked = np.bincount(group, actual, n_groups), np.bincount(group, quoted, n_groups)
    with np.errstate(divide="ignore", invalid="ignore"):
        bias = taken / asked
        squares = np.bincount(group, (actual - bias[group] * quoted) ** 2, n_groups)
        relative_sd = np.sqrt(jobs * squares / (jobs - 1)) / taken
        reach = stdtrit(np.maximum(jobs - 1, 1), (1 + level) / 2) * relative_sd
        low, high = bias * np.exp(-reach), bias * np.exp(reach)
    has_spread = jobs > 1
    return bias, np.where(has_spread, low, np.nan), np.where(has_spread, high, np.nan), jobs


def contingency_hours(mean_hours, q80_hours):
    """Hours to hold back beyond the mean so that four jobs in five stay within.

    Parameters
    ----------
    mean_hours, q80_hours : array_like of float
        Mean and 80 % figure.

    Returns
    -------
    ndarray of float
        At least 0.
    """
    return np.maximum(np.asarray(q80_hours) - np.asarray(mean_hours), 0.0)
