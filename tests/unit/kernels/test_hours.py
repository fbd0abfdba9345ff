import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.hours import (
    _VARIANCE_RATIOS,
    BORROWED_JOBS,
    _ratio_prior,
    contingency_hours,
    hours_fit,
    quote_bias,
)

KIND = np.array([0, 0, 0, 1, 1])


def _jobs(rng, per_group, between=0.3, within=0.35):
    centre = np.log(np.array([8.0, 8.0, 8.0, 40.0, 40.0])) + rng.normal(0, between, 5)
    group = np.repeat(np.arange(5), per_group)
    return np.exp(rng.normal(centre[group], within)), group, centre


def test_with_many_jobs_each_group_speaks_for_itself():
    hours, group, centre = _jobs(np.random.default_rng(0), 400)
    fit = hours_fit(hours, group, KIND)
    assert_allclose(fit.log_median, centre, atol=0.06)
    assert_allclose(fit.log_sd, 0.35, rtol=0.05)
    assert_allclose(fit.mean_hours, np.exp(centre + 0.35**2 / 2), rtol=0.08)
    assert_allclose(fit.quantile_hours(0.8), np.exp(centre + 0.8416 * 0.35), rtol=0.08)


def test_one_job_leans_on_its_kind():
    hours = np.array([8.0, 9.0, 7.5, 8.5, 8.2, 9.1, 7.7, 8.8, 30.0])
    fit = hours_fit(hours, np.array([0] * 4 + [1] * 4 + [2]), np.zeros(3, int))
    assert 8.5 < fit.median_hours[2] < 30
    assert fit.log_median_sd[2] > fit.log_median_sd[0]


def test_group_never_seen_answers_for_its_kind_and_says_so():
    hours, group, _ = _jobs(np.random.default_rng(1), 20)
    seen = group != 1
    fit = hours_fit(hours[seen], group[seen], KIND)
    assert fit.jobs_seen[1] == 0
    assert_allclose(fit.log_median[1], (fit.log_median[0] + fit.log_median[2]) / 2, atol=0.1)
    assert fit.log_median_sd[1] > fit.log_median_sd[[0, 2]].max()


def test_kind_never_seen_is_unknown():
    fit = hours_fit([8.0, 9.0, 7.0, 10.0], [0, 0, 1, 1], KIND)
    assert np.isnan(fit.median_hours[3:]).all()
    assert np.isfinite(fit.median_hours[:3]).all()


def test_groups_that_are_alike_pool_and_groups_that_differ_do_not():
    rng = np.random.default_rng(3)
    group = np.repeat(np.arange(8), 4)
    alike = np.exp(rng.normal(2.0, 0.4, 32))
    apart = alike * np.exp(np.linspace(-2, 2, 8))[group]
    centre = np.array([np.log(alike[group == g]).mean() for g in range(8)])
    pooled = hours_fit(alike, group, np.zeros(8, int))
    kept = hours_fit(apart, group, np.zeros(8, int))
    assert np.ptp(pooled.log_median) < 0.7 * np.ptp(centre)
    assert np.ptp(kept.log_median) > 0.9 * np.ptp(centre + np.linspace(-2, 2, 8))


def test_mean_lies_above_the_median_and_the_80_figure_above_both():
    hours, group, _ = _jobs(np.random.default_rng(4), 6)
    fit = hours_fit(hours, group, KIND)
    assert (fit.median_hours < fit.mean_hours).all()
    assert (fit.mean_hours < fit.quantile_hours(0.8)).all()
    assert (contingency_hours(fit.mean_hours, fit.quantile_hours(0.8)) > 0).all()


def test_80_percent_figure_holds_80_percent_of_new_jobs():
    rng = np.random.default_rng(5)
    held = []
    for _ in range(300):
        hours, group, centre = _jobs(rng, rng.integers(1, 9, 5))
        fit = hours_fit(hours, group, KIND)
        held.append(np.exp(rng.normal(centre, 0.35)) <= fit.quantile_hours(0.8))
    assert 0.77 < np.mean(held) < 0.84


def test_interval_of_the_median_covers_as_said():
    rng = np.random.default_rng(6)
    held = []
    for _ in range(300):
        hours, group, centre = _jobs(rng, rng.integers(1, 9, 5))
        low, high = hours_fit(hours, group, KIND).median_interval(0.8)
        held.append((low < np.exp(centre)) & (np.exp(centre) < high))
    assert 0.75 < np.mean(held) < 0.87


def test_order_of_jobs_does_not_matter():
    hours, group, _ = _jobs(np.random.default_rng(7), 5)
    order = np.random.default_rng(8).permutation(hours.size)
    assert_allclose(
        hours_fit(hours[order], group[order], KIND).log_median, hours_fit(hours, group, KIND).log_median
    )


def test_refuses_too_few_jobs():
    with pytest.raises(InvalidParameter, match="two more than kinds"):
        hours_fit([8.0, 9.0], [0, 3], KIND)


def test_refuses_hours_of_zero():
    with pytest.raises(InvalidParameter, match="hours"):
        hours_fit([8.0, 0.0, 9.0], [0, 0, 0], KIND)


def test_bias_is_hours_taken_per_hour_quoted():
    bias, low, high, jobs = quote_bias([12.0, 33.0], [10.0, 30.0])
    assert_allclose(bias, 45 / 40)
    assert low[0] < bias[0] < high[0]
    assert jobs[0] == 2


def test_bias_of_one_job_has_no_interval():
    bias, low, high, jobs = quote_bias([12.0], [10.0], n_groups=2)
    assert_allclose(bias, [1.2, np.nan])
    assert np.isnan([low[0], high[0]]).all()
    assert jobs.tolist() == [1, 0]


def test_bias_interval_covers_as_said():
    rng = np.random.default_rng(9)
    quoted = rng.lognormal(2.5, 0.6, (2000, 12))
    actual = quoted * rng.lognormal(np.log(1.15) - 0.3**2 / 2, 0.3, quoted.shape)
    group = np.repeat(np.arange(2000), 12)
    _, low, high, _ = quote_bias(actual.ravel(), quoted.ravel(), group)
    assert 0.75 < ((low < 1.15) & (1.15 < high)).mean() < 0.84


def test_refuses_a_quote_of_nothing():
    with pytest.raises(InvalidParameter, match="quoted_hours"):
        quote_bias([12.0], [0.0])


def test_each_kind_has_its_own_spread():
    rng = np.random.default_rng(10)
    group = np.repeat(np.arange(5), 60)
    spread = np.where(KIND[group] == 0, 0.5, 0.2)
    fit = hours_fit(np.exp(rng.normal(2.0, spread)), group, KIND)
    assert_allclose(fit.log_sd, [0.5, 0.5, 0.5, 0.2, 0.2], rtol=0.1)


def test_one_job_of_a_kind_borrows_the_spread_of_the_others():
    rng = np.random.default_rng(11)
    hours = np.append(np.exp(rng.normal(2.0, 0.3, 20)), 50.0)
    fit = hours_fit(hours, np.array([0] * 20 + [3]), KIND)
    assert_allclose(fit.log_median[3], np.log(50.0))
    assert_allclose(fit.log_sd[3], fit.log_sd[0], rtol=0.3)
    assert fit.quantile_hours(0.8)[3] > 50 * 1.2


def test_groups_of_one_job_each_still_have_a_spread():
    fit = hours_fit([8.0, 10.0, 9.0, 50.0], [0, 1, 2, 3], KIND)
    assert (fit.log_sd > 0).all()


def _one_kind_by_full_likelihood(log_hours, group, n_groups, common):
    """Centres of the groups of one kind by the textbook: whole covariance matrices, one variance ratio at a time."""
    joined = np.equal.outer(group, group).astype(float)
    ones = np.ones(group.size)
    spare = group.size - 1 + BORROWED_JOBS
    weights, centres = [], []
    for ratio, prior in zip(_VARIANCE_RATIOS, _ratio_prior(), strict=True):
        covariance = np.eye(group.size) + ratio * joined
        inverse = np.linalg.inv(covariance)
        information = ones @ inverse @ ones
        mean = ones @ inverse @ log_hours / information
        rest = log_hours - mean
        squares = rest @ inverse @ rest + BORROWED_JOBS * common
        log_weight = -(np.linalg.slogdet(covariance)[1] + np.log(information) + spare * np.log(squares)) / 2
        weights.append(log_weight + np.log(prior))
        blup = ratio * np.equal.outer(np.arange(n_groups), group) @ inverse @ rest
        centres.append(mean + blup)
    weights = np.exp(np.array(weights) - max(weights))
    return weights @ np.array(centres) / weights.sum()


@pytest.mark.parametrize("seed", range(4))
def test_equals_the_full_restricted_likelihood(seed):
    # Harville (1977): restricted likelihood and best linear unbiased prediction, with no shortcut by group
    rng = np.random.default_rng(seed)
    group = rng.integers(0, 4, 15)
    log_hours = rng.normal(2.0, 0.3, 15) + rng.normal(0, 0.4, 4)[group]
    seen, count = np.unique(group, return_counts=True)
    within = sum(((log_hours[group == g] - log_hours[group == g].mean()) ** 2).sum() for g in seen)
    common = within / (15 - seen.size)
    wanted = _one_kind_by_full_likelihood(log_hours, group, 4, common)
    found = hours_fit(np.exp(log_hours), group, np.zeros(4, int)).log_median
    assert_allclose(found[seen], wanted[seen], atol=1e-9)
