"""How strongly the uses of one job hang together: rough machines take more of everything."""

import numpy as np
import pandas as pd

from pipeline.kernels import job_factor


def fit(history, rates):
    """Fit the loading of the job's factor.

    Parameters
    ----------
    history : pipeline.models.whole_jobs.JobHistory
        The known jobs.
    rates : pandas.DataFrame
        family, scope, part, use_share: the share expected of each part.

    Returns
    -------
    pipeline.kernels.job_factor.Loading
        From the known jobs, held against the share expected of each part in their family and scope.
    """
    shares = rates.pivot_table(index=["family", "scope"], columns="part", values="use_share")
    cells = pd.MultiIndex.from_frame(history.jobs[["family", "scope"]])
    share = shares.reindex(index=cells, columns=history.parts).to_numpy(dtype=float)
    return job_factor.fit_loading(history.used_pcs > 0, np.clip(share, 0, 1))
