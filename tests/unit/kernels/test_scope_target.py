"""Targets by hand, at the edges, with equal lines by the dozen, and by the solver where lists grow too long."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels import scope_lists, scope_target
from pipeline.kernels.scope_hull import hull
from pipeline.kernels.scope_items import Items, items
from pipeline.kernels.scope_program import solved
from pipeline.kernels.scope_target import cheapest
from tests.support import scope_enumeration


def equal_lines(n, amount=3.0, gain=0.001):
    """As many lines of one kind in one assembly of 10, each kept or replaced."""
    group = np.repeat(np.arange(n), 2)
    second = np.tile([False, True], n)
    return Items(group, amount * second, -0.0025 + gain * second, second[:, None], np.array([10.0]), np.zeros(1),
                 None, None)


def test_the_least_number_of_equal_lines_is_taken():
    # 40 lines at 0.0025; each replaced one gains 0.001. Wanted: 0.1 - 0.0175, so 18 of them.
    found = cheapest(equal_lines(40), [-0.1, -0.0825, -0.06, -0.0599])
    assert found.amount.tolist() == [0.0, 10 + 18 * 3, 10 + 40 * 3, 10 + 40 * 3]
    assert found.is_reached.tolist() == [True, True, True, False]


def test_a_target_read_off_a_scope_is_reached_by_it():
    machine = items(*scope_enumeration.machine(3, 40, 6, 6))
    scopes = hull(machine)
    found = cheapest(machine, scopes.log_quiet)
    assert found.is_reached.all()
    assert_allclose(found.amount, scopes.amount, rtol=1e-12)
    assert found.taken.tolist() == scopes.taken.tolist()


def test_a_target_within_the_tolerance_is_reached_and_one_beyond_is_not():
    machine = equal_lines(2)
    quietest = hull(machine).log_quiet[-1]
    assert cheapest(machine, [quietest + 0.5e-12, quietest + 2e-12]).is_reached.tolist() == [True, False]


def test_no_target_gives_no_scope():
    assert cheapest(equal_lines(2), []).amount.shape == (0,)


def test_targets_without_end_are_the_ends():
    found = cheapest(equal_lines(3), [-np.inf, np.inf])
    assert found.amount.tolist() == [0.0, 19.0] and found.is_reached.tolist() == [True, False]


@pytest.mark.parametrize("target", [[np.nan], [[-0.1]]])
def test_targets_that_cannot_be_are_refused(target):
    with pytest.raises(InvalidParameter, match="least_log_quiet"):
        cheapest(equal_lines(2), target)


@pytest.mark.parametrize("seed", range(3))
def test_the_solver_takes_over_where_lists_grow_too_long_and_finds_the_same(monkeypatch, seed):
    machine = items(*scope_enumeration.machine(seed, 30, 5, 4))
    asked = np.linspace(*hull(machine).log_quiet[[0, -1]], 7)[1:-1]
    calls = []

    def counted(*arguments):
        calls.append(arguments)
        return solved(*arguments)

    by_lists = cheapest(machine, asked)
    monkeypatch.setattr(scope_target, "solved", counted)
    monkeypatch.setattr(scope_lists, "MOST_ROWS", 1)
    by_solver = cheapest(machine, asked)
    assert len(calls) > 0
    assert_allclose(by_solver.amount, by_lists.amount, rtol=1e-9)
    assert (by_solver.log_quiet >= asked - 1.01e-12).all()


def test_the_solver_keeps_the_fallback_where_nothing_kept_reaches_the_target():
    machine = equal_lines(2)
    assert solved(machine, np.array([True, False, True, False]), -0.004, np.array([1, 3])).tolist() == [1, 3]


def test_lists_drop_what_is_dearer_and_no_quieter_and_what_is_out_of_the_limit():
    amount, quiet = np.array([0.0, 1.0, 2.0, 50.0]), np.array([-0.4, -0.5, -0.3, -0.2])
    rows = np.arange(4)[:, None]
    assert scope_lists.listed(amount, quiet, rows, 10.0, np.inf).rows[:, 0].tolist() == [0, 2, 3]
    assert scope_lists.listed(amount, quiet, rows, 10.0, 5.0).rows[:, 0].tolist() == [0, 2]


def test_lists_of_no_choice_are_added_up():
    one, two, three = (scope_lists.listed(np.array([1.0]), np.array([-0.1]), np.array([[n]]), 1.0, 1.0)
                       for n in range(3))
    amount, taken = scope_lists.cheapest_of([one, two, three], 1.0, 1.0, -0.31)
    assert amount == 3.0 and sorted(taken) == [0, 1, 2]
    assert scope_lists.cheapest_of([one, two, three], 1.0, 1.0, -0.29) == (np.inf, [])
