"""The regression for use shares: against dense algebra, brute-force quadrature and known truth; degenerate input."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats
from scipy.special import expit, logit

from pipeline.errors import InvalidParameter
from pipeline.kernels import use_share
from pipeline.kernels.use_share import Cells


def made_cells(n_parts=6, n_families=3, n_scopes=2):
    """Every part in every family and scope; factors part and family; slopes: an intercept a scope, a covariate."""
    part, family, scope = (index.ravel() for index in np.indices((n_parts, n_families, n_scopes)))
    price = np.linspace(-1, 1, n_parts)[part]
    return Cells(part * n_scopes + scope, (part, family), np.column_stack([np.eye(n_scopes)[scope], price]))


def one_cell():
    return Cells(np.zeros(1, int), (), np.ones((1, 1)))


def test_a_settled_belief_solves_the_dense_equations():
    # All effects kept: eta = [slopes, factors, pools, own deviations] @ effects, prior and working likelihood normal.
    cells, rng = made_cells(), np.random.default_rng(3)
    n = cells.pool.size
    seen = rng.integers(0, 9, n).astype(float)
    used = rng.binomial(seen.astype(int), 0.4).astype(float)
    spread = np.array([0.5, 0.2, 0.3, 0.1])
    found = use_share.given_spread(used, seen, cells, spread)
    blocks = [cells.slopes, *(np.eye(group.max() + 1)[group] for group in (*cells.factors, cells.pool)), np.eye(n)]
    x = np.hstack(blocks)
    prior = np.repeat([use_share.SLOPE_VARIANCE, *spread], [block.shape[1] for block in blocks])
    points, weights = np.polynomial.hermite_e.hermegauss(40)
    share = expit(found.logit_mean[:, None] + np.sqrt(found.logit_variance)[:, None] * points)
    weights = weights / weights.sum()
    weight = seen * ((share * (1 - share)) @ weights)
    overall = logit((used.sum() + 1) / (seen.sum() + 4))
    towards = weight * (found.logit_mean - overall) + used - seen * (share @ weights)
    covariance = np.linalg.inv(x.T @ (weight[:, None] * x) + np.diag(1 / prior))
    assert_allclose(found.logit_mean, overall + x @ covariance @ x.T @ towards, atol=2e-3)
    assert_allclose(found.logit_variance, np.einsum("ij,jk,ik->i", x, covariance, x), rtol=2e-3)


@pytest.mark.parametrize(("used", "seen"), [(0, 6), (1, 6), (6, 6), (15, 30)])
def test_one_cell_beside_brute_force_quadrature(used, seen):
    spread = np.array([0.3, 0.2])  # of its pool and of its own
    found = use_share.given_spread([used], [seen], one_cell(), spread)
    overall = logit((used + 1) / (seen + 4))
    at = np.linspace(-25, 25, 20_001)
    log = stats.binom(seen, expit(at)).logpmf(used) + stats.norm(overall, np.sqrt(4.5)).logpdf(at)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    mean = weight @ at
    sd = np.sqrt(weight @ (at - mean) ** 2)
    # A normal belief beside a skewed one: the mean within a twentieth of its doubt, the doubt within a tenth.
    assert abs(found.logit_mean[0] - mean) < sd / 20
    assert_allclose(np.sqrt(found.logit_variance[0]), sd, rtol=0.1)
    # Its own jobs taken out again, the belief before stands there.
    assert_allclose(found.other_mean, overall, atol=0.05)
    assert_allclose(found.other_variance, 4.5, rtol=0.02)


def simulated(rng, n_parts=60, n_families=5, n_scopes=3, jobs=12):
    cells = made_cells(n_parts, n_families, n_scopes)
    part, family = cells.factors
    effects = [rng.normal(0, sd, size)[index] for sd, size, index in (
        (1.2, n_parts, part), (0.5, n_families, family), (0.6, cells.pool.max() + 1, cells.pool),
        (0.4, part.size, np.arange(part.size)))]
    share = expit(cells.slopes @ [-2.0, -0.5, 0.7, 0.5] + sum(effects))
    seen = rng.integers(0, 2 * jobs, share.size).astype(float)
    return cells, share, rng.binomial(seen.astype(int), share).astype(float), seen


def test_spread_of_each_kind_of_effect_is_recovered():
    cells, _, used, seen = simulated(np.random.default_rng(8), n_parts=150)
    found = np.sqrt(use_share.fit(used, seen, cells).spread)
    assert_allclose(found[[0, 2, 3]], [1.2, 0.6, 0.4], atol=0.15)  # of five families little can be said


def test_ninety_per_cent_intervals_hold_ninety_per_cent_and_beat_raw_shares():
    cells, share, used, seen = simulated(np.random.default_rng(9))
    found = use_share.fit(used, seen, cells)
    alpha, beta = use_share.beta_belief(found.other_mean, found.other_variance)
    belief = stats.beta(alpha + used, beta + seen - used)
    held = (belief.ppf(0.05) <= share) & (share <= belief.ppf(0.95))
    assert 0.87 <= held.mean() <= 0.93
    raw = np.where(seen > 0, used / np.maximum(seen, 1), used.sum() / seen.sum())
    assert np.abs(belief.mean() - share).mean() < 0.7 * np.abs(raw - share).mean()


def test_a_cells_own_jobs_hardly_move_what_the_others_say_of_it():
    cells, _, used, seen = simulated(np.random.default_rng(10), n_parts=20)
    spread = np.array([1.4, 0.25, 0.36, 0.16])
    cell = int(np.argmax(seen))
    said = []
    for own in (0.0, seen[cell] / 2, seen[cell]):
        used[cell] = own
        found = use_share.given_spread(used, seen, cells, spread)
        said.append((found.other_mean[cell], found.other_variance[cell], found.logit_mean[cell]))
    others, variances, all_told = np.array(said).T
    assert np.ptp(others) < 0.3 * np.sqrt(variances.min()) < np.ptp(all_told) / 5


@pytest.mark.parametrize(("used", "seen"), [([1], [1]), ([0], [0]), ([40] * 3, [40] * 3), ([0] * 3, [40] * 3)])
def test_little_or_one_sided_records_give_a_finite_sensible_answer(used, seen):
    n = len(used)
    found = use_share.fit(used, seen, Cells(np.arange(n), (np.zeros(n, int),), np.ones((n, 1))))
    alpha, beta = use_share.beta_belief(found.other_mean, found.other_variance)
    share = (alpha + used) / (alpha + beta + seen)
    assert np.isfinite([alpha, beta]).all() and (alpha > 0).all() and (beta > 0).all()
    raw = (np.array(used) + 1) / (np.array(seen) + 4)  # about where a cautious guess lies
    assert (np.abs(share - raw) < 0.3).all()


def test_no_cells_no_answer():
    found = use_share.fit([], [], Cells(np.empty(0, int), (), np.empty((0, 1))))
    assert found.logit_mean.size == 0


def test_beta_belief_has_the_moments_of_the_logit_normal():
    draws = expit(np.random.default_rng(1).normal(-1.0, 0.8, 1_000_000))
    alpha, beta = use_share.beta_belief([-1.0], [0.64])
    belief = stats.beta(alpha[0], beta[0])
    assert_allclose([belief.mean(), belief.var()], [draws.mean(), draws.var()], rtol=5e-3)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: use_share.fit([2], [1], one_cell()), "jobs_seen - jobs_with_use"),
        (lambda: use_share.fit([-1], [1], one_cell()), "jobs_with_use"),
        (lambda: use_share.fit([1, 1], [1, 1], one_cell()), "slopes has shape"),
        (lambda: use_share.fit([1], [1], Cells(np.zeros(1, int), (), np.array([[np.nan]]))), "slopes has shape"),
        (lambda: use_share.fit([1], [1], Cells(np.zeros(2, int), (), np.ones((1, 1)))), "group has 2 values"),
        (lambda: use_share.given_spread([1], [1], one_cell(), [0.1, 0.0]), "spread"),
        (lambda: use_share.beta_belief([0.0], [0.0]), "logit_variance"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
