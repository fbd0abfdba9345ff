"""The compound distribution of pieces in a window, against direct recursion, closed forms and simulation."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate, special, stats

from pipeline.errors import InvalidParameter
from pipeline.kernels import compound, discrete, job_window
from pipeline.kernels.compound import JobRows, UseRows
from tests.support import direct_recursion

ONE_PIECE = [[0.0, 1.0]]  # a job that uses the part takes one


def rows(*, alpha=3.0, beta=2.0, pieces=ONE_PIECE, weight=None, known=(), done=None, mean=0.0, excess=0.0):
    """One row of beliefs and jobs; pieces: a distribution at each node."""
    pieces = np.array([pieces], dtype=float)
    weight = np.full(pieces.shape[:2], 1 / pieces.shape[1]) if weight is None else np.array([weight])
    use = UseRows(np.array([alpha]), np.array([beta]), pieces, weight)
    known = np.atleast_2d(np.asarray(known, dtype=float))
    done = np.zeros_like(known) if done is None else np.atleast_2d(np.asarray(done, dtype=float))
    return use, JobRows(known, done, np.array([mean]), np.array([excess]))


def shifted_nbinom(size, odds, n_values=300):
    """One piece and a negative binomial number more."""
    return np.concatenate([[0], stats.nbinom(size, 1 / (1 + odds)).pmf(np.arange(n_values))])


def mean_and_sd(pmf):
    pieces = np.arange(pmf.size)
    mean = (pmf * pieces).sum()
    return mean, np.sqrt((pmf * pieces**2).sum() - mean**2)


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


def test_unbooked_jobs_at_a_certain_share_are_negative_binomial_poisson_or_binomial():
    grid = np.arange(30)
    poisson = stats.poisson(4)
    cases = [(1.6, stats.nbinom(2.5, 1 / 2.6)), (0.0, poisson), (1e-13, poisson), (-5e-324, poisson), (1e-8, poisson),
             (-0.4, stats.binom(10, 0.4)), (-1.0, stats.binom(4, 1.0))]
    for excess, wanted in cases:
        pmf = compound.predictive_pmfs(*rows(alpha=1e12, beta=1e-3, mean=4.0, excess=excess))[0]
        assert_allclose(np.pad(pmf, (0, 30))[:30], wanted.pmf(grid), atol=1e-9)


def test_trials_of_an_even_stream_are_rounded_up_and_its_mean_stays():
    # 2.5 / 0.7 = 3.57 trials: made 4 of 0.625 each.
    pmf = compound.predictive_pmfs(*rows(alpha=1e12, beta=1e-3, mean=2.5, excess=-0.7))[0]
    assert_allclose(pmf[:6], stats.binom(4, 0.625).pmf(np.arange(6)), atol=1e-9)


@pytest.mark.parametrize("excess", [0.8, 0.0, -0.25])
def test_mixture_equals_direct_recursion_integrated_over_the_share(excess):
    alpha, beta, known, mean = 2.0, 3.0, [0.9, 0.35], 2.5
    pieces = shifted_nbinom(2.0, 0.75)
    pmf = compound.predictive_pmfs(*rows(alpha=alpha, beta=beta, pieces=[pieces], known=known, mean=mean,
                                         excess=excess))[0]
    edges, weights = np.polynomial.legendre.leggauss(60)
    share, weights = (edges + 1) / 2, weights / 2 * stats.beta(alpha, beta).pdf((edges + 1) / 2)
    every = np.ones((60, 1))
    wanted = weights @ direct_recursion.pieces_pmf(share, every * pieces, every * known, every[:, 0] * mean,
                                                   every[:, 0] * excess, 256)
    assert_allclose(pmf[:60], wanted[:60], atol=1e-8)


def test_beliefs_about_pieces_are_shared_by_the_jobs_too():
    # Two certain users that both take two, or both four, evenly: never six.
    pmf = compound.predictive_pmfs(*rows(alpha=1e12, beta=1e-3, pieces=[[0, 0, 1.0, 0, 0], [0, 0, 0, 0, 1.0]],
                                         weight=[0.25, 0.75], known=[1, 1]))[0]
    assert_allclose(pmf[[4, 6, 8]], [0.25, 0.0, 0.75], atol=1e-9)


@pytest.mark.parametrize("jobs", [3, 20, 60, 150])
def test_many_jobs_need_more_nodes_and_get_them(jobs):
    # A Poisson number of jobs, one piece each, share Beta(1, 1): P(none) = (1 - exp(-m)) / m and so on, the
    # incomplete gamma function; twelve nodes would be off by 1e-3 at a hundred jobs.
    pmf = compound.predictive_pmfs(*rows(alpha=1.0, beta=1.0, mean=float(jobs)))[0]
    wanted = special.gammainc(np.arange(jobs) + 1, jobs) / jobs
    assert_allclose(pmf[:jobs], wanted, atol=1e-6)


def test_long_jobs_half_done_are_averaged_as_closely():
    # theta s / (1 - theta d) has a pole near 1; referee: adaptive quadrature over the share.
    for done in (0.5, 0.9, 0.96):
        pmf = compound.predictive_pmfs(*rows(alpha=1.3, beta=1.1, known=[1 - done], done=[done]))[0]
        wanted = integrate.quad(lambda t, d=done: stats.beta(1.3, 1.1).pdf(t) * t * (1 - d) / (1 - t * d), 0, 1,
                                epsabs=1e-10)[0]
        assert_allclose(pmf[1], wanted, atol=1e-5)


def test_a_running_job_that_has_not_used_it_is_less_likely_to():
    # Half its work done without the part: theta/2 / (1 - theta/2) of the remaining half.
    pmf = compound.predictive_pmfs(*rows(alpha=4e9, beta=1e9, known=[0.5], done=[0.5]))[0]
    assert_allclose(pmf[1], 0.4 / 0.6, atol=1e-6)


def test_moments_equal_those_of_the_distribution():
    for excess in (2.0, 0.0, -0.5):
        use, jobs = rows(alpha=1.3, beta=4.0, pieces=[shifted_nbinom(1.2, 2.0), shifted_nbinom(1.2, 3.0)],
                         weight=[0.3, 0.7], known=[0.4, 0.9, 1.0], done=[0.3, 0.0, 0.0], mean=6.0, excess=excess)
        mean, variance = compound.moments(use, jobs)
        pmf_mean, pmf_sd = mean_and_sd(compound.predictive_pmfs(use, jobs)[0])
        assert_allclose(pmf_mean, mean[0], rtol=1e-5)
        assert_allclose(pmf_sd**2, variance[0], rtol=1e-4)


def test_groups_add_up_as_independent_rows():
    rng = np.random.default_rng(5)
    n = 7
    pieces = rng.dirichlet(np.ones(6), (n, 2))
    pieces[:, :, 0] = 0
    use = UseRows(*rng.uniform(1, 6, (2, n)), pieces / pieces.sum(axis=2, keepdims=True), np.full((n, 2), 0.5))
    jobs = JobRows(rng.random((n, 3)), np.zeros((n, 3)), rng.uniform(0, 40, n), rng.uniform(-0.3, 0.6, n))
    group = np.array([2, 0, 1, 0, 2, 2, 0])
    alone = compound.predictive_pmfs(use, jobs)
    together = compound.predictive_pmfs(use, jobs, group)
    for g in range(3):
        wanted = np.ones(1)
        for member in np.flatnonzero(group == g):
            wanted = np.convolve(wanted, alone[member])
        assert_allclose(together[g][:60], wanted[:60], atol=1e-6)


def test_a_known_job_with_other_odds_is_one_of_another_share():
    use, jobs = rows(alpha=3e8, beta=7e8, mean=0.0, known=[1.0])
    odds = JobRows(jobs.known_share, jobs.done_share, jobs.unbooked_mean, jobs.unbooked_excess, np.full((1, 1), 3.0))
    pmf = compound.predictive_pmfs(use, odds)[0]
    assert_allclose(1 - pmf[0], 0.9 / 1.6, rtol=1e-6)  # odds 3/7 become 9/7
    with pytest.raises(InvalidParameter, match="known_odds"):
        compound.predictive_pmfs(use, JobRows(*(getattr(jobs, f) for f in list(JobRows.__dataclass_fields__)[:4]),
                                              np.zeros((1, 1))))


def test_small_chunks_change_nothing(monkeypatch):
    use, jobs = rows(known=[0.5, 0.7])
    use = UseRows(*(np.repeat(getattr(use, f), 5, axis=0) for f in UseRows.__dataclass_fields__))
    jobs = JobRows(*(np.repeat(getattr(jobs, f), 5, axis=0) for f in list(JobRows.__dataclass_fields__)[:4]))
    group = [0, 1, 0, 1, 0]
    wanted = compound.predictive_pmfs(use, jobs, group)
    monkeypatch.setattr(job_window, "CHUNK_VALUES", 1)
    for found, whole in zip(compound.predictive_pmfs(use, jobs, group), wanted, strict=True):
        assert_allclose(found, whole, atol=1e-12)


def test_grid_reaches_past_mean_and_eight_deviations_and_loses_nothing():
    # A geometric-like tail: eight deviations alone would leave 1e-4 beyond, so the grid must go on.
    use, jobs = rows(alpha=1e6, beta=1.0, mean=20.0, excess=20.0)
    pmf = compound.predictive_pmfs(use, jobs)[0]
    mean, variance = compound.moments(use, jobs)
    assert pmf.size >= mean[0] + 8 * np.sqrt(variance[0])
    assert 1 - pmf.sum() < 1e-7
    assert_allclose(pmf[:200], stats.nbinom(1.0, 1 / 21).pmf(np.arange(200)), atol=1e-6)


def test_nothing_wraps_on_a_grid_that_is_too_short():
    # On 16 values the mean-12 count does not fit: what is missing must be missing, not folded to the front.
    short = compound.fixed_pmfs([12.0], [0.0], [[]], [1.0], ONE_PIECE, 16)[0]
    assert_allclose(short, stats.poisson(12).pmf(np.arange(16)), atol=2e-5)
    assert short.sum() < 0.9


def test_at_fixed_parameters_equals_direct_recursion():
    # The benchmark does this for 10,000 parts.
    rng = np.random.default_rng(7)
    n = 40
    mean, excess, share = rng.gamma(2, 3, n), rng.choice([0.0, 0.4, 1.2], n), rng.beta(1, 2, n)
    excess[::4] = -mean[::4] / np.ceil(mean[::4] * 2)
    known = rng.random((n, 3))
    pieces = np.concatenate([np.zeros((n, 1)), rng.dirichlet(np.ones(5), n)], axis=1)
    found = compound.fixed_pmfs(mean, excess, known, share, pieces, 256)
    wanted = direct_recursion.pieces_pmf(share, pieces, known, mean, excess, 256)
    assert_allclose(found, wanted, atol=1e-9)


def test_no_jobs_use_nothing():
    pmf = compound.predictive_pmfs(*rows(known=[0.0]))[0]
    assert_allclose(pmf[0], 1.0, atol=1e-9)


def test_simulation_agrees():
    rng = np.random.default_rng(11)
    sizes = [[0.0, 0.7, 0.3, 0.0, 0.0], [0.0, 0.1, 0.2, 0.3, 0.4]]
    use, jobs = rows(alpha=2.0, beta=5.0, pieces=sizes, weight=[0.6, 0.4], known=[0.8, 0.3], mean=6.0, excess=1.5)
    draws = 100_000
    theta, is_second = rng.beta(2.0, 5.0, draws), rng.random(draws) < 0.4
    users = rng.binomial(1, 0.8 * theta) + rng.binomial(1, 0.3 * theta)
    users += rng.poisson(rng.gamma(4.0, 1.5, draws) * theta)
    taken = [rng.multinomial(users, size[1:]) @ np.arange(1, 5) for size in sizes]
    pieces = np.where(is_second, taken[1], taken[0])
    pmf = compound.predictive_pmfs(use, jobs)[0]
    seen = np.bincount(pieces, minlength=pmf.size)[: pmf.size] / draws
    # Kolmogorov distance: 1.63/sqrt(n) is passed by chance once in a hundred.
    assert np.abs(np.cumsum(pmf) - np.cumsum(seen)).max() < 1.63 / np.sqrt(draws)


def test_job_counts_by_hand():
    # Two coins and a gamma-Poisson stream of mean 1, excess 1/2: P(none) = 1/4 * 1.5^-2.
    pmf = compound.job_count_pmf([0.5, 0.5], [1.0], [0.5])
    assert_allclose(pmf[0], 0.25 * 1.5**-2, atol=1e-9)
    assert_allclose((pmf * np.arange(pmf.size)).sum(), 1 + 1.0, atol=1e-7)


def test_job_counts_of_several_streams_add_up():
    pmf = compound.job_count_pmf([], [1.0, 1.0, 2.0], [0.5, 0.2, -0.5])
    streams = [d.pmf(np.arange(60)) for d in (stats.nbinom(2, 1 / 1.5), stats.nbinom(5, 1 / 1.2), stats.binom(4, 0.5))]
    wanted = np.convolve(np.convolve(*streams[:2]), streams[2])
    assert_allclose(pmf[:20], wanted[:20], atol=1e-9)


@pytest.mark.parametrize(("mean", "excess"), [(3.0, 60.0), (40.0, 40.0), (900.0, 300.0), (5000.0, 0.0)])
def test_the_grid_of_a_wide_stream_is_long_enough(mean, excess):
    pmf = compound.job_count_pmf([0.3], mean, excess)
    count, variance = discrete.mean(pmf), discrete.variance(pmf)
    assert_allclose(count, mean + 0.3, rtol=1e-6)
    assert_allclose(variance, mean * (1 + excess) + 0.21, rtol=1e-4)


def test_no_job_at_all_is_counted_as_none():
    assert_allclose(compound.job_count_pmf([], 0.0, 0.0), [1.0])
    assert_allclose(compound.job_count_pmf([], [], []), [1.0])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"known": [1.2]}, "known_share"),
        ({"known": [0.7], "done": [0.6]}, r"known_share \+ done_share"),
        ({"mean": -1.0}, "unbooked_mean"),
        ({"mean": 1.0, "excess": -1.5}, "unbooked_excess is -1.5; wanted at least -1"),
        ({"alpha": 0.0}, "alpha"),
        ({"pieces": [[0.5, 0.5]]}, "pieces has probability 0.5 of none"),
        ({"pieces": [[0.0, 0.5]]}, "sum of pieces"),
        ({"weight": [0.7]}, "sum of piece_weight"),
        ({"weight": [0.5, 0.5]}, "a weight for each node"),
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


def test_no_rows_predict_nothing():
    none = np.zeros(0)
    use = UseRows(none, none, np.zeros((0, 1, 2)), np.zeros((0, 1)))
    assert compound.predictive_pmfs(use, JobRows(np.zeros((0, 0)), np.zeros((0, 0)), none, none)) == []


def test_more_pieces_than_any_shop_uses_are_refused():
    with pytest.raises(InvalidParameter, match="wanted at most 131,072 of a part"):
        compound.predictive_pmfs(*rows(alpha=1e9, beta=1e-3, mean=1e6))


def test_more_jobs_than_any_shop_does_are_refused():
    with pytest.raises(InvalidParameter, match="wanted at most 131,072"):
        compound.job_count_pmf([], 1e6, 0.0)
