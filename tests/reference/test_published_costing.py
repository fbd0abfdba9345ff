"""Costing against published numbers. Letters as in test_published_lifetimes: Q, P, M, D."""

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.kernels.cost_layers import fifo
from pipeline.kernels.group_intervals import margin_for_markup, markup_for_margin, median_interval
from pipeline.kernels.landed_cost import landed_cents, share_by_value
from pipeline.kernels.variances import efficiency_variance, price_variance, quantity_variance, rate_variance


def test_colonial_pewter_variances():
    # A-C1 [M]: Garrison, Noreen & Brewer, Managerial Accounting: 2,000 units; standard 3.0 lb at 4 and
    # half an hour at 22, variable overhead half an hour at 6; actual 6,500 lb at 3.80, 1,050 h at 21.60,
    # variable overhead 7,140 in all. Positive = unfavourable.
    assert_allclose(price_variance(6500, 3.80, 4.00), -1300)
    assert_allclose(quantity_variance(6500, 2000 * 3.0, 4.00), 2000)
    assert_allclose(rate_variance(1050, 21.60, 22.00), -420)
    assert_allclose(efficiency_variance(1050, 2000 * 0.5, 22.00), 1100)
    assert_allclose(rate_variance(1050, 7140 / 1050, 6.00), 840)
    assert_allclose(efficiency_variance(1050, 2000 * 0.5, 6.00), 300)


def test_fifo_layers_of_the_textbook_shop():
    # A-C3 [M; confirmed by a double-entry ledger's first-in-first-out booking]: OpenStax, Principles of
    # Financial Accounting, ch. 10. Bought 150 at 21, 225 at 27, 210 at 33; sold 120 at 36, 180 at 39.
    # By hand: 150 x 21 + 150 x 27 = 7,200 sold; 75 x 27 + 210 x 33 = 8,955 left; 11,340 - 7,200 = 4,140.
    pcs, price = np.array([150, 225, 210]), np.array([21, 27, 33])
    costs = fifo([0, 0, 0], [1, 2, 3], pcs, pcs * price * 100, [0, 0], [4, 5], [120, 180], [np.nan])
    assert (pcs.sum(), (pcs * price).sum()) == (585, 16_155)
    assert costs.cents.sum() == 7_200_00
    assert costs.layer_left_cents.sum() == 8_955_00
    assert 120 * 36 + 180 * 39 - costs.cents.sum() / 100 == 4_140


def test_landed_cost_cents_go_to_the_largest_remainders():
    # A-C5 [D]: IAS 2 Inventories, paragraphs 10-11: purchase price + duties + transport - trade discounts.
    # Lines 120.00, 45.50, 34.50; freight 38.40 + duty 17.33 - discount 10.00 = 45.73 to share by value.
    # By hand: 2743.8, 1040.36, 788.84; whole cents 2743 + 1040 + 788 = 4571; two left for .84 and .80.
    extra = [3840 + 1733 - 1000]
    assert_array_equal(share_by_value(extra, [12000, 4550, 3450]), [2744, 1040, 789])
    assert landed_cents([12000, 4550, 3450], extra).sum() == 20000 + 4573


def test_median_interval_of_four_caps_at_87_and_a_half_percent():
    # David & Nagaraja (2003), Order Statistics, section 7.1 [D]: the interval from smallest to largest of n
    # misses the median only if all n fall on one side: 1 - 2 x (1/2)^n; n = 4: 0.875; n = 6: 0.96875.
    for count, printed in ((2, 0.5), (4, 0.875), (5, 0.9375), (6, 0.96875)):
        assert_allclose(median_interval(np.arange(count), level=0.97)[3], printed)


def test_median_interval_of_ten_uses_the_second_and_ninth():
    # Conover, Practical Nonparametric Statistics, table A3 [M]: n = 10, 95 %: second and ninth value,
    # coverage 0.9785.
    _, low, high, coverage_share, _ = median_interval(np.arange(1, 11), level=0.95)
    assert (low[0], high[0]) == (2, 9)
    assert_allclose(coverage_share, 0.9785, atol=5e-5)


def test_markup_beside_margin():
    # Arithmetic of the definitions, [D]: margin 30 % needs markup 42.9 %, 40 % needs 66.7 %, 50 % needs 100 %;
    # markup 25 % is margin 20 %, 50 % is 33.3 %, 100 % is 50 %.
    assert_allclose(markup_for_margin([0.30, 0.40, 0.50]), [0.429, 0.667, 1.0], atol=5e-4)
    assert_allclose(margin_for_markup([0.25, 0.50, 1.00]), [0.2, 1 / 3, 0.5])
