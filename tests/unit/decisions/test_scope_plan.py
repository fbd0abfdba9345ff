"""What becomes of every piece under an end: the worst goes first, what stays was looked over, nothing is counted twice."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope_plan
from pipeline.decisions.scope_outlook import KIND, NEW
from tests.support import scope_bench
from tests.support.scope_bench import BASE

LIST = "assembly part qty_pcs piece_hours thorough_action fix_only_action\n"
RULES = "trigger_part trigger_wear_class adds_part share per qty_pcs assembly\n"
ASKED = {
    "jobs": BASE["jobs"] + "\nO1 ss refresh in_progress home - read",
    "job_parts": "job part qty_pcs\nR1 coil 1",  # a part of no list would be a line of its own
}


def ends(subject="job:O1", **tables):
    """Fixing and thorough of one machine, and the number of each part's line."""
    machine, _ = scope_bench.machine(subject, **ASKED | tables)
    lines = machine.choice.lines
    return machine.choice.fix, machine.choice.thorough, {part: place for place, part in enumerate(lines["part"])}


def lives(plan, line):
    """Pieces of a line by (state, treatment), those there are."""
    return {kind: plan.pcs[line, place] for kind, place in KIND.items() if plan.pcs[line, place] > 1e-9}


def found(*rows):
    return "job assembly part qty_pcs condition action\n" + "\n".join(f"O1 flip {row} -" for row in rows)


def test_fixing_replaces_what_failed_and_leaves_the_rest_as_it_was_found():
    fix, _, line = ends(findings=found("coil 1 failed", "coil 1 worn", "coil 1 good", "sleeve 3 good"))
    assert lives(fix, line["coil"]) == {(NEW, ""): 1, ("worn", ""): 1, ("good", ""): 1}
    assert lives(fix, line["sleeve"]) == {("good", ""): 3}
    assert fix.replaced_pcs.tolist() == [1, 0]
    assert_allclose(fix.opened["flip"], 1)
    assert fix.restored.to_dict() == {"flip": 0}


def test_thorough_replaces_what_is_worn_too_and_restores_what_it_opens():
    fix, thorough, line = ends(findings=found("coil 1 failed", "coil 1 worn", "coil 1 good", "sleeve 3 good"))
    assert lives(thorough, line["coil"]) == {(NEW, ""): 2, ("good", ""): 1}
    assert thorough.restored.equals(thorough.opened)
    # two coils of three flippers with one each
    assert_allclose(thorough.opened["flip"], 2)


def test_a_companion_takes_the_place_of_the_worst_piece_there_is():
    # the failed coil brings a sleeve: of a worn and two good ones the worn one goes, and none is counted twice
    asked = {"findings": found("coil 1 failed", "coil 2 good", "sleeve 1 worn", "sleeve 2 good"),
             "companions": RULES + "coil - sleeve 1 piece 1 -"}
    fix, thorough, line = ends(**asked)
    assert lives(fix, line["sleeve"]) == {(NEW, ""): 1, ("good", ""): 2}
    assert lives(thorough, line["sleeve"]) == {(NEW, ""): 1, ("good", ""): 2}
    assert_allclose(fix.pcs.sum(axis=1), 3)


def test_unjudged_pieces_go_before_good_ones():
    asked = {"findings": found("coil 2 failed", "coil 1 good", "sleeve 1 unknown", "sleeve 2 good"),
             "companions": RULES + "coil - sleeve 1 piece 1 -"}
    fix, _, line = ends(**asked)
    assert lives(fix, line["sleeve"]) == {(NEW, ""): 2, ("good", ""): 1}


@pytest.mark.parametrize("option", [0, 1])
def test_no_machine_holds_more_or_fewer_pieces_than_it_has(option):
    plan = ends(findings=found("coil 1 failed", "sleeve 1 worn"), companions=RULES + "coil - sleeve 0.4 piece 1 -")[option]
    assert_allclose(plan.pcs.sum(axis=1), 3)
    assert (plan.pcs >= 0).all()


def test_what_a_thorough_job_keeps_was_looked_over():
    # half a sleeve comes with each coil: one and a half of three are replaced, the others passed the bench in part
    fix, thorough, line = ends(
        "family:ss", assembly_parts=BASE["assembly_parts"].replace("0.05 replace", "0.05 keep"),
        companions=RULES + "coil - sleeve 0.5 piece 1 -")
    assert lives(fix, line["sleeve"]) == {("unjudged", ""): 3}
    kept = lives(thorough, line["sleeve"])
    assert_allclose(kept[NEW, ""], 1.5)
    assert kept["good", ""] > 0
    assert_allclose(sum(kept.values()), 3)


def test_what_a_thorough_job_leaves_unlooked_stays_unjudged():
    _, thorough, line = ends("family:ss", assembly_parts=BASE["assembly_parts"].replace("0.05 replace", "0.05 keep"))
    assert lives(thorough, line["sleeve"]) == {("unjudged", ""): 3}


def test_what_the_teardown_said_stands():
    # nobody could say of two coils: taking the worn one out says nothing new of them
    _, thorough, line = ends(findings=found("coil 1 worn", "coil 2 unknown"))
    assert lives(thorough, line["coil"]) == {(NEW, ""): 1, ("unjudged", ""): 2}


def test_moves_say_what_is_done_and_what_it_costs():
    fix, _, line = ends(findings=found("coil 2 failed"))
    move = fix.moves.iloc[0]
    assert (move["line"], move["action"], move["note"], move["pcs"]) == (line["coil"], "replace", "failed", 2)
    assert (move["parts_amount"], move["hours"]) == (30, 0.4)
    assert fix.touched_pcs.tolist() == fix.replaced_pcs.tolist() == [2, 0]


def test_a_part_that_the_list_has_made_is_made():
    made = "part moved_on qty_pcs kind unit_cost\ncoil 2026-02-01 2 made 6"
    _, thorough, _ = ends("family:ss", assembly_parts=LIST + "flip coil 1 0.2 make keep", stock_moves=made)
    assert thorough.moves["action"].tolist() == ["make"]
    assert thorough.moves["parts_amount"].tolist() == [18]


def test_an_unknown_price_leaves_the_move_s_amount_unknown():
    _, thorough, line = ends("family:ss", assembly_parts=BASE["assembly_parts"] + "\nflip glass 1 0.1 replace keep")
    moves = thorough.moves.set_index("line")
    assert np.isnan(moves.loc[line["glass"], "parts_amount"])
    assert_allclose(moves.loc[line["glass"], "hours"], 0.3)


@pytest.mark.parametrize(("replaced", "opened"), [([0, 0], 0), ([3, 0], 3), ([3, 3], 3), ([1, 0], 1), ([1, 1], 5 / 3), ([9, 9], 3)])
def test_assemblies_opened(replaced, opened):
    machine, _ = scope_bench.machine(**ASKED)
    assert_allclose(scope_plan.opened(machine.choice.lines, np.array(replaced, dtype=float))["flip"], opened)
