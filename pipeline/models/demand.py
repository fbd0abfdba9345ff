"""Pieces that the jobs to come will use in a window: exact distributions by family and part, and by part."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import discrete, job_begun, ragged
from pipeline.kernels.compound import JobRows, UseRows, moments, predictive_pmfs
from pipeline.models.job_pipeline import check_window

LEVELS = {"q05_pcs": 0.05, "q10_pcs": 0.10, "q25_pcs": 0.25, "q50_pcs": 0.50, "q75_pcs": 0.75, "q90_pcs": 0.90,
          "q95_pcs": 0.95}
METHOD = "use per job x job pipeline"


@dataclass(frozen=True)
class Demand:
    """Pieces used in a window from today.

    Attributes
    ----------
    days : float
        Length of the window.
    source : str
        Jobs counted: "all", "known" or "unbooked".
    by_family : pandas.DataFrame
        One row per family and part: family, part, expected_pcs, q05_pcs ... q95_pcs, jobs_seen.
    by_part : pandas.DataFrame
        One row per part, all families together from the joint distribution: part, expected_pcs, q05_pcs ... q95_pcs,
        jobs_seen.
    family_pmfs, part_pmfs : list of ndarray
        Probability of 0, 1, 2 ... pieces in the rows of ``by_family`` and ``by_part``; each row its own length.
    """

    days: float
    source: str
    by_family: pd.DataFrame
    by_part: pd.DataFrame
    family_pmfs: list
    part_pmfs: list

    def pmf(self, part, family=None):
        """Distribution of one part, of one family or of all together; certain none where it is not known.

        Parameters
        ----------
        part : str
            Part.
        family : str, optional
            Family; default all.

        Returns
        -------
        ndarray of float
            Probability of 0, 1, 2 ... pieces.
        """
        rows, pmfs = (self.by_part, self.part_pmfs) if family is None else (self.by_family, self.family_pmfs)
        is_here = rows["part"] == part if family is None else (rows["part"] == part) & (rows["family"] == family)
        place = np.flatnonzero(is_here)
        return pmfs[place[0]] if place.size else np.ones(1)

    def matrix(self):
        """Distributions of ``by_part`` as one array, shape (n_parts, longest), short rows filled with 0."""
        longest = max((pmf.size for pmf in self.part_pmfs), default=1)
        for _, block in ragged.blocks(self.part_pmfs, [longest] * len(self.part_pmfs)):
            return block
        return np.zeros((0, 1))


def predict(use, pipeline, days, source="all"):
    """Predict the pieces used in the next days.

    Parameters
    ----------
    use : pipeline.models.use_per_job.UsePerJob
        Use per job.
    pipeline : pipeline.models.job_pipeline.JobPipeline
        Jobs to come.
    days : float
        Length of the window from the pipeline's today, more than 0.
    source : {"all", "known", "unbooked"}
        Count running and booked jobs, jobs not yet booked, or both.

    Returns
    -------
    Demand
        Doubt about use per job, its pieces and the number of jobs is shared by all jobs of a family and scope, and
        is in the distributions; families and scopes are added up as independent.

    Raises
    ------
    InvalidParameter
        If the window or the source is not valid.
    """
    jobs_seen, family_pmfs = by_family_only(use, pipeline, days, source)
    if jobs_seen.empty:
        return _empty(days, source)
    by_family = _summary(jobs_seen, family_pmfs)
    parts = by_family.groupby("part")
    part_pmfs = [discrete.sum_of([family_pmfs[place] for place in places]) for places in parts.indices.values()]
    by_part = _summary(parts["jobs_seen"].sum(), part_pmfs)
    return Demand(days, source, by_family, by_part, family_pmfs, part_pmfs)


def by_family_only(use, pipeline, days, source="all"):
    """Predict by family and part, without quantiles and sums over families: what :func:`predict` begins with.

    Parameters
    ----------
    use, pipeline, days, source
        As for :func:`predict`.

    Returns
    -------
    jobs_seen : pandas.Series
        Indexed by family and part.
    pmfs : list of ndarray
        Probability of 0, 1, 2 ... pieces in the rows of ``jobs_seen``; each row its own length.

    Raises
    ------
    InvalidParameter
        If the window or the source is not valid.
    """
    rows, beliefs, jobs = _rows(use, pipeline, days, source)
    cells = rows.groupby(["family", "part"])
    pmfs = ragged.trimmed(predictive_pmfs(beliefs, jobs, cells.ngroup().to_numpy())) if len(rows) else []
    return cells["jobs_seen"].sum(), pmfs


def expect(use, pipeline, days, source="all"):
    """Expect the pieces used in the next days: the means of :func:`predict` without its distributions, much faster.

    Parameters
    ----------
    use, pipeline, days, source
        As for :func:`predict`.

    Returns
    -------
    pandas.DataFrame
        family, part, expected_pcs.

    Raises
    ------
    InvalidParameter
        If the window or the source is not valid.
    """
    rows, beliefs, jobs = _rows(use, pipeline, days, source)
    mean = moments(beliefs, jobs)[0] if len(rows) else np.zeros(0)
    return rows[["family", "part"]].assign(expected_pcs=mean).groupby(["family", "part"], as_index=False).sum()


def _rows(use, pipeline, days, source):
    """Cells of family, scope and part that jobs may come to, with their beliefs and jobs."""
    check_window(days, source)
    streams = pipeline.unbooked(days)[["family", "scope", "unbooked_mean", "unbooked_excess"]]
    rows = use.rates.reset_index().merge(streams, on=["family", "scope"]) if len(streams) else use.rates[:0]
    if rows.empty:
        return rows, None, None
    place = rows["index"].to_numpy()
    beliefs = UseRows(*(getattr(use.beliefs, name)[place] for name in UseRows.__dataclass_fields__))
    rows["use_share"] = beliefs.alpha / (beliefs.alpha + beliefs.beta)
    return rows, beliefs, _job_rows(rows, use.factor.expected, pipeline, days, source)


def _job_rows(rows, loading, pipeline, days, source):
    """Known jobs side by side for each row, and the stream of jobs not yet booked."""
    share, done = pipeline.known_share(days)
    known = pipeline.known.assign(share=share, done=done)
    known = known.assign(place=known.groupby(["family", "scope"]).cumcount())
    wide = np.zeros((3, len(rows), int(known["place"].max()) + 1 if len(known) and source != "unbooked" else 0))
    wide[2] = 1.0
    if wide.shape[2]:
        cells = rows[["family", "scope", "part", "use_share"]].assign(row=np.arange(len(rows)))
        cells = cells.merge(known, on=["family", "scope"])
        # A part the job has taken already is taken as done with; a second taking is rare.
        cells = cells.merge(pipeline.taken.assign(is_taken=True), on=["job", "part"], how="left")
        open_share = np.where(cells["is_taken"].isna(), 1.0, 0.0)
        at = cells["row"].to_numpy(), cells["place"].to_numpy()
        wide[0][at], wide[1][at] = cells["share"] * open_share, cells["done"] * open_share
        wide[2][at] = odds_of_use(cells, loading)
    mean = rows["unbooked_mean"].to_numpy(dtype=float) * (source != "known")
    return JobRows(wide[0], wide[1], mean, rows["unbooked_excess"].to_numpy(dtype=float), wide[2])


def odds_of_use(cells, loading):
    """Odds of use of each part by each job against the usual ones: what a job begun has taken says how rough it is.

    Parameters
    ----------
    cells : pandas.DataFrame
        One row per job and part of its family and scope: job, use_share, ``done`` (share of the job's takings that lie
        behind it), ``is_taken`` (filled where the job has taken the part).
    loading : float
        Expected loading of the job factor.

    Returns
    -------
    numpy.ndarray of float, shape (n_cells,)
        1 for a job that has not begun.
    """
    odds = np.ones(len(cells))
    if loading > 0:
        begun = np.flatnonzero(cells["done"] > 0)
        for places in cells.iloc[begun].groupby("job").indices.values():
            here = cells.iloc[begun[places]]
            odds[begun[places]] = job_begun.odds_of_rest(
                here["use_share"].to_numpy(), loading, here["is_taken"].notna().to_numpy(), here["done"].iloc[0])
    return odds


def _summary(jobs_seen, pmfs):
    """Mean and quantiles of each distribution, in the rows of ``jobs_seen``."""
    quantiles, mean = np.zeros((len(pmfs), len(LEVELS))), np.zeros(len(pmfs))
    lengths = discrete.power_of_two([pmf.size for pmf in pmfs])
    for here, block in ragged.blocks(pmfs, lengths):
        quantiles[here], mean[here] = discrete.quantiles(block, list(LEVELS.values())), discrete.mean(block)
    summary = pd.DataFrame(quantiles.astype(np.int64), index=jobs_seen.index, columns=list(LEVELS))
    summary.insert(0, "expected_pcs", mean)
    return summary.assign(jobs_seen=jobs_seen).reset_index()


def _empty(days, source):
    columns = ["part", "expected_pcs", *LEVELS, "jobs_seen"]
    return Demand(days, source, pd.DataFrame(columns=["family", *columns]), pd.DataFrame(columns=columns), [], [])
