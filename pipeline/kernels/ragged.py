"""Distributions of different lengths side by side: worked on by length, since a loop over thousands is slow."""

import numpy as np

from pipeline.kernels import discrete, require


def blocks(pmfs, lengths):
    """Yield distributions of different lengths as arrays, those of one length together: long loops are slow.

    Parameters
    ----------
    pmfs : sequence of ndarray of float, shape (n_values,) each
        Probability of 0, 1, 2 ... pieces of each count.
    lengths : array_like of int, shape (n,)
        Length that each is filled up to with 0, at least its own.

    Yields
    ------
    places : ndarray of int, shape (n_rows,)
        Which of the distributions; lengths rising.
    block : ndarray of float, shape (n_rows, length)

    Examples
    --------
    >>> [(places.tolist(), block.tolist()) for places, block in blocks([np.ones(1)], [2])]
    [([0], [[1.0, 0.0]])]
    """
    lengths = np.asarray(lengths)
    for length in np.unique(lengths):
        places = np.flatnonzero(lengths == length)
        block = np.zeros((places.size, length))
        for row, place in zip(block, places, strict=True):
            row[: len(pmfs[place])] = pmfs[place]
        yield places, block


def trimmed(pmfs, tail=1e-9):
    """Cut the upper end of many distributions, as :func:`pipeline.kernels.discrete.trimmed` does of one.

    Parameters
    ----------
    pmfs : sequence of ndarray of float, shape (n_values,) each
        Probability of 0, 1, 2 ... pieces of each count.
    tail : float
        Probability that each may lose, at least 0.

    Returns
    -------
    list of ndarray of float, shape (n_kept,) each

    Raises
    ------
    InvalidParameter
        If one is no distribution.

    Examples
    --------
    >>> trimmed([np.array([0.5, 0.5, 0.0]), np.ones(1)])
    [array([0.5, 0.5]), array([1.])]
    """
    tail, found = require.not_negative("tail", tail), [None] * len(pmfs)
    for places, block in blocks(pmfs, [len(pmf) for pmf in pmfs]):
        block = require.pmf("pmf", block)
        kept = (discrete.exceedance(block) > tail).sum(axis=1) + 1
        for place, row, n_kept in zip(places, block, kept, strict=True):
            found[place] = row[:n_kept]
    return found
