"""Jobs and lead times of the shop as it is believed to be, drawn for a replay."""

import numpy as np

from pipeline.kernels import lead_time
from pipeline.kernels.job_amounts import JobDraws, draw_shares
from pipeline.kernels.shop_replay import ReplayJobs


class ShopDraws:
    """Beliefs about rates and needs, one to a run, and jobs drawn under them.

    Parameters
    ----------
    use : pipeline.models.use_per_job.UsePerJob
        Use per job.
    kinds : pipeline.models.job_kinds.JobKinds
        Kinds of job, of the same model.
    n_runs : int
        Runs side by side.
    rng : numpy.random.Generator
        Source of the draws.
    """

    def __init__(self, use, kinds, n_runs, rng):
        self.kinds, self._n_runs, self._rng = kinds, n_runs, rng
        self._needs = [self._beliefs(use, row) for row in kinds.rows]

    def jobs(self, n_days):
        """Draw the jobs of a stationary shop.

        Parameters
        ----------
        n_days : int
            Days that it runs.

        Returns
        -------
        pipeline.kernels.shop_replay.ReplayJobs
            Booked jobs are known from their booking; where no past job says when it was booked, from their teardown.
            Jobs that are booked before the end and torn down after it are there, too.
            As busy as it will be from the day on that jobs of the longest lag are torn down; before it, less so.
        """
        kinds, rng = self.kinds, self._rng
        made = [(*[np.zeros(0, dtype=np.int64)] * 5, np.zeros((0, len(kinds.parts)), dtype=np.int64))]
        longest = int(max((notice.max(initial=0) for notice in kinds.notice_days), default=0)) + 1
        for kind, per_day in enumerate(kinds.per_day):
            shape = max(kinds.shape[kind], 1e-9)
            rate = per_day * rng.gamma(shape, 1 / shape, self._n_runs)
            run = np.repeat(np.arange(self._n_runs), rng.poisson(rate * (n_days + longest)))
            booked = rng.integers(-longest, n_days, run.size)
            days = _days(kinds, kind, booked, rng)
            made.append((run, np.full(run.size, kind), *days, self.needs(kind, run)))
        return ReplayJobs(*(np.concatenate(column) for column in zip(*made, strict=True)))

    def needs(self, kind, run):
        """Pieces that jobs of a kind need, each under the beliefs of its run.

        Parameters
        ----------
        kind : int
        run : numpy.ndarray of int, shape (n_jobs,)

        Returns
        -------
        numpy.ndarray of int, shape (n_jobs, n_parts)
        """
        need = np.zeros((run.size, len(self.kinds.parts)), dtype=np.int64)
        if self._needs[kind] is not None and run.size:
            at, draws = self._needs[kind]
            need[:, at] = np.rint(draws.by_job(run))
        return need

    def _beliefs(self, use, row):
        """Parts a kind of job can need, and draws of its jobs; None where nothing is known of it."""
        place = {part: at for at, part in enumerate(self.kinds.parts)}
        at = np.array([place.get(part, -1) for part in use.rates["part"].iloc[row]], dtype=np.int64)
        row, at = row[at >= 0], at[at >= 0]
        if not row.size:
            return None
        beliefs, jobs_seen = use.beliefs, float(use.rates["jobs_seen"].iloc[row].max())
        shared = np.nan_to_num(use.roughness_variance / max(jobs_seen, 1.0))
        share = draw_shares(beliefs.alpha[row], beliefs.beta[row], shared, self._n_runs, self._rng)
        return at, JobDraws(share, use.factor.expected, beliefs.pieces[row], beliefs.piece_weight[row],
                            np.ones(row.size), self._rng)


def lead_days(lead_times, vendors, unknown_days, n_runs, n_reviews, rng):
    """Draw the days that orders take.

    Parameters
    ----------
    lead_times : pipeline.models.lead_times.LeadTimes
    vendors : sequence of str or None
        Vendors, in the order wanted.
    unknown_days : float
        Mean where nothing can tell.
    n_runs, n_reviews : int
        Runs and reviews.
    rng : numpy.random.Generator
        Source of the draws.

    Returns
    -------
    numpy.ndarray of int, shape (n_runs, n_vendors, n_reviews)
        Whole days, at least 1.
    """
    known = lead_times.frame["vendor"].tolist()
    mean = np.append(lead_times.fitted.mean_days, np.nan)
    shape = np.append(lead_times.fitted.shape, lead_time.QUOTE_SHAPE)
    place = [known.index(vendor) if vendor in known else len(known) for vendor in vendors]
    mean = np.where(np.isfinite(mean[place]), mean[place], unknown_days)
    shape = np.where(np.isfinite(shape[place]), shape[place], lead_time.QUOTE_SHAPE)
    drawn = rng.gamma(shape[:, None], (mean / shape)[:, None], (n_runs, len(place), n_reviews))
    return np.maximum(np.ceil(drawn), 1).astype(np.int64)


def _days(kinds, kind, booked, rng):
    """Known, planned and teardown day of each job."""
    notice = kinds.notice_days[kind]
    planned = booked + (rng.choice(notice, booked.size).astype(np.int64) if notice.size else 0)
    weight = kinds.lag_weight[kind]
    torn_down = planned + rng.choice(kinds.lag_days[kind], booked.size, p=weight / weight.sum()).astype(np.int64)
    return booked if notice.size else torn_down, planned, torn_down
