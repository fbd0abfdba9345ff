import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import landed_price


def test_packs_are_whole_and_cover_the_want():
    rng = np.random.default_rng(40)
    wanted, pack = rng.integers(0, 500, 1000), rng.integers(1, 120, 1000)
    packs = landed_price.packs_needed(wanted, pack)
    assert (packs * pack >= wanted).all() and ((packs - 1) * pack < np.maximum(wanted, 1)).all()


def test_rejects_are_provided_for_in_quantity():
    # 20 wanted at 20 % rejects: 25 bought, 5 of them expected to be useless
    assert landed_price.packs_needed([20], [1], [0.2])[0] == 25


def test_price_is_that_of_the_largest_break_reached_in_any_order():
    from_packs, prices = [[25, 1, 5, np.inf]] * 4, [[6.0, 7.5, 6.4, np.nan]] * 4
    assert_array_equal(landed_price.pack_price([1, 5, 24, 30], from_packs, prices), [7.5, 6.4, 6.4, 6.0])


def test_below_the_least_quantity_there_is_no_price():
    assert np.isnan(landed_price.pack_price([3], [[10]], [[2.0]])[0])
    packs, amount = landed_price.cheapest_packs([3], [[10]], [[2.0]])
    assert (packs[0], amount[0]) == (10, 20.0)


def test_cheapest_outlay_equals_trying_every_larger_number():
    rng = np.random.default_rng(41)
    for _ in range(200):
        from_packs = np.sort(rng.choice(np.arange(2, 40), 3, replace=False)).astype(float)
        from_packs[0] = 1
        prices = 10 * np.cumprod(rng.uniform(0.6, 1.0, 3))
        need = int(rng.integers(1, 40))
        trials = np.arange(need, 80)
        amounts = trials * landed_price.pack_price(trials, [from_packs] * len(trials), [prices] * len(trials))
        packs, amount = landed_price.cheapest_packs([need], [from_packs], [prices])
        assert_allclose(amount[0], amounts.min())
        assert packs[0] >= need


def test_landed_price_by_hand():
    # 6 wanted, packs of 4 at 10.00: 2 packs, 20.00 goods; freight 15 % 3.00; 8 pieces x 0.25 h x 32 = 64.00
    packs, goods, total, each = landed_price.landed([6], [4], [[1]], [[10.0]], [0.15], [0.0], [0.25], 32.0)
    assert (packs[0], goods[0], total[0], each[0]) == (2, 20.0, 87.0, 87.0 / 8)


def test_a_cheap_offer_with_fitting_hours_loses_to_a_dear_one_that_fits():
    # a moulded reproduction part needs fitting time (common practice, no source)
    _, goods, _, each = landed_price.landed(
        [2, 2], [1, 1], [[1], [1]], [[6.0], [9.0]], [0.0, 0.0], [0.0, 0.0], [0.25, 0.0], 32.0
    )
    assert goods[0] < goods[1] and each[0] > each[1]


def test_rejects_raise_the_price_of_a_usable_piece():
    _, _, _, each = landed_price.landed([10, 10], [1, 1], [[1]] * 2, [[5.0]] * 2, [0.0] * 2, [0.0, 0.2], [0.0] * 2, 0.0)
    assert_allclose(each, [5.0, 6.5 / 1.04])  # 13 bought, 10.4 usable


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"pack_pcs": [0]}, "pack_pcs is 0"),
        ({"pack_prices": [[0.0]]}, "pack_prices is 0"),
        ({"wanted_pcs": [0]}, "wanted_pcs is 0"),
        ({"reject_share": [1.0]}, "offer of rejects only"),
        ({"freight_share": [-0.1]}, "freight_share is -0.1"),
        ({"from_packs": [[1, 5]]}, "one column per price break"),
    ],
)
def test_offers_out_of_range_are_refused(change, said):
    offer = {
        "wanted_pcs": [1],
        "pack_pcs": [1],
        "from_packs": [[1]],
        "pack_prices": [[2.0]],
        "freight_share": [0.0],
        "reject_share": [0.0],
        "fit_hours": [0.0],
        "labour_cost": 30.0,
    }
    with pytest.raises(InvalidParameter, match=said):
        landed_price.landed(**(offer | change))
