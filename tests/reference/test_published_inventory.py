"""Published inventory numbers. Letter after each source: where the printed figure was seen.

Q read on the cited page; P shipped inside an open package's instances; M recalled from the cited book, then reproduced
to every printed digit; D derived from the cited theorem and checked by independent computations.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import nbinom, norm, poisson

from pipeline.kernels import (
    kit,
    loss,
    lot_size,
    newsvendor,
    order_up_to,
    price_breaks,
    reorder_point,
    reorder_point_normal,
)

# Snyder & Shen (2019), Fundamentals of Supply Chain Theory, 2nd ed., is "S&S" below.


def whole(distribution, top):
    """Probabilities of 0 to top of a scipy distribution; what lies beyond is far below rounding here."""
    return distribution.pmf(np.arange(top + 1))


def test_economic_order_quantity_of_example_3_1():
    # S&S example 3.1 [P]. By hand: sqrt(2 x 8 x 1300 / 0.225) = sqrt(92444.4) = 304.047.
    quantity, cost = lot_size.economic_order(1300, 8, 0.225)
    assert_allclose([quantity, cost], [304.0467800, 68.4105255], rtol=1e-8)


def test_economic_order_with_backorders_of_example_3_8():
    # S&S example 3.8 [P]. By hand: owed share 0.225 / 5.225 = 0.04306.
    result = lot_size.economic_order_with_waiting(1300, 8, 0.225, 5)
    assert_allclose(result, [310.8125552, 0.0430622, 66.9213636], rtol=1e-6)


def test_all_units_discount_of_example_3_5():
    # S&S example 3.5 [P]. By hand at 800: 0.68 x 1300 + 8 x 1300 / 800 + 0.3 x 0.68 x 400 = 884 + 13 + 81.6.
    quantity, cost = price_breaks.all_units([1300], [8], [0.3], [[0, 400, 800]], [[0.75, 0.72, 0.68]])
    assert_allclose([quantity[0], cost[0]], [800, 978.60], rtol=1e-12)


def test_incremental_discount_of_example_3_5():
    # S&S example 3.5 [P].
    quantity, cost = price_breaks.incremental([1300], [8], [0.3], [[0, 400, 800]], [[0.75, 0.72, 0.68]])
    assert_allclose([quantity[0], cost[0]], [304.04678, 1043.41052551], rtol=1e-8)


def test_newsvendor_of_example_4_1():
    # S&S example 4.1 [P]; the cost at 40 is printed as 7.3561314, exact arithmetic gives 7.35613155.
    level, cost = newsvendor.normal(50, 8, 0.18, 0.70)
    assert_allclose([level, cost], [56.6039559, 1.9976052], rtol=1e-7)
    assert_allclose(newsvendor.normal_cost(40, 50, 8, 0.18, 0.70), 7.3561314, rtol=5e-8)


def test_newsvendor_with_lead_time_of_example_4_4():
    # S&S example 4.4 [P]: lead time 4, so five periods count: N(250, 8 sqrt 5).
    level, cost = newsvendor.normal(250, 8 * 5**0.5, 0.18, 0.70)
    assert_allclose([level, cost], [264.7668944, 4.4667810], rtol=1e-7)


@pytest.mark.parametrize(
    ("mean", "over", "under", "level", "cost"),
    [(6, 1, 4, 8, 3.5701069), (18, 200, 270, 19, 786.0884409)],
    ids=["example_4_7", "problem_4_8a"],
)
def test_discrete_newsvendor(mean, over, under, level, cost):
    # S&S example 4.7 and problem 4.8a [P], Poisson demand.
    found_level, found_cost = newsvendor.discrete([whole(poisson(mean), 200)], [over], [under])
    assert found_level[0] == level
    assert_allclose(found_cost[0], cost, rtol=1e-7)


class TestReorderPointWithNormalDemand:
    """S&S example 5.1 [P]: holding 0.225, waiting 7.5, ordering 8, 1300 a year with sd 150, lead time a month."""

    lead = {"lead_mean_pcs": 1300 / 12, "lead_sd_pcs": 150 / 12**0.5}
    rates = {"holding": 0.225, "waiting": 7.5}

    def test_cost_of_a_given_rule(self):
        cost = reorder_point_normal.cost(126.8, 328.5, 1300, **self.lead, **self.rates, ordering=8)
        assert_allclose(cost, 78.0711625, rtol=1e-8)

    def test_reorder_point_for_a_given_quantity(self):
        # Printed 129.4272799; a root finder run to full precision gives 129.4272797.
        r = reorder_point_normal.best_reorder_point(300, **self.lead, **self.rates)
        assert_allclose(r, 129.4272799, rtol=1e-8)

    def test_quantity_from_the_economic_order_with_backorders(self):
        quantity, _, _ = lot_size.economic_order_with_waiting(1300, 8, 0.225, 7.5)
        r = reorder_point_normal.best_reorder_point(quantity, **self.lead, **self.rates)
        assert_allclose([r, quantity], [128.6378144, 308.5737801], rtol=1e-8)

    def test_economic_order_with_safety_stock(self):
        quantity, _ = lot_size.economic_order(1300, 8, 0.225)
        r, _ = newsvendor.normal(self.lead["lead_mean_pcs"], self.lead["lead_sd_pcs"], 0.225, 7.5)
        assert_allclose([r, quantity], [190.3369966, 304.0467800], rtol=1e-8)

    def test_expected_level_approximation(self):
        result = reorder_point_normal.per_piece_short(1300, **self.lead, holding=0.225, shortage=7.5, ordering=8)
        assert_allclose(result, [213.970442, 318.590181, 95.451140], rtol=1e-8)

    def test_exact_optimum(self):
        r, quantity, _ = reorder_point_normal.best(1300, **self.lead, **self.rates, ordering=8)
        assert_allclose([r, quantity], [126.867, 328.449], atol=5e-4)


def test_exact_reorder_point_of_example_5_8():
    # S&S example 5.8 [P], method of Federgruen & Zheng (1992): Poisson 1.5 a year, lead time 2 years.
    rule = reorder_point.best([1.5], [whole(poisson(3), 60)], [20], [150], [100])
    assert (rule.reorder_point_pcs[0], rule.order_pcs[0]) == (3, 5)
    assert_allclose(rule.cost[0], 107.9235806, rtol=1e-9)


def test_exact_order_up_to_rule_of_example_4_7():
    # S&S example 4.7 with a fixed cost of 5 [P], method of Zheng & Federgruen (1991).
    demand = [whole(poisson(6), 80)]
    rule = order_up_to.best(demand, demand, [1], [4], [5])
    assert (rule.reorder_point_pcs[0], rule.order_up_to_pcs[0]) == (4, 10)
    assert_allclose(rule.cost[0], 8.0341116, rtol=1e-8)


def test_speaker_orders_of_hillier_and_lieberman():
    # Hillier & Lieberman, Introduction to Operations Research, inventory chapter; figures as on the help pages of
    # the CRAN package SCperf 1.1.1 [Q]. Demand is per month: 25,298 pieces last 3.2 months.
    quantity, cost = lot_size.economic_order(8000, 12000, 0.3)
    assert round(float(quantity)) == 25298
    assert round(float(quantity) / 8000, 1) == 3.2
    assert_allclose(cost, 7589.5, atol=0.05)


def test_speaker_orders_with_planned_shortages():
    # The same source [Q], shortage cost 1.1.
    quantity, owed_share, cost = lot_size.economic_order_with_waiting(8000, 12000, 0.3, 1.1)
    assert round(float(quantity)) == 28540
    assert round(float(quantity * owed_share)) == 6116
    assert_allclose(cost, 6727.3, atol=0.05)


@pytest.mark.parametrize(
    ("sd", "level", "uncertainty", "profit", "fill"),
    [(20, 113.49, 25.42, 274.58, 0.97), (30, 120.23, 38.13, 261.87, 0.96)],
    ids=["Gallego", "Porteus"],
)
def test_newsvendor_profit(sd, level, uncertainty, profit, fill):
    # Price 4, cost 1, N(100, sd): lecture notes of Gallego and chapter of Porteus, as in SCperf 1.1.1 [Q].
    found, cost = newsvendor.normal(100, sd, 1, 3)
    short = sd * loss.normal_loss((found - 100) / sd)
    assert_allclose([found, cost, 3 * 100 - cost], [level, uncertainty, profit], atol=0.0051)
    assert_allclose(loss.fill_rate(short, 100), fill, atol=0.005)


def test_fill_rate_of_chopra_and_meindl():
    # Chopra & Meindl, Supply Chain Management, safety inventory [M]: weekly N(2500, 500), lead time 2 weeks, 10,000 an
    # order, safety stock 1000. By hand: sd 500 sqrt 2 = 707.1, z = 1.414.
    sd = 500 * 2**0.5
    short = sd * loss.normal_loss(1000 / sd)
    assert round(float(norm.cdf(1000 / sd)), 2) == 0.92
    assert round(float(short)) == 25
    assert_allclose(loss.fill_rate(short, 10_000), 0.9975, atol=5e-5)


def test_safety_stock_for_a_fill_rate_of_97_5_percent():
    # The same source [M]: 67 pieces of safety stock.
    sd = 500 * 2**0.5
    assert_allclose(loss.fill_rate(sd * loss.normal_loss(67 / sd), 10_000), 0.975, atol=5e-5)


def test_reorder_level_of_nahmias():
    # Nahmias, Production and Operations Analysis, (Q, R) example [M; (111, 143) medium].
    r, quantity, _ = reorder_point_normal.per_piece_short(200, 100, 25, 2, 25, 50)
    assert (round(float(quantity)), round(float(r))) == (111, 143)
    type_one, _ = newsvendor.normal(100, 25, 0.02, 0.98)
    assert round(float(type_one)) == 151


def test_all_units_discount_of_nahmias():
    # Nahmias, all-units discount [M]: costs at 400, 500 and 1000 pieces; order 500.
    breaks, prices = [[1, 500, 1000]], [[0.30, 0.29, 0.28]]
    costs = price_breaks.all_units_cost([[400, 500, 1000]], [600], [8], [0.2], breaks, prices)
    assert_allclose(costs, [[204.00, 198.10, 200.80]], atol=5e-3)
    assert price_breaks.all_units([600], [8], [0.2], breaks, prices)[0][0] == 500


def test_standard_normal_loss_table():
    # G(1.3) [P]; table values G(0), G(1), G(2) as printed in most textbooks [M].
    assert_allclose(loss.normal_loss(1.3), 0.0455279621, rtol=1e-9)
    assert_allclose(loss.normal_loss([0, 1, 2]), [0.3989, 0.0833, 0.0085], atol=5e-5)


def test_poisson_loss():
    # Loss functions of the S&S code's documentation [P]: mean 15 at level 18; short less left = 15 - 18.
    short, left = loss.discrete_loss(whole(poisson(15), 120))
    assert_allclose([short[18], left[18]], [0.5176095, 3.5176095], atol=5e-8)


def test_negative_binomial_loss():
    # The same source [P]: r = 4, p = 0.2, level 14; short less left = 16 - 14.
    short, left = loss.discrete_loss(whole(nbinom(4, 0.2), 400))
    assert_allclose([short[14], left[14]], [4.4473046, 2.4473046], atol=5e-8)


def test_repair_kit():
    # Model of Smith, Chambers & Shlifer (1980) and Mamer & Smith (1982); numbers enumerated [D].
    need, holding = [0.30, 0.20, 0.15, 0.10, 0.05, 0.02], [0.5, 0.4, 0.9, 0.6, 0.5, 0.3]
    is_carried, cost, ready = kit.best_kit(need, holding, 6)
    assert is_carried.tolist() == [True, True, False, False, False, False]
    assert_allclose([cost, ready], [2.62671, 0.712215], atol=5e-6)
    nothing = kit.best_kit(need, [100.0] * 6, 6)  # too dear to carry: the empty kit
    assert not nothing[0].any()
    assert_allclose(nothing[1], 3.606958, atol=5e-7)
    everything = kit.best_kit(need, holding, 1e6)  # too dear to be without: the full kit
    assert everything[0].all()
    assert_allclose(everything[1:], [3.2, 1])


def test_job_completion_and_piece_fill():
    # Job completion against piece fill [D]: stocks 2, 1 and 3. By hand: 0.95 x 1 x 0.95 = 0.9025.
    needs = [[0.5, 0.3, 0.15, 0.05, 0.0], [0.7, 0.3, 0.0, 0.0, 0.0], [0.2, 0.3, 0.3, 0.15, 0.05]]
    assert_allclose(kit.independent_ready_share([2, 1, 3], needs), 0.9025)
    shares, pooled = kit.piece_fill_shares([2, 1, 3], needs)
    assert_allclose(shares, [0.933333, 1, 0.967742], atol=5e-7)
    assert_allclose(pooled, 0.961538, atol=5e-7)


def test_twenty_parts_at_98_percent_complete_two_jobs_in_three():
    # 0.98^20 = 0.6676 [D].
    assert_allclose(kit.independent_ready_share([0] * 20, [[0.98, 0.02]] * 20), 0.6676, atol=5e-5)
