"""Distributions over whole pieces 0, 1, 2 ... held as arrays: mean, quantiles, sums of independent counts."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require

ROUNDING = 1e-12


def mean(pmf):
    """Mean of each distribution, in pieces.

    Parameters
    ----------
    pmf : array_like of float, shape (..., n_values)
        Probability of 0, 1, 2 ... pieces along the last axis.

    Returns
    -------
    ndarray of float, shape (...)

    Raises
    ------
    InvalidParameter
        If a row is no distribution.

    Examples
    --------
    >>> float(mean([0.5, 0.0, 0.5]))
    1.0
    """
    pmf = require.pmf("pmf", pmf)
    return pmf @ np.arange(pmf.shape[-1])


def variance(pmf):
    """Variance of each distribution, in pieces squared.

    Parameters
    ----------
    pmf : array_like of float, shape (..., n_values)
        Probability of 0, 1, 2 ... pieces along the last axis.

    Returns
    -------
    ndarray of float, shape (...)

    Raises
    ------
    InvalidParameter
        If a row is no distribution.

    Examples
    --------
    >>> float(variance([0.5, 0.0, 0.5]))
    1.0
    """
    pmf = require.pmf("pmf", pmf)
    pieces = np.arange(pmf.shape[-1])
    deviation = pieces - (pmf @ pieces)[..., None]
    return (pmf * deviation**2).sum(axis=-1)


def quantiles(pmf, levels):
    """Smallest number of pieces that covers each level: the first k with P(X <= k) >= level.

    Parameters
    ----------
    pmf : array_like of float, shape (..., n_values)
        Probability of 0, 1, 2 ... pieces along the last axis.
    levels : array_like of float, shape (n_levels,)
        Probabilities, more than 0 and less than 1.

    Returns
    -------
    ndarray of int64, shape (..., n_levels)

    Raises
    ------
    InvalidParameter
        If a row is no distribution or a level lies outside (0, 1).

    Examples
    --------
    >>> quantiles([0.5, 0.3, 0.2], [0.1, 0.5, 0.9])
    array([0, 0, 2])
    """
    levels = np.atleast_1d(require.share("levels", levels))
    if ((levels == 0) | (levels == 1)).any():
        raise InvalidParameter("levels holds 0 or 1; wanted probabilities between them.")
    cumulative = np.cumsum(require.pmf("pmf", pmf), axis=-1)
    # A sum that should be exactly the level may fall one rounding short of it.
    is_short = cumulative[..., None, :] < levels[:, None] - ROUNDING
    return np.minimum(is_short.sum(axis=-1), cumulative.shape[-1] - 1)


def exceedance(pmf):
    """P(X > k) for k = 0, 1, 2 ..., summed from the tail so that small values keep their digits.

    Parameters
    ----------
    pmf : array_like of float, shape (..., n_values)
        Probability of 0, 1, 2 ... pieces along the last axis.

    Returns
    -------
    ndarray of float, shape (..., n_values)

    Raises
    ------
    InvalidParameter
        If a row is no distribution.

    Examples
    --------
    >>> exceedance([0.5, 0.25, 0.25])
    array([0.5 , 0.25, 0.  ])
    """
    pmf = require.pmf("pmf", pmf)
    from_here = np.cumsum(pmf[..., ::-1], axis=-1)[..., ::-1]
    return np.concatenate([from_here[..., 1:], np.zeros((*pmf.shape[:-1], 1))], axis=-1)


def convolve(first, second):
    """Distribution of the sum of two independent counts, row by row.

    Parameters
    ----------
    first, second : array_like of float, shape (..., n_first) and (..., n_second)
        Probability of 0, 1, 2 ... pieces along the last axis; leading axes broadcast.

    Returns
    -------
    ndarray of float, shape (..., n_first + n_second - 1)

    Raises
    ------
    InvalidParameter
        If a row is no distribution.

    Notes
    -----
    By fast Fourier transform over a grid long enough that nothing wraps; accurate to about 1e-16 of the
    largest probability, so far tails keep no relative precision.

    Examples
    --------
    >>> convolve([0.5, 0.5], [0.5, 0.5]).round(12)
    array([0.25, 0.5 , 0.25])
    """
    first, second = require.pmf("first", first), require.pmf("second", second)
    n_values = first.shape[-1] + second.shape[-1] - 1
    grid = power_of_two(n_values)
    product = np.fft.rfft(first, grid) * np.fft.rfft(second, grid)
    return np.clip(np.fft.irfft(product, grid)[..., :n_values], 0, None)


def sum_of(pmfs, tail=1e-9):
    """Distribution of the sum of independent counts of different lengths.

    Parameters
    ----------
    pmfs : sequence of array_like of float, shape (n_values,) each
        Probability of 0, 1, 2 ... pieces of each count; at least one.
    tail : float
        Probability that may be cut off the upper end, at least 0.

    Returns
    -------
    ndarray of float, shape (n_values,)

    Raises
    ------
    InvalidParameter
        If one is no distribution.

    Examples
    --------
    >>> sum_of([[0.5, 0.5], [0.5, 0.5], [0.5, 0.5]]).round(12)
    array([0.125, 0.375, 0.375, 0.125])
    """
    pmfs = [require.pmf("pmfs", pmf) for pmf in pmfs]
    n_values = sum(pmf.size - 1 for pmf in pmfs) + 1
    grid = power_of_two(n_values)
    transform = np.prod([np.fft.rfft(pmf, grid) for pmf in pmfs], axis=0)
    return trimmed(np.clip(np.fft.irfft(transform, grid)[:n_values], 0, None), tail)


def trimmed(pmf, tail=1e-9):
    """Cut the upper end of a distribution where no more than ``tail`` of the probability lies beyond.

    Parameters
    ----------
    pmf : array_like of float, shape (n_values,)
        Probability of 0, 1, 2 ... pieces.
    tail : float
        Probability that may be lost, at least 0.

    Returns
    -------
    ndarray of float, shape (n_kept,)
        At least one value.

    Raises
    ------
    InvalidParameter
        If it is no distribution.

    Examples
    --------
    >>> trimmed([0.5, 0.5, 0.0, 0.0])
    array([0.5, 0.5])
    """
    pmf = require.pmf("pmf", pmf)
    return pmf[: int((exceedance(pmf) > require.not_negative("tail", tail)).sum()) + 1]


def power_of_two(n_values):
    """Smallest power of two that is at least ``n_values``.

    Parameters
    ----------
    n_values : array_like of float
        Lengths wanted; more than 0, below 1 counts as 1.

    Returns
    -------
    int or ndarray of int64
        Same shape as ``n_values``.

    Raises
    ------
    InvalidParameter
        If a length is not more than 0.

    Examples
    --------
    >>> power_of_two([1, 5, 64])
    array([ 1,  8, 64])
    """
    n_values = require.positive("n_values", n_values)
    exponent = np.ceil(np.log2(np.maximum(n_values, 1))).astype(np.int64)
    grid = np.left_shift(np.int64(1), exponent)
    return int(grid) if grid.ndim == 0 else grid
