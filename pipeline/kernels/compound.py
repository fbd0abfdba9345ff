"""Exact distribution of the pieces that a window of jobs will use, for many rows at once.

A row is a part in one family and scope. At a fixed share of use its jobs are independent; the number of them that
use the part is then averaged over what is believed about the share, and its pieces over what is believed about
pieces, so that doubt shared by all jobs of a row does not average out.
"""

from dataclasses import dataclass, replace

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import discrete, require
from pipeline.kernels.arguments import group_index, same_length
from pipeline.kernels.job_counts import stream_pmf, whole_trials, with_known
from pipeline.kernels.job_window import JobWindow, pmf_of_groups
from pipeline.kernels.quadrature import beta_nodes

# Nodes for the average over the share, by the jobs in play; a job begun puts a pole near a share of 1.
FEW_JOBS, SOME_JOBS, MANY_JOBS = 6, 25, 100
FEW_NODES, SOME_NODES, MANY_NODES, MOST_NODES = 8, 16, 32, 64
BEGUN_NODES = 20
TAIL_TOLERANCE = 1e-7
COUNT_TOLERANCE = 1e-10
LONGEST_GRID = 2**17


@dataclass(frozen=True)
class UseRows:
    """What is believed about the use of a part by one job, one row per part in a family and scope.

    Attributes
    ----------
    alpha, beta : ndarray of float, shape (n_rows,)
        The share of jobs that use the part is Beta(alpha, beta).
    pieces : ndarray of float, shape (n_rows, n_piece_nodes, n_values)
        Probability that a job that uses it takes 0, 1, 2 ... pieces (0 has none) at each node of the belief
        about pieces.
    piece_weight : ndarray of float, shape (n_rows, n_piece_nodes)
        Weight of each node; rows sum to 1.
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
    unbooked_mean : ndarray of float, shape (n_rows,)
        Mean number of jobs not yet booked whose use falls in the window.
    unbooked_excess : ndarray of float, shape (n_rows,)
        Variance of that number over its mean, less 1; at least -1. Above 0 it is negative binomial (gamma-Poisson),
        at 0 Poisson, below 0 binomial (a bench that is full takes jobs more evenly than chance), its trials
        ``mean / -excess`` rounded up to a whole number.
    known_odds : ndarray of float, shape (n_rows, n_known), optional
        How many times the usual odds of use are those of the known job (a rough one's are more); default 1.
    """

    known_share: np.ndarray
    done_share: np.ndarray
    unbooked_mean: np.ndarray
    unbooked_excess: np.ndarray
    known_odds: np.ndarray | None = None


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
    Exact but for the average over the share, by 8 to 64 nodes: less than 1e-8 of doubt up to 300 jobs, 1e-5 where a
    job begun is 99 % done. The number of uses is averaged first, in real numbers on its own short grid; its
    generating function is then taken at that of the pieces, so that the nodes of the share cost nothing on the long
    grid.

    References
    ----------
    Feller (1968), An Introduction to Probability Theory and Its Applications I, chapter XII (compound distributions).
    Abate & Whitt (1992), Queueing Systems 10, 5-87 (inversion on a circle inside the unit circle).
    """
    window, n_rows = _window(use, jobs), len(use.alpha)
    group, n_groups = group_index(np.arange(n_rows) if group is None else group, n_rows)
    pmfs = [np.ones(1)] * n_groups
    grids = _first_grids(window, group, n_groups)
    if grids[0].max(initial=0) > LONGEST_GRID:
        raise _too_many(grids[0])
    for places, found in _on_growing_grids(window, group, grids, LONGEST_GRID, TAIL_TOLERANCE):
        if (1 - found.sum(axis=1) > TAIL_TOLERANCE).any():
            raise _too_many(2 * grids[0])
        for place, pmf in zip(places, found, strict=True):
            pmfs[place] = pmf
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
    return _window(use, jobs).moments()[2:]


def fixed_pmfs(uses_mean, excess, known_share, share, pieces, n_values):
    """Distribution of pieces used in the window when nothing about use is in doubt, many parts on one grid.

    Parameters
    ----------
    uses_mean, excess : array_like of float, shape (n_parts,)
        Jobs not yet booked, as ``unbooked_mean`` and ``unbooked_excess`` of :class:`JobRows`.
    known_share : array_like of float, shape (n_parts, n_known)
        Chance that a known job's use falls in the window, if it uses the part.
    share : array_like of float, shape (n_parts,)
        Share of jobs that use the part.
    pieces : array_like of float, shape (n_parts, n_sizes)
        Probability that a job that uses it takes 0, 1, 2 ... pieces (0 has none).
    n_values : int
        Length of the grid.

    Returns
    -------
    ndarray of float, shape (n_parts, n_values)
        Probability of 0, 1, 2 ... pieces; what lies beyond the grid is missing from the sum.

    Raises
    ------
    InvalidParameter
        As for :func:`predictive_pmfs`.

    Examples
    --------
    >>> fixed_pmfs([0.0], [0.0], [[1.0, 1.0]], [0.5], [[0.0, 0.0, 1.0]], 8)[0].round(9)  # two coins, two pieces each
    array([0.25, 0.  , 0.5 , 0.  , 0.25, 0.  , 0.  , 0.  ])
    """
    share = np.asarray(require.share("share", share))
    pieces = np.asarray(pieces, dtype=float)[:, None]
    known = np.asarray(known_share, dtype=float)
    use = UseRows(None, None, pieces, np.ones(pieces.shape[:2]))
    window = JobWindow.checked(share[:, None], np.ones((share.size, 1)), use,
                               JobRows(known, np.zeros_like(known), uses_mean, excess))
    pmfs = np.zeros((share.size, n_values))
    every = np.arange(share.size)
    grids = _first_grids(window, every, share.size)
    for places, found in _on_growing_grids(window, every, grids, n_values, COUNT_TOLERANCE):
        pmfs[places, : found.shape[1]] = found
    return pmfs


def job_count_pmf(known_share, unbooked_mean, unbooked_excess):
    """Distribution of the number of jobs whose work falls in a window, one set of jobs.

    Parameters
    ----------
    known_share : array_like of float, shape (n_known,)
        Chance for each known job, 0 to 1.
    unbooked_mean, unbooked_excess : float or array_like of float, shape (n_streams,)
        Streams of jobs not yet booked, as in :class:`JobRows`.

    Returns
    -------
    ndarray of float, shape (n_values,)
        Probability of 0, 1, 2 ... jobs; less than 1e-9 of it is cut off the upper end.

    Raises
    ------
    InvalidParameter
        If a share lies outside [0, 1], a mean is negative or an excess below -1, or more than 131,072 jobs are in
        play.

    Examples
    --------
    >>> job_count_pmf([0.5, 0.5], 0.0, 0.0).round(9)
    array([0.25, 0.5 , 0.25])
    """
    known = np.atleast_1d(require.share("known_share", known_share))
    mean = np.atleast_1d(np.asarray(unbooked_mean, dtype=float))
    mean, excess = same_length(unbooked_mean=mean, unbooked_excess=np.atleast_1d(unbooked_excess))
    streams = [_whole_stream(*stream) for stream in zip(mean, whole_trials(mean, excess), strict=True)]
    return discrete.sum_of([with_known(np.eye(1, known.size + 1), known[:, None])[0], *streams])


def _whole_stream(mean, excess):
    """Distribution of one stream on a grid long enough for it."""
    n_values = _grid(mean, mean * (1 + excess))
    while n_values <= LONGEST_GRID:
        pmf = stream_pmf(mean, excess, n_values)
        if 1 - pmf.sum() < COUNT_TOLERANCE + 1e-13 * mean:  # the second: rounding of long sums
            return pmf
        n_values *= 2
    raise InvalidParameter(f"{mean:,.0f} jobs or more are in play; wanted at most {LONGEST_GRID:,}.")


def _too_many(length):
    return InvalidParameter(
        f"the window may use up to {length.max():,} pieces; wanted at most {LONGEST_GRID:,} of a part.")


def _first_grids(window, group, n_groups):
    """Length of the grid of pieces of each group, and of uses of each row, to begin with."""
    uses_mean, uses_variance, mean, variance = window.moments()
    length = _grid(np.bincount(group, mean, n_groups), np.bincount(group, variance, n_groups))
    return length, np.ceil(uses_mean + 8 * np.sqrt(uses_variance) + 8).astype(np.int64)


def _on_growing_grids(window, group, grids, longest, tolerance):
    """Yield groups and their distributions, each on the first grid beyond which less than ``tolerance`` lies.

    On the longest grid they are yielded anyway: what lies beyond it is missing.
    """
    length, n_uses = grids
    pending = np.unique(group)
    while pending.size:
        length = np.minimum(length, longest)
        short = []
        for n_values in np.unique(length[pending]):
            here = pending[length[pending] == n_values]
            if n_values == longest:
                n_uses[np.isin(group, here)] = longest
            found = pmf_of_groups(window, n_uses, group, here, int(n_values))
            is_short = (1 - found.sum(axis=1) > tolerance) & (n_values < longest)
            yield here[~is_short], found[~is_short]
            short.append(here[is_short])
        pending = np.concatenate(short)
        length[pending] *= 2
        n_uses[np.isin(group, pending)] *= 2


def _grid(mean, variance):
    """Length of a grid to begin with, a power of two."""
    return discrete.power_of_two(mean + 8 * np.sqrt(variance) + 8)


def _window(use, jobs):
    """Rows at the nodes of the share: more where more jobs are in play, short rows filled with nodes of no weight."""
    alpha, beta = same_length(alpha=use.alpha, beta=use.beta)
    node, weight = np.zeros((alpha.size, 1)), np.ones((alpha.size, 1))
    window = JobWindow.checked(node, weight, use, jobs)
    wanted = _nodes_wanted(window)
    node, weight = np.zeros((2, alpha.size, wanted.max(initial=1)))
    for n_nodes in np.unique(wanted):
        here = wanted == n_nodes
        node[here, :n_nodes], weight[here, :n_nodes] = beta_nodes(alpha[here], beta[here], int(n_nodes))
    return replace(window, share=node, share_weight=weight)


def _nodes_wanted(window):
    """Nodes of the share for each row."""
    in_play = window.unbooked_mean + window.known_share.sum(axis=1)
    wanted = np.select([in_play <= FEW_JOBS, in_play <= SOME_JOBS, in_play <= MANY_JOBS],
                       [FEW_NODES, SOME_NODES, MANY_NODES], MOST_NODES)
    is_begun = ((window.done_share > 0) & (window.known_share > 0)).any(axis=1)
    return np.where(is_begun, np.maximum(wanted, BEGUN_NODES), wanted)
