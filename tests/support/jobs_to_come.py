"""Jobs to come made by hand, with what the demand model asks of them and nothing else."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels.job_factor import LOADING_GRID, Loading

# Jobs whose uses do not hang together at all.
SMOOTH = Loading(0.0, 0.0, 0.0, np.where(LOADING_GRID == 0, 0.0, -np.inf), 0)


@dataclass
class Jobs:
    """Jobs to come as demand asks for them; a stream brings its jobs evenly over the days."""

    known: pd.DataFrame
    taken: pd.DataFrame
    streams: pd.DataFrame
    excess: float

    def known_share(self, days):
        """A job ``ahead_days`` away takes its parts on that day, but for the share of its work that is done."""
        is_in = (self.known["ahead_days"] <= days).to_numpy()
        done = self.known["done"].to_numpy(dtype=float)
        return is_in * (1 - done), done

    def unbooked(self, days):
        return self.streams.assign(unbooked_mean=self.streams["jobs_per_day"] * days, unbooked_excess=self.excess)


def jobs_of(known=(), streams=(), taken=(), excess=0.3):
    """Known jobs (job, family, scope, days ahead, share done); streams (family, scope, jobs a day)."""
    return Jobs(pd.DataFrame(known, columns=["job", "family", "scope", "ahead_days", "done"]),
                pd.DataFrame(taken, columns=["job", "part"]),
                pd.DataFrame(streams, columns=["family", "scope", "jobs_per_day"]), excess)
