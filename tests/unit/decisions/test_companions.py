"""Parts that come along with others: direction, share, scope, and none twice."""

import pytest

from pipeline.decisions import companions
from pipeline.models import job_needs
from pipeline.store import read
from tests.support import hand_shop
from tests.unit.decisions.test_pick_list import BASE

RULES = "trigger_part trigger_wear_class adds_part share per qty_pcs assembly\n"
LISTS = {
    "assemblies": "assembly name\nflip Flip\njet Jet",
    "family_assemblies": "family assembly count\nem flip 2\nem jet 3",
    "assembly_parts": "assembly part qty_pcs\nflip coil 2\nflip sleeve 2\njet coil 1\njet lamp 1",
}


def lines(rules, **tables):
    """Wants of the running job with what comes along, pieces of each part."""
    tables = BASE | {"companions": RULES + rules, "findings": "job assembly part qty_pcs condition action\n"
                     "R1 flip coil 3 failed -"} | tables
    with hand_shop.store(**tables) as connection:
        wants = read.query(connection, "from wanted_pieces where job = 'R1' order by part").assign(chance_share=1.0)
        return companions.beside(connection, wants[job_needs.WANTS], 0.5)


def pieces(rules, **tables):
    return lines(rules, **tables).groupby("part")["want_pcs"].sum().to_dict()


@pytest.mark.parametrize("trigger", ["coil -", "- coil"])
def test_a_companion_names_the_part_that_brings_it(trigger):
    found = lines(f"{trigger} sleeve - - - -")
    assert found[["part", "want_pcs", "with_part"]].fillna("").values.tolist() == [
        ["coil", 3, ""], ["sleeve", 3, "coil"]]


def test_a_rule_has_a_direction():
    assert pieces("sleeve - coil - - - -") == {"coil": 3}


@pytest.mark.parametrize(("per", "qty_pcs", "wanted"), [("piece", 2, 6), ("assembly", 2, 4), ("machine", 2, 2)])
def test_a_rule_counts_per_piece_assembly_or_machine(per, qty_pcs, wanted):
    lists = LISTS | {"assembly_parts": "assembly part qty_pcs\nflip coil 2\nflip sleeve 9"}
    assert pieces(f"coil - sleeve - {per} {qty_pcs} -", **lists) == {"coil": 3, "sleeve": wanted}


def test_one_per_machine_is_fetched_once_though_two_assemblies_have_it():
    lists = LISTS | {"assembly_parts": LISTS["assembly_parts"] + "\njet sleeve 1"}
    assert pieces("coil - sleeve - machine 1 -", **lists) == {"coil": 3, "sleeve": 1}


def test_a_rare_companion_is_not_listed():
    assert pieces("coil - sleeve 0.4 - - -") == {"coil": 3}
    assert pieces("coil - sleeve 0.5 - - -") == {"coil": 3, "sleeve": 3}


def test_a_rule_works_inside_its_assembly():
    assert pieces("coil - sleeve - - - jet", **LISTS) == {"coil": 3}
    assert pieces("coil - sleeve - - - flip", **LISTS) == {"coil": 3, "sleeve": 3}


def test_a_part_the_family_s_list_does_not_have_is_not_brought():
    assert pieces("coil - late - - - -", **LISTS) == {"coil": 3}


def test_no_more_than_the_machine_holds():
    assert pieces("coil - sleeve - - 9 -", **LISTS) == {"coil": 3, "sleeve": 4}


def test_what_the_teardown_found_anyway_is_not_added_twice():
    findings = "job assembly part qty_pcs condition action\nR1 flip coil 3 failed -\nR1 flip sleeve 2 worn replace"
    assert pieces("coil - sleeve - - - -", findings=findings) == {"coil": 3, "sleeve": 3}
    assert lines("coil - sleeve - - - -", findings=findings)["with_part"].isna().all()


def test_what_the_teardown_decided_to_leave_stays():
    findings = "job assembly part qty_pcs condition action\nR1 flip coil 3 failed -\nR1 flip sleeve 2 good keep"
    assert pieces("coil - sleeve - - - -", findings=findings) == {"coil": 3}


def test_rules_in_a_circle_bring_each_part_once():
    assert pieces("coil - sleeve - - - -\nsleeve - coil - - - -") == {"coil": 3, "sleeve": 3}


def test_several_rules_asking_for_the_same_piece_ask_once():
    findings = "job assembly part qty_pcs condition action\nR1 flip coil 3 failed -\nR1 flip other 2 failed -"
    assert pieces("coil - sleeve - - - -\nother - sleeve - - - -", findings=findings)["sleeve"] == 3
