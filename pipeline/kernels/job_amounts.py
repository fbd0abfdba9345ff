"""Worth of the parts that whole jobs use, drawn from beliefs: what the parts of a job share does not average out.

Three things are shared. The doubt about the use of a part is the same for all jobs of a draw. The jobs seen were
rough or not, which moved all their parts together, so the doubt about one part goes with that about another. And a
job that is rougher than others takes more of everything.
"""

import numpy as np
from scipy.special import expit

from pipeline.errors import InvalidParameter
from pipeline.kernels import job_begun, job_factor, require
from pipeline.kernels.arguments import same_length, whole

JOBS_AT_ONCE = 4096


def draw_shares(alpha, beta, shared_logit_variance, n_draws, rng):
    """Draw the shares of jobs that use each part, the parts hanging together as far as their jobs were the same.

    Parameters
    ----------
    alpha, beta : array_like of float, shape (n_parts,)
        Each share is Beta(alpha, beta).
    shared_logit_variance : float
        The part of its variance, on the logit scale, that all parts have in common (see
        :func:`pipeline.kernels.job_roughness.with_shared_doubt`).
    n_draws : int
        Draws.
    rng : numpy.random.Generator
        Source of the draws.

    Returns
    -------
    ndarray of float, shape (n_draws, n_parts)
        Each column a plain sample of its Beta distribution; rows hang together by the ranks of correlated normals.

    Raises
    ------
    InvalidParameter
        If lengths differ, a parameter is not more than 0 or the variance is negative.

    References
    ----------
    Iman & Conover (1982), Communications in Statistics B11, 311-334 (rank correlation induced on given margins).

    Examples
    --------
    >>> shares = draw_shares([50.0, 5.0], [50.0, 45.0], 0.04, 4000, np.random.default_rng(1))
    >>> shares.mean(axis=0).round(2)
    array([0.5, 0.1])
    """
    alpha, beta = same_length(alpha=alpha, beta=beta)
    alpha, beta = require.positive("alpha", alpha), require.positive("beta", beta)
    total = alpha + beta
    spread = alpha * beta / total**2
    in_common = np.minimum(
        spread * (total + 1) * float(require.not_negative("shared_logit_variance", shared_logit_variance)), 1.0)
    drawn = np.sort(rng.beta(alpha, beta, (n_draws, alpha.size)), axis=0)
    score = (np.sqrt(in_common) * rng.standard_normal((n_draws, 1))
             + np.sqrt(1 - in_common) * rng.standard_normal((n_draws, alpha.size)))
    rank = np.empty(score.shape, dtype=np.int64)
    np.put_along_axis(rank, np.argsort(score, axis=0), np.arange(n_draws)[:, None], axis=0)
    return np.take_along_axis(drawn, rank, axis=0)


class JobDraws:
    """Draws of what one kind of job uses, worth money.

    Parameters
    ----------
    share : array_like of float, shape (n_draws, n_parts)
        Share of jobs that use each part, in each draw (:func:`draw_shares`).
    loading : float
        Standard deviation of the job's factor on the logit of every use, 0 to 4.
    pieces : array_like of float, shape (n_parts, n_piece_nodes, n_values)
        As in :class:`pipeline.kernels.compound.UseRows`.
    piece_weight : array_like of float, shape (n_parts, n_piece_nodes)
        As there.
    unit_price : array_like of float, shape (n_parts,)
        Money a piece, 0 or more.
    rng : numpy.random.Generator
        Source of the draws.

    Raises
    ------
    InvalidParameter
        If shapes do not fit, a share lies outside [0, 1] or a price is negative.
    """

    def __init__(self, share, loading, pieces, piece_weight, unit_price, rng):
        pieces = np.asarray(pieces, dtype=float)
        price = require.not_negative("unit_price", np.asarray(unit_price, dtype=float))
        share = np.asarray(share, dtype=float)
        if share.ndim != 2 or pieces.shape[:1] != share.shape[1:] or price.shape != share.shape[1:]:
            raise InvalidParameter(f"share has shape {share.shape}, pieces {pieces.shape}, unit_price {price.shape}; "
                                   "wanted one column, one row and one price for each part.")
        self.loading, self.rng = float(loading), rng
        self.at_zero = job_factor.intercepts_by_table(share, self.loading)
        # What a use is worth: one lookup table for all parts and nodes, each row raised by its number.
        n_parts, n_nodes, n_values = pieces.shape
        steps = np.minimum(np.cumsum(pieces.reshape(-1, n_values), axis=1), 1.0)
        steps[:, -1] = 1.0
        self._steps = (steps + np.arange(len(steps))[:, None]).ravel()
        self._worth = (price[:, None, None] * np.ones((1, n_nodes, 1)) * np.arange(n_values)).ravel()
        below = np.cumsum(np.asarray(piece_weight, dtype=float), axis=1)[:, :-1]
        node = (rng.random((*share.shape, 1)) > below).sum(axis=2)
        self._row = np.arange(n_parts) * n_nodes + node

    def of_jobs(self, n_jobs):
        """Worth of what whole jobs use.

        Parameters
        ----------
        n_jobs : array_like of int, shape (n_draws,)
            Jobs in each draw.

        Returns
        -------
        ndarray of float, shape (n_draws,)

        Raises
        ------
        InvalidParameter
            If a number of jobs is negative or not whole.
        """
        draw = np.repeat(np.arange(len(self.at_zero)), whole("n_jobs", n_jobs, low=0))
        amount = np.zeros(len(self.at_zero))
        for start in range(0, draw.size, JOBS_AT_ONCE):
            here = draw[start: start + JOBS_AT_ONCE]
            amount += self._worth_of(here, self._chances(here))
        return amount

    def by_job(self, draw):
        """Worth of each part that single whole jobs use; at a price of 1 a piece, their pieces.

        Parameters
        ----------
        draw : array_like of int, shape (n_jobs,)
            Draw that each job belongs to.

        Returns
        -------
        ndarray of float, shape (n_jobs, n_parts)
        """
        draw = np.asarray(draw, dtype=np.int64)
        worth = np.zeros((draw.size, self.at_zero.shape[1]))
        for start in range(0, draw.size, JOBS_AT_ONCE):
            here = draw[start: start + JOBS_AT_ONCE]
            job, part, used = self._uses(here, self._chances(here))
            worth[start + job, part] = used
        return worth

    def of_rest(self, is_taken, share, done):
        """Worth of what a job begun uses within a window.

        Parameters
        ----------
        is_taken : array_like of bool, shape (n_parts,)
            Parts it has taken already: they are not taken again, and say how rough the job is.
        share, done : float
            Share of the job's work in the window, and done before it; together at most 1.

        Returns
        -------
        ndarray of float, shape (n_draws,)

        Raises
        ------
        InvalidParameter
            If shares are not between 0 and 1 in all.
        """
        share, done = float(require.share("share", share)), float(require.share("done", done))
        if share + done > 1 + 1e-9:
            raise InvalidParameter(f"share and done are {share:g} and {done:g}; wanted at most 1 together.")
        is_taken = np.asarray(is_taken, dtype=bool)
        factor = self.loading * self._factors(is_taken, done)
        chance = expit(self.at_zero + factor[:, None])
        rest = np.where(is_taken, 0.0, chance * share / np.maximum(1 - chance * done, 1e-12))
        return self._worth_of(np.arange(len(chance)), np.minimum(rest, 1.0))

    def _factors(self, is_taken, done):
        """One factor a draw, from what the job has taken so far and not taken."""
        weight = job_begun.factor_weights(np.median(self.at_zero, axis=0), self.loading, is_taken, done)
        return self.rng.choice(job_factor.FACTOR, len(self.at_zero), p=weight)

    def _chances(self, draw):
        """Chance of use of each part by whole jobs, each with a factor of its own: shape (n_jobs, n_parts)."""
        factor = self.loading * self.rng.standard_normal((draw.size, 1))
        return expit(self.at_zero[draw] + factor)

    def _worth_of(self, draw, chance):
        """Worth, by draw, of uses that come about with the chances given, shape (n_jobs, n_parts)."""
        job, _, worth = self._uses(draw, chance)
        return np.bincount(draw[job], worth, len(self.at_zero))

    def _uses(self, draw, chance):
        """Job, part and worth of each use that comes about."""
        job, part = np.nonzero(self.rng.random(chance.shape) < chance)
        at = draw[job]
        place = np.searchsorted(self._steps, self._row[at, part] + self.rng.random(at.size), side="right")
        return job, part, self._worth[place]
