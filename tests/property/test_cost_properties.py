"""Properties of costing: nothing is lost, to the piece and to the cent, whatever the order of events."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.kernels.cost_layers import NEVER_CAME, fifo
from pipeline.kernels.landed_cost import landed_cents, share_by_value

layers = st.lists(
    st.tuples(st.integers(0, 3), st.integers(0, 20), st.integers(1, 9), st.integers(0, 500)), max_size=25
)
issues = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 20), st.integers(1, 9)), max_size=25)


def _columns(rows, width):
    return np.array(rows, dtype=np.int64).reshape(-1, width).T


def _by_hand(layer_rows, issue_rows):
    """One piece at a time from a queue per part: (issue, layer, place in the layer) for every piece."""
    taken = []
    for part in range(4):
        queue = [
            (number, place)
            for number, row in sorted(enumerate(layer_rows), key=lambda each: each[1][1])
            if row[0] == part
            for place in range(row[2])
        ]
        for number, row in sorted(enumerate(issue_rows), key=lambda each: each[1][1]):
            if row[0] == part:
                taken += [(number, *(queue.pop(0) if queue else (NEVER_CAME, 0))) for _ in range(row[2])]
    return taken


@settings(max_examples=200, deadline=None)
@given(layers, issues)
def test_every_piece_costs_what_a_queue_of_pieces_says(layer_rows, issue_rows):
    costs = fifo(*_columns(layer_rows, 4), *_columns(issue_rows, 3), np.full(4, np.nan))
    wanted = {}
    for issue, layer, place in _by_hand(layer_rows, issue_rows):
        pcs, cents = wanted.get((issue, layer), (0, 0))
        if layer != NEVER_CAME:
            held, whole_cents = layer_rows[layer][2:]
            upto = [(2 * whole_cents * x + held) // (2 * held) for x in (place, place + 1)]
            cents += upto[1] - upto[0]
        wanted[issue, layer] = (pcs + 1, cents)
    found = {}
    for issue, layer, pcs, cents in zip(costs.issue, costs.layer, costs.pcs, costs.cents, strict=True):
        seen = found.get((issue, layer), (0, 0))
        found[issue, layer] = (seen[0] + pcs, seen[1] + (cents if layer != NEVER_CAME else 0))
    assert found == wanted


@settings(max_examples=200, deadline=None)
@given(layers, issues, st.lists(st.floats(0, 99), min_size=4, max_size=4))
def test_what_came_in_went_out_or_is_left(layer_rows, issue_rows, fallback):
    part, day, pcs, cents = _columns(layer_rows, 4)
    costs = fifo(part, day, pcs, cents, *_columns(issue_rows, 3), fallback)
    is_covered = costs.layer != NEVER_CAME
    assert cents.sum() == costs.cents[is_covered].sum() + costs.layer_left_cents.sum()
    assert pcs.sum() == costs.pcs[is_covered].sum() + costs.layer_left_pcs.sum()
    assert (costs.layer_left_cents >= 0).all()
    assert costs.is_known.all()


@settings(max_examples=100, deadline=None)
@given(layers, issues)
def test_provisional_is_exactly_what_was_not_yet_in(layer_rows, issue_rows):
    costs = fifo(*_columns(layer_rows, 4), *_columns(issue_rows, 3), np.full(4, 7.0))
    for issue, layer, is_provisional in zip(costs.issue, costs.layer, costs.is_provisional, strict=True):
        came_later = layer == NEVER_CAME or layer_rows[layer][1] > issue_rows[issue][1]
        assert is_provisional == came_later
    settled = ~costs.is_provisional
    assert (costs.booked_cents[settled] == costs.cents[settled]).all()


orders = st.lists(
    st.tuples(st.integers(-5_000, 50_000), st.lists(st.integers(0, 10**6), min_size=1, max_size=8)),
    min_size=1,
    max_size=8,
)


@given(orders)
def test_shares_add_up_and_lie_within_a_cent_of_proportion(rows):
    extra = [amount for amount, _ in rows]
    value = np.concatenate([lines for _, lines in rows])
    order = np.repeat(np.arange(len(rows)), [len(lines) for _, lines in rows])
    shared = share_by_value(extra, value, order)
    assert (np.bincount(order, shared) == extra).all()
    total = np.bincount(order, value)[order]
    exact = np.where(total > 0, np.array(extra)[order] * value / np.maximum(total, 1), shared)
    assert (np.abs(shared - exact) < 1).all()
    assert (landed_cents(value, extra, order) == value + shared).all()
