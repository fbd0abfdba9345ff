"""A question asked of one machine against making the machine whole: an interaction must not wait for everything anew."""

import pytest

from pipeline.decisions import scope, scope_costs
from pipeline.decisions.scope_choice import Choice
from pipeline.store import connect
from tests.support.processor_time import processor_seconds

pytestmark = pytest.mark.slow
QUESTIONS = ((0.0, 0.8, 1.0, 5.0), (120.0, 0.95, 1.5, 3.0), (60.0, 0.9, 0.5, 10.0))


@pytest.fixture(scope="module")
def demo(demo_shop):
    with connect.open_read(demo_shop.store) as connection:
        return scope.make(connection)


def asked(shop, machine, trip_amount, quiet_share, open_ratio, years):
    """The frontier of one machine under other terms."""
    other = machine.choice.under(scope_costs.terms(shop, trip_amount, open_ratio, years * 365.25))
    return other.frontier([quiet_share])


def whole(shop, machine):
    """One machine with its ends, its choice and all its rows, lives and hours of the shop being known."""
    choice = Choice(shop, machine.subject, machine.hours, scope_costs.terms(shop))
    made = scope.Machine(machine.subject, machine.hours, choice, choice.frontier([scope.QUIET_SHARE]))
    return scope.of_machine(shop, made)


def test_a_question_takes_a_part_of_making_the_machine_whole(demo):
    shop, seconds = demo.shop, {}
    for name, machine in demo.machines.items():
        answers, asking = processor_seconds(lambda machine=machine: [asked(shop, machine, *each) for each in QUESTIONS])
        tables, making = processor_seconds(lambda machine=machine: whole(shop, machine))
        assert all(len(answer.table) for answer in answers) and len(tables[0]) == 3
        seconds[name] = asking / len(QUESTIONS), making
    asking, making = zip(*seconds.values(), strict=True)
    print(f"\na question takes {sum(asking) / len(asking):.2f} s of processor, {max(asking):.2f} at most; a whole machine "
          f"{sum(making) / len(making):.2f} s")
    assert sum(asking) < 0.5 * sum(making)
