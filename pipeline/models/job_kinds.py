"""Kinds of job as the stock rules see them: how often each comes, how it makes itself known, what it may need."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels.marginal_rule import Announcements

HORIZON_DAYS = 400  # announcements are laid out so far; no lead time that matters is longer


@dataclass(frozen=True)
class JobKinds:
    """Kinds of job, one per family and scope that jobs come in.

    Attributes
    ----------
    kinds : list of tuple of str
        (family, scope).
    parts : list of str
    per_day, shape : numpy.ndarray, shape (n_kinds,)
        Jobs a day, and the shape of the gamma belief about that rate.
    share : numpy.ndarray, shape (n_kinds, n_parts)
        Chance that a job needs the part; 0 where a machine of the family cannot take it.
    share_doubt : numpy.ndarray, shape (n_kinds, n_parts)
        Squared coefficient of variation of the belief about that chance.
    pieces_pmf : numpy.ndarray, shape (n_kinds, n_parts, n_sizes)
        Probability of 0, 1, 2 ... pieces given need.
    rows : list of numpy.ndarray of int
        Rows of the use model behind each kind, in the order of its parts; empty for a kind nothing is known of.
    notice_days : list of numpy.ndarray
        Days from booking to start that jobs of each kind showed; empty where none has both days: nobody knows of them.
    lag_days, lag_weight : list of numpy.ndarray
        Days from start to the taking of parts that past jobs of each kind showed, and their weights.
    """

    kinds: list
    parts: list
    per_day: np.ndarray
    shape: np.ndarray
    share: np.ndarray
    share_doubt: np.ndarray
    pieces_pmf: np.ndarray
    rows: list
    notice_days: list
    lag_days: list
    lag_weight: list

    @property
    def expected_pcs(self):
        """Pieces a job of each kind is expected to take (numpy.ndarray, shape (n_kinds, n_parts))."""
        return self.share * (self.pieces_pmf @ np.arange(self.pieces_pmf.shape[2]))

    @property
    def doubt(self):
        """Squared coefficient of variation of use by jobs to come: of the rate and of the share together."""
        return self.share_doubt + 1 / np.maximum(self.shape, 1e-9)[:, None]

    def announcements(self, n_days=HORIZON_DAYS):
        """How jobs of each kind make themselves known (:class:`pipeline.kernels.marginal_rule.Announcements`)."""
        days = np.arange(n_days)
        lag, unknown = (np.zeros((len(self.kinds), n_days)) for _ in range(2))
        for kind, (notice, lag_days, weight) in enumerate(
                zip(self.notice_days, self.lag_days, self.lag_weight, strict=True)):
            lag[kind] = _reached(lag_days, weight, days)
            # a job that takes its parts u days from now is unknown now if it is booked less than u days before that
            late = _booked_late(notice, lag_days, weight, days) if notice.size else np.ones(n_days)
            unknown[kind] = self.per_day[kind] * np.concatenate([[0.0], np.cumsum(late)[:-1]])
        return Announcements(unknown, lag)


def fit(use, pipeline, parts):
    """Read the kinds of job off the fitted models.

    Parameters
    ----------
    use : pipeline.models.use_per_job.UsePerJob
        Use per job.
    pipeline : pipeline.models.job_pipeline.JobPipeline
        Jobs to come.
    parts : sequence of str
        Parts, in the order wanted.

    Returns
    -------
    JobKinds
    """
    bookings, work = pipeline.bookings, pipeline.work
    kinds = list(bookings[["family", "scope"]].itertuples(index=False, name=None))
    share, doubt, pieces, rows = _needs(use, kinds, list(parts))
    scope = [work.scopes.index(scope) for _, scope in kinds]
    lags = {place: _lags(work.past, place) for place in set(scope)}
    per_day = (bookings["shape"] / bookings["rate_days"] * bookings["alive_share"]).to_numpy(dtype=float)
    return JobKinds(
        kinds, list(parts), per_day, bookings["shape"].to_numpy(dtype=float), share, doubt, pieces, rows,
        [np.maximum(work.days_seen("wait_days", place), 0) for place in scope],
        [lags[place][0] for place in scope], [lags[place][1] for place in scope])


def _needs(use, kinds, parts):
    """Share, doubt about it and pieces of each kind and part, and the rows of the model behind them."""
    beliefs, rates = use.beliefs, use.rates
    n_sizes = max(beliefs.pieces.shape[2], 2)
    share, doubt = np.zeros((len(kinds), len(parts))), np.zeros((len(kinds), len(parts)))
    pieces = np.zeros((len(kinds), len(parts), n_sizes))
    pieces[:, :, 0] = 1.0
    of_kind = {kind: here.index.to_numpy() for kind, here in rates.groupby(["family", "scope"])}
    column = pd.Index(parts).get_indexer(rates["part"])
    rows = [of_kind.get(kind, np.zeros(0, dtype=np.int64)) for kind in kinds]
    for kind, row in enumerate(rows):
        row = row[column[row] >= 0]
        alpha, beta, at = beliefs.alpha[row], beliefs.beta[row], column[row]
        share[kind, at] = alpha / (alpha + beta)
        doubt[kind, at] = beta / alpha / (alpha + beta + 1)
        mean = (beliefs.piece_weight[row, :, None] * beliefs.pieces[row]).sum(axis=1)
        pieces[kind, at, : mean.shape[1]] = mean
    return share, doubt, pieces, rows


def _lags(past, scope):
    """Days from start to the middle of each past job's takings, of the scope or of all where it shows too few."""
    rows = past.of_scope(scope)
    return np.argmax(past.taken_share[rows] >= 0.5, axis=1).astype(float), past.weight[rows]


def _reached(lag_days, weight, days):
    """Share of jobs whose lag is at most each number of days."""
    order = np.argsort(lag_days, kind="stable")
    reached = np.concatenate([[0.0], np.cumsum(weight[order])])
    return reached[np.searchsorted(lag_days[order], days, side="right")] / reached[-1]


def _booked_late(notice_days, lag_days, weight, days):
    """Share of jobs that take their parts at most so many days after their booking."""
    total = (notice_days[:, None] + lag_days).ravel()
    return _reached(total, np.tile(weight, notice_days.size), days)
