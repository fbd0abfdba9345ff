"""How much jobs differ, and the doubt that they share."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.special import expit

from pipeline.errors import InvalidParameter
from pipeline.kernels import job_roughness


def drawn(sd, n_jobs=400, n_parts=60):
    rng = np.random.default_rng(5)
    base = rng.normal(-1, 1, n_parts)
    shift = rng.normal(0, sd, n_jobs)
    used = (rng.random((n_jobs, n_parts)) < expit(base + shift[:, None])).sum(axis=1)
    share = expit(base + rng.normal(0, sd, (2000, 1))).mean(axis=0)
    return used, share @ (1 - share)


def test_jobs_that_differ_in_nothing_but_chance_have_no_variance():
    used, variance = drawn(0.0)
    assert job_roughness.roughness_variance(used, np.zeros(400, int), [variance]) < 0.03


def test_the_variance_between_jobs_is_recovered():
    used, variance = drawn(0.6)
    found = job_roughness.roughness_variance(used, np.zeros(400, int), [variance])
    assert_allclose(np.sqrt(found), 0.6, rtol=0.15)


def test_kinds_differ_in_their_mean_without_that_counting_as_roughness():
    one, variance = drawn(0.4)
    kind = np.repeat([0, 1], 400)
    both = job_roughness.roughness_variance(np.append(one, one + 30), kind, [variance, variance])
    assert_allclose(both, job_roughness.roughness_variance(one, np.zeros(400, int), [variance]))


@pytest.mark.parametrize(("used", "variance"), [([3.0], [2.0]), ([], [2.0]), ([1.0, 5.0], [0.0])])
def test_too_few_jobs_to_differ(used, variance):
    assert job_roughness.roughness_variance(used, np.zeros(len(used), int), variance) == 0


def test_shared_doubt_adds_to_the_variance_and_leaves_the_mean():
    alpha, beta = job_roughness.with_shared_doubt([3.0], [9.0], [0.2])
    total = alpha + beta
    assert_allclose(alpha / total, 0.25)
    assert_allclose(alpha * beta / total**2 / (total + 1), 0.1875 / 13 + 0.1875**2 * 0.2)


def test_no_doubt_changes_nothing_and_endless_doubt_stays_a_belief():
    assert_allclose(job_roughness.with_shared_doubt([3.0], [9.0], [0.0]), [[3.0], [9.0]])
    alpha, beta = job_roughness.with_shared_doubt([3.0], [9.0], [1e6])
    assert alpha[0] > 0 and beta[0] > 0


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: job_roughness.roughness_variance([1.0], [1], [2.0]), "group holds 1"),
        (lambda: job_roughness.roughness_variance([-1.0], [0], [2.0]), "parts_used"),
        (lambda: job_roughness.with_shared_doubt([1.0], [1.0], [-0.1]), "logit_variance"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
