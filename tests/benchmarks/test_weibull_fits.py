"""Many small censored lives at once beside a general-purpose library: equal likelihoods, ratio of processor time.

Run with `python3 -m pipeline test -m bench tests/benchmarks` once the packages of the bench tier are there.
"""

import warnings

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels.weibull import weibull_fit
from tests.support.processor_time import processor_seconds

GROUPS, REFEREED = 5000, 60
LEAST_RATIO = 100  # far below what is seen, so that a loaded machine does not decide


def watched_lives(rng):
    """Groups of 5 to 60 pieces, about 60 % of them still running when the watch ends."""
    sizes = rng.integers(5, 61, GROUPS)
    group = np.repeat(np.arange(GROUPS), sizes)
    life = 100 * rng.weibull(1.4, group.size)
    watch = 100 * rng.uniform(0.05, 1.25, group.size)
    return np.minimum(life, watch), life <= watch, group


def log_likelihood(time, is_failed, scale, shape):
    z = time / scale
    return np.sum(is_failed * (np.log(shape / scale) + (shape - 1) * np.log(z)) - z**shape)


@pytest.mark.bench
def test_small_censored_groups_beside_a_library():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own deprecations are not ours to mend
        lifelines = pytest.importorskip("lifelines", reason="the bench tier is not installed")
    time, is_failed, group = watched_lives(np.random.default_rng(20261125))
    ours, ours_seconds = processor_seconds(lambda: weibull_fit(time, is_failed, group, GROUPS))
    chosen = np.flatnonzero((ours.reason == "") & (ours.failures >= 3))[:REFEREED]

    def referee():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return [lifelines.WeibullFitter().fit(time[group == one], is_failed[group == one]) for one in chosen]

    fits, their_seconds = processor_seconds(referee)
    for one, fit in zip(chosen, fits, strict=True):
        lives = time[group == one], is_failed[group == one]
        theirs = log_likelihood(*lives, fit.lambda_, fit.rho_)
        assert_allclose(log_likelihood(*lives, ours.scale[one], ours.shape[one]), theirs, rtol=1e-6)
    ratio = (their_seconds / len(fits)) / (max(ours_seconds, 0.01) / GROUPS)
    there = f"{their_seconds / len(fits):.4f} s a group there"
    print(f"{GROUPS} groups in {ours_seconds:.3f} s here; {there}: {ratio:,.0f} times")
    assert ratio > LEAST_RATIO
    assert set(ours.reason) <= {"", "no failures", "no finite maximum"}
