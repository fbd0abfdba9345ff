"""Ten thousand parts at once: exact distributions beside direct recursion, and the draws a simulation would need.

Run with `python3 -m pipeline test -m bench tests/benchmarks`; no library of the bench tier is needed.
"""

import time

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels import compound
from tests.support import direct_recursion

PARTS, N_VALUES = 10_000, 256
MOST_SECONDS = 0.2
WANTED_ERROR, DOUBT = 1e-3, 0.05


def shop(rng):
    """Streams wide, plain and even; four known jobs; one to twelve pieces; no part near the end of the grid."""
    share = rng.beta(1, 3, PARTS)
    mean = rng.gamma(1.5, 6.0, PARTS).clip(0.1, 40)
    excess = rng.choice([0.0, 0.5, 1.0], PARTS)
    is_even = rng.random(PARTS) < 0.25
    excess[is_even] = -mean[is_even] / np.ceil(mean[is_even] * 2)
    known = rng.random((PARTS, 4)) * (rng.random((PARTS, 4)) < 0.5)
    sizes = rng.dirichlet(np.ones(12), PARTS) * np.exp(-np.arange(12) / 2)
    pieces = np.concatenate([np.zeros((PARTS, 1)), sizes / sizes.sum(axis=1, keepdims=True)], axis=1)
    return mean, excess, known, share, pieces


def seconds(work):
    """Processor seconds of the whole process, all its threads."""
    before = time.process_time()
    return work(), time.process_time() - before


@pytest.mark.bench
def test_ten_thousand_exact_distributions():
    mean, excess, known, share, pieces = shop(np.random.default_rng(20261129))
    runs = [seconds(lambda: compound.fixed_pmfs(mean, excess, known, share, pieces, N_VALUES)) for _ in range(5)]
    found, ours = runs[0][0], min(spent for _, spent in runs)
    wanted, theirs = seconds(lambda: direct_recursion.pieces_pmf(share, pieces, known, mean, excess, N_VALUES))
    error = np.abs(found - wanted).max()
    beyond = 1 - wanted.sum(axis=1).min()
    print(f"\n{PARTS:,} parts, {N_VALUES} values: {ours:.3f} s of processor (of five runs the shortest, "
          f"{', '.join(f'{spent:.3f}' for _, spent in runs)}), direct recursion {theirs:.2f} s; "
          f"largest difference {error:.1e}; at most {beyond:.1e} beyond the grid")
    assert_allclose(found, wanted, atol=1e-9, rtol=0)
    assert ours < MOST_SECONDS


@pytest.mark.bench
def test_what_a_simulation_would_need():
    # Dvoretzky, Kiefer & Wolfowitz (1956) with Massart's constant (1990): P(distance > d) <= 2 exp(-2 n d^2).
    draws = int(np.ceil(np.log(2 / DOUBT) / (2 * WANTED_ERROR**2)))
    rng = np.random.default_rng(20261130)
    mean, excess, known, share, pieces = (values[:1] for values in shop(rng))
    mean, excess = np.array([6.0]), np.array([0.5])

    def simulate():
        jobs = rng.poisson(rng.gamma(mean / excess, excess, draws))
        users = rng.binomial(jobs, share) + (rng.random((draws, known.size)) < known * share).sum(axis=1)
        return np.bincount(rng.multinomial(users, pieces[0, 1:]) @ np.arange(1, pieces.shape[1]), minlength=N_VALUES)

    seen, spent = seconds(simulate)
    exact = compound.fixed_pmfs(mean, excess, known, share, pieces, N_VALUES)[0]
    distance = np.abs(np.cumsum(seen[:N_VALUES] / draws) - np.cumsum(exact)).max()
    print(f"\n{draws:,} draws a part for {WANTED_ERROR:g} with 95 % certainty: {spent:.1f} s for one part, distance "
          f"{distance:.1e}; {spent * PARTS / 3600:,.1f} hours for {PARTS:,} parts")
    assert distance < WANTED_ERROR
