"""Every way to buy a part, counted by hand."""

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.kernels import basket_choices
from pipeline.kernels.basket_choices import Offers, Wants


def laid_out(wanted, packs, prices, rejects=None, breaks=None, is_due=True, useful=0.0):
    """Wants and options of one part offered by as many vendors as packs."""
    n_offers = len(packs)
    wants = Wants(np.array([wanted]), np.array([useful]), np.array([0.1]), np.array([2.0]), np.array([1.0]),
                  np.array([is_due]))
    offers = Offers(
        np.zeros(n_offers, dtype=int), np.arange(n_offers), np.array(packs),
        np.array(breaks or [[1.0]] * n_offers), np.array(prices, dtype=float).reshape(n_offers, -1),
        np.array(rejects or [0.0] * n_offers), np.zeros(n_offers), np.zeros(n_offers))
    return wants, basket_choices.options(wants, offers)


def ways(*asked, **more):
    wants, laid = laid_out(*asked, **more)
    return basket_choices.choices(wants, laid, basket_choices.piece_amounts(wants, laid))


def test_one_offer_is_bought_alone_in_whole_packs():
    found = ways(12, [10], [20.0])
    assert_array_equal(found.packs, [[2, 0]])
    assert_array_equal(found.option, [[0, -1]])
    # 40, eight pieces too many: 0.1 each, 1 more for the six beyond the next order of two; nothing saved, none of use
    assert_allclose(found.amount, 40 + 0.8 + 6)


def test_pieces_of_use_save_their_later_purchase_at_the_cheapest():
    assert_allclose(ways(12, [10], [20.0], useful=8.0).amount, 40 + 0.8 + 6 - 8 * 2)


def test_a_split_leaves_out_nothing_and_buys_no_pack_too_many():
    # 7 of fives and single ones: 2 fives, 7 singles, or one five and two singles
    found = ways(7, [5, 1], [5.0, 2.0])
    bought = {tuple(sorted(zip(option, packs, strict=True)))
              for option, packs in zip(found.option.tolist(), found.packs.tolist(), strict=True)}
    assert bought == {((-1, 0), (0, 2)), ((-1, 0), (1, 7)), ((0, 1), (1, 2))}


def test_of_two_single_offers_every_division_is_tried():
    assert len(ways(7, [1, 1], [5.0, 2.0]).part) == 2 + 6


def test_what_is_not_due_comes_from_one_offer():
    found = ways(7, [5, 1], [5.0, 2.0], is_due=False, useful=7.0)
    assert_array_equal(found.packs, [[1, 0], [1, 0]])


def test_expected_rejects_are_provided_for():
    # a fifth rejected: 15 of 12; a pack of five counts for four
    wants, laid = laid_out(12, [5, 1], [5.0, 2.0], rejects=[0.2, 0.01])
    assert_allclose(laid.good_pcs, [4, 1])
    assert_array_equal(laid.alone_packs, [3, 12])


def test_breaks_hold_from_their_packs_to_the_next():
    _, laid = laid_out(12, [1], [2.0, 1.5, 1.0], breaks=[[1.0, 10.0, 40.0]], useful=20.0)
    assert_array_equal(laid.low_packs, [1, 10, 40])
    assert_array_equal(laid.high_packs, [9, 32, 40])  # 12 and 20 of use; the last only as a least outlay


def test_the_cheapest_price_is_one_that_pieces_of_use_reach():
    wants, laid = laid_out(12, [1], [2.0, 1.5, 1.0], breaks=[[1.0, 10.0, 40.0]], useful=20.0)
    assert_allclose(basket_choices.piece_amounts(wants, laid), 1.5)


def test_a_large_need_is_divided_in_even_steps():
    found = ways(4000, [1, 1], [1.0, 1.1])
    assert len(found.part) == 2 + basket_choices.MOST_STEPS
    assert {1, 3999} <= set(found.packs[2:].ravel().tolist())
