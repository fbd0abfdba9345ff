"""What can be done to each piece that fixing would leave: portions by state, actions, and what comes along."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions.scope_outlook import KIND, NEW, TREATMENT_HOURS
from pipeline.decisions.scope_prospect import OWNER_DAYS, prospect
from tests.support import scope_bench
from tests.support.scope_bench import BASE

LIST = "assembly part qty_pcs piece_hours thorough_action fix_only_action\n"
OPEN_JOB = {
    "jobs": BASE["jobs"] + "\nO1 ss refresh in_progress home - read",
    "findings": """job assembly part qty_pcs condition action
        O1 flip coil 1 failed -
        O1 flip coil 1 worn -
        O1 flip sleeve 2 good -
        O1 flip sleeve 1 unknown -""",
}
# three flippers of two coils and two sleeves: six of each
PAIRS = LIST + "flip coil 2 0.2 replace keep\nflip sleeve 2 0.05 keep keep"
RULES = "trigger_part trigger_wear_class adds_part share per qty_pcs assembly\n"


def rows(subject="family:ss", **tables):
    """Rows of a machine with the part they are about, and the pieces of each life that they leave."""
    machine, _ = scope_bench.machine(subject, **tables)
    made, parts = machine.choice.rows, machine.choice.lines["part"].to_numpy()
    table = made.table.assign(part=parts[made.table["line"]])
    return table, made.pcs, made.companions, parts[made.line]


def only(table, **wanted):
    """The one row with these values."""
    found = table[(table[list(wanted)] == list(wanted.values())).all(axis=1)]
    assert len(found) == 1
    return found.iloc[0]


def offered(part, **tables):
    """What may be chosen for a part, as (action, note)."""
    table = rows(**tables)[0]
    own = table[(table["part"] == part) & table["is_offered"]]
    return set(zip(own["action"], own["note"], strict=True))


def test_every_state_of_a_line_is_a_portion_of_its_own():
    table, pcs, _, _ = rows("job:O1", **OPEN_JOB)
    keep = table[table["action"] == "keep"]
    held = {
        (part, state): pcs[place].sum()
        for place, part, state in zip(keep.index, keep["part"], keep["state"], strict=True)
    }
    # of three coils one failed, one is worn, one nobody said anything of
    assert held == {("coil", "worn"): 1, ("coil", "unjudged"): 1, ("sleeve", "good"): 2, ("sleeve", "unjudged"): 1}
    for place, state in zip(keep.index, keep["state"], strict=True):
        assert pcs[place, KIND[state, ""]] == pcs[place].sum()


def test_the_first_row_of_each_portion_keeps_it_for_nothing():
    table, _, _, _ = rows("job:O1", **OPEN_JOB)
    first = table.groupby("portion").first()
    assert (first["action"] == "keep").all()
    assert (first[["pcs", "parts_amount", "hours", "replaced_share"]] == 0).all().all()
    assert (np.diff(table["portion"]) >= 0).all()


def test_replacing_by_hand():
    table, pcs, _, _ = rows()
    coil = only(table, part="coil", note="whole")
    assert (coil["pcs"], coil["parts_amount"], coil["replaced_share"]) == (3, 45, 1)
    assert_allclose(coil["hours"], 3 * 0.2)
    assert pcs[coil.name, KIND[NEW, ""]] == pcs[coil.name].sum() == 3


def test_where_the_teardown_looked_nothing_is_left_to_be_found():
    table, _, _, _ = rows("job:O1", **OPEN_JOB)
    assert not (table["note"] == "as found").any()


def test_as_found_replaces_as_many_as_thorough_jobs_do_and_thinks_better_of_the_rest():
    # the list keeps the sleeves; half a sleeve comes with each coil, so that thorough jobs replace one and a half
    tables = {
        "assembly_parts": BASE["assembly_parts"].replace("0.05 replace", "0.05 keep"),
        "companions": RULES + "coil - sleeve 0.5 piece 1 -",
    }
    table, pcs, _, _ = rows(**tables)
    found = only(table, part="sleeve", note="as found")
    assert_allclose(
        [found["pcs"], found["parts_amount"], found["hours"], found["replaced_share"]], [1.5, 1.5, 1.5 * 0.05, 0.5]
    )
    left = pcs[found.name]
    assert_allclose([left[KIND[NEW, ""]], left.sum()], [1.5, 3])
    assert left[KIND["good", ""]] > 0
    # looking finds the worn ones and mends none: together they fail as often as before, less the worn ones taken out
    machine, shop = scope_bench.machine(**tables)
    seen = prospect(shop, machine.subject, machine.choice.lines, OWNER_DAYS)
    fails = seen.mean_of_lines(seen.expected)[machine.choice.lines["part"].tolist().index("sleeve")]
    kept = left[KIND["good", ""]] * fails[KIND["good", ""]] + left[KIND["unjudged", ""]] * fails[KIND["unjudged", ""]]
    spared = 3 * fails[KIND["unjudged", ""]] - 1.5 * fails[KIND["worn", ""]]
    assert_allclose(kept, max(spared, 1.5 * fails[KIND["good", ""]]))


@pytest.mark.parametrize(("action", "hours"), [("clean", 0.5), ("recondition", 1.5)])
def test_a_treatment_by_hand(action, hours):
    table, pcs, _, _ = rows(assembly_parts=LIST + f"flip coil 1 0.2 {action} keep\nflip sleeve 1 0.05 replace keep")
    coil = only(table, part="coil", action=action)
    assert TREATMENT_HOURS[action] == hours
    assert_allclose(coil["hours"], 3 * 0.2 * hours)
    assert (coil["pcs"], coil["parts_amount"], coil["replaced_share"]) == (3, 0, 0)
    assert pcs[coil.name, KIND["unjudged", action]] == pcs[coil.name].sum() == 3


def test_nothing_is_cleaned_reconditioned_or_made_that_no_list_names():
    assert {action for action, _ in offered("coil")} == {"keep", "replace"}
    assert {action for action, _ in offered("coil", assembly_parts=LIST + "flip coil 1 0.2 clean keep")} == {
        "keep",
        "replace",
        "clean",
    }
    assert {action for action, _ in offered("coil", assembly_parts=LIST + "flip coil 1 0.2 keep recondition")} == {
        "keep",
        "replace",
        "recondition",
    }


def test_a_made_part_costs_what_making_it_cost_last():
    made = "part moved_on qty_pcs kind unit_cost\ncoil 2026-01-01 2 made 4\ncoil 2026-02-01 2 made 6"
    tables = {"assembly_parts": LIST + "flip coil 1 0.2 make keep", "stock_moves": made}
    table, pcs, _, _ = rows(**tables)
    coil = only(table, part="coil", action="make")
    assert (coil["pcs"], coil["parts_amount"], coil["replaced_share"]) == (3, 18, 1)
    assert pcs[coil.name, KIND[NEW, ""]] == 3
    assert ("make", "whole") not in offered("coil", stock_moves=made)  # the list must name it


def test_a_part_without_a_price_is_not_replaced_by_choice():
    lists = BASE["assembly_parts"] + "\nflip glass 1 0.1 replace keep"
    assert offered("glass", assembly_parts=lists) == {("keep", "")}


@pytest.mark.parametrize(("on_shelf", "is_had"), [(0, False), (2, False), (3, True)])
def test_a_part_that_nobody_sells_any_more_is_replaced_from_the_shelf_or_not(on_shelf, is_had):
    parts = "part description wear_class unit_cost supply\ncoil Coil coil 15 ended\nsleeve Sleeve sleeve 1 -"
    stock = f"part moved_on qty_pcs kind\ncoil 2026-01-01 {on_shelf} opening" if on_shelf else ""
    found = offered("coil", parts=parts, job_parts="job part qty_pcs\nR1 sleeve 1", stock_moves=stock)
    assert found == ({("keep", ""), ("replace", "whole")} if is_had else {("keep", "")})


def test_a_part_that_nobody_sells_any_more_does_not_come_along_either():
    parts = "part description wear_class unit_cost supply\ncoil Coil coil 15 -\nsleeve Sleeve sleeve 1 {}"
    asked = {
        "assembly_parts": PAIRS,
        "companions": RULES + "coil - sleeve 1 piece 1 -",
        "job_parts": "job part qty_pcs\nR1 coil 1",
    }
    for supply, comes in (("ended", False), ("steady", True)):
        table = rows(**asked, parts=parts.format(supply))[0]
        assert table[(table["part"] == "sleeve") & (table["note"] == "whole")]["is_whole"].item() == comes


def levels(rule, **tables):
    """Rules of a machine as {(trigger, target): share of the target that comes along}."""
    _, _, companions, parts = rows(companions=RULES + rule, **{"assembly_parts": PAIRS} | tables)
    return {
        (parts[trigger], parts[target]): level
        for trigger, target, level in zip(companions.trigger, companions.target, companions.level, strict=True)
    }


@pytest.mark.parametrize(
    ("per", "qty_pcs", "share", "level"),
    [
        ("piece", 1, 1, 6 / 6),  # six coils, a sleeve each, of six
        ("piece", 1, 0.5, 3 / 6),  # at every other coil
        ("assembly", 1, 1, 3 / 6),  # three flippers, a sleeve each
        ("machine", 1, 1, 1 / 6),  # one for the machine
        ("machine", 2, 0.5, 1 / 6),
        ("piece", 9, 1, 1),  # no more than there are
    ],
)
def test_what_comes_along_by_hand(per, qty_pcs, share, level):
    found = levels(f"coil - sleeve {share} {per} {qty_pcs} -")
    assert list(found) == [("coil", "sleeve")]
    assert_allclose(found["coil", "sleeve"], level)


def test_a_rule_has_a_direction():
    assert list(levels("sleeve - coil 1 piece 1 -")) == [("sleeve", "coil")]


def test_a_rule_by_wear_class_is_one_by_part():
    assert levels("- coil sleeve 0.4 piece 1 -") == levels("coil - sleeve 0.4 piece 1 -")


def test_a_part_does_not_bring_itself():
    assert levels("coil - coil 1 piece 1 -") == {}


def test_a_rule_for_another_assembly_does_not_work_here():
    assert levels("coil - sleeve 1 piece 1 light") == {}
    assert levels("coil - sleeve 1 piece 1 flip") == {("coil", "sleeve"): 1}


def test_once_per_machine_comes_to_one_place():
    lists = PAIRS + "\njet sleeve 1 0.05 keep keep"
    _, _, companions, parts = rows(
        companions=RULES + "coil - sleeve 1 machine 1 -",
        assembly_parts=lists,
        assemblies=BASE["assemblies"] + "\njet 1 2 0.3",
        family_assemblies=BASE["family_assemblies"] + "\nss jet 2",
    )
    assert [parts[target] for target in companions.target] == ["sleeve"]
    assert_allclose(companions.level, 1 / 6)  # beside the coils, not in the jet bumpers


def test_portions_of_one_line_share_what_one_rule_brings():
    # the rule's two coils, one worn and one unjudged, each bring one of the three sleeves; its failed one did before
    _, _, companions, _ = rows("job:O1", **OPEN_JOB, companions=RULES + "coil - sleeve 1 piece 1 -")
    together = companions.level[companions.target == companions.target[0]]
    assert len(set(companions.rule)) == 1
    # a sleeve came with the failed coil; two are left, and each of the two coils brings one of them
    assert_allclose(together, [1 / 2, 1 / 2])
