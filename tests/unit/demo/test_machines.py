"""Machines are invented, and their counters are as dirty as real ones."""

import numpy as np
import pytest

from pipeline.demo import machines
from pipeline.demo.world import FAMILIES, stream


@pytest.fixture(scope="module")
def five_hundred(world):
    return [machines.make(5, n, FAMILIES[n % 5], world) for n in range(1, 501)]


def test_titles_belong_to_one_family_each():
    titles = machines.titles(5)
    listed = [title for family in FAMILIES for title in titles[family]]
    assert len(listed) == len(set(listed)) == 60


def test_a_title_is_two_words_from_the_lists():
    for titles in machines.titles(5).values():
        for title in titles:
            first, second = title.split(" ")
            assert first in machines.FIRST_WORDS
            assert second in machines.SECOND_WORDS


def test_a_machine_is_the_same_whenever_it_is_asked_for(world):
    assert machines.make(5, 7, "modern", world) == machines.make(5, 7, "modern", world)
    assert machines.make(5, 7, "modern", world) != machines.make(6, 7, "modern", world)


def test_years_fit_the_family(five_hundred):
    for machine in five_hundred:
        first, last = machines.YEARS[FAMILIES.index(machine.family)]
        assert first <= machine.year <= last


def test_machines_play_as_much_as_their_setting_does(five_hundred, world):
    for setting, usual in (("home", 70), ("route", 520)):
        rates = np.array([m.plays_per_month for m in five_hundred if m.setting == setting])
        assert abs(rates.mean() - usual) < 4 * rates.std() / np.sqrt(len(rates))


def test_the_oldest_machines_are_seldom_on_route(five_hundred):
    def on_route(family):
        return np.mean([m.setting == "route" for m in five_hundred if m.family == family])

    assert on_route("electromech") < min(on_route(family) for family in FAMILIES[1:])


def test_values_are_round_sums_that_differ_by_family(five_hundred):
    assert all(m.agreed_value % 50 == 0 and m.agreed_value > 0 for m in five_hundred)
    typical = [np.median([m.agreed_value for m in five_hundred if m.family == f]) for f in FAMILIES]
    assert typical == sorted(typical)


def readings(world, family, n=600):
    machine = machines.make(5, 1, family, world)
    return machine, [machines.read_counter(stream(2, "job", i), machine, 10.0) for i in range(n)]


def test_an_electromechanical_machine_has_no_counter(world):
    _, seen = readings(world, "electromech")
    assert set(seen) == {(None, "unknown")}


@pytest.mark.parametrize("family, least", [("solidstate", 0.65), ("modern", 0.85)])
def test_most_counters_are_read_right(world, family, least):
    machine, seen = readings(world, family)
    true = machine.plays_then + int(machine.plays_per_month * 10)
    right = [plays for plays, quality in seen if quality in ("read", "wrapped")]
    assert {plays % 100000 for plays in right} == {true % 100000}
    assert least < len(right) / len(seen) < 0.97


def test_a_reset_counter_shows_far_too_little(world):
    machine, seen = readings(world, "alphanumeric")
    reset = [plays for plays, quality in seen if quality == "reset_suspected"]
    assert reset
    assert max(reset) <= 0.2 * (machine.plays_then + machine.plays_per_month * 10)


def test_an_old_counter_wraps_at_100000(world):
    machine = machines.make(5, 1, "solidstate", world)
    worn = machines.Machine(**{**machine.__dict__, "plays_then": 250_123, "plays_per_month": 0.0})
    seen = {machines.read_counter(stream(2, "job", i), worn, 1.0) for i in range(50)}
    assert (50_123, "wrapped") in seen
