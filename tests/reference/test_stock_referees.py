"""Stock kernels against general-purpose libraries: linear programs, censored fits, filters and quadrature of scipy."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.optimize import Bounds, LinearConstraint, linprog, milp, minimize_scalar
from scipy.signal import lfilter
from scipy.stats import CensoredData, gamma, nbinom, norm, poisson

from pipeline.kernels import (
    kit,
    landed_price,
    lead_time,
    loss,
    newsvendor,
    order_up_to,
    price_breaks,
    renewals,
    reorder_point,
)


def cheapest_of_all_policies(pmf, lead_pmf, holding, waiting, ordering, sizes, lowest=-14, highest=30):
    """Least average cost over every stationary policy: the linear program of the Markov decision process.

    States are levels before ordering, actions whole orders out of ``sizes``; the dual of Puterman (1994), Markov
    Decision Processes, section 8.8. Levels are cut off where no sensible policy goes.
    """
    levels = np.arange(lowest, highest + 1)
    pairs = [(i, size) for i in range(len(levels)) for size in sizes if levels[i] + size <= highest]
    standing = loss.level_cost([lead_pmf], [holding], [waiting], [lowest], len(levels))[0]
    cost = np.array([standing[i + size] + (ordering if size else 0.0) for i, size in pairs])
    balance = np.zeros((len(levels) + 1, len(pairs)))
    for column, (i, size) in enumerate(pairs):
        balance[i, column] += 1
        for taken, chance in enumerate(pmf):
            balance[max(i + size - taken, 0), column] -= chance
        balance[-1, column] = 1
    wanted = np.append(np.zeros(len(levels)), 1.0)
    return linprog(cost, A_eq=balance, b_eq=wanted, method="highs").fun


@pytest.mark.parametrize("seed", range(8))
def test_no_policy_of_any_form_is_cheaper_than_the_best_order_up_to_rule(seed):
    rng = np.random.default_rng(seed)
    pmf = rng.dirichlet(np.full(4, 0.8))
    lead_pmf = np.convolve(pmf, pmf) if seed % 2 else pmf
    holding, waiting, ordering = rng.uniform(0.3, 1.5), rng.uniform(3, 15), rng.uniform(0, 12)
    found = order_up_to.best([pmf], [lead_pmf], [holding], [waiting], [ordering]).cost[0]
    assert_allclose(found, cheapest_of_all_policies(pmf, lead_pmf, holding, waiting, ordering, range(31)), rtol=1e-7)


@pytest.mark.parametrize("pack", [2, 3, 5])
def test_packs_cost_at_least_what_the_best_policy_in_packs_costs_and_little_more(pack):
    # (r, nQ) with a fixed lot is not optimal among all policies in packs; how far it is off is bounded here
    rng = np.random.default_rng(pack)
    for _ in range(4):
        pmf = rng.dirichlet(np.full(4, 0.8))
        costs = rng.uniform(0.3, 1.5), rng.uniform(3, 15), rng.uniform(1, 12)
        rule = reorder_point.best_in_packs([pmf], [pmf], *([c] for c in costs), [pack])
        least = cheapest_of_all_policies(pmf, pmf, *costs, range(0, 31, pack))
        assert least <= rule.cost[0] * (1 + 1e-9)
        assert rule.cost[0] < 1.15 * least


def test_unit_demand_rules_agree_with_periodic_ones_as_periods_shrink():
    # Poisson demand looked at every 1/200 of a year is nearly continuous: (s, S) tends to (r, Q) with S - s = Q
    periods, rate, lead = 200, 6.0, 0.5
    week = poisson.pmf(np.arange(12), rate / periods)
    window = poisson.pmf(np.arange(60), rate * lead + rate / periods)
    periodic = order_up_to.best([week], [window], [2.0 / periods], [40.0 / periods], [5.0])
    continuous = reorder_point.best([rate], [poisson.pmf(np.arange(60), rate * lead)], [2.0], [40.0], [5.0])
    assert_allclose(periodic.cost * periods, continuous.cost, rtol=0.02)
    assert abs(periodic.reorder_point_pcs[0] - continuous.reorder_point_pcs[0]) <= 1
    assert abs(periodic.order_up_to_pcs[0] - periodic.reorder_point_pcs[0] - continuous.order_pcs[0]) <= 1


def test_renewal_numbers_are_the_impulse_response_of_a_filter():
    # scipy.signal.lfilter divides power series: 1 / (1 - p(0) - p(1) z - ...)
    rng = np.random.default_rng(60)
    for pmf in rng.dirichlet(np.full(8, 0.5), size=20):
        impulse = np.zeros(200)
        impulse[0] = 1
        response = lfilter([1.0], np.append(1 - pmf[0], -pmf[1:]), impulse)
        assert_allclose(renewals.renewal_numbers([pmf], 200)[0], response, rtol=1e-8)


@pytest.mark.parametrize("seed", range(6))
def test_censored_lead_times_agree_with_the_librarys_censored_fit(seed):
    rng = np.random.default_rng(seed)
    takes, age = rng.gamma(2.5, 5.0, 80), rng.uniform(2, 60, 80)
    is_open = takes > age
    data = CensoredData(uncensored=takes[~is_open], right=age[is_open])
    shape, _, scale = gamma.fit(data, floc=0)
    mine = lead_time.fit(np.minimum(takes, age), is_open, np.zeros(80, int), [np.nan], 0)
    assert_allclose([mine.shape[0], mine.mean_days[0]], [shape, shape * scale], rtol=3e-3)


def test_lead_time_quantiles_and_likelihood_agree_with_the_library():
    fitted = lead_time.LeadTime(np.array([12.0, 30.0]), np.array([2.0, 6.0]))
    law = [gamma(2.0, scale=6.0), gamma(6.0, scale=5.0)]
    assert_allclose(
        lead_time.quantile_days(fitted, [0.1, 0.5, 0.9]), [each.ppf([0.1, 0.5, 0.9]) for each in law], rtol=1e-9
    )
    days, is_open, vendor = np.array([5.0, 40.0, 28.0]), np.array([False, True, False]), np.array([0, 0, 1])
    expected = [law[0].logpdf(5.0) + law[0].logsf(40.0), law[1].logpdf(28.0)]
    assert_allclose(lead_time.log_likelihood(fitted, days, is_open, vendor), expected, rtol=1e-10)


@pytest.mark.parametrize("law", [poisson(0.3), poisson(11.0), nbinom(0.4, 0.1), nbinom(6, 0.5)])
def test_loss_of_any_discrete_demand_agrees_with_the_librarys_expectation(law):
    grid = np.arange(400)
    short, left = loss.discrete_loss(law.pmf(grid))
    for level in (0, 1, 3, 8, 20):
        assert_allclose(short[level], law.expect(lambda d, y=level: np.maximum(d - y, 0)), rtol=1e-6, atol=1e-9)
        assert_allclose(left[level], law.expect(lambda d, y=level: np.maximum(y - d, 0)), rtol=1e-6, atol=1e-9)


def test_normal_newsvendor_agrees_with_quadrature():
    mean, sd, over, under = 40.0, 7.0, 1.2, 9.0
    level, cost = newsvendor.normal(mean, sd, over, under)
    law = norm(mean, sd)
    assert_allclose(law.cdf(level), under / (over + under))
    held = quad(lambda d: (level - d) * law.pdf(d), mean - 12 * sd, level, epsabs=1e-12)[0]
    short = quad(lambda d: (d - level) * law.pdf(d), level, mean + 12 * sd, epsabs=1e-12)[0]
    assert_allclose(cost, over * held + under * short, rtol=1e-9)


def test_cheapest_packs_agree_with_an_integer_program():
    # one break is chosen, packs at its price and at least its minimum: scipy's HiGHS decides which
    rng = np.random.default_rng(61)
    for _ in range(25):
        from_packs = np.array([1.0, *np.sort(rng.choice(np.arange(2, 30), 2, replace=False))])
        prices = 10 * np.cumprod(rng.uniform(0.6, 1.0, 3))
        need = int(rng.integers(1, 30))
        # variables: packs at each price, then which price is used
        rows = [np.r_[np.ones(3), np.zeros(3)], np.r_[np.zeros(3), np.ones(3)]]
        low, high = [need, 1], [np.inf, 1]
        for k in range(3):
            unit = np.zeros(6)
            unit[k], unit[3 + k] = 1, -from_packs[k]
            rows.append(unit)
            low.append(0), high.append(np.inf)
            cap = np.zeros(6)
            cap[k], cap[3 + k] = 1, -100
            rows.append(cap)
            low.append(-np.inf), high.append(0)
        program = milp(
            np.r_[prices, np.zeros(3)],
            constraints=LinearConstraint(np.array(rows), low, high),
            integrality=np.ones(6),
            bounds=Bounds(np.zeros(6), np.r_[np.full(3, 100), np.ones(3)]),
        )
        _, amount = landed_price.cheapest_packs([need], [from_packs], [prices])
        assert_allclose(amount[0], program.fun, rtol=1e-7)


def test_quantity_discounts_agree_with_a_bounded_search_of_each_range():
    def cost(q, demand, ordering, share, price):
        return price * demand + ordering * demand / q + share * price * q / 2

    rng = np.random.default_rng(62)
    for _ in range(25):
        demand, ordering, share = rng.uniform(50, 900), rng.uniform(2, 40), rng.uniform(0.1, 0.4)
        from_pcs = np.array([1.0, *np.sort(rng.uniform(20, 300, 2))])
        prices = rng.uniform(1, 9) * np.array([1.0, 0.93, 0.85])
        least = np.inf
        for k, edge in enumerate(np.append(from_pcs[1:], 4000.0)):
            item = demand, ordering, share, prices[k]
            found = minimize_scalar(cost, (from_pcs[k], edge), (from_pcs[k], edge), item, "bounded")
            least = min(least, found.fun, cost(from_pcs[k], *item))
        _, mine = price_breaks.all_units([demand], [ordering], [share], [from_pcs], [prices])
        assert_allclose(mine[0], least, rtol=1e-8)


def test_the_best_kit_agrees_with_an_integer_program_in_logarithms():
    # for a given completion the cheapest kit is a knapsack; sweeping the completion brackets the optimum from above
    need, holding, penalty = np.array([0.3, 0.2, 0.15, 0.1]), np.array([0.5, 0.4, 0.9, 0.6]), 6.0
    gain = -np.log(1 - need)
    least = np.inf
    for wanted in np.linspace(0, gain.sum(), 200):
        program = milp(
            holding,
            constraints=LinearConstraint(gain[None], wanted - 1e-9, np.inf),
            integrality=np.ones(4),
            bounds=Bounds(0, 1),
        )
        ready = np.exp(-(gain * (1 - program.x.round())).sum())
        least = min(least, program.fun + penalty * (1 - ready))
    assert_allclose(kit.best_kit(need, holding, penalty)[1], least, rtol=1e-9)


def test_standing_shares_are_the_stationary_distribution_of_the_levels():
    # left eigenvector of the transition matrix, by the general eigenvalue routine
    rng = np.random.default_rng(63)
    for _ in range(10):
        pmf, s, top = rng.dirichlet(np.full(5, 0.7)), 2, 9
        size = top - s
        step = np.zeros((size, size))
        for i in range(size):
            for taken, chance in enumerate(pmf):
                step[i, i + taken if i + taken < size else 0] += chance
        values, vectors = np.linalg.eig(step.T)
        stationary = np.real(vectors[:, np.argmax(np.real(values))])
        assert_allclose(
            order_up_to.standing_shares([pmf], [s], [top])[0], stationary / stationary.sum(), rtol=1e-7, atol=1e-12
        )
