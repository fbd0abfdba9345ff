"""Exact distribution of the pieces that a window of jobs will use, for many rows at once.

A row is a part in one family and scope. At a fixed use share and piece size its jobs are independent and
their generating functions multiply; that product is then averaged over what is believed about both, so that
doubt shared by all jobs of a row does not average out.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import group_index, same_length
from pipeline.kernels.discrete import power_of_two
from pipeline.kernels.quadrature import beta_nodes, odds_nodes

USE_NODES = 12
EXTRA_NODES = 3
TAIL_TOLERANCE = 1e-7
DAMPING = 1e-4
LONGEST_GRID = 2**17
CHUNK_VALUES = 2_000_000


@dataclass(frozen=True)
class UseRows:
    """What is believed about the use of a part by one job, one row per part in a family and scope.

    Attributes
    ----------
    alpha, beta : ndarray of float, shape (n_rows,)
        The share of jobs that use the part is Beta(alpha, beta).
    pieces : ndarray of float, shape (n_rows, n_piece_nodes, n_values)
        Probability that a job which uses the part takes 0, 1, 2 ... pieces, at each node of what is believed about
        the pieces; that of none is 0.
    piece_weight : ndarray of float, shape (n_rows, n_piece_nodes)
        Weight of each node, rows summing to 1: the doubt about the pieces where few uses were seen.
    """

    alpha: np.ndarray
    beta: np.ndarray
    pieces: np.ndarray
    piece_weight: np.ndarray


@dataclass(frozen=True)
class JobRows:
    """The jobs whose use of parts may fall in the window, one row per part in a family and scope.

    Attributes
    ----------
    known_share : ndarray of float, shape (n_rows, n_known)
        Chance that a known job's use of the part falls in the window, if it uses the part; 0 pads short rows.
    done_share : ndarray of float, shape (n_rows, n_known)
        Share of the job's work already done without taking the part: 0 for a job not begun.
    unbooked_shape, unbooked_scale : ndarray of float, shape (n_rows,)
        Jobs not yet booked whose use falls in the window: Poisson, its mean Gamma(shape, scale).
    """

    known_share: np.ndarray
    done_share: np.ndarray
    unbooked_shape: np.ndarray
    unbooked_scale: np.ndarray


def predictive_pmfs(use, jobs, group=None):
    """Distribution of pieces used in the window, rows of a group added up as independent.

    Parameters
    ----------
    use : UseRows
        Beliefs about use per job.
    jobs : JobRows
        Jobs of the window.
    group : array_like of int, shape (n_rows,), optional
        Group of each row, from 0; default: each row its own group.

    Returns
    -------
    list of ndarray of float
        For each group the probability of 0, 1, 2 ... pieces, on a grid of a power of two that starts at
        mean + 8 standard deviations and doubles until less than 1e-7 of the probability lies beyond it.

    Raises
    ------
    InvalidParameter
        If shapes differ, a share lies outside [0, 1], or more than 131,072 pieces are in play.

    Notes
    -----
    Exact but for the two averages: 12 nodes leave about 1e-7 of doubt about the share; 3 nodes keep mean and variance
    of the doubt about pieces exact, and its shape to a few thousandths where less than ten uses were seen.

    References
    ----------
    Feller (1968), An Introduction to Probability Theory and Its Applications I, chapter XII (compound distributions).
    Abate & Whitt (1992), Queueing Systems 10, 5-87 (inversion on a circle inside the unit circle).
    """
    n_rows = _checked_rows(use, jobs)
    group, n_groups = group_index(np.arange(n_rows) if group is None else group, n_rows)
    row_mean, row_variance = moments(use, jobs)
    mean = np.bincount(group, row_mean, n_groups)
    variance = np.bincount(group, row_variance, n_groups)
    length = power_of_two(mean + 8 * np.sqrt(variance) + 8)
    pmfs = [np.ones(1)] * n_groups
    pending = np.unique(group)
    while pending.size:
        if length[pending].max() > LONGEST_GRID:
            raise InvalidParameter(
                f"the window may use {mean.max():,.0f} pieces or more; wanted at most {LONGEST_GRID:,}."
            )
        for n_values in np.unique(length[pending]):
            here = pending[length[pending] == n_values]
            for place, pmf in zip(here, _pmf_of_groups(use, jobs, group, here, int(n_values)), strict=True):
                pmfs[place] = pmf
        pending = np.array([g for g in pending if 1 - pmfs[g].sum() > TAIL_TOLERANCE], dtype=np.int64)
        length[pending] *= 2
    return pmfs


def moments(use, jobs):
    """Mean and variance of the pieces each row uses in the window.

    Parameters
    ----------
    use : UseRows
        Beliefs about use per job.
    jobs : JobRows
        Jobs of the window.

    Returns
    -------
    mean, variance : ndarray of float, shape (n_rows,)
        Pieces, pieces squared; from the same quadrature as the distributions.

    Raises
    ------
    InvalidParameter
        As for :func:`predictive_pmfs`.
    """
    _checked_rows(use, jobs)
    theta, odds, weight = _nodes(use)
    extra_mean = use.extra_size[:, None, None] * odds
    piece_mean = 1 + extra_mean
    piece_square = piece_mean**2 + extra_mean * (1 + odds)
    chance = _known_chance(theta[:, :, 0], jobs)
    unbooked = (jobs.unbooked_shape * jobs.unbooked_scale)[:, None] * theta[:, :, 0]
    uses = (chance.sum(axis=0) + unbooked)[:, :, None]
    at_node = uses * piece_mean
    shared = unbooked**2 / np.maximum(jobs.unbooked_shape, 1e-300)[:, None] - (chance**2).sum(axis=0)
    spread = uses * piece_square + shared[:, :, None] * piece_mean**2
    mean = (weight * at_node).sum(axis=(1, 2))
    second = (weight * (spread + at_node**2)).sum(axis=(1, 2))
    return mean, np.maximum(second - mean**2, 0)


def job_count_pmf(known_share, unbooked_shape, unbooked_scale):
    """Distribution of the number of jobs whose work falls in a window, one set of jobs.

    Parameters
    ----------
    known_share : array_like of float, shape (n_known,)
        Chance for each known job, 0 to 1.
    unbooked_shape, unbooked_scale : float or array_like of float, shape (n_streams,)
        Streams of jobs not yet booked: each Poisson with a Gamma(shape, scale) mean.

    Returns
    -------
    ndarray of float, shape (n_values,)
        Probability of 0, 1, 2 ... jobs.

    Raises
    ------
    InvalidParameter
        If a share lies outside [0, 1] or a stream's parameter is negative.

    Examples
    --------
    >>> job_count_pmf([0.5, 0.5], 0.0, 0.0)[:4].round(9)
    array([0.25, 0.5 , 0.25, 0.  ])
    """
    known = np.atleast_1d(require.share("known_share", known_share))
    shape = np.atleast_1d(require.not_negative("unbooked_shape", unbooked_shape))
    scale = np.atleast_1d(require.not_negative("unbooked_scale", unbooked_scale))
    mean = known.sum() + (shape * scale).sum()
    variance = (known * (1 - known)).sum() + (shape * scale * (1 + scale)).sum()
    n_values = power_of_two(mean + 16 * np.sqrt(variance) + 8)
    gap = 1 - _points(n_values)
    transform = np.prod(1 - known[:, None] * gap, axis=0)
    transform = transform * np.prod((1 + scale[:, None] * gap) ** -shape[:, None], axis=0)
    return _invert(transform, n_values)


def _checked_rows(use, jobs):
    """Check shapes and ranges; return the number of rows."""
    same_length(alpha=use.alpha, beta=use.beta, extra_alpha=use.extra_alpha, extra_beta=use.extra_beta,
                extra_size=use.extra_size, unbooked_shape=jobs.unbooked_shape, unbooked_scale=jobs.unbooked_scale)
    require.positive("extra_size", use.extra_size)
    require.not_negative("unbooked_shape", jobs.unbooked_shape)
    require.not_negative("unbooked_scale", jobs.unbooked_scale)
    known = require.share("known_share", jobs.known_share)
    done = require.share("done_share", jobs.done_share)
    if known.shape != done.shape or known.ndim != 2 or known.shape[0] != use.alpha.size:
        raise InvalidParameter(
            f"known_share has shape {known.shape}, done_share {done.shape}; wanted {use.alpha.size} rows each."
        )
    require.share("known_share + done_share", np.maximum(known + done - 1e-9, 0))
    return use.alpha.size


def _nodes(use):
    """Use share, odds of one more extra piece, and weight, each shape (n_rows, use nodes, extra nodes)."""
    theta, theta_weight = beta_nodes(use.alpha, use.beta, USE_NODES)
    odds, odds_weight = odds_nodes(use.extra_alpha, use.extra_beta, EXTRA_NODES)
    return theta[:, :, None], odds[:, None, :], theta_weight[:, :, None] * odds_weight[:, None, :]


def _known_chance(theta, jobs):
    """Chance that each known job uses the part in the window, given it has not so far: (n_known, rows, nodes)."""
    known, done = jobs.known_share.T[:, :, None], jobs.done_share.T[:, :, None]
    return theta * known / np.maximum(1 - theta * done, 1e-12)


def _points(n_values):
    """Points on a circle just inside the unit circle, where the generating functions are taken."""
    angle = np.arange(n_values // 2 + 1) * (2j * np.pi / n_values)
    return np.exp(np.log(DAMPING) / n_values - angle)


def _invert(transform, n_values):
    """Probabilities from a generating function on :func:`_points`.

    The circle is inside the unit circle so that what lies beyond the grid folds back ten thousand times
    smaller (Abate & Whitt 1992, Queueing Systems 10, 5-87); what is missing from 1 is then the tail.
    """
    growth = np.exp(-np.log(DAMPING) / n_values * np.arange(n_values))
    return np.clip(np.fft.irfft(transform, n_values, axis=-1) * growth, 0, None)


def _pmf_of_groups(use, jobs, group, wanted, n_values):
    """Distributions of the wanted groups on one grid, shape (n_wanted, n_values)."""
    place = np.full(group.max() + 1, -1)
    place[wanted] = np.arange(wanted.size)
    rows = np.flatnonzero(place[group] >= 0)
    rows = rows[np.argsort(place[group[rows]], kind="stable")]
    points = _points(n_values)
    product = np.ones((wanted.size, points.size), dtype=complex)
    step = max(1, CHUNK_VALUES // (points.size * USE_NODES * EXTRA_NODES))
    for start in range(0, rows.size, step):
        chunk = rows[start : start + step]
        target, first = np.unique(place[group[chunk]], return_index=True)
        product[target] *= np.multiply.reduceat(_transform(use, jobs, chunk, points), first, axis=0)
    return _invert(product, n_values)


def _transform(use, jobs, rows, points):
    """Generating function of each row at the points: product over jobs, then averaged over the beliefs."""
    use = UseRows(*(getattr(use, name)[rows] for name in UseRows.__dataclass_fields__))
    jobs = JobRows(*(getattr(jobs, name)[rows] for name in JobRows.__dataclass_fields__))
    theta, odds, weight = _nodes(use)
    size = use.extra_size[:, None, None]
    pieces = points * (1 + odds.transpose(0, 2, 1) * (1 - points)) ** -size  # (rows, extra nodes, points)
    gap = (1 - pieces)[:, None]
    grow = theta[..., None] * gap * jobs.unbooked_scale[:, None, None, None]
    product = np.exp(-jobs.unbooked_shape[:, None, None, None] * np.log1p(grow))
    for chance in _known_chance(theta[:, :, 0], jobs):
        if chance.any():
            product *= 1 - chance[:, :, None, None] * gap
    return np.einsum("rke,rkep->rp", weight, product)
