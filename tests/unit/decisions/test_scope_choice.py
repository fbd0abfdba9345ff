"""The scope between the ends beside every scope there is, each scored under the whole belief."""

from functools import cache
from itertools import product

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope_costs, scope_plan
from pipeline.decisions.scope import QUIET_SHARE
from pipeline.decisions.scope_outlook import KIND, NEW
from pipeline.decisions.scope_prospect import OWNER_DAYS, prospect
from tests.support import scope_bench
from tests.support.scope_bench import BASE, HOUR_COST

# Three flippers with a coil and a sleeve each, and a board of ten lamps; half a sleeve comes with every coil. What
# fails does so by chance as much as by age, so that no line pays by call-backs alone and every one makes it quieter.
TINY = {
    "parts": "part description wear_class unit_cost\ncoil Coil coil 60\nsleeve Sleeve sleeve 9\nlamp Lamp lamp 7",
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 0.1 0.2 0.1\nlight 0.2 0.4 0.05",
    "family_assemblies": "family assembly count\nss flip 3\nss light 1",
    "assembly_parts": """assembly part qty_pcs piece_hours thorough_action fix_only_action
        flip coil 1 0.2 replace keep
        flip sleeve 1 0.05 keep keep
        light lamp 10 0.02 replace keep""",
    "companions": "trigger_part adds_part share per\ncoil sleeve 0.5 piece",
    "wear": """wear_class median_plays_new median_plays_kept median_months_new median_months_kept shape weight_jobs
        coil 900000 13800 900 60 1 4
        sleeve 900000 27000 100 30 1 4
        lamp 900000 41000 600 90 1 4""",
    "job_parts": "job part qty_pcs\nR1 coil 1",
    # many jobs of another family that nothing was wrong with: opening disturbs little
    "families": BASE["families"] + "\nem Electromechanical",
    "jobs": BASE["jobs"] + "".join(f"\nE{n} em refresh delivered home 2026-01-01 read" for n in range(300)),
}
SHOP = {"plays_per_month_home": "100", "callback_trip_cost": "0"}


def tiny(**more):
    return scope_bench.machine(shop=SHOP, **TINY | more)


@cache
def every_scope():
    """(chance of no call-back, cost now, total) of all scopes of the machine, by hand and under the whole belief."""
    machine, shop = tiny()
    choice, subject = machine.choice, machine.subject
    lines, own = choice.lines, choice.rows
    offered = [np.flatnonzero((own.table["portion"] == portion) & own.table["is_offered"]) for portion in range(3)]
    found = []
    for chosen in product(*offered):
        pcs, hours, parts, opened = np.zeros_like(choice.fix.pcs), 0.0, 0.0, dict.fromkeys(("flip", "light"), 0)
        share = {own.table["line"][row]: own.table["replaced_share"][row] for row in chosen}
        for row in chosen:
            line, part = own.table["line"][row], lines["part"][own.table["line"][row]]
            more = max(0.5 * share[0] - share[line], 0.0) if part == "sleeve" else 0.0
            turned = more / (1 - share[line]) if more else 0.0  # of what its own action keeps
            pcs[line] += own.pcs[row] * (1 - turned)
            pcs[line, KIND[NEW, ""]] += 3 * turned
            moved = own.table["pcs"][row] * (1 - turned) + 3 * turned
            parts += moved * lines["unit_price"][line]
            hours += moved * lines["piece_hours"][line]
            if moved:
                opened[lines["assembly"][line]] = lines["copies"][line]
        assert_allclose(pcs.sum(axis=1), lines["held_pcs"])
        # unseen hours by the seed table: cleaning and wiring over bench, on the bench hours of each assembly restored
        unseen = 0.375 / 0.175 * (0.1 * opened["flip"] + 0.2 * opened["light"])
        now = parts + (hours + 0.1 * opened["flip"] + 0.05 * opened["light"] + unseen) * HOUR_COST
        found.append((*_later(shop, subject, choice, pcs, sum(opened.values())), now))
    quiet, later, now = np.array(found).T
    return quiet, now, now + later


def _later(shop, subject, choice, pcs, n_opened):
    other = choice.other_calls[:, 0] + n_opened * choice.other_calls[:, 1]
    warranty, years = (prospect(shop, subject, choice.lines, days) for days in (subject.warranty_days, OWNER_DAYS))
    quiet = np.exp(warranty.total(warranty.log_survival, pcs, np.ones(len(pcs))) - other).mean()
    calls = years.total(years.expected, pcs, choice.lines["call_amount"].to_numpy()).mean()
    return quiet, calls + other.mean() * (shop.other_call_hours * HOUR_COST + 40)


def targets():
    quiet, _, total = every_scope()
    low, high = quiet[total.argmin()], quiet.max()
    return [0.0, *np.linspace(low, high - 1e-9, 7)]


def test_the_tiny_machine_leaves_something_to_choose():
    machine, _ = tiny()
    quiet, _, total = every_scope()
    assert len(quiet) >= 12
    assert quiet.max() - quiet[total.argmin()] > 0.01
    assert machine.choice.lines["part"].tolist() == ["coil", "sleeve", "lamp"]


@pytest.mark.parametrize("place", range(8))
def test_the_cheapest_scope_as_quiet_as_asked_is_found(place):
    machine, _ = tiny()
    asked = targets()[place]
    quiet, _, total = every_scope()
    found = machine.at(asked).frontier
    best = found.table.iloc[found.best(asked)]
    assert_allclose(best["total_amount"], total[quiet >= asked].min(), rtol=1e-9)
    assert best["quiet_share"] >= asked


def test_every_scope_that_nothing_beats_is_found_when_its_own_chance_is_asked():
    machine, _ = tiny()
    quiet, _, total = every_scope()
    unbeaten = [one for one in range(len(quiet)) if total[quiet >= quiet[one] - 1e-12].min() >= total[one] - 1e-9]
    assert len(np.unique(quiet[unbeaten].round(9))) >= 5
    for place in unbeaten:
        asked = quiet[place] - 1e-9
        found = machine.at(asked).frontier
        assert_allclose(found.table["total_amount"][found.best(asked)], total[place], rtol=1e-9)


def test_every_scope_of_the_frontier_is_one_of_all_scopes_and_scored_alike():
    machine, _ = tiny()
    quiet, now, total = every_scope()
    for row in machine.at(targets()[4]).frontier.table.itertuples():
        near = np.abs(quiet - row.quiet_share) + np.abs(total - row.total_amount) + np.abs(now - row.now_amount)
        assert near.min() < 1e-8


def test_the_frontier_rises():
    for found in (tiny()[0].frontier.table, tiny()[0].choice.frontier().table):
        assert (np.diff(found["quiet_share"]) > 0).all()
        assert (np.diff(found["total_amount"]) > 0).all()
        assert_allclose(found["now_amount"] + found["later_amount"], found["total_amount"])


def test_the_cheapest_of_the_frontier_is_the_cheapest_of_all_scopes():
    _, _, total = every_scope()
    assert_allclose(tiny()[0].choice.frontier().table["total_amount"].min(), total.min(), rtol=1e-9)


def test_a_chance_that_no_scope_reaches_gives_the_cheapest():
    machine, _ = tiny()
    found = machine.at(1.0).frontier
    assert found.table["quiet_share"].max() < 1.0
    assert found.best(1.0) == found.table["total_amount"].argmin()


def test_a_plan_is_its_row_of_the_frontier():
    machine, shop = tiny()
    frontier, choice = machine.at(targets()[4]).frontier, machine.choice
    for place, row in frontier.table.iterrows():
        plan = choice.plan(frontier, place)
        other = choice.other_calls_of(plan)
        costs = scope_costs.option_costs(shop, machine.subject, choice.lines, plan, other, choice.fix)
        assert_allclose(plan.pcs.sum(axis=1), choice.lines["held_pcs"])
        assert_allclose(1 - costs.callback_share, row["quiet_share"])
        assert_allclose(costs.later_amount, row["later_amount"])


def test_a_sleeve_that_comes_along_is_not_counted_twice():
    machine, _ = tiny()
    frontier, choice = machine.at(targets()[-1]).frontier, machine.choice
    plans = [choice.plan(frontier, place) for place in range(len(frontier.table))]
    with_coils = [plan for plan in plans if plan.replaced_pcs[0] == 3]
    assert with_coils
    assert all(1.5 - 1e-9 <= plan.replaced_pcs[1] <= 3 + 1e-9 for plan in with_coils)


def test_other_terms_by_hand():
    machine, shop = tiny()
    own = machine.choice
    asked = scope_costs.terms(shop, trip_amount=150.0, open_ratio=3.0)
    other = own.under(asked)
    # a call-back: a hundred and fifty for the trip that costs nothing here, and twice the opening hours on top
    assert_allclose(
        other.lines["call_amount"] - own.lines["call_amount"], 150 + 2 * np.array([0.1, 0.1, 0.05]) * HOUR_COST
    )
    assert_allclose(other.open_now - own.open_now, 2 * np.array([3 * 0.1, 0.05]) * HOUR_COST)
    assert_allclose(other.now, own.now)
    assert_allclose(own.lines["open_hours"], [0.1, 0.1, 0.05])  # the first stays as it was


def test_a_shorter_horizon_makes_later_cheaper_and_the_chance_no_other():
    machine, shop = tiny()
    year = machine.choice.under(scope_costs.terms(shop, horizon_days=365.25))
    assert (year.later <= machine.choice.later + 1e-9).all()
    assert year.later.sum() < 0.5 * machine.choice.later.sum()
    # the chance is of the warranty: every scope of either is one of all there are
    for choice in (year, machine.choice):
        for share in choice.frontier().table["quiet_share"]:
            assert np.abs(every_scope()[0] - share).min() < 1e-9


def test_the_shop_s_own_terms_asked_anew_give_the_same():
    machine, shop = tiny()
    again = machine.choice.under(scope_costs.terms(shop)).frontier([QUIET_SHARE])
    assert again.table.equals(machine.frontier.table)


def test_without_rows_there_is_fixing_alone():
    machine, _ = scope_bench.machine(assembly_parts="", family_assemblies="", assemblies="")
    table = machine.frontier.table
    assert len(table) == 1
    plan = machine.plans()["recommended"]
    assert plan.moves.empty and machine.choice.fix.moves.empty
    assert_allclose(plan.opened, machine.choice.fix.opened)
    assert_allclose(plan.pcs, machine.choice.fix.pcs)


def test_calls_without_a_part_are_shared_out_over_what_is_opened():
    machine, shop = tiny()
    choice = machine.choice
    assert_allclose(choice.other_calls_of(choice.fix), shop.other_call_draws[:, 0])
    assert choice.thorough.opened.sum() == 4
    more = np.maximum(shop.other_call_draws[:, 2], shop.other_call_draws[:, 0])  # opening never takes calls away
    assert_allclose(choice.other_calls_of(choice.thorough), more)
    half = scope_plan.Plan(choice.fix.pcs, choice.fix.moves, choice.thorough.opened / 2, choice.thorough.restored)
    assert_allclose(choice.other_calls_of(half), (shop.other_call_draws[:, 0] + more) / 2)
