"""Failures of single machines, played through: how many of its pieces fail by each of several days."""

import numpy as np


def failures_on_paths(rng, pieces, first_scale, first_shape, scale, shape, ends):
    """Play every piece of a machine through, each failed piece replaced by a new one.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of randomness.
    pieces : array_like of float, shape (n_rows,)
        Pieces of each row; a fraction is a chance of one more.
    first_scale, first_shape, scale, shape : array_like of float, shape (n_draws, n_rows)
        Weibull life of the piece in place, from now on, and of those that follow it.
    ends : array_like of float, shape (n_draws, n_ends)
        Times by which failures are counted, rising.

    Returns
    -------
    ndarray of int64, shape (n_draws, n_rows, n_ends)
        Failures by each end; one machine per draw.

    References
    ----------
    Delayed renewal process: Cox (1962), Renewal Theory, section 2.2.

    Examples
    --------
    >>> lives = [np.full((2, 1), value) for value in (5.0, 200.0, 5.0, 200.0)]
    >>> failures_on_paths(np.random.default_rng(1), [3.0], *lives, [[4.0, 12.0], [4.0, 17.0]])[:, 0]
    array([[0, 6],
           [0, 9]])
    """
    first_scale, first_shape, scale, shape = (np.asarray(each, dtype=float) for each in
                                              (first_scale, first_shape, scale, shape))
    ends = np.asarray(ends, dtype=float)
    whole = np.floor(pieces).astype(np.int64)
    number = whole + (rng.random(first_scale.shape) < np.asarray(pieces) - whole)
    counts = np.zeros((first_scale.size, ends.shape[1]), dtype=np.int64)
    row = np.repeat(np.arange(first_scale.size), number.ravel())
    draw = row // first_scale.shape[1]
    age = first_scale.ravel()[row] * rng.standard_exponential(row.size) ** (1 / first_shape.ravel()[row])
    while row.size:
        is_failed = age <= ends[draw, -1]
        row, draw, age = row[is_failed], draw[is_failed], age[is_failed]
        for place in range(ends.shape[1]):
            counts[:, place] += np.bincount(row[age <= ends[draw, place]], minlength=len(counts))
        age = age + scale.ravel()[row] * rng.standard_exponential(row.size) ** (1 / shape.ravel()[row])
    return counts.reshape(*first_scale.shape, ends.shape[1])
