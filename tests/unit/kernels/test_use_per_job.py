"""Shares of jobs that use a part: the jobs added to a belief, and its interval."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import use_per_job


def test_posterior_by_hand():
    alpha, beta = use_per_job.posterior(4, 10, 0.6, 1.4)
    assert_allclose([alpha, beta, alpha / (alpha + beta)], [4.6, 7.4, 4.6 / 12])


def test_interval_holds_its_share():
    low, high = use_per_job.share_interval(3.0, 9.0, 0.9)
    assert_allclose(np.diff(stats.beta(3, 9).cdf([low, high])), 0.9)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: use_per_job.posterior(5, 4, 1, 1), "jobs_seen - jobs_with_use"),
        (lambda: use_per_job.posterior(-1, 4, 1, 1), "jobs_with_use"),
        (lambda: use_per_job.posterior(1, 4, 0, 1), "alpha"),
        (lambda: use_per_job.share_interval(1, 1, 80), "Did you mean 0.8"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
