"""What each scope of a seeded world's machines would really have cost, by the generator's own lives and use."""

from functools import cache

import numpy as np
import pandas as pd
from scipy.stats import norm

from pipeline.decisions import scope, scope_costs, scope_shop
from pipeline.decisions.scope_outlook import KINDS, TREATED
from pipeline.decisions.scope_prospect import OWNER_DAYS
from pipeline.demo import lives as true_lives
from pipeline.demo.world import FAMILIES, SCOPES, World
from pipeline.kernels.renewal_function import weibull_renewals
from pipeline.models.lives_watched import MONTH_DAYS
from pipeline.store import connect
from tests.support import scope_proof

MACHINES = 500  # of each setting: evenly spread quantiles of true use, so that no luck of the draw is in the mean
WORN_SCOPE = {"unjudged": "fix_only", "good": "thorough"}  # whose share of worn pieces holds for pieces so judged
_STEPS = 24


@cache
def plays_per_month(lives):
    """True use of the machines, games a month: (2, `MACHINES`), at home and on route."""
    spread = lives.plays_sigma * norm.ppf((np.arange(MACHINES) + 0.5) / MACHINES) - lives.plays_sigma**2 / 2
    return np.array([[lives.home_plays_per_month], [lives.route_plays_per_month]]) * np.exp(spread)


def on_route(world, family):
    """True chance that a machine of a family stands on route, as :func:`pipeline.demo.machines.make` draws it."""
    return world.bookings.route_share * (0.3 if FAMILIES.index(family) == 0 else 1.0)


def true_scales(world, wear_class, state, step, looked=WORN_SCOPE):
    """Weibull shape, and scales with their shares, of a piece in a state, moved by ``step`` towards a new one's."""
    _, new, _ = true_lives.scales(world, wear_class, "new")
    shape, good, worn = true_lives.scales(world, wear_class, "kept")
    if state == "new":
        return shape, ((new, 1.0),)
    share = 1.0 if state == "worn" else world.lives.worn_share[SCOPES.index(looked[state])]
    return shape, tuple((scale ** (1 - step) * new**step, part) for scale, part in ((worn, share), (good, 1 - share)))


@cache
def true_failures(world_lives, treated=True, all_looked=False):
    """Expected failures in five years of one piece, failed ones replaced by new: (2 settings, n_kinds, n_classes).

    Parameters
    ----------
    world_lives : pipeline.demo.world.Lives
    treated : bool
        Whether treating moves a life as the decisions say; the generator knows nothing of treatment.
    all_looked : bool
        Whether pieces left unjudged are as seldom worn as the generator has it in every piece of a thorough job.
    """
    world = World(lives=world_lives)
    looked = {**WORN_SCOPE, "unjudged": "thorough"} if all_looked else WORN_SCOPE
    found = np.empty((2, len(KINDS), len(true_lives.CLASS_LIVES)))
    for column, (wear_class, (clock, *_)) in enumerate(sorted(true_lives.CLASS_LIVES.items())):
        per_month = plays_per_month(world_lives) if clock == "plays" else np.ones((2, 1))
        time = OWNER_DAYS / MONTH_DAYS * per_month
        _, new, _ = true_lives.scales(world, wear_class, "new")
        for row, (state, action) in enumerate(KINDS):
            shape, parts = true_scales(world, wear_class, state, TREATED.get(action, 0.0) * treated, looked)
            found[:, row, column] = sum(
                share * weibull_renewals(time, new, shape, scale, shape, steps=_STEPS).mean(axis=1)
                for scale, share in parts)
    return found


def outcomes(entry, folder):
    """One row per family and option of a world: what it costs now, and later as foretold and in truth.

    Returns
    -------
    pandas.DataFrame
        world, family, weight (share of true jobs), option, now, whole (amount of a thorough job's whole-machine hours),
        foretold and true (later amounts), untreated (true, had treating no effect), all_looked (true, were every piece
        kept by a thorough job as seldom worn as in the generator's thorough jobs).
    """
    rows = []
    with connect.open_read(scope_proof.store(entry, folder)) as connection:
        shop = scope_shop.shop(connection)
        for machine in scope.machines(connection, shop):
            if not machine.subject.subject.startswith("family:"):
                break  # families come first
            plans = machine.plans()
            rows += [(entry.name, machine.subject.family, option, *_costs(entry.world, shop, machine, plans, option))
                     for option in plans]
    found = pd.DataFrame(rows, columns=["world", "family", "option", "now", "whole", "foretold", "true", "untreated",
                                        "all_looked"])
    weight = pd.Series(entry.world.bookings.family_shares, index=FAMILIES)
    return found.assign(weight=found["family"].map(weight))


def _costs(world, shop, machine, plans, option):
    plan = plans[option]
    told = dict(zip(scope.OPTION_COLUMNS, scope.option_row(shop, machine, option, plan), strict=True))
    now = told["parts_amount"] + told["bench_hours"] * shop.hour_cost
    whole = machine.hours.whole_hours * shop.hour_cost * (option == "thorough")
    other = true_other_calls(world, machine.subject.warranty_days, opened_share(plans, option))
    calls = other * scope_costs.other_call_amount(shop, scope_costs.terms(shop))
    true, untreated, looked = (
        calls + true_later(world, machine, plan, **given)
        for given in ({}, {"treated": False}, {"all_looked": option == "thorough"}))
    return now, whole, told["later_cost_amount"], true, untreated, looked


def true_later(world, machine, plan, **given):
    """True expected amount of call-backs with a part over five years, under a plan."""
    lines = machine.choice.lines
    route = on_route(world, machine.subject.family)
    each = np.tensordot([1 - route, route], true_failures(world.lives, **given), axes=1)
    classes = sorted(true_lives.CLASS_LIVES)
    per_piece = each[:, lines["wear_class"].map(classes.index).to_numpy()].T
    return float(((plan.pcs * per_piece).sum(axis=1) * lines["call_amount"].to_numpy()).sum())


def opened_share(plans, option):
    """Assemblies opened beyond fixing, over those that the thorough job opens beyond it."""
    fixing = plans["fix_only"].opened
    more = [float((plans[name].opened - fixing).clip(lower=0.0).sum()) for name in (option, "thorough")]
    return min(more[0] / more[1], 1.0) if more[1] > 0 else 0.0


def true_other_calls(world, days, share):
    """True calls without a part by a day, a share of the way from fixing only to thorough."""
    first, _, last = world.lives.other_calls
    return (first + share * (last - first)) * -np.expm1(-days / world.lives.other_mean_days)


def played_later(world, machine, plan, rng, n_machines=1000):
    """True amount of call-backs with a part over five years of machines played through one by one: (n_machines,)."""
    lines, lives = machine.choice.lines, world.lives
    is_route = rng.random(n_machines) < on_route(world, machine.subject.family)
    use = np.where(is_route, lives.route_plays_per_month, lives.home_plays_per_month)
    use = use * rng.lognormal(-lives.plays_sigma**2 / 2, lives.plays_sigma, n_machines)
    amounts = np.zeros(n_machines)
    for place, (wear_class, call) in enumerate(zip(lines["wear_class"], lines["call_amount"], strict=True)):
        clock, _, _, _ = true_lives.CLASS_LIVES[wear_class]
        end = OWNER_DAYS / MONTH_DAYS * (use if clock == "plays" else np.ones(n_machines))
        for kind in np.flatnonzero(plan.pcs[place]):
            amounts += call * _played(world, wear_class, KINDS[kind], plan.pcs[place, kind], end, rng)
    return amounts


def _played(world, wear_class, kind, pieces, end, rng):
    shape, parts = true_scales(world, wear_class, kind[0], TREATED.get(kind[1], 0.0))
    _, new, _ = true_lives.scales(world, wear_class, "new")
    number = int(pieces) + (rng.random(end.size) < pieces - int(pieces))
    machine = np.repeat(np.arange(end.size), number)
    scales, shares = zip(*parts, strict=True)
    age = rng.choice(scales, machine.size, p=shares) * rng.weibull(shape, machine.size)
    failed = np.zeros(end.size)
    while machine.size:
        is_over = age <= end[machine]
        machine, age = machine[is_over], age[is_over]
        failed += np.bincount(machine, minlength=end.size)
        age = age + new * rng.weibull(shape, machine.size)
    return failed
