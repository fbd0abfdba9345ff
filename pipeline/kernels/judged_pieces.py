"""Pieces of several states: which of them are taken out, and what may be thought of those left."""

import numpy as np

from pipeline.kernels import require


def worst_first(state_pcs, taken_pcs):
    """What is left of pieces of several states once some are taken out, the worst first.

    Parameters
    ----------
    state_pcs : array_like of float, shape (n_lines, n_states)
        Pieces of each state, the worst first.
    taken_pcs : array_like of float, shape (n_lines,)
        Pieces taken out; more than there are empties the line.

    Returns
    -------
    ndarray of float, shape (n_lines, n_states)

    Raises
    ------
    InvalidParameter
        If a number is negative.

    Examples
    --------
    >>> worst_first([[2.0, 3.0, 1.0]], [3.5])
    array([[0. , 1.5, 1. ]])
    """
    there = require.not_negative("state_pcs", state_pcs)
    taken = require.not_negative("taken_pcs", taken_pcs)
    before = np.cumsum(there, axis=1) - there
    return there - np.clip(taken[:, None] - before, 0.0, there)


def judged_good_share(left_pcs, taken_pcs, worn_failures, unjudged_failures, good_failures):
    """Share of the pieces left that may pass as good, once the worst of the unjudged ones were taken out.

    Looking at a piece does not mend it. What it can do is find worn pieces: with ``r`` of ``n`` taken out, all of them
    worn, those left fail ``n * unjudged - r * worn`` times, and never less than good ones do. The share is such that
    good and unjudged pieces together fail that often.

    Parameters
    ----------
    left_pcs, taken_pcs : array_like of float, shape (n_lines,)
        Unjudged pieces before, and pieces taken out of them (at most all).
    worn_failures, unjudged_failures, good_failures : array_like of float, shape (n_lines,)
        Expected failures of one piece of each state over the horizon.

    Returns
    -------
    ndarray of float, shape (n_lines,)
        In [0, 1]; 0 where nothing is taken out, or good pieces are believed no better.

    Examples
    --------
    Two of ten taken out, twice as bad as the average: half of what it would take for the rest to be good.

    >>> judged_good_share([10.0], [2.0], [0.2], [0.1], [0.05]).round(3)
    array([0.5])
    """
    left, taken = np.asarray(left_pcs, dtype=float), np.minimum(taken_pcs, left_pcs)
    better = (left - taken) * (np.asarray(unjudged_failures) - good_failures)
    spared = taken * (np.asarray(worn_failures) - unjudged_failures)
    share = np.divide(spared, better, out=np.zeros(left.shape), where=(better > 0) & (spared > 0))
    return np.minimum(share, 1.0)
