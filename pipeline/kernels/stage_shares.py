"""How the hours of a job divide over its stages: shares of totals, few jobs leaning on what is known beside them."""

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, logit, stdtrit

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import group_index, whole

# The spread between jobs of a group leans on that of all groups together as if so many further jobs had been seen.
BORROWED_JOBS = 3.0
# Variance of a stage's share between jobs over share x (1 - share), from memory: a stage of 0.25 takes 0.12 to 0.38 in
# two jobs of three.
SPREAD = 1 / 12
# A family tells as much about its own jobs as its scope does after so many of them, until records say more.
GUESSED_LEAN_JOBS, GUESS_WEIGHT = 4.0, 8.0


@dataclass(frozen=True)
class StageShares:
    """Shares of a group's hours by stage.

    Attributes
    ----------
    share, low, high : ndarray of float, shape (n_groups, n_stages)
        Share, 0 to 1, summing to 1 over stages, and its interval.
    sd : ndarray of float, shape (n_groups, n_stages)
        How uncertain the share is.
    jobs : ndarray of int64, shape (n_groups,)
        Jobs of the group itself; 0 where it only leans.
    """

    share: np.ndarray
    low: np.ndarray
    high: np.ndarray
    sd: np.ndarray
    jobs: np.ndarray


def stage_shares(hours, lean_share, lean_jobs, group=None, n_groups=None, lean_sd=0.0, level=0.8):
    """Share of each stage in the hours of a group's jobs, and its interval.

    Totals over totals, so that a long job weighs more, with ``lean_jobs`` further jobs of middle length that
    divide as ``lean_share``. The unit is the job: how its stages hang together needs no model. The variance
    between jobs is the ratio estimator's with each job left out once, leaning on the spread of all groups; the
    interval is Student's on the logit scale. An interval of 0.8 truly holds, from 1 to 40 jobs, 0.75 to 0.85
    where jobs and the shares leaned on spread as guessed (``SPREAD``), 0.78 to 0.97 where they are half as
    unlike, and only 0.63 to 0.68 where they are twice as unlike; simulated in the tests.

    Parameters
    ----------
    hours : array_like of float, shape (n_jobs, n_stages)
        Hours of each job by stage, at least 0 and not all 0.
    lean_share : array_like of float, shape (n_groups, n_stages) or (n_stages,)
        Shares to lean on, above 0, summing to 1.
    lean_jobs : array_like of float, shape (n_groups,) or ()
        How many jobs of the group they are worth, above 0.
    group : array_like of int, shape (n_jobs,), optional
        Group numbers from 0; default all in one.
    n_groups : int, optional
        Number of groups, counting empty ones.
    lean_sd : array_like of float, shape (n_groups, n_stages), optional
        How uncertain the shares to lean on are themselves.
    level : float
        Share of such intervals meant to hold the true share, 0 to 1.

    Returns
    -------
    StageShares

    Raises
    ------
    InvalidParameter
        If shapes differ, hours are negative or a job has none, or shares to lean on are not above 0 or do not
        sum to 1.

    References
    ----------
    Ratio of totals and its variance: Cochran (1977), Sampling Techniques, 3rd ed., section 6.4. Leaning as
    credibility: Buehlmann & Straub (1970), Mitt. Verein. schweiz. Versich.-Math. 70, 111-133.

    Examples
    --------
    >>> found = stage_shares([[6.0, 2.0], [9.0, 3.0]], [0.5, 0.5], 1e-9)
    >>> found.share.round(6), found.jobs
    (array([[0.75, 0.25]]), array([2]))
    """
    hours, group, n_groups = _checked(hours, group, n_groups)
    shape = (n_groups, hours.shape[1])
    lean_share = np.broadcast_to(_leaning(lean_share, hours.shape[1]), shape)
    lean_jobs = np.broadcast_to(require.positive("lean_jobs", lean_jobs), n_groups)[:, None]
    lean_sd = np.broadcast_to(require.not_negative("lean_sd", lean_sd), shape)
    level = require.share("level", level)
    jobs, _, residual = _ratios(hours, group, n_groups)
    count = jobs[:, None]
    length = np.maximum(_sums(hours, group, n_groups).sum(axis=1, keepdims=True), 1e-300) / np.maximum(count, 1)
    share = (_sums(hours, group, n_groups) / length + lean_jobs * lean_share) / (count + lean_jobs)
    squares = _sums(residual**2, group, n_groups)
    borrowed = _spread(squares, jobs, share) * share * (1 - share)
    spare = np.maximum(count - 1, 0) + BORROWED_JOBS
    variance = (squares + BORROWED_JOBS * borrowed) / spare
    pull = lean_jobs / (count + lean_jobs)
    sd = np.sqrt(variance / (count + lean_jobs) + (pull * lean_sd) ** 2)
    reach = stdtrit(spare, (1 + level) / 2) * sd / (share * (1 - share))
    return StageShares(share, expit(logit(share) - reach), expit(logit(share) + reach), sd, jobs)


def lean_jobs(hours, group, kind_of_group):
    """How many of its own jobs a group needs before they count as much as those of its kind.

    The variance between jobs of a group over the variance between groups of a kind, by the method of moments,
    drawn towards a guess: a few groups that look alike by luck do not become one.

    Parameters
    ----------
    hours : array_like of float, shape (n_jobs, n_stages)
        Hours of each job by stage, at least 0 and not all 0.
    group : array_like of int, shape (n_jobs,)
        Group of each job (a family and scope, say), from 0.
    kind_of_group : array_like of int, shape (n_groups,)
        Kind of each group (its scope, say), from 0.

    Returns
    -------
    float
        Above 0; one number for all kinds.

    Raises
    ------
    InvalidParameter
        If shapes differ, hours are negative or a job has none.

    References
    ----------
    Buehlmann & Straub (1970), as above: the credibility constant and its estimator.
    """
    kind = whole("kind_of_group", kind_of_group, low=0)
    hours, group, n_groups = _checked(hours, group, kind.size)
    jobs, ratio, residual = _ratios(hours, group, n_groups)
    spare = jobs.sum() - (jobs > 0).sum()
    within = (residual**2).sum()
    if spare <= 0 or within <= 0:
        return GUESSED_LEAN_JOBS
    n_kinds = int(kind.max()) + 1
    of_kind = np.bincount(kind, jobs, n_kinds)
    mean = _sums(jobs[:, None] * ratio, kind, n_kinds) / np.maximum(of_kind, 1)[:, None]
    between = (jobs * ((ratio - mean[kind]) ** 2).sum(axis=1)).sum()
    chance = (jobs > 0).sum() - (of_kind > 0).sum()
    weight = jobs.sum() - (np.bincount(kind, jobs**2.0, n_kinds) / np.maximum(of_kind, 1)).sum()
    excess = max(between / (within / spare) - chance, 0.0)
    return float((weight + GUESS_WEIGHT) / (excess + GUESS_WEIGHT / GUESSED_LEAN_JOBS))


def restored_hours(bench_hours, bench_share, cleaning_share, wiring_share, fitting_hours=0.0):
    """Hours to restore assemblies of a machine that is stripped already: bench work, cleaning, wiring, fitting.

    Cleaning and wiring go with the bench hours as they do over a whole job.

    Parameters
    ----------
    bench_hours : array_like of float
        At the bench, all assemblies together.
    bench_share, cleaning_share, wiring_share : array_like of float
        Shares of these stages in the hours of a job, 0 to 1; the first above 0.
    fitting_hours : array_like of float
        To make reproduction parts fit.

    Returns
    -------
    ndarray of float
        Hours; broadcast shape.

    Raises
    ------
    InvalidParameter
        If hours are negative, or shares lie outside 0 to 1.

    Examples
    --------
    >>> restored_hours(2.0, 0.2, 0.3, 0.1, fitting_hours=0.5)
    array(6.5)
    """
    bench_share = require.share("bench_share", require.positive("bench_share", bench_share))
    beside = require.share("cleaning_share", cleaning_share) + require.share("wiring_share", wiring_share)
    bench_hours = require.not_negative("bench_hours", bench_hours)
    return np.asarray(bench_hours * (1 + beside / bench_share) + require.not_negative("fitting_hours", fitting_hours))


def _checked(hours, group, n_groups):
    hours = require.not_negative("hours", hours)
    if hours.ndim != 2:
        raise InvalidParameter(f"hours has {hours.ndim} dimensions; wanted one row a job, one column a stage.")
    if not (hours.sum(axis=1) > 0).all():
        raise InvalidParameter("hours holds a job without any; wanted more than 0 in some stage.")
    return hours, *group_index(group, hours.shape[0], n_groups)


def _leaning(share, n_stages):
    share = require.share("lean_share", require.positive("lean_share", share))
    if share.shape[-1:] != (n_stages,):
        raise InvalidParameter(f"lean_share has shape {share.shape}; wanted a share for each of {n_stages} stages.")
    return require.pmf("lean_share", share)


def _sums(rows, group, n_groups):
    found = np.zeros((n_groups, rows.shape[1]))
    np.add.at(found, group, rows)
    return found


def _ratios(hours, group, n_groups):
    """Jobs, shares of totals, and each job's distance from the shares of the others, in middle jobs of its group.

    The shares without a job tell how far it pulls them (the jackknife's view): a long job hides its own distance.
    """
    jobs = np.bincount(group, minlength=n_groups)
    total = _sums(hours, group, n_groups)
    all_stages = np.maximum(total.sum(axis=1, keepdims=True), 1e-300)
    ratio = total / all_stages
    length = all_stages / np.maximum(jobs, 1)[:, None]
    own = hours.sum(axis=1, keepdims=True)
    others = 1 - own / all_stages[group]
    count = jobs[group, None]
    residual = (hours - ratio[group] * own) / length[group] / np.where(count > 1, others, 1.0) * (1 - 1 / count)
    return jobs, ratio, residual


def _spread(squares, jobs, share):
    """Variance between jobs over share x (1 - share), all groups and stages together, drawn towards the guess."""
    spare = np.maximum(jobs - 1, 0).sum()
    seen = (squares / (share * (1 - share))).mean(axis=1).sum()
    return (seen + BORROWED_JOBS * SPREAD) / (spare + BORROWED_JOBS)
