"""Laws the stock kernels obey for any input."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from pipeline.kernels import kit, landed_price, lead_time, loss, newsvendor, order_up_to, reorder_point

SETTINGS = settings(max_examples=60, deadline=None, derandomize=True)
rate = st.floats(0.05, 50)


@st.composite
def demands(draw, largest=8):
    weights = draw(st.lists(st.floats(0, 1), min_size=2, max_size=largest))
    weights[draw(st.integers(1, len(weights) - 1))] += 0.1  # some demand there is
    pmf = np.array(weights) + 1e-3 * (np.arange(len(weights)) == 0)
    return pmf / pmf.sum()


@SETTINGS
@given(demands(), st.integers(0, 30))
def test_short_less_left_is_demand_less_level(pmf, level):
    short, left = loss.discrete_loss(np.append(pmf, np.zeros(31)))
    assert_allclose(short[level] - left[level], pmf @ np.arange(len(pmf)) - level, atol=1e-12)


@SETTINGS
@given(demands(), rate, rate)
def test_level_cost_is_convex(pmf, holding, waiting):
    cost = loss.level_cost([pmf], [holding], [waiting], [-10], 40)[0]
    assert (np.diff(cost, 2) >= -1e-9 * cost.max()).all()


@SETTINGS
@given(demands(), rate, rate, st.floats(0, 100), st.integers(1, 4))
def test_scaling_every_cost_scales_the_cost_and_keeps_the_rule(pmf, holding, waiting, ordering, lead):
    window = pmf
    for _ in range(lead):
        window = np.convolve(window, pmf)
    one = order_up_to.best([pmf], [window], [holding], [waiting], [ordering])
    ten = order_up_to.best([pmf], [window], [10 * holding], [10 * waiting], [10 * ordering])
    assert_allclose(ten.cost, 10 * one.cost, rtol=1e-9)


@SETTINGS
@given(demands(), rate, rate, st.floats(0.01, 100))
def test_no_neighbour_of_the_best_rule_is_cheaper(pmf, holding, waiting, ordering):
    arguments = [pmf], [np.convolve(pmf, pmf)], [holding], [waiting], [ordering]
    rule = order_up_to.best(*arguments)
    for s_step in (-1, 0, 1):
        for top_step in (-1, 0, 1):
            s, top = rule.reorder_point_pcs + s_step, rule.order_up_to_pcs + top_step
            if top[0] > s[0]:
                assert order_up_to.rule_cost(*arguments, s, top)[0] >= rule.cost[0] * (1 - 1e-10)


@SETTINGS
@given(demands(), rate, rate, st.floats(0.01, 100), st.integers(1, 12))
def test_a_fixed_lot_never_beats_the_best_rule_of_all(pmf, holding, waiting, ordering, pack):
    # (s, S) is optimal among all rules (Scarf 1960, Veinott 1966), so packs can only cost more
    window = np.convolve(pmf, pmf)
    free = order_up_to.best([pmf], [window], [holding], [waiting], [ordering]).cost
    packed = reorder_point.best_in_packs([pmf], [window], [holding], [waiting], [ordering], [pack]).cost
    single = reorder_point.best_in_packs([pmf], [window], [holding], [waiting], [ordering], [1]).cost
    assert free <= single * (1 + 1e-10)
    assert single <= packed * (1 + 1e-10)


@SETTINGS
@given(demands(), st.integers(1, 20), st.integers(-5, 5))
def test_standing_shares_are_a_distribution(pmf, gap, s):
    shares = order_up_to.standing_shares([pmf], [s], [s + gap])
    assert_allclose(shares.sum(), 1)
    assert (shares >= 0).all()


@SETTINGS
@given(demands(), rate, rate, rate)
def test_dearer_waiting_never_lowers_the_level(pmf, over, under, more):
    low, _ = newsvendor.discrete([pmf], [over], [under])
    high, _ = newsvendor.discrete([pmf], [over], [under + more])
    assert high[0] >= low[0]


@SETTINGS
@given(st.integers(0, 2**32 - 1), st.integers(1, 6))
def test_more_on_the_shelf_never_readies_fewer_jobs(seed, n_parts):
    rng = np.random.default_rng(seed)
    shelf, need = rng.integers(-2, 4, (10, n_parts)), rng.integers(0, 4, (10, n_parts))
    fuller = shelf + rng.integers(0, 3, shelf.shape)
    assert (kit.ready_jobs(fuller, need) >= kit.ready_jobs(shelf, need)).all()


@SETTINGS
@given(st.lists(st.floats(0.5, 300), min_size=1, max_size=30), st.floats(1, 60), st.floats(0.5, 8))
def test_scaling_days_scales_the_lead_time_and_keeps_its_shape(days, quote, pseudo):
    is_open = np.arange(len(days)) % 4 == 3
    rows = np.zeros(len(days), int)
    one = lead_time.fit(days, is_open, rows, [quote], pseudo)
    week = lead_time.fit(np.array(days) * 7, is_open, rows, [quote * 7], pseudo)
    assert_allclose(week.mean_days, 7 * one.mean_days, rtol=1e-5)
    assert_allclose(week.shape, one.shape, rtol=1e-5)


LEAD_TIMES = st.lists(st.floats(0.5, 300), min_size=1, max_size=30), st.floats(1, 60), st.floats(0.5, 8)


@settings(SETTINGS, max_examples=15)
@given(*LEAD_TIMES)
def test_an_order_still_open_never_shortens_the_lead_time(days, quote, pseudo):
    _is_no_shorter_with_the_last_still_open(days, quote, pseudo)


@pytest.mark.slow
@SETTINGS
@given(*LEAD_TIMES)
def test_an_order_still_open_never_shortens_many_more_lead_times(days, quote, pseudo):
    _is_no_shorter_with_the_last_still_open(days, quote, pseudo)


def _is_no_shorter_with_the_last_still_open(days, quote, pseudo):
    rows, none_open = np.zeros(len(days), int), np.zeros(len(days), bool)
    closed = lead_time.fit(days, none_open, rows, [quote], pseudo).mean_days
    is_open = none_open.copy()
    is_open[-1] = True
    assert lead_time.fit(days, is_open, rows, [quote], pseudo).mean_days[0] >= closed[0] * (1 - 1e-6)


@SETTINGS
@given(st.integers(1, 300), st.integers(1, 50), st.floats(0.1, 40), st.lists(st.floats(0.5, 1), min_size=1, max_size=3))
def test_a_larger_want_never_costs_less_in_all(wanted, pack, price, cuts):
    from_packs = [1, *(4 ** (k + 1) for k in range(len(cuts)))]
    prices = price * np.cumprod([1, *cuts])
    both = landed_price.packs_needed([wanted, wanted + 1], [pack, pack])
    _, amount = landed_price.cheapest_packs(both, [from_packs] * 2, [prices] * 2)
    assert amount[1] >= amount[0] * (1 - 1e-12)
