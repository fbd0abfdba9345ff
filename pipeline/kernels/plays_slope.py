"""Does a machine's play counter tell how much a job will take? A slope per stratum, judged on jobs held out."""

import numpy as np
from scipy.special import expit, log_expit

from pipeline.errors import InvalidParameter
from pipeline.kernels.arguments import group_index, same_length

SLOPE_SD = 0.5  # logits that a standard deviation of the covariate is believed to move, at most a few times
FOLDS = 5
_ROUNDS = 25


def fit_slopes(is_used, offset, covariate, stratum, n_strata=None):
    """Slope of the logit of use on a covariate in each stratum, shrunk to none.

    Parameters
    ----------
    is_used : array_like of bool, shape (n,)
        Whether the job used the part, one row per job and part.
    offset : array_like of float, shape (n,)
        Logit of the share expected without the covariate.
    covariate : array_like of float, shape (n,)
        Centred, in units of its spread.
    stratum : array_like of int, shape (n,)
        Stratum of each row, from 0.
    n_strata : int, optional
        Number of strata; default the largest number + 1.

    Returns
    -------
    ndarray of float, shape (n_strata,)
        Most likely slopes under a normal belief about 0, sd 0.5.

    Raises
    ------
    InvalidParameter
        If lengths differ or a value is not finite.

    Examples
    --------
    >>> fit_slopes([True, False], [0.0, 0.0], [0.0, 0.0], [0, 0])  # no machine differs: nothing is learned
    array([0.])
    """
    used, offset, covariate = _checked(is_used, offset, covariate)
    stratum, n_strata = group_index(stratum, used.size, n_strata)
    slope = np.zeros(n_strata)
    for _ in range(_ROUNDS):
        share = expit(offset + slope[stratum] * covariate)
        towards = np.bincount(stratum, covariate * (used - share), n_strata) - slope / SLOPE_SD**2
        curvature = np.bincount(stratum, covariate**2 * share * (1 - share), n_strata) + 1 / SLOPE_SD**2
        slope += np.clip(towards / curvature, -SLOPE_SD, SLOPE_SD)
    return slope


def held_out_gain(is_used, offset, covariate, stratum, job):
    """What the slopes add to the log score of jobs they have not seen.

    Parameters
    ----------
    is_used, offset, covariate, stratum : array_like, shape (n,)
        As for :func:`fit_slopes`.
    job : array_like of int, shape (n,)
        Job of each row, from 0, each with a row; jobs are held out whole, every fifth together.

    Returns
    -------
    gain, standard_error : float
        Mean gain in log score per job, and its standard error over the jobs.

    Raises
    ------
    InvalidParameter
        As for :func:`fit_slopes`, or with fewer jobs than folds.

    References
    ----------
    Stone (1974), J. Roy. Statist. Soc. B 36, 111-147 (choice by cross-validation).
    """
    used, offset, covariate = _checked(is_used, offset, covariate)
    stratum, n_strata = group_index(stratum, used.size)
    job, n_jobs = group_index(job, used.size)
    if n_jobs < FOLDS:
        raise InvalidParameter(f"job tells {n_jobs} jobs apart; wanted at least {FOLDS}, one to hold out each time.")
    moved = np.empty(used.size)
    for fold in range(FOLDS):
        is_out = job % FOLDS == fold
        slope = fit_slopes(*(values[~is_out] for values in (used, offset, covariate, stratum)), n_strata)
        moved[is_out] = offset[is_out] + slope[stratum[is_out]] * covariate[is_out]
    sign = 2 * used - 1
    gain = np.bincount(job, log_expit(sign * moved) - log_expit(sign * offset), n_jobs)
    return float(gain.mean()), float(gain.std(ddof=1) / np.sqrt(n_jobs))


def _checked(is_used, offset, covariate):
    used, offset, covariate = same_length(is_used=is_used, offset=offset, covariate=covariate)
    offset, covariate = offset.astype(float), covariate.astype(float)
    if not np.isfinite([offset, covariate]).all():
        raise InvalidParameter("offset or covariate holds a value that is missing or infinite; wanted finite numbers.")
    return used.astype(float), offset, covariate
