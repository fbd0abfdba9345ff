"""A job begun tells how rough it is: what it has taken so far says how much more of everything it will take."""

import numpy as np
from scipy.special import expit, log_expit

from pipeline.kernels import require
from pipeline.kernels.job_factor import CERTAIN, FACTOR, FACTOR_WEIGHT, checked_loading, intercepts_by_table

MOST_DONE = 0.99  # of a job still running


def factor_weights(at_zero, loading, is_taken, done):
    """What a job begun tells of its own factor.

    Parameters
    ----------
    at_zero : array_like of float, shape (n_parts,)
        Logit of use at a factor of 0 (:func:`intercepts`).
    loading : float
        Standard deviation of the factor on the logit, 0 to 4.
    is_taken : array_like of bool, shape (n_parts,)
        Parts it has taken so far.
    done : float
        Share of its work that lies behind: a part not taken yet may still be, 0 to 1.

    Returns
    -------
    ndarray of float, shape (n_factors,)
        Probability of each of ``FACTOR``.

    Raises
    ------
    InvalidParameter
        If a share or the loading lies outside its range.
    """
    loading, done = checked_loading(loading), float(require.share("done", done))
    is_taken = np.asarray(is_taken, dtype=bool)
    logits = np.asarray(at_zero, dtype=float)[:, None] + loading * FACTOR
    told = log_expit(logits[is_taken]).sum(axis=0) + np.log1p(-done * expit(logits[~is_taken])).sum(axis=0)
    weight = np.exp(told - told.max()) * FACTOR_WEIGHT
    return weight / weight.sum()


def odds_of_rest(share, loading, is_taken, done):
    """How many times the usual odds of use are those of a job begun, for the parts it has not taken.

    Parameters
    ----------
    share : array_like of float, shape (n_parts,)
        Share of jobs that use each part.
    loading, is_taken, done
        As for :func:`factor_weights`.

    Returns
    -------
    ndarray of float, shape (n_parts,)
        Above 1 for a rough job. A job of the usual share with these odds is as likely to take the part in the rest of
        its work as this one, averaged over its factor.

    Raises
    ------
    InvalidParameter
        As there.

    Examples
    --------
    >>> share, done = [0.3] * 20, 0.5
    >>> rough, smooth = (odds_of_rest(share, 1.0, [n < taken for n in range(20)], done)[-1] for taken in (8, 0))
    >>> bool(rough > 2 > 0.7 > smooth)
    True
    """
    share = np.clip(require.share("share", share), CERTAIN, 1 - CERTAIN)
    at_zero = intercepts_by_table(share, loading)
    weight = factor_weights(at_zero, loading, is_taken, done)
    done = min(float(done), MOST_DONE)
    chance = expit(at_zero[:, None] + float(loading) * FACTOR)
    rest = (chance * (1 - done) / (1 - chance * done)) @ weight
    own = np.clip(rest / (1 - done + rest * done), CERTAIN, 1 - CERTAIN)
    return own / (1 - own) * (1 - share) / share
