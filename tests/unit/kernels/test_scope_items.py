"""Items of lines by hand: companions counted once, beaten states left out, large components decided jointly."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.scope_hull import scope_at
from pipeline.kernels.scope_items import Actions, Companions, items

NO_RULES = Companions(*(np.empty(0, dtype=int) for _ in range(3)), np.empty(0))


def lines(*rows, assembly):
    """Actions from rows (line, amount, log_quiet, opens, share, offered, whole)."""
    line, amount, quiet, opens, share, offered, whole = map(np.array, zip(*rows, strict=True))
    return Actions(line, amount.astype(float), quiet.astype(float), opens > 0, share.astype(float), offered > 0,
                   whole > 0, np.array(assembly))


def rules(*rows):
    rule, trigger, target, level = zip(*rows, strict=True)
    return Companions(np.array(rule), np.array(trigger), np.array(target), np.array(level, dtype=float))


def coil_plunger_sleeve(assembly=(0, 0, 0), half_is_offered=False):
    return lines((0, 0, -0.05, 0, 0, 1, 0), (0, 40, -0.01, 1, 1, 1, 1),
                 (1, 0, -0.02, 0, 0, 1, 0), (1, 20, -0.01, 1, 1, 1, 1),
                 (2, 0, -0.03, 0, 0, 1, 0), (2, 1.5, -0.02, 1, 0.5, half_is_offered, 0), (2, 4, -0.01, 1, 1, 0, 1),
                 assembly=assembly)


def states(found):
    """Amount, log chance and what comes along, by the tuple of rows taken."""
    return {tuple(row): (float(amount), float(quiet), along.tolist()) for row, amount, quiet, along in
            zip(found.action.tolist(), found.amount, found.log_quiet, found.along_share, strict=True)}


def test_two_rules_that_want_the_same_sleeve_bring_it_once():
    found = states(items(coil_plunger_sleeve(), rules((0, 0, 2, 1.0), (1, 1, 2, 1.0)), [5.0], [0.0]))
    assert found[1, 3, 4] == (pytest.approx(64.0), pytest.approx(-0.03), pytest.approx([0, 0, 1]))
    assert found[0, 3, 4] == (pytest.approx(24.0), pytest.approx(-0.07), pytest.approx([0, 0, 1]))


def test_triggers_of_one_rule_add_up_to_all_pieces_at_most():
    found = states(items(coil_plunger_sleeve(), rules((0, 0, 2, 0.3), (0, 1, 2, 0.9)), [5.0], [0.0]))
    assert found[1, 2, 4] == (pytest.approx(40 + 0.3 * 4), pytest.approx(-0.054), pytest.approx([0, 0, 0.3]))
    assert found[1, 3, 4] == (pytest.approx(64.0), pytest.approx(-0.03), pytest.approx([0, 0, 1]))


def test_pieces_that_are_replaced_anyway_do_not_come_along_again():
    # Half of the sleeves by themselves at 1.5; the rule wants 0.8 of them: 0.3 more, 0.6 of the half that is left.
    found = states(items(coil_plunger_sleeve(half_is_offered=True), rules((0, 0, 2, 0.8)), [5.0], [0.0]))
    assert found[1, -1, 5] == (pytest.approx(40 + 1.5 + 0.6 * 2.5), pytest.approx(-0.03 + 0.6 * 0.01),
                               pytest.approx([0, 0, 0.3]))
    assert found[0, -1, 5] == (pytest.approx(1.5), pytest.approx(-0.07), [0, 0, 0])


def test_a_trigger_replaced_in_part_brings_a_part():
    half = coil_plunger_sleeve()
    half = replace(half, replaced_share=np.where(np.arange(7) == 1, 0.5, half.replaced_share),
                   is_whole_replacement=half.is_whole_replacement & (np.arange(7) != 1))
    found = states(items(half, rules((0, 0, 2, 0.8)), [5.0], [0.0]))
    assert found[1, -1, 4][2] == pytest.approx([0, 0, 0.4])


def test_what_comes_along_triggers_nothing_further():
    found = states(items(coil_plunger_sleeve(), rules((0, 0, 1, 1.0), (1, 1, 2, 1.0)), [5.0], [0.0]))
    assert found[1, 2, 4] == (60.0, pytest.approx(-0.05), [0, 1, 0])


def test_a_companion_opens_its_own_assembly():
    found = items(coil_plunger_sleeve((0, 0, 1)), rules((0, 0, 2, 0.5)), [5.0, 7.0], [0.0, 0.0])
    row = {tuple(action): needs.tolist() for action, needs in zip(found.action.tolist(), found.needs, strict=True)}
    assert row[1, -1, 4] == [True, True] and row[0, -1, 4] == [False, False]


def test_without_a_whole_replacement_nothing_comes_along():
    bare = replace(coil_plunger_sleeve(), is_whole_replacement=np.arange(7) == 1)
    assert not items(bare, rules((0, 0, 2, 1.0)), [5.0], [0.0]).along_share.any()


def test_an_action_beaten_without_opening_goes_and_the_base_stays():
    line = lines((0, 10, -0.02, 0, 0, 1, 0), (0, 5, -0.01, 0, 0, 1, 0), (0, 6, -0.01, 1, 1, 1, 1),
                 (0, 7, -0.005, 1, 1, 1, 0), (0, 5, -0.01, 0, 0, 1, 0), assembly=[0])
    assert items(line, NO_RULES, [5.0], [0.0]).action[:, 0].tolist() == [0, 1, 3]


def test_many_triggers_of_one_assembly_are_decided_jointly():
    # 17 triggers and a target: 2**18 states one by one, 2 of the triggers together and 2 of the target.
    rows = [(n, 0.0, -0.02, 0, 0, 1, 0) if kind == 0 else (n, 10.0 + n, -0.01, 1, 1, 1, 1)
            for n in range(18) for kind in range(2)]
    found = items(lines(*rows, assembly=[0] * 18), rules(*((0, n, 17, 1.0) for n in range(17))), [5.0], [0.0])
    order = np.argsort(found.amount)
    assert [set((action % 2)[:17].tolist()) for action in found.action[order]] == [{0}, {0}, {1}]
    assert found.amount[order].tolist() == [0.0, 27.0, 10.0 * 18 + sum(range(18))]
    # the target's own replacement and its coming along are one and the same: either may stand
    assert found.along_share[order[2], 17] + found.action[order[2], 17] % 2 == 1


def test_a_rule_over_many_assemblies_stays_in_hand():
    rows = [(n, 0.0, -0.02, 0, 0, 1, 0) if kind == 0 else (n, 10.0, -0.01, 1, 1, 1, 1)
            for n in range(20) for kind in range(2)]
    made = items(lines(*rows, assembly=range(20)), rules(*((0, n, 19, 0.1) for n in range(19))), [5.0] * 20,
                 [0.0] * 20)
    found = scope_at(made, [0.0, np.inf])
    assert_allclose(found.amount, [0.0, 300.0])
    assert_allclose(found.log_quiet, [-0.4, -0.2])


@pytest.mark.parametrize(("name", "values", "message"), [
    ("log_quiet", [0.1, 0, 0, 0, 0, 0, 0], "log_quiet"), ("amount", [np.nan] + [0] * 6, "missing"),
    ("replaced_share", [2.0] + [0] * 6, "share"), ("amount", [0.0] * 6, "6 values"),
    ("line", [0, 0, 1, 1, 1, 1, 1], "last line"), ("line", [0, 1, 0, 1, 2, 2, 2], "rise"),
    ("is_offered", [False] + [True] * 6, "not offered"), ("is_whole_replacement", [True] * 7, "two rows"),
    ("assembly", [0, 0, 3], "group"), ("log_quiet", [np.nan] + [0] * 6, "log_quiet")])
def test_actions_that_cannot_be_are_refused(name, values, message):
    with pytest.raises(InvalidParameter, match=message):
        items(replace(coil_plunger_sleeve(), **{name: np.array(values)}), NO_RULES, [5.0], [0.0])


@pytest.mark.parametrize(("companion", "open_amount", "open_log_quiet"), [
    (rules((0, 0, 2, 1.5)), [5.0], [0.0]), (rules((0, 0, 9, 1.0)), [5.0], [0.0]), (NO_RULES, [-5.0], [0.0]),
    (NO_RULES, [5.0], [0.1]), (NO_RULES, [5.0, 1.0], [0.0]), (NO_RULES, [np.nan], [0.0])])
def test_rules_and_openings_that_cannot_be_are_refused(companion, open_amount, open_log_quiet):
    with pytest.raises(InvalidParameter):
        items(coil_plunger_sleeve(), companion, open_amount, open_log_quiet)
