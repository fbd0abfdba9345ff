"""Cheapest scopes at stated targets against a general solver on the plain program over lines, no gap allowed."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels.scope_hull import hull
from pipeline.kernels.scope_items import items
from pipeline.kernels.scope_target import cheapest
from tests.support import scope_enumeration

LINES, ASSEMBLIES, RULES, TARGETS = 150, 17, 12, 20


def assert_equals_program(seed, every):
    machine = scope_enumeration.machine(seed, LINES, ASSEMBLIES, RULES)
    made = items(*machine)
    ends = hull(made).log_quiet[[0, -1]]
    asked = np.linspace(*ends, TARGETS + 2)[1:-1][seed % every :: every]
    found, program = cheapest(made, asked), scope_enumeration.Program(*machine)
    assert found.is_reached.all() and (found.log_quiet >= asked - 1.01e-12).all()
    assert_allclose(found.amount, [program.least(target)[0] for target in asked], rtol=1e-8)


@pytest.mark.parametrize("seed", range(5))
def test_targets_of_large_machines_equal_the_solver(seed):
    assert_equals_program(seed, every=6)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(50))
def test_every_target_of_large_machines_equals_the_solver(seed):
    assert_equals_program(seed, every=1)
