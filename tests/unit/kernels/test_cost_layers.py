import numpy as np
import pytest
from numpy.testing import assert_array_equal

from pipeline.errors import InvalidParameter, SparebenchError
from pipeline.kernels import cost_layers
from pipeline.kernels.cost_layers import NEVER_CAME, fifo

NOTHING = np.zeros(0, dtype=int)


def test_oldest_first_and_the_last_piece_takes_the_remainder():
    # 3 pieces for 100 cents, taken one at a time: 33, 34, 33 (33.3, 66.7, 100 rounded, differences)
    costs = fifo([0], [1], [3], [100], [0, 0, 0], [2, 3, 4], [1, 1, 1], [np.nan])
    assert_array_equal(costs.cents, [33, 34, 33])
    assert costs.layer_left_cents.sum() == 0


def test_an_issue_over_two_layers_is_two_rows():
    costs = fifo([0, 0], [1, 2], [2, 5], [200, 1000], [0], [3], [4], [np.nan])
    assert_array_equal(costs.layer, [0, 1])
    assert_array_equal(costs.pcs, [2, 2])
    assert_array_equal(costs.cents, [200, 400])
    assert_array_equal(costs.layer_left_pcs, [0, 3])


def test_parts_do_not_mix():
    costs = fifo([1, 0], [1, 1], [1, 1], [10, 99], [0, 1], [2, 2], [1, 1], [np.nan, np.nan])
    assert_array_equal(costs.issue, [0, 1])
    assert_array_equal(costs.layer, [1, 0])
    assert_array_equal(costs.cents, [99, 10])


def test_rows_may_come_in_any_order():
    costs = fifo([0, 0], [9, 1], [1, 1], [50, 20], [0, 0], [10, 5], [1, 1], [np.nan])
    by_issue = dict(zip(costs.issue.tolist(), costs.cents.tolist(), strict=True))
    assert by_issue == {1: 20, 0: 50}


def test_what_comes_in_on_the_day_is_there_for_that_day():
    costs = fifo([0], [5], [1], [70], [0], [5], [1], [10.0])
    assert not costs.is_provisional[0]
    assert costs.cents[0] == 70


def test_use_before_cover_is_provisional_until_the_next_receipt_settles_it():
    # one piece at 20 in, two used on day 3: the second is booked at 20; day 9 brings 2 pieces at 35 each
    costs = fifo([0, 0], [1, 9], [1, 2], [20, 70], [0], [3], [2], [np.nan])
    assert_array_equal(costs.is_provisional, [False, True])
    assert_array_equal(costs.booked_cents, [20, 20])
    assert_array_equal(costs.cents, [20, 35])
    assert_array_equal(costs.layer_left_pcs, [0, 1])


def test_use_never_covered_stays_at_the_newest_known_cost():
    costs = fifo([0], [1], [2], [50], [0], [3], [5], [np.nan])
    assert_array_equal(costs.layer, [0, NEVER_CAME])
    assert_array_equal(costs.pcs, [2, 3])
    assert_array_equal(costs.cents, [50, 75])
    assert costs.is_known.all()


def test_use_before_any_receipt_falls_back_on_the_remembered_cost():
    costs = fifo(NOTHING, NOTHING, NOTHING, NOTHING, [0], [3], [3], [12.5])
    assert_array_equal(costs.cents, [38])  # 37.5 rounded half up
    assert costs.is_provisional.all()


def test_a_cost_nobody_knows_is_marked_and_not_a_zero():
    costs = fifo(NOTHING, NOTHING, NOTHING, NOTHING, [0], [3], [3], [np.nan])
    assert not costs.is_known[0]


def test_a_part_that_costs_nothing_is_known_to():
    costs = fifo([0], [1], [2], [0], [0], [3], [1], [np.nan])
    assert costs.is_known[0]
    assert costs.cents[0] == 0


def test_another_parts_layer_is_not_the_newest_known_cost():
    costs = fifo([0], [1], [2], [50], [1], [3], [1], [np.nan, np.nan])
    assert not costs.is_known[0]


def test_no_issues_leaves_everything_on_the_shelf():
    costs = fifo([0, 1], [1, 1], [2, 3], [50, 60], NOTHING, NOTHING, NOTHING, [np.nan, np.nan])
    assert_array_equal(costs.layer_left_pcs, [2, 3])
    assert_array_equal(costs.layer_left_cents, [50, 60])


def test_days_may_be_negative():
    costs = fifo([0, 0], [-9, -3], [1, 1], [10, 30], [0], [-5], [1], [np.nan])
    assert not costs.is_provisional[0]
    assert costs.cents[0] == 10


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        ({"layer_pcs": [0]}, "layer_pcs"),
        ({"issue_pcs": [-1]}, "issue_pcs"),
        ({"layer_cents": [-5]}, "layer_cents"),
        ({"issue_part": [7]}, "group"),
        ({"layer_cents": [1, 2]}, "one each"),
        ({"issue_day": [1, 2]}, "one each"),
    ],
)
def test_refuses_impossible_rows(change, wanted):
    rows = {
        "layer_part": [0],
        "layer_day": [1],
        "layer_pcs": [2],
        "layer_cents": [50],
        "issue_part": [0],
        "issue_day": [2],
        "issue_pcs": [1],
        "fallback_cents": [np.nan],
    }
    with pytest.raises(InvalidParameter, match=wanted):
        fifo(**{**rows, **change})


def test_a_ledger_that_does_not_balance_is_refused(monkeypatch):
    # a fault planted in the reckoning: the last stretch of pieces goes missing
    whole = cost_layers._intersect
    monkeypatch.setattr(
        cost_layers, "_intersect", lambda *streams: tuple(rows[:-1] for rows in whole(*streams))
    )
    with pytest.raises(SparebenchError, match="does not balance"):
        fifo([0], [1], [3], [101], [0, 0], [2, 3], [1, 1], [np.nan])
