"""Shares of jobs that use a part: likelihood, fitting, leave-own-cell-out shrinkage."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import use_per_job


def invented_cells(rng, n_parts=400, families=4, strength=3.0, likeness=20.0):
    """Cells of one scope: part means from Beta(0.3, 0.7) * strength, families spread around them."""
    centre = rng.beta(0.3 * strength, 0.7 * strength, n_parts)
    theta = rng.beta(np.repeat(centre, families) * likeness, np.repeat(1 - centre, families) * likeness)
    seen = rng.integers(2, 15, theta.size)
    return theta, rng.binomial(seen, np.clip(theta, 0, 1)), seen, np.repeat(np.arange(n_parts), families)


def test_likelihood_is_scipys_beta_binomial():
    found = use_per_job.log_marginal_likelihood([0, 3, 7], [4, 9, 7], [0.5, 2, 3], [1.5, 2, 0.2])
    assert_allclose(found, stats.betabinom([4, 9, 7], [0.5, 2, 3], [1.5, 2, 0.2]).logpmf([0, 3, 7]))


def test_posterior_by_hand():
    alpha, beta = use_per_job.posterior(4, 10, 0.6, 1.4)
    assert_allclose([alpha, beta, alpha / (alpha + beta)], [4.6, 7.4, 4.6 / 12])


def test_interval_holds_its_share():
    low, high = use_per_job.share_interval(3.0, 9.0, 0.9)
    assert_allclose(np.diff(stats.beta(3, 9).cdf([low, high])), 0.9)


def test_fit_recovers_the_spread_of_parts():
    rng = np.random.default_rng(1)
    seen = rng.integers(5, 30, 4000)
    used = rng.binomial(seen, rng.beta(0.9, 2.1, 4000))
    mean, concentration = use_per_job.fit_beta(used, seen)
    assert_allclose(mean, 0.3, atol=0.02)
    assert_allclose(concentration, 3.0, rtol=0.15)


def test_strata_are_fitted_apart():
    rng = np.random.default_rng(2)
    stratum = np.repeat([0, 1], 800)
    used = rng.binomial(20, rng.beta(np.where(stratum, 4, 1), np.where(stratum, 1, 9)))
    mean, _ = use_per_job.fit_beta(used, np.full(1600, 20), stratum)
    assert_allclose(mean, [0.1, 0.8], atol=0.03)
    alone, _ = use_per_job.fit_beta(used[stratum == 1], np.full(800, 20))
    assert_allclose(mean[1], alone[0], rtol=1e-4)


@pytest.mark.parametrize("used", [0, 5])
def test_fit_stays_finite_where_all_parts_agree(used):
    mean, concentration = use_per_job.fit_beta(np.full(3, used), np.full(3, 5))
    assert 0 < mean[0] < 1 and np.isfinite(concentration[0])


def test_fit_is_the_maximum_that_a_general_optimiser_finds():
    from scipy.optimize import minimize
    from scipy.special import expit, logit

    rng = np.random.default_rng(8)
    seen = rng.integers(1, 12, 60)
    used = rng.binomial(seen, rng.beta(1.2, 3.0, 60))
    overall = logit((used.sum() + 1) / (seen.sum() + 4))

    def minus_log_posterior(at):
        alpha, beta = expit(at[0]) * np.exp(at[1]), expit(-at[0]) * np.exp(at[1])
        weak = ((at[0] - overall) / 2) ** 2 / 2 + ((at[1] - np.log(2)) / 1.5) ** 2 / 2
        return weak - use_per_job.log_marginal_likelihood(used, seen, alpha, beta).sum()

    wanted = minimize(minus_log_posterior, [0.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-10}).x
    mean, concentration = use_per_job.fit_beta(used, seen)
    assert_allclose([mean[0], np.log(concentration[0])], [expit(wanted[0]), wanted[1]], atol=2e-3)


def test_a_stratum_without_jobs_is_taken_to_be_like_all():
    mean, _ = use_per_job.fit_beta([2, 1, 3, 0], [10, 10, 10, 0], [0, 0, 0, 1])
    assert_allclose(mean[1], 7 / 34, atol=0.01)


def test_how_alike_families_are_is_recovered():
    rng = np.random.default_rng(3)
    found = {}
    for likeness in (4.0, 60.0):
        _, used, seen, pool = invented_cells(rng, likeness=likeness)
        found[likeness] = use_per_job.cell_prior(used, seen, pool, np.zeros_like(pool))[2][0]
    assert 2.5 < found[4.0] < 7
    assert 25 < found[60.0] < 160


def test_ninety_per_cent_intervals_hold_ninety_per_cent():
    rng = np.random.default_rng(4)
    theta, used, seen, pool = invented_cells(rng, n_parts=1000)
    alpha, beta, _ = use_per_job.cell_prior(used, seen, pool, np.zeros_like(pool))
    low, high = use_per_job.share_interval(*use_per_job.posterior(used, seen, alpha, beta), 0.9)
    assert 0.88 < np.mean((low <= theta) & (theta <= high)) < 0.92


def test_shrunk_shares_beat_raw_ones():
    rng = np.random.default_rng(5)
    theta, used, seen, pool = invented_cells(rng)
    alpha, beta, _ = use_per_job.cell_prior(used, seen, pool, np.zeros_like(pool))
    alpha, beta = use_per_job.posterior(used, seen, alpha, beta)
    raw, shrunk = np.mean((used / seen - theta) ** 2), np.mean((alpha / (alpha + beta) - theta) ** 2)
    assert shrunk < 0.75 * raw


def test_a_cells_own_records_do_not_move_its_belief_before():
    # Part 0 in family 0: its own use changes, what the others say must not (but for the common fit, which 300
    # other parts hold still).
    rng = np.random.default_rng(6)
    _, used, seen, pool = invented_cells(rng, n_parts=300)
    seen[0] = 12
    priors = []
    for own in (0, 12):
        used[0] = own
        alpha, beta, _ = use_per_job.cell_prior(used, seen, pool, np.zeros_like(pool))
        priors.append((alpha[0] / (alpha[0] + beta[0]), alpha[1] / (alpha[1] + beta[1])))
    assert abs(priors[0][0] - priors[1][0]) < 0.02
    assert priors[1][1] - priors[0][1] > 0.05  # the neighbour does hear of it


def test_a_part_of_one_family_falls_back_on_its_stratum():
    rng = np.random.default_rng(7)
    _, used, seen, pool = invented_cells(rng)
    used, seen = np.append(used, 3), np.append(seen, 4)
    pool = np.append(pool, pool.max() + 1)
    alpha, beta, _ = use_per_job.cell_prior(used, seen, pool, np.zeros_like(pool))
    assert abs(alpha[-1] / (alpha[-1] + beta[-1]) - 0.3) < 0.06
    assert alpha[-1] + beta[-1] < 4  # and knows little


def test_a_cell_without_jobs_takes_the_others_word():
    used, seen = np.array([9, 8, 0] + [0, 1, 0] * 20), np.array([10, 10, 0] + [10, 10, 10] * 20)
    pool = np.repeat(np.arange(21), 3)
    alpha, beta, _ = use_per_job.cell_prior(used, seen, pool, np.zeros_like(pool))
    assert alpha[2] / (alpha[2] + beta[2]) > 0.5


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: use_per_job.posterior(5, 4, 1, 1), "jobs_seen - jobs_with_use"),
        (lambda: use_per_job.posterior(-1, 4, 1, 1), "jobs_with_use"),
        (lambda: use_per_job.log_marginal_likelihood(1, 4, 0, 1), "alpha"),
        (lambda: use_per_job.share_interval(1, 1, 80), "Did you mean 0.8"),
        (lambda: use_per_job.cell_prior([1, 1], [2, 2], [0, 0], [0, 1]), "two strata"),
        (lambda: use_per_job.cell_prior([1, 1], [2, 2], [0], [0, 1]), "group has 1 values for 2 rows"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
