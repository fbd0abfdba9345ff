"""A job begun: what it has taken moves the odds of the rest, against plain simulation and in its limits."""

import numpy as np
from numpy.testing import assert_allclose

from pipeline.kernels import job_begun, job_factor


def test_the_rest_is_as_likely_as_among_drawn_jobs_that_look_the_same():
    # Jobs of twelve parts, each taken at a random moment of the work; those that took three by half time.
    share, loading, done = np.full(12, 0.3), 1.0, 0.5
    rng = np.random.default_rng(1)
    used = job_factor.draw_uses(share, loading, 200_000, rng)
    early = used & (rng.random(used.shape) < done)
    alike = early.sum(axis=1) == 3
    later = (used & ~early)[alike].sum() / (~early[alike]).sum()
    odds = job_begun.odds_of_rest(share, loading, np.arange(12) < 3, done)[-1]
    own = 0.3 * odds / (1 - 0.3 + 0.3 * odds)
    assert_allclose(own * (1 - done) / (1 - own * done), later, rtol=0.02)


def test_without_a_factor_nothing_is_told():
    odds = job_begun.odds_of_rest([0.2, 0.7, 0.01], 0.0, [True, False, False], 0.6)
    assert_allclose(odds, 1, rtol=1e-4)


def test_more_taken_means_more_to_come_and_more_work_done_without_means_less():
    share = np.full(30, 0.25)
    by_taken = [job_begun.odds_of_rest(share, 0.8, np.arange(30) < taken, 0.5)[-1] for taken in range(0, 20, 4)]
    by_done = [job_begun.odds_of_rest(share, 0.8, np.arange(30) < 3, done)[-1] for done in (0.1, 0.5, 0.9)]
    assert (np.diff(by_taken) > 0).all() and (np.diff(by_done) < 0).all()


def test_weights_are_a_distribution_and_of_a_job_not_looked_at_the_belief_before():
    weights = job_begun.factor_weights(np.zeros(3), 1.0, [False] * 3, 0.0)
    assert_allclose(weights, job_factor.FACTOR_WEIGHT)
    assert_allclose(job_begun.factor_weights(np.zeros(3), 1.0, [True, False, True], 1.0).sum(), 1)
