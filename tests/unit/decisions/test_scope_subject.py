"""What each option replaces: from the shop's records, from the lists, from what teardown found."""

from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope_subject
from tests.support import hand_shop

BASE = {
    "shop": "key value\ntoday 2026-07-01",
    "families": "family name\nem Electromechanical\nss Solid-state",
    "parts": "part description wear_class\ncoil Coil coil\nsleeve Sleeve sleeve\nlamp Lamp lamp\nodd Odd other",
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3\nlight 2 4 0",
    "family_assemblies": "family assembly count\nss flip 3\nss light 1",
    "assembly_parts": """assembly part qty_pcs piece_hours thorough_action fix_only_action
        flip coil 1 0.2 replace keep
        flip sleeve 1 0.05 keep keep
        light lamp 40 - replace replace
        light sleeve 2 - keep keep""",
    "companions": "trigger_part trigger_wear_class adds_part share per qty_pcs assembly\n- coil sleeve 1 piece 1 -",
    "jobs": """job family scope status setting delivered_on plays_quality
        F1 em fix_only delivered home 2026-01-01 unknown
        O1 ss thorough in_progress route - read""",
    "job_parts": "job part qty_pcs\nF1 odd 1",
    "findings": """job assembly part qty_pcs condition action
        O1 flip coil 1 failed replace
        O1 flip coil 1 worn keep
        O1 flip sleeve 3 good keep""",
}


@cache
def _subjects(**tables):
    tables = {name: text for name, text in {**BASE, **tables}.items() if text}
    with hand_shop.store(**tables) as connection:
        return {each.subject: each for each in scope_subject.subjects(connection)}


def _pcs(subject, option):
    lines = subject.lines.assign(assembly=subject.lines["assembly"].fillna(""))
    return lines.set_index(["assembly", "part"])[f"{option}_pcs"]


def test_families_first_then_open_jobs_with_findings():
    assert list(_subjects()) == ["family:em", "family:ss", "job:O1"]


def test_without_records_the_lists_actions_and_companions_say_what_is_replaced():
    subject = _subjects()["family:ss"]
    pcs = _pcs(subject, "thorough")
    assert set(subject.lines["thorough_from"]) == {scope_subject.FROM_LIST}
    assert pcs[("flip", "coil")] == 3
    assert pcs[("light", "lamp")] == 40
    # a new coil brings a new sleeve, inside its own assembly
    assert pcs[("flip", "sleeve")] == 3
    assert pcs[("light", "sleeve")] == 0


def test_a_companion_replaced_anyway_is_not_added_again():
    lists = BASE["assembly_parts"].replace("flip sleeve 1 0.05 keep", "flip sleeve 1 0.05 replace")
    assert _pcs(_subjects(assembly_parts=lists)["family:ss"], "thorough")[("flip", "sleeve")] == 3


def test_a_rule_for_one_assembly_stays_there():
    rule = BASE["companions"].replace("1 piece 1 -", "1 piece 1 light")
    assert _pcs(_subjects(companions=rule)["family:ss"], "thorough")[("flip", "sleeve")] == 0


def test_a_rule_over_the_machine_reaches_other_assemblies():
    rule = "trigger_part adds_part share per\ncoil lamp 1 machine"
    lists = BASE["assembly_parts"].replace("lamp 40 - replace replace", "lamp 40 - keep keep")
    assert (
        _pcs(_subjects(companions=rule, assembly_parts=lists)["family:ss"], "thorough")[("light", "lamp")]
        == 1
    )


def test_no_rules_no_companions():
    assert _pcs(_subjects(companions="")["family:ss"], "thorough")[("flip", "sleeve")] == 0


def test_records_say_it_where_there_are_any():
    jobs = BASE["jobs"] + "".join(f"\nT{n} ss thorough delivered home 2026-01-01 read" for n in range(30))
    used = BASE["job_parts"] + "".join(f"\nT{n} sleeve 5\nT{n} odd 1" for n in range(30))
    subject = _subjects(jobs=jobs, job_parts=used)["family:ss"]
    pcs = _pcs(subject, "thorough")
    assert set(subject.lines["thorough_from"]) == {scope_subject.FROM_RECORDS}
    # five sleeves a job, spread over the places that hold three and two of them
    assert_allclose(pcs[("flip", "sleeve")], 3, atol=0.25)
    assert_allclose(pcs[("light", "sleeve")], 2, atol=0.2)
    # a part that no list knows has no assembly
    assert_allclose(pcs[("", "odd")], 1, atol=0.1)
    # never taken, although the list would replace it
    assert pcs[("light", "lamp")] < 0.5


def test_where_takings_name_the_assembly_they_say_how_pieces_are_spread():
    jobs = BASE["jobs"] + "".join(f"\nT{n} ss thorough delivered home 2026-01-01 read" for n in range(30))
    used = "job part qty_pcs assembly\nF1 odd 1 -" + "".join(f"\nT{n} sleeve 5 light" for n in range(30))
    pcs = _pcs(_subjects(jobs=jobs, job_parts=used)["family:ss"], "thorough")
    assert pcs[("flip", "sleeve")] == 0
    assert_allclose(pcs[("light", "sleeve")], 5, atol=0.4)


def test_a_scope_no_job_of_the_family_had_is_taken_from_others():
    jobs = BASE["jobs"] + "\nF2 ss fix_only delivered home 2026-01-01 read"
    subject = _subjects(jobs=jobs, job_parts="job part qty_pcs\nF2 lamp 9")["family:em"]
    assert set(subject.lines["fix_only_from"]) <= {scope_subject.FROM_OTHERS, scope_subject.FROM_RECORDS}


def test_an_open_job_is_replaced_as_found_where_the_teardown_looked():
    subject = _subjects()["job:O1"]
    fix, thorough = _pcs(subject, "fix_only"), _pcs(subject, "thorough")
    assert (fix[("flip", "coil")], thorough[("flip", "coil")]) == (1, 2)
    # each new coil brings its sleeve, though the old one was found good
    assert (fix[("flip", "sleeve")], thorough[("flip", "sleeve")]) == (1, 2)
    # nobody has looked at the lights yet: as typical
    assert thorough[("light", "lamp")] == 40
    assert subject.route_share == 1.0


def test_a_piece_the_owner_decided_to_replace_is_replaced_when_thorough():
    found = BASE["findings"] + "\nO1 flip sleeve 1 unknown replace"
    thorough = _pcs(_subjects(findings=found)["job:O1"], "thorough")
    assert thorough[("flip", "sleeve")] == 2  # the decided one is among the two that the coils bring


def test_a_finding_without_pieces_is_one_at_least():
    found = "job assembly part qty_pcs condition\nO1 flip coil - failed"
    assert _pcs(_subjects(findings=found)["job:O1"], "fix_only")[("flip", "coil")] == 1


def test_found_parts_that_no_list_knows_stand_too():
    found = BASE["findings"] + "\nO1 topper odd 2 missing -"
    assert _pcs(_subjects(findings=found)["job:O1"], "fix_only")[("topper", "odd")] == 2


def test_piece_hours_nobody_gave_are_guessed_and_marked():
    lists = BASE["assembly_parts"].replace("0.05 keep keep", "- keep keep")
    lines = _subjects(assembly_parts=lists, assemblies="assembly\nflip\nlight")["family:ss"].lines
    guessed = lines[lines["is_hours_guessed"]]
    assert set(guessed["part"]) == {"sleeve", "lamp"}
    assert (guessed["piece_hours"] > 0).all()


def test_a_family_without_lists_says_so():
    subject = _subjects()["family:em"]
    assert not subject.is_listed
    assert _subjects()["family:ss"].is_listed


def test_an_assembly_without_parts_is_no_trouble():
    assert _subjects(assembly_parts="")["family:ss"].lines["held_pcs"].sum() == 0


@pytest.mark.parametrize(("quality", "is_plays"), [("read", True), ("unknown", False)])
def test_clock_of_a_family_is_that_of_most_of_its_machines(quality, is_plays):
    jobs = BASE["jobs"] + f"\nT1 ss thorough delivered home 2026-01-01 {quality}"
    subject = _subjects(jobs=jobs, job_parts=BASE["job_parts"] + "\nT1 lamp 1")["family:ss"]
    assert subject.is_clock_plays == is_plays


def test_a_setting_nobody_wrote_down_is_unknown():
    jobs = BASE["jobs"].replace(" home ", " - ").replace(" route ", " - ")
    assert np.isnan(_subjects(jobs=jobs)["job:O1"].route_share)
