"""How many jobs do a thing: streams of jobs not yet booked and jobs known one by one, on a grid of whole numbers.

Real arithmetic on the probabilities themselves: nothing wraps, and what lies beyond the grid is missing from the sum.
"""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require

NO_EXCESS = 1e-9  # nearer 0 than this a count is taken as Poisson
CERTAIN = 1e-15  # a job is left at least this chance of not being one, so that no ratio is infinite


def whole_trials(mean, excess):
    """Variance excess of each stream, streams more even than chance made true binomials.

    Parameters
    ----------
    mean : array_like of float, shape (...)
        Mean number of jobs.
    excess : array_like of float, shape (...)
        Variance over mean, less 1; at least -1.

    Returns
    -------
    ndarray of float, shape (...)
        The same where 0 or more. Below 0 the count is binomial and its trials ``mean / -excess`` must be whole: they
        are rounded up, so that the excess comes a little nearer 0 and the mean stays.

    Raises
    ------
    InvalidParameter
        If a mean is negative or an excess below -1.

    Examples
    --------
    >>> whole_trials([4.0, 4.0, 4.0], [0.5, -0.5, -0.6])  # 8 trials as they are, 6.67 trials made 7
    array([ 0.5       , -0.5       , -0.57142857])
    """
    mean, excess = np.broadcast_arrays(require.not_negative("unbooked_mean", mean), np.asarray(excess, dtype=float))
    if not (np.isfinite(excess) & (excess >= -1)).all():
        raise InvalidParameter(
            f"unbooked_excess is {excess[~(excess >= -1) | ~np.isfinite(excess)].flat[0]:g}; wanted at least -1: "
            "no count has less than no variance.")
    excess = np.where(np.abs(excess) < NO_EXCESS, 0, excess)
    is_even = (excess < 0) & (mean > 0)
    trials = np.ceil(mean / np.where(is_even, -excess, 1) - 1e-9)  # 8.0000001 trials are 8
    return np.where(is_even, -mean / np.maximum(trials, 1), np.maximum(excess, 0))


def stream_pmf(mean, excess, n_values):
    """Distribution of a count by its mean and variance excess: negative binomial, Poisson or binomial.

    Parameters
    ----------
    mean, excess : array_like of float, shape (...)
        Mean, and variance over mean less 1: above 0 negative binomial, 0 Poisson, below 0 binomial with the whole
        number of trials that :func:`whole_trials` makes. Jobs that each do a thing with chance c are a stream of
        mean ``c * mean`` and excess ``c * excess``.
    n_values : int
        Length of the grid.

    Returns
    -------
    ndarray of float, shape (..., n_values)
        Probability of 0, 1, 2 ...; less than 1 in sum where the grid ends too soon.

    Notes
    -----
    The three are the class in which ``p[n + 1] / p[n]`` is ``(mean + n * excess) / ((n + 1) * (1 + excess))``, with
    generating function ``exp(-(mean / excess) * log(1 + excess * (1 - z)))``. Summed as logarithms: a mean of
    thousands starts from a probability too small for a float.

    References
    ----------
    Panjer (1981), ASTIN Bulletin 12, 22-26 (the class, there called (a, b, 0)).

    Examples
    --------
    >>> stream_pmf(1.0, -0.5, 4).round(9)  # two trials of one half
    array([0.25, 0.5 , 0.25, 0.  ])
    """
    mean, excess = (np.asarray(values, dtype=float)[..., None] for values in (mean, excess))
    excess = np.maximum(excess, CERTAIN - 1)
    n = np.arange(n_values - 1)
    left = mean + n * excess
    left = np.where(left > -excess / 2, left, 0)  # a binomial's trials used up, but for rounding
    with np.errstate(divide="ignore"):  # past the trials of a binomial, and of a stream without jobs: log 0
        step = np.log(left / ((n + 1) * (1 + excess)))
    slope = np.where(excess == 0, 1, np.log1p(excess) / np.where(excess == 0, 1, excess))
    return np.exp(np.cumsum(np.concatenate([-mean * slope, step], axis=-1), axis=-1))


def with_known(pmf, chance):
    """Distribution of a count with known jobs added, each of its own chance.

    Parameters
    ----------
    pmf : ndarray of float, shape (n_rows, ..., n_values)
        Count before, along the last axis; overwritten.
    chance : ndarray of float, shape (n_known, n_rows, ...)
        Chance of each known job; rows where it is below 1e-9 are passed over.

    Returns
    -------
    ndarray of float, shape (n_rows, ..., n_values)

    Examples
    --------
    >>> with_known(np.array([[1.0, 0.0, 0.0]]), np.array([[0.5], [0.5]]))
    array([[0.25, 0.5 , 0.25]])
    """
    for one in chance:
        here = np.flatnonzero(one.reshape(len(one), -1).max(axis=1, initial=0) > 1e-9)
        here = slice(None) if here.size == len(one) else here
        share, before = one[here][..., None], pmf[here]
        after = before * (1 - share)
        after[..., 1:] += before[..., :-1] * share
        pmf[here] = after
    return pmf
