"""Rows of a window of jobs at the nodes of what is believed: their moments, number of uses, and pieces."""

from dataclasses import dataclass, fields, replace

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import same_length
from pipeline.kernels.job_counts import stream_pmf, whole_trials, with_known

DAMPING = 1e-4
NO_PROBABILITY = 1e-14
CHUNK_VALUES = 2**15  # numbers worked on at once: what stays in the processor's cache


@dataclass(frozen=True)
class JobWindow:
    """Rows of jobs and use, checked; one row per part in a family and scope.

    Attributes
    ----------
    share, share_weight : ndarray of float, shape (n_rows, n_nodes)
        Share of jobs that use the part at each node of the belief about it, and the node's weight.
    pieces : ndarray of float, shape (n_rows, n_piece_nodes, n_sizes)
        Probability of 0, 1, 2 ... pieces given use at each node of the belief about pieces.
    piece_weight : ndarray of float, shape (n_rows, n_piece_nodes)
        Weight of each node.
    known_share, done_share, known_odds : ndarray of float, shape (n_rows, n_known)
        Known jobs' chance of their use falling in the window, share of their work done without, and how many times
        the usual odds of use theirs are.
    unbooked_mean, unbooked_excess : ndarray of float, shape (n_rows,)
        Number of jobs not yet booked: mean, and variance over mean less 1.
    """

    share: np.ndarray
    share_weight: np.ndarray
    pieces: np.ndarray
    piece_weight: np.ndarray
    known_share: np.ndarray
    done_share: np.ndarray
    known_odds: np.ndarray
    unbooked_mean: np.ndarray
    unbooked_excess: np.ndarray

    @classmethod
    def checked(cls, share, share_weight, use, jobs):
        """Check shapes and ranges of what a caller believes, and put it at the nodes of the share.

        Parameters
        ----------
        share, share_weight : ndarray of float, shape (n_rows, n_nodes)
            Nodes of the share of use.
        use, jobs : pipeline.kernels.compound.UseRows, pipeline.kernels.compound.JobRows
            Beliefs and jobs.

        Returns
        -------
        JobWindow

        Raises
        ------
        InvalidParameter
            Naming what was found and what was wanted.
        """
        n_rows = len(share)
        pieces, piece_weight = _checked_pieces(use.pieces, use.piece_weight, n_rows)
        known, done = require.share("known_share", jobs.known_share), require.share("done_share", jobs.done_share)
        if known.shape != done.shape or known.ndim != 2 or len(known) != n_rows:
            raise InvalidParameter(
                f"known_share has shape {known.shape}, done_share {done.shape}; wanted {n_rows} rows each.")
        require.share("known_share + done_share", np.maximum(known + done - 1e-9, 0))
        mean, excess, _ = same_length(unbooked_mean=np.asarray(jobs.unbooked_mean, dtype=float),
                                      unbooked_excess=jobs.unbooked_excess, rows=np.zeros(n_rows))
        odds = np.ones_like(known) if jobs.known_odds is None else require.positive("known_odds", jobs.known_odds)
        if odds.shape != known.shape:
            raise InvalidParameter(f"known_odds has shape {odds.shape}; wanted {known.shape} like known_share.")
        return cls(share, share_weight, pieces, piece_weight, known, done, odds, mean, whole_trials(mean, excess))

    def take(self, rows):
        """Return the window with some of its rows, and no node or known job that none of them needs."""
        some = JobWindow(*(getattr(self, field.name)[rows] for field in fields(self)))
        used, known = some.share_weight.any(axis=0), some.known_share.any(axis=0)
        return replace(some, share=some.share[:, used], share_weight=some.share_weight[:, used],
                       known_share=some.known_share[:, known], done_share=some.done_share[:, known],
                       known_odds=some.known_odds[:, known])

    def known_chance(self):
        """Chance that each known job uses the part in the window, given it has not so far: (n_known, rows, nodes)."""
        known, done, odds = (of.T[:, :, None] for of in (self.known_share, self.done_share, self.known_odds))
        share = self.share * odds / (1 - self.share + self.share * odds)
        return share * known / np.maximum(1 - share * done, 1e-12)

    def moments(self):
        """Mean and variance of the uses and of the pieces of each row, four arrays of shape (n_rows,)."""
        size = np.arange(self.pieces.shape[2])
        size_mean, size_square = self.pieces @ size, self.pieces @ size**2
        chance = self.known_chance()
        unbooked = self.unbooked_mean[:, None] * self.share
        uses = chance.sum(axis=0) + unbooked
        # Variance of the uses at a node beyond that of a Poisson count of the same mean.
        excess = unbooked * self.unbooked_excess[:, None] * self.share - (chance**2).sum(axis=0)
        first = (self.share_weight * uses).sum(axis=1)
        pairs = (self.share_weight * (uses**2 + excess)).sum(axis=1)  # E[N (N - 1)]
        mean = first * (self.piece_weight * size_mean).sum(axis=1)
        second = first * (self.piece_weight * size_square).sum(axis=1)
        second = second + pairs * (self.piece_weight * size_mean**2).sum(axis=1)
        return first, np.maximum(pairs + first - first**2, 0), mean, np.maximum(second - mean**2, 0)

    def uses_pmf(self, n_values):
        """Distribution of the number of uses of each row, averaged over the share: shape (n_rows, n_values)."""
        mean, excess = (of[:, None] * self.share for of in (self.unbooked_mean, self.unbooked_excess))
        count = with_known(stream_pmf(mean, excess, n_values), self.known_chance())
        return (self.share_weight[:, None] @ count)[:, 0]

    def transform(self, n_uses, n_values):
        """Generating function of each row's pieces at the points of a grid: shape (n_rows, n_values // 2 + 1)."""
        uses = self.uses_pmf(n_uses)
        likely = np.flatnonzero(uses.max(axis=0) > NO_PROBABILITY)
        uses = uses[:, : likely.max(initial=0) + 1, None, None]
        kept = self.pieces[:, :, :n_values]  # a job that takes more is beyond the grid
        pieces = np.fft.rfft(kept * _damping(n_values)[: kept.shape[2]], n_values)
        total = np.zeros_like(pieces)
        total.real += uses[:, -1]
        for here in range(uses.shape[1] - 2, -1, -1):  # Horner
            total *= pieces
            total.real += uses[:, here]
        return (self.piece_weight[:, None] @ total)[:, 0]


def pmf_of_groups(window, uses_length, group, wanted, n_values):
    """Distributions of pieces of some groups of rows on one grid, rows of a group added up as independent.

    Parameters
    ----------
    window : JobWindow
        Rows.
    uses_length : ndarray of float, shape (n_rows,)
        Number of uses beyond which no probability worth counting lies.
    group : ndarray of int, shape (n_rows,)
        Group of each row, from 0.
    wanted : ndarray of int, shape (n_wanted,)
        Groups wanted, rising.
    n_values : int
        Length of the grid, even.

    Returns
    -------
    ndarray of float, shape (n_wanted, n_values)
        What lies beyond the grid is missing from the sum.

    Notes
    -----
    Taken on a circle inside the unit circle, so that what lies beyond the grid folds back ten thousand times smaller
    (Abate & Whitt 1992, Queueing Systems 10, 5-87).
    """
    place = np.full(group.max(initial=0) + 1, -1)
    place[wanted] = np.arange(wanted.size)
    rows = np.flatnonzero(place[group] >= 0)
    n_uses = np.minimum(np.ceil(uses_length).astype(np.int64), n_values)  # a use takes a piece or more
    n_nodes = (window.share_weight > 0).sum(axis=1)
    rows = rows[np.lexsort((n_uses[rows], n_nodes[rows]))]
    product = np.ones((wanted.size, n_values // 2 + 1), dtype=complex)
    for chunk in _chunks(n_uses[rows] * n_nodes[rows], window.piece_weight.shape[1] * (n_values // 2 + 1)):
        here = rows[chunk]
        here = here[np.argsort(place[group[here]], kind="stable")]
        target, first = np.unique(place[group[here]], return_index=True)
        transform = window.take(here).transform(int(n_uses[here].max()), n_values)
        product[target] *= np.multiply.reduceat(transform, first, axis=0)
    return np.clip(np.fft.irfft(product, n_values, axis=-1) / _damping(n_values), 0, None)


def _chunks(n_counted, n_on_grid):
    """Slices of rows that keep within the cache what is worked on: probabilities of uses, points of the grid."""
    start = 0
    while start < n_counted.size:
        step = max(1, CHUNK_VALUES // max(n_on_grid, int(n_counted[start])))
        yield slice(start, start + step)
        start += step


def _damping(n_values):
    """Powers 0, 1, 2 ... of the circle's radius: its last is the damping of what folds back."""
    return DAMPING ** (np.arange(n_values) / n_values)


def _checked_pieces(pieces, weight, n_rows):
    """Pieces given use and the weights of their nodes, checked."""
    pieces, weight = np.asarray(pieces, dtype=float), np.asarray(weight, dtype=float)
    if pieces.ndim != 3 or pieces.shape[:2] != weight.shape or len(pieces) != n_rows:
        raise InvalidParameter(f"pieces has shape {pieces.shape}, piece_weight {weight.shape}; "
                               f"wanted {n_rows} rows, and a weight for each node of pieces.")
    if pieces.size and (pieces[:, :, 0] != 0).any():
        raise InvalidParameter(f"pieces has probability {pieces[:, :, 0].max():g} of none; wanted 0: "
                               "a job that uses a part takes at least one.")
    return (require.pmf("pieces", pieces), require.pmf("piece_weight", weight)) if pieces.size else (pieces, weight)
