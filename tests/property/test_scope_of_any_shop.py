"""Properties of the scope of work through the whole decision, on small shops drawn at random."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope, scope_costs
from pipeline.decisions.scope_choice import Choice
from pipeline.decisions.scope_prospect import OWNER_DAYS, prospect
from tests.support import hand_shop
from tests.support.scope_bench import HOUR_COST, SHOP, assert_whole

ALL = range(10)
# three shops in every run; all of them under slow
SEEDS = [pytest.param(seed, marks=[] if seed < 3 else pytest.mark.slow) for seed in ALL]
PARTS = ("coil", "sleeve", "plunger", "lamp", "switch", "board")
TRIGGERS, COME_ALONG = ("coil", "plunger"), ("sleeve", "lamp")


def tables(seed):
    """A family with one to three assemblies of the six parts, its lists, rules and guesses; an opened job."""
    rng = np.random.default_rng(seed)
    names = [f"unit{number}" for number in range(rng.integers(1, 4))]
    places = [(name, part) for name in names for part in PARTS if rng.random() < 0.6] or [(names[0], "coil")]
    settings = SHOP | {
        "plays_per_month_home": f"{rng.uniform(50, 400):.0f}",
        "callback_trip_cost": f"{rng.uniform(0, 200):.0f}",
    }
    jobs = ["O1 ss refresh in_progress home - read", "R1 ss refresh delivered home 2026-01-01 read"]
    conditions = ["failed", "worn", "unknown", "good"]
    found = [f"O1 {name} {part} 1 {rng.choice(conditions)}" for name, part in places[:3]]
    return {
        "shop": _text("key value", (f"{key} {value}" for key, value in settings.items())),
        "families": "family name\nss Any",
        **_parts(rng),
        **_lists(rng, names, places, is_fixed_too=seed % 3 == 0),
        "jobs": _text("job family scope status setting delivered_on plays_quality", jobs),
        "job_parts": "job part qty_pcs\nR1 coil 1",
        "findings": _text("job assembly part qty_pcs condition", found),
    }


def _parts(rng):
    """Prices, one of them now and then unknown, and guesses of life of which some are short."""
    price = {part: f"{rng.lognormal(2, 1.2):.2f}" for part in PARTS}
    if rng.random() < 0.4:
        price["board"] = "-"
    new = dict(zip(PARTS, rng.uniform(2e4, 9e5, len(PARTS)), strict=True))
    kept = {part: new[part] * rng.uniform(0.01, 1) for part in PARTS}
    guesses = (f"{part} {new[part]:.0f} {kept[part]:.0f} {rng.uniform(0.8, 2.5):.2f} 5" for part in PARTS)
    return {
        "parts": _text("part description wear_class unit_cost", (f"{each} X {each} {price[each]}" for each in PARTS)),
        "wear": _text("wear_class median_plays_new median_plays_kept shape weight_jobs", guesses),
    }


def _lists(rng, names, places, is_fixed_too):
    """Assemblies and their parts, what is done to them, and rules of what comes along with what."""
    actions = {part: rng.choice(["replace", "keep", "clean"]) for part in PARTS} | dict.fromkeys(COME_ALONG, "keep")
    fixing = dict.fromkeys(PARTS, "keep")
    if is_fixed_too:
        actions["switch"] = fixing["switch"] = "replace"
    rules = [
        f"{trigger} {adds} {rng.uniform(0.2, 1):.2f} {rng.choice(['piece', 'assembly'])}"
        for trigger in TRIGGERS
        for adds in COME_ALONG
        if rng.random() < 0.5
    ]
    hours = (f"{name} {rng.uniform(0.1, 1):.2f} {rng.uniform(1, 2):.2f} {rng.uniform(0, 0.4):.2f}" for name in names)
    pieces = (
        f"{name} {part} {rng.integers(1, 4)} {rng.uniform(0.02, 0.4):.2f} {actions[part]} {fixing[part]}"
        for name, part in places
    )
    return {
        "assemblies": _text("assembly bench_hours installed_hours open_hours", hours),
        "family_assemblies": _text("family assembly count", (f"ss {name} {rng.integers(1, 4)}" for name in names)),
        "assembly_parts": _text("assembly part qty_pcs piece_hours thorough_action fix_only_action", pieces),
        "companions": _text("trigger_part adds_part share per", rules),
    }


def _text(header, rows):
    return "\n".join([header, *rows])


@cache
def made(seed):
    with hand_shop.store(**tables(seed)) as connection:
        return scope.make(connection)


def machines(seed):
    return made(seed).machines.values()


def totals(seed, subject):
    """Cost now and later of each option."""
    options = made(seed).options.set_index(["subject", "option"]).loc[subject]
    return options["parts_amount"] + options["bench_hours"] * HOUR_COST + options["later_cost_amount"]


def with_trip(machine, shop, trip_amount):
    """What is chosen at this cost of a trip, no chance asked: the plan, and its expected calls over five years."""
    choice = Choice(shop, machine.subject, machine.hours, scope_costs.terms(shop, trip_amount))
    frontier = choice.frontier()
    plan = choice.plan(frontier, frontier.best(0.0))
    years = prospect(shop, machine.subject, choice.lines, OWNER_DAYS)
    failures = years.total(years.expected, plan.pcs, np.ones(len(choice.lines)))
    return plan, float((failures + choice.other_calls_of(plan)).mean())


@pytest.mark.parametrize("seed", SEEDS)
def test_tables_are_whole(seed):
    found = made(seed)
    assert_whole(found)
    assert set(found.options["subject"]) == {"family:ss", "job:O1"}
    assert len(found.options) == 6
    assert len(found.calls) == 12


@pytest.mark.parametrize("seed", SEEDS)
def test_lines_add_up_to_what_each_option_costs_now(seed):
    found = made(seed)
    options = found.options.set_index(["subject", "option"])
    now = found.lines.groupby(["subject", "option"])["now_amount"].sum().reindex(options.index, fill_value=0.0)
    expected = options["parts_amount"] + options["bench_hours"] * HOUR_COST
    unpriced = found.lines["now_amount"].isna().groupby([found.lines["subject"], found.lines["option"]]).any()
    is_known = ~unpriced.reindex(options.index, fill_value=False).astype(bool)
    assert_allclose(now[is_known], expected[is_known], atol=1e-9)
    assert (now[~is_known] < expected[~is_known]).all()  # hours of what has no price are in the option alone


@pytest.mark.parametrize("seed", SEEDS)
def test_no_piece_is_lost_or_counted_twice(seed):
    for machine in machines(seed):
        for plan in machine.plans().values():
            assert_allclose(plan.pcs.sum(axis=1), machine.choice.lines["held_pcs"], atol=1e-9)
            assert (plan.pcs >= -1e-12).all()
            assert (plan.opened <= machine.choice.lines.groupby("assembly")["copies"].max() + 1e-9).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_the_frontier_rises_and_holds_what_is_recommended(seed):
    for machine in machines(seed):
        table = machine.frontier.table
        assert (np.diff(table["quiet_share"]) > 0).all()
        assert (np.diff(table["total_amount"]) > 0).all()
        own = totals(seed, machine.subject.subject)["recommended"]
        assert_allclose(own, table["total_amount"][machine.frontier.best(scope.QUIET_SHARE)])


@pytest.mark.parametrize("seed", SEEDS)
def test_the_cheapest_scope_is_no_dearer_than_either_end(seed):
    for machine in machines(seed):
        own = totals(seed, machine.subject.subject)
        cheapest = machine.frontier.table["total_amount"].min()
        assert cheapest <= own["fix_only"] + 1e-6
        if _is_thorough_on_offer(machine):
            assert cheapest <= own["thorough"] - machine.hours.whole_hours * HOUR_COST + 1e-6


@pytest.mark.parametrize("seed", SEEDS)
def test_the_recommended_scope_is_no_dearer_than_an_end_that_is_as_quiet(seed):
    for machine in machines(seed):
        options = made(seed).options.set_index(["subject", "option"]).loc[machine.subject.subject]
        own, quiet = totals(seed, machine.subject.subject), 1 - options["callback_share"]
        for end in ("fix_only", *(["thorough"] if _is_thorough_on_offer(machine) else [])):
            asked = machine.at(quiet[end] - 1e-9)
            found = asked.frontier.table.iloc[asked.frontier.best(quiet[end] - 1e-9)]
            assert found["total_amount"] <= own[end] + 1e-6, end
            assert found["quiet_share"] >= quiet[end] - 1e-9, end


def _is_thorough_on_offer(machine):
    """A typical machine, and a price for each line that thorough works on: it is one of the scopes to choose from."""
    worked = machine.choice.lines[machine.choice.thorough.replaced_pcs > 0]
    return machine.subject.subject.startswith("family:") and bool(worked["unit_price"].notna().all())


@pytest.mark.parametrize("seed", SEEDS)
def test_a_dearer_trip_never_brings_more_calls(seed):
    shop = made(seed).shop
    for machine in machines(seed):
        calls = [with_trip(machine, shop, trip)[1] for trip in (0.0, 40.0, 200.0, 1500.0)]
        assert (np.diff(calls) <= 1e-9).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_a_dearer_trip_never_narrows_the_scope(seed):
    # lines that do not bring one another along, and assemblies that opening does not disturb: a dearer call-back is
    # then a reason to do more, and none to do less
    shop = made(seed).shop
    calm = replace(shop, other_call_draws=np.zeros_like(shop.other_call_draws), rules=shop.rules.iloc[:0])
    for machine in machines(seed):
        touched = [with_trip(machine, calm, trip)[0].touched_pcs > 1e-9 for trip in (0.0, 40.0, 200.0, 1500.0)]
        for near, far in zip(touched[:-1], touched[1:], strict=True):
            assert not (near & ~far).any()


def test_a_dearer_trip_widens_some_of_the_shops_scopes():
    widened = 0
    for seed in range(3):
        for machine in machines(seed):
            near, far = (with_trip(machine, made(seed).shop, trip)[0].touched_pcs.sum() for trip in (0.0, 1500.0))
            widened += far > near
    assert widened >= 3
