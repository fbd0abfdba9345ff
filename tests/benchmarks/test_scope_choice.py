"""Cheapest scopes of a machine of 150 lines at 20 targets: processor seconds, and how a general solver compares.

Run with `python3 -m pipeline test -m bench tests/benchmarks/test_scope_choice.py -s`; the limit alone is in every run.
"""

import numpy as np
import pytest

from pipeline.kernels.scope_hull import hull
from pipeline.kernels.scope_items import items
from pipeline.kernels.scope_target import cheapest
from tests.support import scope_enumeration
from tests.support.processor_time import processor_seconds

MOST_SECONDS = 0.5
SEEDS = (1, 2, 3)


def machine_and_targets(seed):
    machine = scope_enumeration.machine(seed, 150, 17, 12)
    ends = hull(items(*machine)).log_quiet[[0, -1]]
    return machine, np.linspace(*ends, 22)[1:-1]


@pytest.mark.parametrize("seed", SEEDS)
def test_twenty_targets_of_150_lines_take_less_than_half_a_second(seed):
    machine, asked = machine_and_targets(seed)
    made, items_seconds = processor_seconds(lambda: items(*machine))
    # the least of three: what else runs on the machine only adds
    seconds = min(processor_seconds(lambda: cheapest(made, asked))[1] for _ in range(3))
    print(f"\nmachine {seed}: {seconds:.3f} s of processor for hull and 20 targets, items {items_seconds:.3f} s")
    assert seconds < MOST_SECONDS


@pytest.mark.bench
@pytest.mark.parametrize("seed", SEEDS)
def test_a_general_solver_takes_ten_times_as_long_and_finds_the_same(seed):
    machine, asked = machine_and_targets(seed)
    found, seconds = processor_seconds(lambda: cheapest(items(*machine), asked))
    program = scope_enumeration.Program(*machine)
    solved, solver_seconds = processor_seconds(lambda: [program.least(target)[0] for target in asked])
    print(f"\nmachine {seed}: {seconds:.3f} s; 20 plain solves {solver_seconds:.1f} s, {solver_seconds / seconds:.0f} "
          "times as long")
    np.testing.assert_allclose(found.amount, solved, rtol=1e-8)
    assert solver_seconds > 10 * seconds
