"""What is left out before the program is solved, and what must never be."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from pipeline.kernels import basket_choices, basket_program, basket_pruning
from pipeline.kernels.basket_choices import Offers, Wants
from pipeline.kernels.basket_pruning import Vendors
from tests.support import basket_enumeration


def shop(prices, minimum=(0.0, 0.0), free_over=(np.inf, np.inf), wanted=(4, 4)):
    """Part 0 from both vendors at ``prices``, part 1 from vendor 1 alone at 3; freight is 9, an order's own time 1."""
    wants = Wants(np.array(wanted), np.zeros(2), np.full(2, 0.1), np.full(2, 2.0), np.zeros(2), np.array([True, True]))
    offers = Offers(np.array([0, 0, 1]), np.array([0, 1, 1]), np.ones(3, dtype=int), np.ones((3, 1)),
                    np.array([[prices[0]], [prices[1]], [3.0]]), np.zeros(3), np.zeros(3), np.zeros(3))
    return wants, offers, Vendors(np.array(minimum), np.full(2, 9.0), np.array(free_over), np.ones(2))


def pruned(wants, offers, vendors):
    laid = basket_choices.options(wants, offers)
    ways = basket_choices.choices(wants, laid, basket_choices.piece_amounts(wants, laid))
    return basket_pruning.without_needless(wants, laid, ways, basket_pruning.effective(
        vendors, basket_pruning.goods_in_reach(wants, laid, 2)))


def test_a_vendor_that_must_be_ordered_from_is_known():
    _, known = pruned(*shop((3.0, 5.0)))
    assert_array_equal(known.is_opened, [False, True])


def test_a_dearer_vendor_is_left_out_though_the_cheaper_is_new():
    # 4 x 6 at a vendor ordered from anyway, or 4 x 3 and 10 for one more order: 22 against 24
    ways, _ = pruned(*shop((3.0, 6.0)))
    assert len(ways.part) == 2
    # 4 x 5: nearer than the new order costs, both stay
    assert len(pruned(*shop((3.0, 5.0)))[0].part) > 2


def test_nobody_leaves_a_vendor_whose_minimum_is_open():
    ways, _ = pruned(*shop((3.0, 6.0), minimum=(0.0, 20.0)))
    assert len(ways.part) > 2


def test_terms_met_in_any_case_bind_nothing():
    _, known = pruned(*shop((3.0, 5.0), minimum=(0.0, 12.0), free_over=(np.inf, 12.0)))
    assert not known.is_open_ended.any()
    assert known.vendors.freight_amount[1] == 0


def test_a_threshold_out_of_reach_binds_nothing_and_its_freight_stays():
    _, known = pruned(*shop((3.0, 5.0), free_over=(np.inf, 500.0)))
    assert not known.is_open_ended.any()
    assert known.vendors.freight_amount[1] == 9


@pytest.mark.parametrize("seed", range(40))
def test_leaving_out_changes_nothing(seed, monkeypatch):
    asked = basket_enumeration.random_shop(1000 + seed)
    lean = basket_program.solve(*asked, gap_share=0.0)
    monkeypatch.setattr(basket_pruning, "_is_beaten", lambda wants, laid, ways, known: np.zeros(len(ways.part), bool))
    monkeypatch.setattr(basket_pruning, "_is_idle", lambda wants, laid, ways, known: np.zeros(len(ways.part), bool))
    full = basket_program.solve(*asked, gap_share=0.0)
    assert lean.amount == pytest.approx(full.amount, abs=1e-6)
    assert lean.n_choices <= full.n_choices
