"""Hours of an option by hand: of its lines, of opening, of cleaning and wiring, of such jobs, of the whole machine."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope_hours
from pipeline.decisions.scope_hours import FamilyHours
from tests.support import scope_bench
from tests.support.scope_bench import BASE

SEED_RATIO = (0.25 + 0.125) / 0.175  # cleaning and wiring over bench, of the seed table's stages
LINES = 0.75 + 0.9  # three coils and three sleeves, and three flippers opened
JOBS = {
    "jobs": BASE["jobs"] + "\nT1 ss thorough delivered home 2026-01-01 read\nF1 ss fix_only delivered home 2026-01-01 read",
    "job_parts": BASE["job_parts"],
}


def learnt(**mean_hours):
    """Hours of the family whose jobs took so long on average, with the lines of the base shop."""
    machine, shop = scope_bench.machine()
    said = pd.Series({("ss", scope): hours for scope, hours in mean_hours.items()}, dtype=float)
    asked = SimpleNamespace(mean_hours=said, unseen_ratio=SEED_RATIO, is_unseen_guessed=True)
    choice = machine.choice
    found = scope_hours.family_hours(asked, machine.subject, choice.lines, choice.fix, choice.thorough)
    return found, choice


def test_bench_hours_are_as_said():
    assert scope_hours.bench_hours(scope_bench.machine()[0].choice.lines).to_dict() == {"": 0.0, "flip": 1.0}


def test_bench_hours_nobody_said_are_those_of_the_pieces():
    lines = scope_bench.machine(assemblies="assembly open_hours\nflip 0.3")[0].choice.lines
    assert_allclose(scope_hours.bench_hours(lines)["flip"], 0.2 + 0.05)


def test_line_hours_by_hand():
    choice = scope_bench.machine()[0].choice
    assert scope_hours.line_hours(choice.lines, choice.fix) == 0
    assert_allclose(scope_hours.line_hours(choice.lines, choice.thorough), LINES)


def test_no_hours_written_down_leave_the_seed_table_s_shares():
    found, choice = learnt()
    assert found == FamilyHours(0.0, SEED_RATIO, 0.0, True)
    assert_allclose(scope_hours.option_hours(found, choice.lines, choice.thorough, True), LINES + 3 * SEED_RATIO)


def test_what_fixing_takes_beyond_its_lines_starts_every_job():
    found, choice = learnt(fix_only=4.0)
    assert found.start_hours == 4.0
    for plan, lines in ((choice.fix, 0.0), (choice.thorough, LINES + 3 * SEED_RATIO)):
        assert_allclose(scope_hours.option_hours(found, choice.lines, plan, False), 4.0 + lines)


def test_what_is_left_of_a_thorough_job_is_the_whole_machine_s():
    found, choice = learnt(fix_only=4.0, thorough=60.0)
    assert_allclose(found.whole_hours, 60 - 4 - LINES - 3 * SEED_RATIO)
    assert found.unseen_ratio == SEED_RATIO
    assert_allclose(scope_hours.option_hours(found, choice.lines, choice.thorough, True), 60)
    # and nobody pays for it who does not do the whole machine
    assert_allclose(scope_hours.option_hours(found, choice.lines, choice.fix, False), 4)


def test_unseen_hours_are_no_more_than_thorough_jobs_have_room_for():
    found, choice = learnt(fix_only=4.0, thorough=4.0 + LINES + 1.5)
    assert_allclose(found.unseen_ratio, 0.5)  # an hour and a half for three flippers of an hour
    assert_allclose(found.whole_hours, 0, atol=1e-9)
    assert_allclose(scope_hours.option_hours(found, choice.lines, choice.thorough, True), 4.0 + LINES + 1.5)


def test_thorough_jobs_quicker_than_their_lines_bring_nothing_negative():
    found, _ = learnt(fix_only=4.0, thorough=2.0)
    assert found == FamilyHours(4.0, 0.0, 0.0, True)


@pytest.mark.parametrize("stage", ["cleaning", "wiring"])
def test_logged_stages_move_the_ratio_and_end_the_guess(stage):
    hours = "job hours stage\n" + "\n".join(f"T1 {each} {name}" for name, each in (("bench", 10), (stage, 60)))
    _, guessed = scope_bench.machine()
    _, logged = scope_bench.machine(job_hours=hours, **JOBS)
    assert guessed.is_unseen_guessed
    assert_allclose(guessed.unseen_ratio, SEED_RATIO)
    assert not logged.is_unseen_guessed
    assert logged.unseen_ratio > SEED_RATIO


def test_a_job_that_restores_nothing_has_no_unseen_hours():
    choice = scope_bench.machine()[0].choice
    hours = FamilyHours(2.0, 5.0, 30.0, False)
    assert scope_hours.option_hours(hours, choice.lines, choice.fix, False) == 2.0
    assert np.isclose(scope_hours.option_hours(hours, choice.lines, choice.thorough, True), 2 + LINES + 15 + 30)
