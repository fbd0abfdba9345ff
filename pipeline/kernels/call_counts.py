"""How many call-backs a machine brings in all: the whole distribution over its pieces and over the belief."""

import numpy as np

from pipeline.kernels import require
from pipeline.kernels.arguments import same_length

CALLS = 64  # points on the circle
# Of the circle that the generating function is read on: more than `CALLS` calls, which would be taken for as many less,
# weigh RADIUS ** CALLS, 1e-8, and rounding grows by 1 / RADIUS a call.
RADIUS = 0.75


def call_counts(piece_counts, pieces, other_calls, n_max=3):
    """Chance of 0, 1, ... n_max or more calls of one machine.

    Given the lives, pieces fail independently, so generating functions multiply; only then is the belief averaged over,
    since all pieces of a class share what is not known of it.

    Parameters
    ----------
    piece_counts : array_like of float, shape (n_draws, n_rows, n_cells)
        Chance of 0, 1, ... failures of one piece of each row; the last cell is taken as just so many.
    pieces : array_like of float, shape (n_rows,)
        Pieces of each row; expected numbers need not be whole. A fraction of a piece is a piece that is there just so
        often that it stays quiet as often as the fraction's power of the chance of no failure.
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
    Generating functions: Feller (1968), An Introduction to Probability Theory 1, chapter XI; read on a smaller circle:
    Abate & Whitt (1992), Operations Research Letters 12, 245-251.

    Examples
    --------
    Two pieces, one chance in ten each, and nothing else:

    >>> call_counts([[[0.9, 0.1]]], [2.0], [0.0], n_max=2).round(6)
    array([0.81, 0.18, 0.01])
    """
    counts = require.share("piece_counts", piece_counts)
    pieces = same_length(pieces=require.not_negative("pieces", pieces), rows=np.arange(counts.shape[1]))[0]
    other = same_length(other_calls=require.not_negative("other_calls", other_calls), draws=np.arange(len(counts)))[0]
    turn = RADIUS * np.exp(-2j * np.pi * np.arange(CALLS // 2 + 1) / CALLS)
    of_one = counts @ (turn[:, None] ** np.arange(counts.shape[2])).T
    whole = np.floor(pieces)
    generated = np.exp(np.einsum("r,drf->df", whole, np.log(of_one)) + other[:, None] * (turn - 1))
    there = _there_share(counts[:, :, 0], pieces - whole)
    generated *= (1 + there[:, :, None] * (of_one - 1)).prod(axis=1)
    chance = np.fft.irfft(generated.mean(axis=0), CALLS)[:n_max] / RADIUS ** np.arange(n_max)
    chance = np.clip(chance, 0.0, 1.0)  # rounding
    return np.append(chance, max(1 - chance.sum(), 0.0))


def _there_share(quiet, fraction):
    """How often a fraction of a piece is there: (n_draws, n_rows)."""
    fails = 1 - quiet
    share = np.divide(1 - quiet**fraction, fails, out=np.broadcast_to(fraction, quiet.shape).copy(), where=fails > 1e-9)
    return np.clip(share, 0.0, 1.0)
