"""How many call-backs a machine brings in all: the whole distribution over its pieces and over the belief."""

import numpy as np

from pipeline.kernels import require
from pipeline.kernels.arguments import same_length

CALLS = 64  # counted up to here; a machine with more calls than that has other troubles


def call_counts(piece_counts, pieces, other_calls, n_max=3):
    """Chance of 0, 1, ... n_max or more calls of one machine.

    Given the lives, pieces fail independently, so generating functions multiply; only then is the belief averaged over,
    since all pieces of a class share what is not known of it.

    Parameters
    ----------
    piece_counts : array_like of float, shape (n_draws, n_rows, n_cells)
        Chance of 0, 1, ... failures of one piece of each row; the last cell is taken as just so many.
    pieces : array_like of float, shape (n_rows,)
        Pieces of each row; expected numbers need not be whole.
    other_calls : array_like of float, shape (n_draws,)
        Expected calls without a part (their number taken as Poisson).
    n_max : int
        The last cell is this number of calls or more; below `CALLS`.

    Returns
    -------
    ndarray of float, shape (n_max + 1,)
        Sums to 1.

    Raises
    ------
    InvalidParameter
        If shapes differ, or a chance, number of pieces or of calls is out of its range.

    References
    ----------
    Generating functions on the unit circle: Feller (1968), An Introduction to Probability Theory 1, chapter XI.

    Examples
    --------
    Two pieces, one chance in ten each, and nothing else:

    >>> call_counts([[[0.9, 0.1]]], [2.0], [0.0], n_max=2).round(6)
    array([0.81, 0.18, 0.01])
    """
    counts = require.share("piece_counts", piece_counts)
    pieces = same_length(pieces=require.not_negative("pieces", pieces), rows=np.arange(counts.shape[1]))[0]
    other = same_length(other_calls=require.not_negative("other_calls", other_calls), draws=np.arange(len(counts)))[0]
    turn = np.exp(-2j * np.pi * np.arange(CALLS // 2 + 1) / CALLS)
    powers = turn[:, None] ** np.arange(counts.shape[2])
    log_generated = np.einsum("r,drf->df", pieces, np.log(counts @ powers.T))
    log_generated += other[:, None] * (turn - 1)
    chance = np.fft.irfft(np.exp(log_generated).mean(axis=0), CALLS)[:n_max]
    return np.append(chance, 1 - chance.sum())
