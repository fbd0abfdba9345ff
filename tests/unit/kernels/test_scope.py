import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.scope import (
    break_even_failures,
    callback_amount,
    callback_share,
    companion_pieces,
    expected_callbacks,
    failures_avoided,
    opened_assemblies,
    piece_amount,
)


def test_everything_inside_one_assembly_opens_it_once():
    assert_allclose(opened_assemblies([1, 1, 4], [1, 1, 4], [0, 0, 0], [1]), [1])


def test_nothing_replaced_opens_nothing():
    assert_allclose(opened_assemblies([0, 0], [1, 3], [0, 1], [1, 3]), [0, 0])


def test_half_the_pieces_of_two_single_part_mechanisms_open_one():
    assert_allclose(opened_assemblies([1.0], [2], [0], [2]), [1.0])


def test_independent_pieces_open_by_the_chance_that_any_is_touched():
    # one mechanism, two parts, each replaced in half of the jobs: 1 - 1/2 x 1/2
    assert_allclose(opened_assemblies([0.5, 0.5], [1, 1], [0, 0], [1]), [0.75])


def test_opening_equals_simulation_where_pieces_are_independent():
    rng = np.random.default_rng(0)
    touched = (rng.random((100_000, 3, 4)) < 0.1).any(axis=2) | (rng.random((100_000, 3)) < 0.2)
    assert_allclose(opened_assemblies([1.2, 0.6], [12, 3], [0, 0], [3]), touched.sum(1).mean(), atol=0.01)


def test_unknown_holding_counts_what_is_replaced():
    assert_allclose(opened_assemblies([2.0], [0.0], [0], [1]), [1.0])


RULES = {"target": np.array([1]), "share": np.array([1.0]), "qty_pcs": np.array([1.0]), "per": np.array([0])}
FIRST = (np.array([0]), np.array([0]))


def test_a_new_coil_brings_a_new_sleeve_unless_it_is_replaced_anyway():
    assert_allclose(companion_pieces([3, 0], [4, 4], FIRST, [0, 0], [4], RULES), [0, 3])
    assert_allclose(companion_pieces([3, 2], [4, 4], FIRST, [0, 0], [4], RULES), [0, 1])
    assert_allclose(companion_pieces([3, 4], [4, 4], FIRST, [0, 0], [4], RULES), [0, 0])


def test_never_more_companions_than_the_machine_holds():
    rules = {**RULES, "qty_pcs": np.array([5.0])}
    assert_allclose(companion_pieces([3, 0], [4, 4], FIRST, [0, 0], [4], rules), [0, 4])


def test_unknown_holding_is_no_limit():
    rules = {**RULES, "qty_pcs": np.array([5.0])}
    assert_allclose(companion_pieces([3, 0], [4, 0], FIRST, [0, 0], [4], rules), [0, 15])


@pytest.mark.parametrize(("per", "wanted"), [(0, 6.0), (1, 2.0), (2, 1.0)])
def test_per_piece_per_assembly_per_machine(per, wanted):
    # six targets of two banks replaced
    rules = {**RULES, "per": np.array([per])}
    assert_allclose(companion_pieces([6, 0], [6, 0], FIRST, [0, 0], [2], rules)[1], wanted)


def test_share_says_how_often():
    rules = {**RULES, "share": np.array([0.25])}
    assert_allclose(companion_pieces([4, 0], [4, 4], FIRST, [0, 0], [4], rules), [0, 1])


def test_companions_of_nothing_are_nothing():
    assert_allclose(companion_pieces([0, 0], [4, 4], FIRST, [0, 0], [4], RULES), [0, 0])


def test_refuses_a_share_in_percent():
    with pytest.raises(InvalidParameter, match="share"):
        companion_pieces([4, 0], [4, 4], FIRST, [0, 0], [4], {**RULES, "share": np.array([25.0])})


def test_rejects_are_paid_for_by_the_good_pieces():
    assert_allclose(piece_amount(8.0, 0.0, 0.0, 50.0, reject_share=0.2), 10.0)


def test_fitting_time_is_paid_for():
    assert_allclose(piece_amount(20.0, 0.1, 0.5, 50.0) - piece_amount(20.0, 0.1, 0.0, 50.0), 25.0)


def test_unknown_price_is_an_unknown_cost():
    assert np.isnan(piece_amount(np.nan, 0.1, 0.0, 50.0))
    assert np.isnan(break_even_failures(np.nan, 100.0))


def test_refuses_a_vendor_who_sends_only_rejects():
    with pytest.raises(InvalidParameter, match="reject_share"):
        piece_amount(8.0, 0.0, 0.0, 50.0, reject_share=1.0)


def test_later_costs_the_installed_hours_the_opening_and_the_visit():
    # piece 10 + 0.5 h x 40 = 30 now; later 0.5 h x 3 installed + 1 h to open, 40 an hour, visit 90
    now = piece_amount(10.0, 0.5, 0.0, 40.0)
    later = callback_amount(now, 0.5, 3.0, 1.0, 40.0, 90.0)
    assert_allclose([now, later], [30.0, 10 + 1.5 * 40 + 40 + 90])


def test_break_even_of_free_call_backs_is_never():
    assert np.isinf(break_even_failures(5.0, 0.0))


def test_lives_without_memory_avoid_nothing():
    assert_allclose(failures_avoided([3, 5], [0.2, 0.4], [0.2, 0.4]), 0)


def test_expected_call_backs_of_kept_and_replaced():
    assert_allclose(expected_callbacks([1, 0], [4, 2], [[0.1, 0.5]], [[0.01, 0.02]]), [[0.31, 1.0]])


def test_more_replaced_than_held_counts_what_is_replaced():
    assert_allclose(expected_callbacks([5], [4], [0.1], [0.01]), [0.05])


def test_chance_of_a_call_back_equals_simulation():
    # five pieces, each replaced in two machines of five; new ones outlast the horizon with 0.97, kept ones with 0.9
    rng = np.random.default_rng(1)
    survival = np.where(rng.random((200_000, 5)) < 0.4, 0.97, 0.9)
    trouble = (rng.random((200_000, 5)) > survival).any(1) | (rng.poisson(0.2, 200_000) > 0)
    assert_allclose(callback_share([2], [5], [0.9], [0.97], 0.2), trouble.mean(), atol=0.005)


def test_all_or_nothing_replaced_is_exact():
    assert_allclose(callback_share([0, 3], [2, 3], [0.9, 0.5], [1.0, 0.99], 0.0), 1 - 0.9**2 * 0.99**3)


def test_a_piece_sure_to_fail_is_a_sure_call_back():
    assert_allclose(callback_share([0], [1], [0.0], [1.0], 0.0), 1.0)


def test_draws_run_along_the_first_axis():
    found = callback_share([1, 0], [2, 2], np.full((7, 2), 0.9), np.full((7, 2), 0.99), np.zeros(7))
    assert found.shape == (7,)
