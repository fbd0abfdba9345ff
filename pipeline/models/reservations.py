"""Pieces that booked and running jobs will take: written needs to the piece, the rest as the use model expects it."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipeline.models.job_pipeline import JobPipeline
from pipeline.store import read


@dataclass(frozen=True)
class Reservations:
    """Needs of booked and running jobs.

    Attributes
    ----------
    known : pandas.DataFrame
        Written needs still to be taken: job, family, scope, part, still_pcs, needed_on, known_from (``findings`` or
        ``accepted lines``), is_guessed (pieces were left blank: one assumed).
    others : pipeline.models.job_pipeline.JobPipeline
        The pipeline without what is written: jobs with findings left out whole, accepted lines part by part.
    """

    known: pd.DataFrame
    others: JobPipeline

    def known_pcs(self, parts, days):
        """Written needs of each part that fall due within some days.

        Parameters
        ----------
        parts : sequence of str
            Parts, in the order wanted.
        days : float or array_like of float, shape (n_parts,)
            Days from today; overdue needs count.

        Returns
        -------
        numpy.ndarray of int, shape (n_parts,)
        """
        due = self._due(parts, days)
        return due.groupby("place")["still_pcs"].sum().reindex(range(len(parts)), fill_value=0).to_numpy(dtype=np.int64)

    def jobs(self, parts, days):
        """Number of jobs behind :meth:`known_pcs`, as numpy.ndarray of int, shape (n_parts,)."""
        due = self._due(parts, days)
        return due.groupby("place")["job"].nunique().reindex(range(len(parts)), fill_value=0).to_numpy(dtype=np.int64)

    def _due(self, parts, days):
        horizon = np.broadcast_to(np.asarray(days, dtype=float), len(parts))
        place = pd.Series(np.arange(len(parts)), index=list(parts), dtype=int)
        listed = self.known[self.known["part"].isin(place.index)]
        listed = listed.assign(place=place.reindex(listed["part"]).to_numpy())
        ahead = (pd.to_datetime(listed["needed_on"]) - pd.Timestamp(self.others.today)).dt.days
        return listed[(ahead.fillna(0) <= horizon[listed["place"]]).to_numpy()]


def fit(connection, pipeline):
    """Split what booked and running jobs need into what is written and what is only expected.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    pipeline : pipeline.models.job_pipeline.JobPipeline
        Jobs to come.

    Returns
    -------
    Reservations
    """
    written = read.query(connection, "from committed_needs order by job, part")
    found = set(read.query(connection, "select distinct job from findings")["job"])
    known = pipeline.known[~pipeline.known["job"].isin(found)]
    taken = pd.concat([pipeline.taken, written[["job", "part"]]], ignore_index=True).drop_duplicates()
    written = written.assign(still_pcs=written["still_pcs"].astype(np.int64))
    still = written[written["still_pcs"] > 0].reset_index(drop=True)
    return Reservations(still, replace(pipeline, known=known, taken=taken))
