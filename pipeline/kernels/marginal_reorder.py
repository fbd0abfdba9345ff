"""The reorder point at which the next lot is worth its place: jobs kept from waiting against the cash it ties up."""

from dataclasses import dataclass

import numpy as np

GRID = 64  # positions that are told apart; a part that moves by the hundred is counted in bundles
SPREAD = 7.0  # standard deviations of demand that the grid holds beyond the mean


@dataclass(frozen=True)
class Needs:
    """What a job of each kind may need, at the points of a Fourier grid.

    Attributes
    ----------
    share : ndarray of float, shape (n_kinds, n_parts)
        Chance that a job needs the part.
    pieces : ndarray of complex, shape (n_kinds, n_parts, GRID // 2 + 1)
        Transform of the bundles it takes if it does.
    bundle_pcs : ndarray of int, shape (n_parts,)
        Pieces counted as one.
    """

    share: np.ndarray
    pieces: np.ndarray
    bundle_pcs: np.ndarray

    def take(self, parts):
        """Return some of the parts."""
        return Needs(self.share[:, parts], self.pieces[:, parts], self.bundle_pcs[parts])


def needs(share, pieces_pmf, most_jobs):
    """Lay needs out on the grid.

    Parameters
    ----------
    share : ndarray of float, shape (n_kinds, n_parts)
        Chance that a job of the kind needs the part.
    pieces_pmf : ndarray of float, shape (n_kinds, n_parts, n_sizes)
        Probability of 0, 1, 2 ... pieces given need.
    most_jobs : ndarray of float, shape (n_kinds, n_parts)
        Jobs that may come within the longest lead time: they say how far the grid must reach.

    Returns
    -------
    Needs
        Pieces of a bundle are rounded up for each job: a part in bundles is kept a little more of, never less.
    """
    size = np.arange(pieces_pmf.shape[2])
    first, second = pieces_pmf @ size, pieces_pmf @ size**2.0
    mean = (most_jobs * share * first).sum(axis=0)
    variance = (most_jobs * share * second).sum(axis=0)
    largest = np.where(share > 0, _largest(pieces_pmf), 0).max(axis=0, initial=0)
    reach = mean + SPREAD * np.sqrt(variance) + largest
    bundle = np.maximum(np.ceil(reach / (GRID - 1)), 1).astype(np.int64)
    bundled = np.zeros((*share.shape, GRID))
    place = np.minimum(-(-size[:, None] // bundle), GRID - 1)  # size x part
    for one in size:
        np.add.at(bundled, (slice(None), np.arange(bundle.size), place[one]), pieces_pmf[:, :, one])
    return Needs(share, np.fft.rfft(bundled), bundle)


def _largest(pieces_pmf):
    n_sizes = pieces_pmf.shape[2]
    return n_sizes - 1 - np.argmax(pieces_pmf[:, :, ::-1] > 1e-4, axis=2)


def log_known(needs, chance):
    """Logarithm of the transform of what one known job takes.

    Parameters
    ----------
    needs : Needs
    chance : ndarray of float, shape (n_kinds, n_parts)
        Chance that it takes the part within the time looked at.

    Returns
    -------
    ndarray of complex, shape (n_kinds, n_parts, GRID // 2 + 1)
    """
    inside = 1 - chance[:, :, None] + chance[:, :, None] * needs.pieces
    return np.log(np.where(np.abs(inside) < 1e-14, 1e-14, inside))


def log_stream(needs, n_jobs, doubt):
    """Logarithm of the transform of what jobs nobody knows of yet take: gamma-Poisson jobs of every kind.

    Parameters
    ----------
    needs : Needs
    n_jobs : ndarray of float, shape (n_kinds, n_parts)
        Such jobs expected.
    doubt : ndarray of float, shape (n_kinds, n_parts)
        Squared coefficient of variation of their use of the part; 0: Poisson.

    Returns
    -------
    ndarray of complex, shape (n_parts, GRID // 2 + 1)
    """
    mean = (n_jobs * needs.share)[:, :, None]
    doubt = np.maximum(doubt, 1e-9)[:, :, None]
    return (-_log1p(doubt * mean * (1 - needs.pieces)) / doubt).sum(axis=0)


def _log1p(z):
    """Return log(1 + z); numpy's own loses the small real parts of complex numbers, which a small doubt divides."""
    return 0.5 * np.log1p(z.real * (2 + z.real) + z.imag**2) + 1j * np.arctan2(z.imag, 1 + z.real)


def pmf(log_transform):
    """Probabilities of 0, 1, 2 ... bundles behind a transform's logarithm.

    Parameters
    ----------
    log_transform : ndarray of complex, shape (..., GRID // 2 + 1)

    Returns
    -------
    ndarray of float, shape (..., GRID)
    """
    return np.maximum(np.fft.irfft(np.exp(log_transform), GRID), 0.0)


def stall_gain(stalling):
    """Jobs expected to stall for want of a part at each position, if no lot is ordered now.

    Parameters
    ----------
    stalling : ndarray of complex, shape (..., n_parts, GRID // 2 + 1)
        Transform of what is taken before the week that an order of today would serve, times that of what jobs of that
        week need and their number; averaged over lead times.

    Returns
    -------
    ndarray of float, shape (..., n_parts, GRID)
        At positions 0, 1, 2 ... bundles: a job stalls where demand before it and its own need exceed the position.

    Examples
    --------
    Half a job expected, which needs one piece; one piece is taken before it with a chance of 0.2.

    >>> one, taken = np.eye(GRID)[1], np.zeros(GRID)
    >>> taken[:2] = 0.8, 0.2
    >>> stall_gain(np.fft.rfft(taken) * 0.5 * np.fft.rfft(one))[:3].round(6)
    array([0.5, 0.1, 0. ])
    """
    at_least = np.fft.irfft(stalling, GRID)
    beyond = np.cumsum(at_least[..., ::-1], axis=-1)[..., ::-1]
    return np.maximum(np.concatenate([beyond[..., 1:], np.zeros_like(beyond[..., :1])], axis=-1), 0.0)


def reorder_point(gain, least_gain, bundle_pcs):
    """Highest position at which ordering is worth it.

    Parameters
    ----------
    gain : ndarray of float, shape (..., n_parts, GRID)
        From :func:`stall_gain`, weighed over lead times.
    least_gain : ndarray of float, shape (n_parts,)
        Jobs kept from waiting that a week's holding of the lot must buy.
    bundle_pcs : ndarray of int, shape (n_parts,)

    Returns
    -------
    ndarray of int, shape (..., n_parts)
        -1: order what waiting jobs are owed, and nothing for those to come.
    """
    n_worth = (np.minimum.accumulate(gain, axis=-1) >= least_gain[:, None]).sum(axis=-1)
    return n_worth * bundle_pcs - 1
