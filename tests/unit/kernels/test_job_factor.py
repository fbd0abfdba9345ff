"""The job factor: shares kept, a known loading found again, joint draws, and what independence would miss."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, stats
from scipy.special import expit

from pipeline.errors import InvalidParameter
from pipeline.kernels import job_factor


def shares(n_jobs, n_parts, rng):
    """Two kinds of job, each with its own share for every part."""
    kinds = rng.beta(0.8, 2.5, (2, n_parts))
    return kinds[rng.integers(0, 2, n_jobs)]


@pytest.mark.parametrize("loading", [0.0, 0.3, 0.8, 1.5, 3.0, 4.0])
def test_the_share_averaged_over_the_factor_is_kept(loading):
    # Referee: adaptive quadrature of the logistic times the normal density.
    share = np.array([1e-4, 0.03, 0.25, 0.5, 0.9, 0.999])
    for wanted, at_zero in zip(share, job_factor.intercepts(share, loading), strict=True):
        found = integrate.quad(lambda z, a=at_zero: expit(a + loading * z) * stats.norm.pdf(z), -12, 12,
                               epsabs=1e-12, limit=200)[0]
        assert_allclose(found, wanted, atol=1e-6, rtol=1e-6)


def test_many_shares_at_once_are_kept_as_closely():
    share = np.linspace(0, 1, 2001)
    at_zero = job_factor.intercepts(share, 1.3)
    assert_allclose(expit(at_zero[:, None] + 1.3 * job_factor.FACTOR) @ job_factor.FACTOR_WEIGHT, share, atol=1e-8)
    assert_allclose(at_zero[::100], job_factor.intercepts(share[::100], 1.3), atol=1e-8)


def test_certain_and_impossible_uses_stay_so():
    drawn = job_factor.draw_uses([0.0, 1.0], 2.0, 2000, np.random.default_rng(1))
    assert not drawn[:, 0].any() and drawn[:, 1].all()


@pytest.mark.parametrize("loading", [0.0, 0.4, 0.8, 1.5])
def test_a_known_loading_is_found_again_within_its_interval(loading):
    rng = np.random.default_rng(20)
    share = shares(120, 60, rng)
    found = job_factor.fit_loading(job_factor.draw_uses(share, loading, 1, rng)[0], share, level=0.99)
    assert found.low <= loading <= found.high or (loading == 0 and found.low < 0.05)  # tails leave out the end itself
    assert_allclose(found.loading, loading, atol=0.25)
    assert found.jobs == 120


def test_intervals_hold_the_loading_as_often_as_they_say():
    rng = np.random.default_rng(21)
    held = 0
    for _ in range(40):
        share = shares(30, 20, rng)
        found = job_factor.fit_loading(job_factor.draw_uses(share, 0.7, 1, rng)[0], share)
        held += found.low <= 0.7 <= found.high
    least, most = stats.binom(40, 0.8).interval(0.99)
    assert least <= held <= most


def test_few_jobs_say_little_and_say_so():
    rng = np.random.default_rng(22)
    widths = []
    for jobs in (3, 30, 300):
        share = shares(jobs, 30, rng)
        found = job_factor.fit_loading(job_factor.draw_uses(share, 0.7, 1, rng)[0], share)
        widths.append(found.high - found.low)
    assert widths[0] > widths[1] > widths[2]


def test_no_job_says_nothing():
    found = job_factor.fit_loading(np.zeros((0, 3), dtype=bool), np.zeros((0, 3)))
    assert found.jobs == 0
    assert_allclose([found.low, found.high], [0.4, 3.6], atol=0.01)


def test_parts_that_do_not_come_into_question_change_nothing():
    rng = np.random.default_rng(23)
    share = shares(30, 20, rng)
    used = job_factor.draw_uses(share, 0.7, 1, rng)[0]
    wider = np.concatenate([share, np.full((30, 4), np.nan)], axis=1)
    whole = job_factor.fit_loading(np.concatenate([used, np.ones((30, 4), dtype=bool)], axis=1), wider)
    assert_allclose(whole.log_likelihood, job_factor.fit_loading(used, share).log_likelihood, atol=1e-9)


def test_likelihood_of_one_job_by_hand():
    # Two parts of share one half, both used: the factor's mean of expit(loading z) squared; referee quadrature.
    found = job_factor.fit_loading([[True, True]], [[0.5, 0.5]]).log_likelihood
    wanted = [np.log(integrate.quad(lambda z, s=s: expit(s * z) ** 2 * stats.norm.pdf(z), -12, 12, epsabs=1e-12)[0])
              for s in job_factor.LOADING_GRID]
    assert_allclose(found, np.array(wanted) - max(wanted), atol=1e-8)


def test_only_loadings_that_weigh_nothing_are_interpolated():
    rng = np.random.default_rng(26)
    share = shares(150, 60, rng)
    used = job_factor.draw_uses(share, 0.9, 1, rng)[0]
    found = job_factor.fit_loading(used, share)
    assert found.log_likelihood.min() < -10 * job_factor.NO_WEIGHT  # there is something to leave out

    def direct(loading):  # every job by itself
        logits = job_factor.intercepts(share, loading)[:, :, None] + loading * job_factor.FACTOR
        chance = np.where(used[:, :, None], expit(logits), expit(-logits)).prod(axis=1)
        return np.log(chance @ job_factor.FACTOR_WEIGHT).sum()

    wanted = np.array([direct(loading) for loading in job_factor.LOADING_GRID])
    wanted -= wanted.max()
    counts = wanted > -job_factor.NO_WEIGHT
    assert 2 < counts.sum() < 20
    assert_allclose(found.log_likelihood[counts], wanted[counts], atol=1e-6)
    assert (found.log_likelihood[~counts] < 1 - job_factor.NO_WEIGHT).all()
    weight = np.exp(wanted - job_factor.LOADING_GRID**2 / 2)
    assert_allclose(found.expected, weight @ job_factor.LOADING_GRID / weight.sum(), atol=1e-8)


def test_loading_zero_draws_independent_uses():
    share = np.full(30, 0.3)
    uses = job_factor.draw_uses(share, 0.0, 60_000, np.random.default_rng(24)).sum(axis=1)
    # Binomial(30, 0.3); 1.63/sqrt(n) is passed by chance once in a hundred (Kolmogorov).
    cumulative = np.cumsum(np.bincount(uses, minlength=31)) / 60_000
    assert np.abs(cumulative - stats.binom(30, 0.3).cdf(np.arange(31))).max() < 1.63 / np.sqrt(60_000)


def test_a_loading_widens_totals_and_independence_would_miss_it():
    share = np.linspace(0.05, 0.6, 40)
    drawn = job_factor.draw_uses(share, 1.0, 40_000, np.random.default_rng(25))
    assert_allclose(drawn.mean(axis=0), share, atol=4 * 0.5 / np.sqrt(40_000))
    at_zero = job_factor.intercepts(share, 1.0)
    total = expit(at_zero + job_factor.FACTOR[:, None]).sum(axis=1)
    mean = total @ job_factor.FACTOR_WEIGHT
    chance = expit(at_zero + job_factor.FACTOR[:, None])
    variance = ((chance * (1 - chance)).sum(axis=1) + (total - mean) ** 2) @ job_factor.FACTOR_WEIGHT
    assert_allclose(mean, share.sum(), atol=1e-9)
    assert_allclose(drawn.sum(axis=1).var(), variance, rtol=0.03)
    assert variance > 3 * (share * (1 - share)).sum()


def test_every_job_has_a_factor_of_its_own():
    drawn = job_factor.draw_uses(np.full((2, 50), 0.4), 1.5, 4000, np.random.default_rng(26)).mean(axis=2)
    assert abs(np.corrcoef(drawn.T)[0, 1]) < 0.06
    halves = job_factor.draw_uses(np.full(100, 0.4), 1.5, 4000, np.random.default_rng(26)).reshape(4000, 2, 50)
    assert np.corrcoef(halves.mean(axis=2).T)[0, 1] > 0.8


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: job_factor.intercepts([1.2], 0.5), "share is 1.2"),
        (lambda: job_factor.intercepts([0.5], -1.0), "loading is -1"),
        (lambda: job_factor.intercepts([0.5], 9.0), "loading is 9; wanted at most 4"),
        (lambda: job_factor.fit_loading([[True]], [[0.5, 0.5]]), "wanted jobs by parts"),
        (lambda: job_factor.fit_loading([[True]], [[0.5]], level=2.0), "level"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
