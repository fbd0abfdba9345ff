"""The compound distribution of pieces in a window, against direct recursion, closed forms and simulation."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import compound
from pipeline.kernels.compound import JobRows, UseRows

ONE_PIECE = 1e6, 1e-9, 1.0  # extra_alpha, extra_beta, extra_size: a job that uses the part takes one


def rows(*, alpha=3.0, beta=2.0, extra=ONE_PIECE, known=(), done=None, shape=0.0, scale=0.0):
    """One row of beliefs and jobs."""
    extra_alpha, extra_beta, extra_size = extra
    use = UseRows(*(np.array([v], dtype=float) for v in (alpha, beta, extra_alpha, extra_beta, extra_size)))
    known = np.atleast_2d(np.asarray(known, dtype=float))
    done = np.zeros_like(known) if done is None else np.atleast_2d(np.asarray(done, dtype=float))
    return use, JobRows(known, done, np.array([shape]), np.array([scale]))


def mean_and_sd(pmf):
    pieces = np.arange(pmf.size)
    mean = (pmf * pieces).sum()
    return mean, np.sqrt((pmf * pieces**2).sum() - mean**2)


def by_direct_recursion(theta, piece_pmf, known, shape, scale, n_values):
    """Referee: convolve job by job at one fixed use share, unbooked jobs by their own count distribution."""
    total = np.eye(1, n_values)[0]
    per_use = np.concatenate([piece_pmf, np.zeros(n_values)])[:n_values]
    for share in known:
        job = share * theta * per_use
        job[0] += 1 - share * theta
        total = np.convolve(total, job)[:n_values]
    if shape:
        count = stats.nbinom(shape, 1 / (1 + scale * theta)).pmf(np.arange(80))
        unbooked, power = np.zeros(n_values), np.eye(1, n_values)[0]
        for chance in count:
            unbooked += chance * power
            power = np.convolve(power, per_use)[:n_values]
        total = np.convolve(total, unbooked)[:n_values]
    return total


def test_ten_jobs_of_one_unknown_share_do_not_average_out():
    # theta ~ Beta(3, 2), 10 jobs, one piece each: beta-binomial, sd 2.45. Convolving the ten one-job
    # predictives, each Bernoulli(0.6), would say sqrt(10 * 0.6 * 0.4) = 1.55.
    pmf = compound.predictive_pmfs(*rows(known=np.ones(10)))[0]
    assert_allclose(pmf[:11], stats.betabinom(10, 3, 2).pmf(np.arange(11)), atol=1e-12)
    mean, sd = mean_and_sd(pmf)
    assert_allclose([mean, sd], [6.0, np.sqrt(6.0)], atol=1e-9)
    assert round(sd, 2) == 2.45
    one_job = compound.predictive_pmfs(*rows(known=[1.0]))[0][:2]
    convolved = one_job
    for _ in range(9):
        convolved = np.convolve(convolved, one_job)
    assert round(mean_and_sd(convolved)[1], 2) == 1.55


def test_unbooked_jobs_at_a_certain_share_are_negative_binomial():
    pmf = compound.predictive_pmfs(*rows(alpha=1e9, beta=1e-3, shape=2.5, scale=1.6))[0]
    assert_allclose(pmf[:40], stats.nbinom(2.5, 1 / 2.6).pmf(np.arange(40)), atol=1e-10)


def test_mixture_equals_direct_recursion_integrated_over_the_share():
    alpha, beta, known, shape, scale, size = 2.0, 3.0, [0.9, 0.35], 1.7, 0.8, 2.0
    odds = 0.75  # fixed pieces: a belief so sharp that it is a point
    use, jobs = rows(alpha=alpha, beta=beta, extra=(1e9, 0.75e9, size), known=known, shape=shape, scale=scale)
    pmf = compound.predictive_pmfs(use, jobs)[0]
    pieces = np.concatenate([[0], stats.nbinom(size, 1 / (1 + odds)).pmf(np.arange(255))])
    edges, weights = np.polynomial.legendre.leggauss(60)
    theta, weights = (edges + 1) / 2, weights / 2 * stats.beta(alpha, beta).pdf((edges + 1) / 2)
    wanted = sum(w * by_direct_recursion(t, pieces, known, shape, scale, 256)
                 for t, w in zip(theta, weights, strict=True))
    assert_allclose(pmf[:60], wanted[:60], atol=1e-8)


def test_beliefs_about_pieces_are_shared_by_the_jobs_too():
    # Two certain users whose extra pieces share one unknown p: the sum is NB(2 r, p) averaged over p.
    a, b, size = 7.0, 6.0, 1.5
    pmf = compound.predictive_pmfs(*rows(alpha=1e9, beta=1e-3, extra=(a, b, size), known=[1, 1]))[0]
    wanted = [integrate.quad(lambda p, k=k: stats.beta(a, b).pdf(p) * stats.nbinom(2 * size, p).pmf(k), 0, 1)[0]
              for k in range(12)]
    assert_allclose(pmf[2:14], wanted, atol=3e-3)
    mean, sd = mean_and_sd(pmf)
    m = b / (a - 1)
    square = b * (b + 1) / ((a - 1) * (a - 2))
    assert_allclose(mean, 2 + 2 * size * m, rtol=1e-6)
    assert_allclose(sd**2, 2 * size * (m + square) + 4 * size**2 * (square - m**2), rtol=1e-4)


def test_a_running_job_that_has_not_used_it_is_less_likely_to():
    # Half its work done without the part: theta/2 / (1 - theta/2) of the remaining half.
    pmf = compound.predictive_pmfs(*rows(alpha=4e9, beta=1e9, known=[0.5], done=[0.5]))[0]
    assert_allclose(pmf[1], 0.4 / 0.6, atol=1e-6)


def test_moments_equal_those_of_the_distribution():
    use, jobs = rows(alpha=1.3, beta=4.0, extra=(9.0, 20.0, 1.2), known=[0.4, 0.9, 1.0], done=[0.3, 0.0, 0.0],
                     shape=3.0, scale=2.0)
    mean, variance = compound.moments(use, jobs)
    pmf_mean, pmf_sd = mean_and_sd(compound.predictive_pmfs(use, jobs)[0])
    assert_allclose(pmf_mean, mean[0], rtol=1e-5)
    assert_allclose(pmf_sd**2, variance[0], rtol=1e-3)


def test_groups_add_up_as_independent_rows():
    rng = np.random.default_rng(5)
    n = 7
    use = UseRows(*rng.uniform(1, 6, (2, n)), rng.uniform(5, 9, n), rng.uniform(1, 6, n), rng.uniform(0.6, 4, n))
    jobs = JobRows(rng.random((n, 3)), np.zeros((n, 3)), rng.uniform(1, 5, n), rng.uniform(0.1, 0.6, n))
    group = np.array([2, 0, 1, 0, 2, 2, 0])
    alone = compound.predictive_pmfs(use, jobs)
    together = compound.predictive_pmfs(use, jobs, group)
    for g in range(3):
        wanted = np.ones(1)
        for member in np.flatnonzero(group == g):
            wanted = np.convolve(wanted, alone[member])
        assert_allclose(together[g][:60], wanted[:60], atol=1e-6)


def test_small_chunks_change_nothing(monkeypatch):
    use, jobs = rows(known=[0.5, 0.7])
    use = UseRows(*(np.repeat(getattr(use, f), 5) for f in UseRows.__dataclass_fields__))
    jobs = JobRows(*(np.repeat(getattr(jobs, f), 5, axis=0) for f in JobRows.__dataclass_fields__))
    group = [0, 1, 0, 1, 0]
    wanted = compound.predictive_pmfs(use, jobs, group)
    monkeypatch.setattr(compound, "CHUNK_VALUES", 1)
    for found, whole in zip(compound.predictive_pmfs(use, jobs, group), wanted, strict=True):
        assert_allclose(found, whole, atol=1e-12)


def test_grid_reaches_past_mean_and_eight_deviations_and_loses_nothing():
    # A geometric-like tail: eight deviations alone would leave 1e-4 beyond, so the grid must go on.
    use, jobs = rows(alpha=1e6, beta=1.0, shape=1.0, scale=20.0)
    pmf = compound.predictive_pmfs(use, jobs)[0]
    mean, variance = compound.moments(use, jobs)
    assert pmf.size >= mean[0] + 8 * np.sqrt(variance[0])
    assert 1 - pmf.sum() < 1e-7
    assert_allclose(pmf[:200], stats.nbinom(1.0, 1 / 21).pmf(np.arange(200)), atol=1e-6)


def test_nothing_wraps_on_a_grid_that_is_too_short():
    # On 16 values the mean-12 count does not fit: what is missing must be missing, not folded to the front.
    use, jobs = rows(alpha=1e9, beta=1e-3, shape=1e6, scale=12e-6)
    short = compound._pmf_of_groups(use, jobs, np.zeros(1, dtype=int), np.zeros(1, dtype=int), 16)[0]
    assert_allclose(short, stats.poisson(12).pmf(np.arange(16)), atol=2e-5)
    assert short.sum() < 0.9


def test_no_jobs_use_nothing():
    pmf = compound.predictive_pmfs(*rows(known=[0.0]))[0]
    assert_allclose(pmf[0], 1.0, atol=1e-9)


def test_simulation_agrees():
    rng = np.random.default_rng(11)
    use, jobs = rows(alpha=2.0, beta=5.0, extra=(12.0, 18.0, 1.4), known=[0.8, 0.3], shape=4.0, scale=1.5)
    draws = 200_000
    theta, p = rng.beta(2.0, 5.0, draws), rng.beta(12.0, 18.0, draws)
    users = rng.binomial(1, 0.8 * theta) + rng.binomial(1, 0.3 * theta)
    users += rng.poisson(rng.gamma(4.0, 1.5, draws) * theta)
    pieces = users + np.where(users > 0, rng.negative_binomial(np.maximum(users, 1) * 1.4, p), 0)
    pmf = compound.predictive_pmfs(use, jobs)[0]
    seen = np.bincount(pieces, minlength=pmf.size)[:30] / draws
    assert_allclose(np.cumsum(pmf)[:30], np.cumsum(seen), atol=6e-3)


def test_job_counts_by_hand():
    # Two coins and a Poisson-like stream: P(none) = 1/4 * (1 + scale)^-shape.
    pmf = compound.job_count_pmf([0.5, 0.5], [2.0], [0.5])
    assert_allclose(pmf[0], 0.25 * 1.5**-2, atol=1e-12)
    assert_allclose((pmf * np.arange(pmf.size)).sum(), 1 + 1.0, atol=1e-8)


def test_job_counts_of_several_streams_add_up():
    pmf = compound.job_count_pmf([], [2.0, 5.0], [0.5, 0.2])
    wanted = np.convolve(stats.nbinom(2, 1 / 1.5).pmf(np.arange(40)), stats.nbinom(5, 1 / 1.2).pmf(np.arange(40)))
    assert_allclose(pmf[:20], wanted[:20], atol=1e-12)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"known": [1.2]}, "known_share"),
        ({"known": [0.7], "done": [0.6]}, r"known_share \+ done_share"),
        ({"shape": -1.0}, "unbooked_shape"),
        ({"alpha": 0.0}, "alpha"),
        ({"extra": (2.0, 1.0, 1.0)}, "alpha - 2"),
        ({"extra": (5.0, 1.0, 0.0)}, "extra_size"),
    ],
)
def test_bad_input_is_refused(change, message):
    with pytest.raises(InvalidParameter, match=message):
        compound.predictive_pmfs(*rows(**change))


def test_rows_of_different_length_are_refused():
    use, _ = rows()
    jobs = JobRows(np.zeros((2, 1)), np.zeros((2, 1)), np.zeros(1), np.zeros(1))
    with pytest.raises(InvalidParameter, match="wanted 1 rows"):
        compound.predictive_pmfs(use, jobs)


def test_more_pieces_than_any_shop_uses_are_refused():
    with pytest.raises(InvalidParameter, match="wanted at most 131,072"):
        compound.predictive_pmfs(*rows(alpha=1e9, beta=1e-3, shape=1e6, scale=1.0))
