"""Small orders worked out by hand, and what the program refuses."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import basket_program
from pipeline.kernels.basket_choices import Offers, Wants
from pipeline.kernels.basket_pruning import Vendors

BREAKS, PRICES = [[1.0], [1.0], [1.0]], [[10.0], [4.0], [5.0]]


def wants(**changes):
    """Part 0 is due, four pieces; of part 1 five may come early."""
    made = Wants(np.array([4, 5]), np.array([6.0, 5.0]), np.array([0.5, 0.1]), np.array([2.0, np.inf]),
                 np.array([1.0, 0.0]), np.array([True, False]))
    return replace(made, **changes)


def offers(**changes):
    """Vendor 0 sells both at 10 and 4, vendor 1 part 1 at 5."""
    made = Offers(np.array([0, 1, 1]), np.array([0, 0, 1]), np.array([1, 1, 1]), np.array(BREAKS), np.array(PRICES),
                  np.zeros(3), np.zeros(3), np.zeros(3))
    return replace(made, **changes)


def vendors(minimum=0.0, freight=9.0, free_over=np.inf, own=2.0):
    return Vendors(np.array([minimum, 0.0]), np.array([freight, 0.0]), np.array([free_over, np.inf]),
                   np.array([own, own]))


def test_what_is_due_is_bought_with_freight_and_own_time():
    found = basket_program.solve(wants(), offers(), vendors())
    assert_array_equal(found.packs, [4, 0, 0])
    assert found.amount == pytest.approx(40 + 9 + 2)
    assert found.gap_amount == pytest.approx(0)


def test_a_threshold_is_met_by_what_costs_least_to_have_early():
    # 12 to go: three of part 1 at 0.1 each, or two of part 0 at 0.5 each
    found = basket_program.solve(wants(), offers(), vendors(free_over=52.0))
    assert_array_equal(found.packs, [4, 3, 0])
    assert_array_equal(found.least_packs, [4, 1, 0])  # the two added to it fill the order
    assert found.early_amount.sum() == pytest.approx(0.3)
    assert found.amount == pytest.approx(40 + 2 + 0.3)


def test_pieces_beyond_the_next_order_are_held_longer():
    # part 0 alone: the two pieces of the next order at 0.5 each, the third at 1.5
    alone = wants(is_due=np.array([True, False]), early_amount=np.array([0.5, 50.0]))
    found = basket_program.solve(alone, offers(), vendors(free_over=70.0))
    assert_array_equal(found.packs, [7, 0, 0])
    assert found.amount == pytest.approx(40 + 2 + 2.5)


def test_a_threshold_dearer_to_reach_than_its_freight_is_left():
    found = basket_program.solve(wants(early_amount=np.array([9.5, 9.5])), offers(), vendors(free_over=52.0))
    assert_array_equal(found.packs, [4, 0, 0])


def test_a_minimum_is_met_whatever_it_costs_and_out_of_reach_nothing_is_bought():
    found = basket_program.solve(wants(early_amount=np.array([50.0, 50.0])), offers(), vendors(minimum=44.0))
    assert_array_equal(found.packs, [4, 1, 0])
    # ten of part 0 and five of part 1 are all that is of use
    beyond = basket_program.solve(wants(), offers(), vendors(minimum=120.01))
    assert_array_equal(beyond.packs, [0, 0, 0])
    assert_array_equal(beyond.is_reachable, [False, True])
    assert beyond.reach_amount[0] == 120
    assert basket_program.solve(wants(), offers(), vendors(minimum=120.0)).packs.tolist() == [10, 5, 0]


def test_a_threshold_below_the_minimum_is_never_paid_for():
    found = basket_program.solve(wants(), offers(), vendors(minimum=40.0, free_over=20.0))
    assert found.amount == pytest.approx(42)


def test_nothing_due_buys_nothing():
    found = basket_program.solve(wants(is_due=np.array([False, False])), offers(), vendors())
    assert not found.packs.any() and found.amount == 0 and found.n_choices == 0


def test_no_offer_buys_nothing():
    none = Offers(*(np.empty(0, dtype=int) for _ in range(3)), np.empty((0, 1)), np.empty((0, 1)),
                  *(np.empty(0) for _ in range(3)))
    assert basket_program.solve(wants(), none, vendors()).amount == 0


@pytest.mark.parametrize(("changes", "said"), [
    ({"pack_pcs": np.array([0, 1, 1])}, "pack_pcs is 0"),
    ({"pack_prices": np.array([[0.0], [4.0], [5.0]])}, "pack_prices is 0"),
    ({"reject_share": np.array([1.0, 0.0, 0.0])}, "reject_share is 1"),
    ({"wait_amount": np.array([-1.0, 0.0, 0.0])}, "wait_amount is -1"),
    ({"part": np.array([0, 1, 2])}, "part of an offer is outside 0 to 1"),
    ({"vendor": np.array([0, 0, 5])}, "vendor of an offer is outside 0 to 1"),
])
def test_an_impossible_offer_is_refused(changes, said):
    with pytest.raises(InvalidParameter, match=said):
        basket_program.solve(wants(), offers(**changes), vendors())


@pytest.mark.parametrize(("changes", "said"), [
    ({"minimum": -1.0}, "minimum_amount is -1"), ({"freight": np.nan}, "freight_amount is nan"),
    ({"free_over": np.nan}, "free_over_amount is missing"), ({"own": np.inf}, "own_amount is inf")])
def test_impossible_terms_are_refused(changes, said):
    with pytest.raises(InvalidParameter, match=said):
        basket_program.solve(wants(), offers(), vendors(**changes))


def test_a_want_of_nothing_is_refused():
    with pytest.raises(InvalidParameter, match="wanted_pcs is 0"):
        basket_program.solve(wants(wanted_pcs=np.array([0, 5])), offers(), vendors())
