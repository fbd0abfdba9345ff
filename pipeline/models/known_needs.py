"""What the jobs on the books, and those still to be booked, may need by and by: today's side of the plan's rule."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import marginal_reorder as margin
from pipeline.models import demand

HORIZON_DAYS = 400.0  # no further: what the bench is followed for; an order that takes longer counts as that long
STEP_DAYS = 3.5  # windows are laid out so finely; those between are mixed from neighbours


@dataclass(frozen=True)
class KnownNeeds:
    """Jobs by the days until they take their parts.

    Attributes
    ----------
    kind : numpy.ndarray of int, shape (n_known,)
        Kind of each job on the books.
    chance : numpy.ndarray, shape (n_known, n_parts)
        Chance that it needs the part, as far as it has been seen; 0 where it has taken it.
    done_share : numpy.ndarray, shape (n_known,)
        Share of its takings that lie behind it.
    days : numpy.ndarray, shape (n_windows,)
        Windows laid out, from 0.
    known_share : numpy.ndarray, shape (n_windows, n_known)
        Share of its takings that falls within each window.
    unbooked, excess : numpy.ndarray, shape (n_windows, n_kinds)
        Jobs not yet booked whose takings fall within each window; variance over mean, less 1.
    review_days : float
    """

    kind: np.ndarray
    chance: np.ndarray
    done_share: np.ndarray
    days: np.ndarray
    known_share: np.ndarray
    unbooked: np.ndarray
    excess: np.ndarray
    review_days: float

    def jobs(self, needs, parts, lead_days):
        """What the jobs on the books take before the week an order of today serves, and need in it.

        Returns
        -------
        log_demand, needed : numpy.ndarray of complex, shape (n_parts, GRID // 2 + 1)
            The need of each job over its own part of the demand: their product is what the others take before it.
        """
        share = self.chance[:, parts]
        known = margin.Needs(share, needs.pieces[self.kind], needs.bundle_pcs)
        left = np.maximum(1 - share * self.done_share[:, None], 1e-12)
        start, end = (self._at(self.known_share, lead_days + days)[:, None] * share / left
                      for days in (0.0, self.review_days))
        demand = margin.log_known(known, np.clip((start + end) / 2, 0, 1))
        # no job stands before itself: where it needs, its own part of the demand is taken out
        needed = ((end - start)[:, :, None] * known.pieces / np.exp(demand)).sum(axis=0)
        return demand.sum(axis=0), needed

    def stream(self, needs, parts, lead_days, share_doubt):
        """Return the same for the jobs nobody knows of yet."""
        start, middle, end = (self._at(self.unbooked, lead_days + days)
                              for days in (0.0, self.review_days / 2, self.review_days))
        excess = np.maximum(self._at(self.excess, lead_days + self.review_days / 2), 0.0)
        doubt = share_doubt[:, parts] + (excess / np.maximum(middle, 1e-9))[:, None]
        n_jobs = np.broadcast_to(middle[:, None], needs.share.shape)
        needed = (((end - start)[:, None] * needs.share)[:, :, None] * needs.pieces).sum(axis=0)
        return margin.log_stream(needs, n_jobs, doubt), needed

    def _at(self, laid_out, days):
        place = min(days / STEP_DAYS, len(self.days) - 1.0)
        low = min(int(place), len(self.days) - 2)
        return laid_out[low] + (place - low) * (laid_out[low + 1] - laid_out[low])


def fit(use, kinds, pipeline, lead_days, review_days):
    """Lay out the jobs to come.

    Parameters
    ----------
    use : pipeline.models.use_per_job.UsePerJob
    kinds : pipeline.models.job_kinds.JobKinds
        Of the same models.
    pipeline : pipeline.models.job_pipeline.JobPipeline
        Jobs to come, without those whose needs are written.
    lead_days : numpy.ndarray
        Lead times that will be asked for.
    review_days : float
        Days from one review to the next.

    Returns
    -------
    KnownNeeds
    """
    longest = min(np.max(lead_days, initial=0.0) + review_days, HORIZON_DAYS)
    n_windows = int(np.ceil(longest / STEP_DAYS)) + 2
    days = STEP_DAYS * np.arange(n_windows)
    known = pipeline.known.reset_index(drop=True)
    place = {kind: at for at, kind in enumerate(kinds.kinds)}
    kind = np.array([place.get(key, -1) for key in zip(known["family"], known["scope"], strict=True)], dtype=np.int64)
    known_share, done = np.zeros((n_windows, len(known))), np.zeros(len(known))
    unbooked, excess = (np.zeros((n_windows, len(kinds.kinds))) for _ in range(2))
    for window in range(1, n_windows):
        known_share[window], done = pipeline.known_share(days[window])
        stream = pipeline.unbooked(days[window])
        unbooked[window], excess[window] = stream["unbooked_mean"], stream["unbooked_excess"]
    is_ours = kind >= 0
    chance = _chances(use, kinds, known, done, pipeline.taken, kind)
    return KnownNeeds(kind[is_ours], chance[is_ours], done[is_ours], days, known_share[:, is_ours], unbooked, excess,
                      float(review_days))


def _chances(use, kinds, known, done, taken, kind):
    """Chance that each job needs each part: rough ones more, of what it has taken none."""
    chance = np.where((kind >= 0)[:, None], kinds.share[kind], 0.0)
    job, part = np.nonzero(chance)
    cells = pd.DataFrame({"job": known["job"].to_numpy()[job], "part": np.asarray(kinds.parts, dtype=object)[part],
                          "use_share": chance[job, part], "done": done[job]})
    cells = cells.merge(taken.assign(is_taken=True), on=["job", "part"], how="left")
    odds = demand.odds_of_use(cells, use.factor.expected)
    share = cells["use_share"].to_numpy() * odds / (1 + cells["use_share"].to_numpy() * (odds - 1))
    chance[job, part] = np.where(cells["is_taken"].isna(), share, 0.0)
    return chance
