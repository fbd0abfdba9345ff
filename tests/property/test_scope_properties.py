"""Properties of the choice between now and later, on machines drawn at random."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_allclose

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

shares, amounts = st.floats(0, 1), st.floats(0, 500)


@st.composite
def machines(draw):
    """Pieces held and replaced, failures and survival of one kept and one new piece, per line."""
    n = draw(st.integers(1, 12))
    held = np.array(draw(st.lists(st.integers(1, 9), min_size=n, max_size=n)), dtype=float)
    share, kept, new = (draw(arrays(float, n, elements=shares)) for _ in range(3))
    return held, share * held, kept, new


@given(machines())
def test_replacing_everything_leaves_only_new_pieces_to_fail(machine):
    held, _, kept, new = machine
    assert_allclose(expected_callbacks(held, held, kept, new), held * new)


@given(machines())
def test_failures_avoided_are_the_difference_between_the_options(machine):
    held, replaced, kept, new = machine
    without = expected_callbacks(np.zeros(held.size), held, kept, new)
    with_it = expected_callbacks(replaced, held, kept, new)
    assert_allclose(without - with_it, failures_avoided(replaced, kept, new), atol=1e-9)


@given(machines())
def test_chance_of_a_call_back_is_a_share_and_at_most_the_expected_number(machine):
    held, replaced, kept, new = machine
    share = callback_share(replaced, held, 1 - kept, 1 - new, 0.0)
    # one failure of a piece at most: its expected number is its chance
    assert 0 <= share <= min(expected_callbacks(replaced, held, kept, new).sum(), 1.0) + 1e-9


@given(machines(), shares)
def test_other_calls_only_add_to_the_chance(machine, calls):
    held, replaced, kept, new = machine
    quiet = callback_share(replaced, held, 1 - kept, 1 - new, 0.0)
    assert callback_share(replaced, held, 1 - kept, 1 - new, calls) >= quiet - 1e-12


@given(machines())
def test_replacing_more_of_what_lasts_longer_new_lowers_the_chance(machine):
    held, replaced, kept, new = machine
    longer = np.minimum(kept, new)
    some = callback_share(replaced, held, 1 - kept, 1 - longer, 0.1)
    all_of_it = callback_share(held, held, 1 - kept, 1 - longer, 0.1)
    assert all_of_it <= some + 1e-9


@given(machines(), st.integers(1, 4))
def test_opening_everything_is_the_most_there_is(machine, copies):
    held, replaced, *_ = machine
    assembly = np.zeros(held.size, dtype=int)
    some, all_of_it = (
        opened_assemblies(pcs, held * copies, assembly, [copies]) for pcs in (replaced, held * copies)
    )
    assert some[0] <= all_of_it[0] + 1e-12
    assert_allclose(all_of_it, copies)


@given(machines())
def test_assemblies_open_independently_of_each_other(machine):
    held, replaced, *_ = machine
    each = np.arange(held.size)
    alone = [opened_assemblies([r], [h], [0], [1])[0] for r, h in zip(replaced, held, strict=True)]
    assert_allclose(opened_assemblies(replaced, held, each, np.ones(held.size)), alone, atol=1e-12)


@given(amounts, st.floats(0, 3), st.floats(0, 3), st.floats(1, 100), st.floats(0, 0.9))
def test_a_piece_costs_its_price_at_least(price, hours, fit_hours, hour_cost, rejects):
    assert piece_amount(price, hours, fit_hours, hour_cost, rejects) >= price - 1e-9


@given(amounts, st.floats(0, 3), st.floats(1, 4), st.floats(0, 2), st.floats(1, 100), amounts)
def test_later_is_never_cheaper_than_now(price, hours, ratio, open_hours, hour_cost, visit):
    now = piece_amount(price, hours, 0.0, hour_cost)
    assert callback_amount(now, hours, ratio, open_hours, hour_cost, visit) >= now - 1e-9


@given(st.floats(0.01, 500), st.floats(0.01, 500), st.floats(0.01, 100))
def test_break_even_does_not_depend_on_the_currency(now, later, rate):
    assert_allclose(break_even_failures(now * rate, later * rate), break_even_failures(now, later))


@given(amounts, st.floats(0.1, 500), st.floats(0, 300))
def test_a_dearer_visit_lowers_the_break_even(now, later, visit):
    assert break_even_failures(now, later + visit) <= break_even_failures(now, later)


@st.composite
def rule_sets(draw):
    """Lines of one assembly with rules between them: target differs from trigger."""
    n = draw(st.integers(2, 6))
    held = np.array(draw(st.lists(st.integers(1, 6), min_size=n, max_size=n)), dtype=float)
    replaced = held * draw(arrays(float, n, elements=shares))
    pairs = draw(st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), min_size=1, max_size=5))
    pairs = [pair for pair in pairs if pair[0] != pair[1]] or [(0, 1)]
    trigger, target = np.array(pairs).T
    rules = {
        "target": target,
        "share": draw(arrays(float, target.size, elements=shares)),
        "qty_pcs": np.array(draw(st.lists(st.integers(1, 3), min_size=target.size, max_size=target.size))),
        "per": np.array(draw(st.lists(st.integers(0, 2), min_size=target.size, max_size=target.size))),
    }
    return held, replaced, trigger, rules


@given(rule_sets())
def test_companions_never_pass_what_the_machine_holds(case):
    held, replaced, trigger, rules = case
    added = companion_pieces(
        replaced, held, (np.arange(trigger.size), trigger), np.zeros(held.size, int), [3], rules
    )
    assert (added >= 0).all()
    assert (replaced + added <= held + 1e-9).all()


@given(rule_sets())
def test_a_rule_said_twice_counts_once(case):
    held, replaced, trigger, rules = case
    once = companion_pieces(
        replaced, held, (np.arange(trigger.size), trigger), np.zeros(held.size, int), [3], rules
    )
    doubled = {name: np.concatenate([values, values]) for name, values in rules.items()}
    pairs = (np.arange(2 * trigger.size), np.concatenate([trigger, trigger]))
    assert_allclose(companion_pieces(replaced, held, pairs, np.zeros(held.size, int), [3], doubled), once)


@given(rule_sets())
def test_nothing_replaced_brings_nothing(case):
    held, _, trigger, rules = case
    nothing = np.zeros(held.size)
    added = companion_pieces(
        nothing, held, (np.arange(trigger.size), trigger), np.zeros(held.size, int), [3], rules
    )
    assert_allclose(added, 0)
