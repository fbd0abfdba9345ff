"""What must hold of the choice between now and later, on machines of pieces whose lives are Weibull."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.kernels.renewal_function import weibull_renewals
from pipeline.kernels.scope_hull import hull, scope_at
from pipeline.kernels.scope_items import Actions, Companions, items
from pipeline.kernels.scope_target import cheapest
from pipeline.kernels.weibull import survival

HORIZON, WARRANTY = 10.0, 4.0  # thousands of plays
NO_RULES = Companions(*(np.empty(0, dtype=int) for _ in range(3)), np.empty(0))
SEEDS = range(8)


@dataclass(frozen=True)
class Machine:
    """Lines of one piece each, kept or replaced: prices, cost of a call-back, and lives of both."""

    price: np.ndarray
    callback_amount: np.ndarray
    scale: np.ndarray
    shape: np.ndarray
    kept_scale: np.ndarray
    assembly: np.ndarray
    open_amount: np.ndarray


def machine(seed, n_lines=24, n_assemblies=5):
    rng = np.random.default_rng(seed)
    price, scale = rng.lognormal(1.5, 1.2, n_lines), rng.uniform(15, 80, n_lines)
    return Machine(price, price + rng.uniform(100, 250, n_lines), scale, rng.uniform(1.0, 3.0, n_lines),
                   scale * rng.uniform(0.3, 0.9, n_lines), rng.integers(0, n_assemblies, n_lines),
                   rng.uniform(5, 60, n_assemblies))


def actions(one):
    """Rows keep, replace of each line; the later cost is every failure inside the horizon at a call-back."""
    n = one.price.size
    kept = weibull_renewals(HORIZON, one.scale, one.shape, one.kept_scale, one.shape)
    new = weibull_renewals(HORIZON, one.scale, one.shape)
    amount = np.column_stack([kept * one.callback_amount, one.price + new * one.callback_amount])
    quiet = np.log(np.column_stack([survival(WARRANTY, one.kept_scale, one.shape),
                                    survival(WARRANTY, one.scale, one.shape)]))
    second = np.tile([False, True], n)
    return Actions(np.repeat(np.arange(n), 2), amount.ravel(), quiet.ravel(), second, second.astype(float),
                   np.ones(2 * n, dtype=bool), second, one.assembly)


def made(one, money=1.0):
    found = actions(one)
    return items(replace(found, amount=money * found.amount), NO_RULES, money * one.open_amount,
                 np.zeros(one.open_amount.size))


def replaced(made_items, found):
    """Whether each line is replaced, a row for each scope."""
    return made_items.action[found.taken].max(axis=1) % 2 == 1


def cheapest_scope(one):
    found = scope_at(made(one), [0.0])
    return replaced(made(one), found)[0], found.is_open[0]


@pytest.mark.parametrize("seed", SEEDS)
def test_lives_without_memory_are_never_replaced_early(seed):
    one = machine(seed)
    one = replace(one, shape=np.ones(24), kept_scale=one.scale)
    is_replaced, is_open = cheapest_scope(one)
    assert not is_replaced.any() and not is_open.any()
    assert hull(made(one)).amount.size == 1  # and nothing is quieter either


@pytest.mark.parametrize("seed", SEEDS)
def test_with_free_opening_exactly_the_lines_that_gain_are_taken(seed):
    one = replace(machine(seed), open_amount=np.zeros(5))
    keep, change = actions(one).amount.reshape(-1, 2).T
    is_replaced, _ = cheapest_scope(one)
    assert_array_equal(is_replaced, keep > change)
    assert 0 < is_replaced.sum() < 24


@pytest.mark.parametrize("seed", SEEDS)
def test_dearer_opening_later_only_adds_lines_to_open_assemblies(seed):
    # Kept pieces fail more often than new ones here, so every failure that costs more speaks for replacing.
    one = machine(seed)
    before, is_open = first = cheapest_scope(one)
    for later in (50.0, 200.0, 1000.0):
        after, is_open_after = cheapest_scope(replace(one, callback_amount=one.callback_amount + later))
        assert not (before & ~after).any()
        assert not (is_open & ~is_open_after).any()
        before, is_open = after, is_open_after
    assert (before & ~first[0])[first[1][one.assembly]].any()  # lines came in where it was open from the start


@pytest.mark.parametrize("seed", SEEDS)
def test_dearer_opening_now_never_opens_another_assembly(seed):
    one = machine(seed)
    last = cheapest_scope(replace(one, open_amount=np.zeros(5)))[1]
    counts = [last.sum()]
    for factor in (0.5, 1.0, 2.0, 20.0, 1e3):
        is_open = cheapest_scope(replace(one, open_amount=factor * one.open_amount))[1]
        assert not (is_open & ~last).any()
        last = is_open
        counts.append(last.sum())
    assert counts[0] > counts[-1]


@pytest.mark.parametrize("seed", SEEDS)
def test_cheap_hidden_parts_go_in_before_dear_visible_ones(seed):
    # Pairs of the same lives, each part by itself: the hidden one cheaper, its call-back dearer.
    rng = np.random.default_rng(seed)
    one = machine(seed, 12)
    twice = {name: np.repeat(getattr(one, name), 2) for name in ("scale", "shape", "kept_scale")}
    price = np.repeat(rng.uniform(40, 90, 12), 2) * np.tile([0.1, 1.0], 12)
    callback = np.repeat(rng.uniform(60, 120, 12), 2) * np.tile([2.5, 1.0], 12)
    pairs = replace(one, price=price, callback_amount=callback, assembly=np.arange(24), open_amount=np.zeros(24),
                    **twice)
    along_hull = replaced(made(pairs), hull(made(pairs)))
    enters = np.where(along_hull.any(axis=0), along_hull.argmax(axis=0), len(along_hull)).reshape(-1, 2)
    assert (enters[:, 0] <= enters[:, 1]).all() and (enters[:, 0] < enters[:, 1]).any()


@pytest.mark.parametrize("seed", SEEDS)
def test_another_currency_changes_nothing(seed):
    one = machine(seed)
    own, other = made(one), made(one, money=137.5)
    asked = np.linspace(*hull(own).log_quiet[[0, -1]], 9)
    for found, again in ((hull(own), hull(other)), (cheapest(own, asked), cheapest(other, asked))):
        assert_array_equal(found.taken, again.taken)
        assert_allclose(again.amount, 137.5 * found.amount, rtol=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_order_of_lines_changes_nothing(seed):
    one = machine(seed)
    order = np.random.default_rng(seed).permutation(24)
    by_line = ("price", "callback_amount", "scale", "shape", "kept_scale", "assembly")
    own, other = made(one), made(replace(one, **{name: getattr(one, name)[order] for name in by_line}))
    asked = np.linspace(*hull(own).log_quiet[[0, -1]], 9)
    for found, again in ((hull(own), hull(other)), (cheapest(own, asked), cheapest(other, asked))):
        assert_allclose(again.amount, found.amount, rtol=1e-9)
        assert_array_equal(replaced(other, again), replaced(own, found)[:, order])
