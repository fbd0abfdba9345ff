"""Scopes on the hull and at targets equal those of counting all scopes out, companions included."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels.scope_hull import hull, scope_at
from pipeline.kernels.scope_items import items
from pipeline.kernels.scope_target import cheapest
from tests.support import scope_enumeration

SEEDS = [pytest.param(seed, marks=[] if seed < 40 else pytest.mark.slow) for seed in range(200)]


@pytest.fixture(params=SEEDS)
def counted(request):
    machine = scope_enumeration.small_machine(request.param)
    amount, log_quiet, _ = scope_enumeration.every_scope(*machine)
    return items(*machine), amount, log_quiet, np.random.default_rng(request.param), machine


def test_hull_and_targets_equal_enumeration(counted):
    made, amount, log_quiet, rng, machine = counted
    found = hull(made)
    assert_allclose(np.column_stack([found.amount, found.log_quiet]),
                    scope_enumeration.lower_hull(amount, log_quiet), rtol=1e-9, atol=1e-12)
    # between the scopes, at scopes, and beyond what any scope reaches
    asked = np.concatenate([rng.uniform(log_quiet.min(), log_quiet.max(), 20), rng.choice(log_quiet, 5),
                            [log_quiet.min() - 1, log_quiet.max(), log_quiet.max() + 1e-6]])
    best = cheapest(made, asked)
    least = np.array([amount[log_quiet >= target].min(initial=np.inf) for target in asked])
    is_reached = np.isfinite(least)
    assert best.is_reached.tolist() == is_reached.tolist() and not is_reached[-1]
    assert_allclose(best.amount[is_reached], least[is_reached], rtol=1e-9)
    assert (best.log_quiet >= asked - 1.01e-12)[is_reached].all()
    assert_allclose(best.log_quiet[-1], log_quiet.max(), atol=1e-12)
    assert_each_line_pays_what_it_says(made, best, *machine[:2])


def assert_each_line_pays_what_it_says(made, found, actions, companions):
    for taken, is_open, amount in zip(found.taken, found.is_open, found.amount, strict=True):
        row = made.action[taken].max(axis=0)
        line = range(row.size)
        outcomes = [scope_enumeration.line_outcome(actions, companions, number, row) for number in line]
        opened = np.unique(actions.assembly[[number for number in line if outcomes[number][2]]])
        assert np.flatnonzero(is_open).tolist() == opened.tolist()
        assert_allclose(amount, sum(outcome[0] for outcome in outcomes) + made.open_amount[opened].sum(), rtol=1e-9)
        assert_allclose(made.along_share[taken].sum(axis=0),
                        [scope_enumeration.along(actions, companions, number, row) for number in line], atol=1e-12)


@pytest.mark.parametrize("seed", range(10))
def test_at_a_price_no_scope_scores_less(seed):
    machine = scope_enumeration.small_machine(seed)
    amount, log_quiet, _ = scope_enumeration.every_scope(*machine)
    price = np.geomspace(1, 1e7, 40)
    found = scope_at(items(*machine), price)
    least = (amount - price[:, None] * log_quiet).min(axis=1)
    assert_allclose(found.amount - price * found.log_quiet, least, rtol=1e-9)


def test_the_machines_counted_out_have_what_can_go_wrong():
    machines = [scope_enumeration.small_machine(seed) for seed in range(40)]
    made = [items(*machine) for machine in machines]
    assert sum((one.needs.sum(axis=1) > 1).any() for one in made) >= 10  # items that need several assemblies
    assert sum(((one.along_share > 0) & (one.along_share < 1)).any() for one in made) >= 10
    assert sum((np.bincount(companions.rule).max(initial=0) > 1) for _, companions, *_ in machines) >= 10
    assert any(len(set(c.rule[c.target == t].tolist())) > 1 for _, c, *_ in machines for t in c.target)
    assert any(np.isin(c.target, c.trigger).any() for _, c, *_ in machines)
    assert max(machine[0].assembly.size for machine in machines) == 14
