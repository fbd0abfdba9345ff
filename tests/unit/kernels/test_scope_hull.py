"""The hull by hand: order of entry, openings paid once, ends and ties, and what cannot be."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels import scope_blocks
from pipeline.kernels.scope_hull import hull, scope_at
from pipeline.kernels.scope_items import Items


def pairs(gains, needs, open_amount, open_log_quiet=None):
    """One group for each (amount, gain in log_quiet): nothing, or the item; needs lists assemblies."""
    n = len(gains)
    amount, quiet = np.zeros(2 * n), np.full(2 * n, -0.1)
    table = np.zeros((2 * n, len(open_amount)), dtype=bool)
    for group, ((cost, gain), asked) in enumerate(zip(gains, needs, strict=True)):
        amount[2 * group + 1], quiet[2 * group + 1] = cost, -0.1 + gain
        table[2 * group + 1, asked] = True
    return Items(np.repeat(np.arange(n), 2), amount, quiet, table, np.array(open_amount, dtype=float),
                 np.zeros(len(open_amount)) if open_log_quiet is None else np.array(open_log_quiet), None, None)


def test_an_assembly_is_opened_for_all_that_pays_together_and_paid_once():
    # Neither sleeve is worth 30 of opening alone before 32 / 0.01; together they are at 34 / 0.02.
    found = hull(pairs([(2, 0.01), (2, 0.01), (90, 0.02)], [[0], [0], [0]], [30]))
    assert found.amount.tolist() == [0, 34, 124]
    assert_allclose(found.log_quiet, [-0.3, -0.28, -0.26])
    assert found.is_open[:, 0].tolist() == [False, True, True]
    assert found.taken.tolist() == [[0, 2, 4], [1, 3, 4], [1, 3, 5]]


def test_an_item_that_needs_two_assemblies_pays_both_and_shares_them():
    found = hull(pairs([(1, 0.01), (1, 0.05), (1, 0.01)], [[0], [0, 1], [1]], [20, 20]))
    assert found.amount.tolist() == [0, 43]
    assert found.is_open.tolist() == [[False, False], [True, True]]


def test_opening_may_itself_bring_calls():
    found = hull(pairs([(1, 0.01), (1, 0.03)], [[0], [1]], [0, 0], [-0.02, -0.02]))
    assert found.taken[-1].tolist() == [0, 3]
    assert_allclose(found.log_quiet[-1], -0.2 + 0.03 - 0.02)


def test_ends_break_ties_for_the_quieter_and_for_the_cheaper():
    free = pairs([(0, 0.01), (5, 0.0)], [[], []], [])
    assert hull(free).taken.tolist() == [[1, 2]]
    assert scope_at(free, [0.0, np.inf]).taken.tolist() == [[1, 2], [1, 2]]


def test_negative_amounts_are_taken_at_once():
    assert hull(pairs([(-8, 0.01), (3, 0.01)], [[0], [0]], [5])).amount.tolist() == [-3, 0]


def test_no_price_at_all_gives_no_scope():
    assert scope_at(pairs([(1, 0.01)], [[0]], [5]), []).taken.shape == (0, 1)


def test_a_base_that_needs_its_assembly_opens_it_in_every_scope():
    forced = pairs([(1, 0.01), (2, 0.01)], [[0], [0]], [5])
    forced.needs[:2, 0] = True
    assert hull(forced).is_open.all() and hull(forced).amount.tolist() == [5, 6, 8]


def test_scopes_come_out_the_same_a_few_prices_at_a_time(monkeypatch):
    rng = np.random.default_rng(1)
    many = pairs(list(zip(rng.uniform(1, 90, 30), rng.uniform(0.001, 0.05, 30), strict=True)),
                 [list(rng.choice(4, 1 + (n % 5 == 0), replace=False)) for n in range(30)], [10, 20, 30, 40])
    whole = hull(many)
    monkeypatch.setattr(scope_blocks, "_NUMBERS_AT_ONCE", 100)
    assert hull(many).taken.tolist() == whole.taken.tolist()
    assert len(whole.amount) > 10


def test_too_many_assemblies_tied_together_are_refused(monkeypatch):
    monkeypatch.setattr(scope_blocks, "MOST_SETS", 6)
    tied = pairs([(1, 0.01)] * 3, [[0, 1], [1, 2], [2, 3]], [1] * 4)
    with pytest.raises(InvalidParameter, match="tie 4 assemblies together in more than 6"):
        hull(tied)


@pytest.mark.parametrize(("name", "values", "message"), [
    ("group", [0, 0, 2, 2], "rise from 0"), ("group", [1, 1, 0, 0], "rise from 0"),
    ("amount", [np.nan, 0, 0, 0], "missing"),
    ("log_quiet", [0.1, 0, 0, 0], "log_quiet"), ("log_quiet", [np.nan, 0, 0, 0], "log_quiet"),
    ("needs", np.zeros((4, 2)), "shape"), ("open_amount", [-1.0], "open_amount"),
    ("open_log_quiet", [0.1], "open_log_quiet"), ("amount", [0.0, 1.0], "2 values")])
def test_items_that_cannot_be_are_refused(name, values, message):
    with pytest.raises(InvalidParameter, match=message):
        hull(replace(pairs([(1, 0.01), (2, 0.01)], [[0], [0]], [5]), **{name: np.array(values)}))


@pytest.mark.parametrize("price", [[-1.0], [np.nan], [[1.0]]])
def test_prices_that_cannot_be_are_refused(price):
    with pytest.raises(InvalidParameter, match="price"):
        scope_at(pairs([(1, 0.01)], [[0]], [5]), price)
