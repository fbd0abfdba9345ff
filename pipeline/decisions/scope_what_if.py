"""What if: the recommended scope of one machine under another target, horizon, trip or opening, and what changes."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions import scope_costs, scope_hours, scope_waits
from pipeline.decisions.scope_prospect import ends, prospect
from pipeline.errors import InvalidParameter
from pipeline.kernels import require

YEAR_DAYS = 365.25
LEAST_PCS = 0.1  # a change below a tenth of an expected piece is not told
OPTION_COLUMNS = ["option", "now_amount", "later_amount", "total_amount", "quiet_share"]
_STRENGTH = {"keep": 0, "clean": 1, "recondition": 2, "replace": 3, "make": 4}


@dataclass(frozen=True)
class Answer:
    """The scope that would be recommended.

    Attributes
    ----------
    now_amount, later_amount : float
        Work now at the shop's own cost, and call-backs over the horizon.
    quiet_share : float
        Chance of no call-back inside the warranty.
    most_quiet_share, most_quiet_amount : float
        The quietest scope there is, and what it costs in all.
    is_reached : bool
        Whether any scope is as quiet as asked.
    options : pandas.DataFrame
        ``option``, ``now_amount``, ``later_amount``, ``total_amount``, ``quiet_share`` of fixing only, of this scope
        and of thorough, under the terms asked.
    changes : pandas.DataFrame
        Lines that change against the scope recommended under the shop's own terms: ``assembly``, ``part``,
        ``was_action``, ``was_pcs``, ``action``, ``qty_pcs``.
    """

    now_amount: float
    later_amount: float
    quiet_share: float
    most_quiet_share: float
    most_quiet_amount: float
    is_reached: bool
    options: pd.DataFrame
    changes: pd.DataFrame


def ask(shop, machine, own_plan, quiet_share, horizon_years, trip_amount, open_ratio):
    """Choose the scope of one machine anew under other terms.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    machine : pipeline.decisions.scope.Machine
    own_plan : pipeline.decisions.scope_plan.Plan
        The scope recommended under the shop's own terms.
    quiet_share : float
        Chance of no call-back inside the warranty, 0 to 1.
    horizon_years : float
        Years over which call-backs count; above 0.
    trip_amount : float
        Cost of the trip to a call-back, at least 0.
    open_ratio : float
        Hours of opening over those on record, now and later; at least 0.

    Returns
    -------
    Answer

    Raises
    ------
    InvalidParameter
        If a value is outside its range, or no list says what stays in the machine.
    """
    if not machine.subject.is_listed:
        raise InvalidParameter(
            f"{machine.subject.subject} has no assembly list; wanted family_assemblies.csv and assembly_parts.csv, "
            "which say what stays in the machine.")
    quiet_share = float(require.share("quiet_share", quiet_share))
    asked = scope_costs.terms(shop, float(require.not_negative("trip_amount", trip_amount)),
                              float(require.not_negative("open_ratio", open_ratio)),
                              float(require.positive("horizon_years", horizon_years)) * YEAR_DAYS)
    choice = machine.choice.under(asked)
    frontier = choice.frontier([quiet_share])
    best = frontier.best(quiet_share)
    chosen, quietest = frontier.table.iloc[best], frontier.table.iloc[frontier.table["quiet_share"].argmax()]
    plan = choice.plan(frontier, best)
    ends = {"fix_only": choice.fix, "recommended": plan, "thorough": choice.thorough}
    options = [(option, *reckoned(shop, machine, choice, asked, option, each)) for option, each in ends.items()]
    return Answer(
        chosen["now_amount"], chosen["later_amount"], chosen["quiet_share"], quietest["quiet_share"],
        quietest["total_amount"], bool(chosen["quiet_share"] >= quiet_share),
        pd.DataFrame(options, columns=OPTION_COLUMNS), _changes(choice.lines, own_plan, plan))


def reckoned(shop, machine, choice, asked, option, plan):
    """What one option costs under the terms asked.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    machine : pipeline.decisions.scope.Machine
    choice : pipeline.decisions.scope_choice.Choice
        Under these terms.
    asked : pipeline.decisions.scope_costs.Terms
    option : str
    plan : pipeline.decisions.scope_plan.Plan

    Returns
    -------
    now_amount, later_amount, total_amount, quiet_share : float
        Expected over the belief; later over the horizon asked.
    """
    subject, lines, other = machine.subject, choice.lines, choice.other_calls_of(plan)
    hours = scope_hours.option_hours(machine.hours, lines, plan, option == "thorough")
    wait = scope_waits.wait_days(subject, lines, plan.replaced_pcs[None])[0]
    now = plan.moves["parts_amount"].sum() + hours * shop.hour_cost + wait * shop.settings.bay_cost_per_day
    warranty, years = (prospect(shop, subject, lines, days) for days in ends(subject, asked.horizon_days))
    calls = years.total(years.expected, plan.pcs, lines["call_amount"].to_numpy()).mean()
    later = calls + other.mean() * scope_costs.other_call_amount(shop, asked)
    quiet = np.exp(warranty.total(warranty.log_survival, plan.pcs, np.ones(len(lines))) - other).mean()
    return float(now), float(later), float(now + later), float(quiet)


def _changes(lines, before, after):
    """Lines on which two plans differ by a tenth of a piece or in what is done."""
    was, now = _done(before), _done(after)
    is_otherwise = (now["action"] != was["action"]) & (now["pcs"] + was["pcs"] >= LEAST_PCS)
    differs = is_otherwise | (np.abs(now["pcs"] - was["pcs"]) >= LEAST_PCS)
    table = lines[["assembly", "part"]].reset_index(drop=True).assign(
        was_action=was["action"], was_pcs=was["pcs"], action=now["action"], qty_pcs=now["pcs"])
    return table[differs].sort_values(["assembly", "part"], na_position="last").reset_index(drop=True)


def _done(plan):
    """The strongest thing done to each line, and its pieces."""
    moves = plan.moves.assign(strength=plan.moves["action"].map(_STRENGTH))
    last = moves.sort_values(["strength", "pcs"]).groupby("line")["action"].last().reindex(range(len(plan.pcs)))
    action = last.where(plan.touched_pcs >= LEAST_PCS, "keep").fillna("keep")
    return pd.DataFrame({"action": action.to_numpy(dtype=object), "pcs": plan.touched_pcs})
