"""One invented workshop, made once for all tests of the generator."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from pipeline.demo import floor, generate, jobs, purchases, records
from pipeline.demo.world import Habits, World

SEED = 5


@pytest.fixture(scope="session")
def world():
    """The default world."""
    return World()


@pytest.fixture(scope="session")
def ran(world):
    """The shop after its last day, before anything is written down."""
    asked = jobs.arrivals(SEED, world)
    shop_floor = floor.run(SEED, world, asked, records.WATCH_DAYS)
    purchases.number_orders(shop_floor.buyer.orders, world)
    for job in asked:
        records.set_status(world, job)
    return SimpleNamespace(seed=SEED, world=world, jobs=asked, floor=shop_floor, buyer=shop_floor.buyer)


@pytest.fixture(scope="session")
def shop():
    """The records of that shop, with their faults."""
    return generate.simulate(SEED)


@pytest.fixture(scope="session")
def clean(world):
    """The records of that shop as a person without fault would keep them."""
    habits = replace(world.habits, with_faults=False, forgotten_jobs_share=0.0)
    return generate.simulate(SEED, replace(world, habits=habits))


@pytest.fixture(scope="session")
def demo_folder(root):
    """The committed demo."""
    return root / "data" / "demo"


@pytest.fixture
def faultless():
    """Habits of a person who makes no fault."""
    return Habits(with_faults=False)
