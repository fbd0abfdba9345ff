"""The loading of the job's factor from a shop's known jobs."""

from types import SimpleNamespace

import numpy as np
import pandas as pd

from pipeline.models import job_factor


def test_rough_jobs_are_found_out_and_smooth_ones_too():
    # 60 jobs, 12 parts, half of all cells used: all parts of a job or none, against each part by its own coin.
    rng = np.random.default_rng(5)
    names = [f"p{n}" for n in range(12)]
    jobs = pd.DataFrame({"job": range(60), "family": "em", "scope": "thorough"})
    rates = pd.DataFrame({"family": "em", "scope": "thorough", "part": names, "use_share": 0.5})
    together = np.repeat(rng.random((60, 1)) < 0.5, 12, axis=1)
    alone = rng.random((60, 12)) < 0.5

    def loading(used):
        history = SimpleNamespace(jobs=jobs, parts=np.array(names), used_pcs=used.astype(int))
        return job_factor.fit(history, rates)

    assert loading(together).low > 2 > 0.5 > loading(alone).loading
    assert loading(alone).jobs == 60


def test_without_a_job_the_belief_before_is_all_there_is():
    history = SimpleNamespace(jobs=pd.DataFrame({"family": [], "scope": []}), parts=np.array(["p"]),
                              used_pcs=np.zeros((0, 1), dtype=int))
    rates = pd.DataFrame({"family": ["em"], "scope": "thorough", "part": "p", "use_share": 0.5})
    found = job_factor.fit(history, rates)
    assert found.jobs == 0
    assert 0.79 < found.expected < 0.81  # mean of a half-normal: the square root of 2 / pi
