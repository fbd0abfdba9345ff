"""Fixing only what is broken, thorough, and the scope between them that costs least: now and later, for two purses."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from pipeline.decisions import scope_costs, scope_hours, scope_plan, scope_shop, scope_waits
from pipeline.decisions.scope_calls import CALL_COLUMNS, option_calls
from pipeline.decisions.scope_choice import Choice
from pipeline.decisions.scope_frontier import Frontier
from pipeline.decisions.scope_lines import LINE_COLUMNS, option_lines
from pipeline.decisions.scope_subject import Subject, subjects

OPTIONS = ("fix_only", "recommended", "thorough")
# Chance of no call-back inside the warranty that the recommended scope has at least, where the owner asks nothing else:
# low enough that it decides on poor machines only, elsewhere the cost of call-backs does.
QUIET_SHARE = 0.8
OPTION_COLUMNS = [
    "subject",
    "option",
    "parts_amount",
    "bench_hours",
    "price_amount",
    "callback_share",
    "later_cost_amount",
    "later_cost_low_amount",
    "later_cost_high_amount",
    "shop_cost_amount",
    "shop_cost_low_amount",
    "shop_cost_high_amount",
    "owner_cost_amount",
    "owner_cost_low_amount",
    "owner_cost_high_amount",
    "wait_days",
    "bay_amount",
]
FRONTIER_COLUMNS = ["subject", "quiet_share", "now_amount", "later_amount", "total_amount"]
_WORDS = {"subject", "option", "assembly", "part", "action", "why"}


@dataclass(frozen=True)
class Machine:
    """One machine with all that can be done to it.

    Attributes
    ----------
    subject : pipeline.decisions.scope_subject.Subject
    hours : pipeline.decisions.scope_hours.FamilyHours
    choice : pipeline.decisions.scope_choice.Choice
        Under the shop's own terms.
    frontier : pipeline.decisions.scope_frontier.Frontier
    """

    subject: Subject
    hours: scope_hours.FamilyHours
    choice: Choice
    frontier: Frontier

    def at(self, quiet_share):
        """The same machine with the exact optimum at another chance of no call-back, 0 to 1, on its frontier."""
        return replace(self, frontier=self.choice.frontier([quiet_share]))

    def plans(self, quiet_share=QUIET_SHARE):
        """The three options (dict of option to Plan), the recommended one at a chance of no call-back of 0 to 1."""
        middle = self.choice.plan(self.frontier, self.frontier.best(quiet_share))
        return dict(zip(OPTIONS, (self.choice.fix, middle, self.choice.thorough), strict=True))


@dataclass(frozen=True)
class Scopes:
    """The options of all machines.

    Attributes
    ----------
    options, lines : pandas.DataFrame
        The output tables ``scope_options`` and ``scope_lines``.
    frontiers : pandas.DataFrame
        The output table ``scope_frontier``: by subject, every scope that nothing cheaper makes as quiet.
    calls : pandas.DataFrame
        The output table ``scope_calls``: how often the machine comes back under each option.
    shop : pipeline.decisions.scope_shop.Shop
    machines : dict of str to Machine
        By subject, for whoever asks what if.
    """

    options: pd.DataFrame
    lines: pd.DataFrame
    frontiers: pd.DataFrame
    calls: pd.DataFrame
    shop: scope_shop.Shop
    machines: dict


def machines(connection, shop, quiet_share=QUIET_SHARE):
    """Every family as a typical machine, and every open job with findings, with what can be done to it.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    shop : pipeline.decisions.scope_shop.Shop
    quiet_share : float
        Chance of no call-back inside the warranty that is asked of the recommended scope, 0 to 1.

    Yields
    ------
    Machine
        Families first.
    """
    hours = {}
    for subject in subjects(connection):
        asked = scope_costs.terms(shop)
        if subject.family not in hours:
            hours[subject.family] = _family_hours(shop, subject)
        choice = Choice(shop, subject, hours[subject.family], asked)
        yield Machine(subject, hours[subject.family], choice, choice.frontier([quiet_share]))


def make(connection, quiet_share=QUIET_SHARE):
    """Reckon the options of a typical machine of every family and of every open job with findings.

    *later* cost is all call-backs over five years at the shop's cost; the *shop's* purse holds the work now at
    its own cost, an open job's wait in its bay, and the call-backs inside the warranty; the *owner's* purse
    holds the price now and repairs from the warranty's end to five years at the shop's prices, less the life
    that new pieces have left then. Amounts are expected over the belief about lives and use; low and high are
    the 10 and 90 % figures of single machines, their luck included. Where no assembly list says what stays in
    the machine, everything later is unknown. Prices are before tax, sublet work and supplies.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    quiet_share : float
        As for :func:`machines`.

    Returns
    -------
    Scopes
    """
    shop = scope_shop.shop(connection)
    seen = {machine.subject.subject: machine for machine in machines(connection, shop, quiet_share)}
    made = [of_machine(shop, machine, quiet_share) for machine in seen.values()]
    empty = [_empty(columns) for columns in (OPTION_COLUMNS, LINE_COLUMNS, FRONTIER_COLUMNS, CALL_COLUMNS)]
    return Scopes(*(_together(frames) for frames in zip(empty, *made, strict=True)), shop, seen)


def of_machine(shop, machine, quiet_share=QUIET_SHARE):
    """Rows of one machine: options, lines, frontier and call-backs.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    machine : Machine
    quiet_share : float
        As for :func:`machines`.

    Returns
    -------
    tuple of pandas.DataFrame
        See :class:`Scopes`.
    """
    plans = machine.plans(quiet_share)
    return (
        pd.DataFrame([option_row(shop, machine, *each) for each in plans.items()], columns=OPTION_COLUMNS),
        _together([_empty(LINE_COLUMNS), *(option_lines(shop, machine, *each) for each in plans.items())]),
        machine.frontier.table.assign(subject=machine.subject.subject)[FRONTIER_COLUMNS],
        option_calls(shop, machine, plans),
    )


def _together(frames):
    """The first frame, without rows, says the columns where there are no others."""
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled, ignore_index=True)[frames[0].columns] if filled else frames[0]


def option_row(shop, machine, option, plan):
    """Row of ``scope_options`` for one option of one machine, as a list in the order of `OPTION_COLUMNS`.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    machine : Machine
    option : str
    plan : pipeline.decisions.scope_plan.Plan
    """
    choice, settings = machine.choice, shop.settings
    other = choice.other_calls_of(plan)
    costs = scope_costs.option_costs(shop, machine.subject, choice.lines, plan, other, choice.fix)
    bench_hours = scope_hours.option_hours(machine.hours, choice.lines, plan, option == "thorough")
    price = costs.parts_amount * (1 + settings.part_markup_share) + bench_hours * settings.labour_rate
    wait = float(scope_waits.wait_days(machine.subject, choice.lines, plan.replaced_pcs[None])[0])
    bay = wait * settings.bay_cost_per_day
    now = costs.parts_amount + bench_hours * shop.hour_cost + bay
    unknown = 0.0 if machine.subject.is_listed else np.nan
    purses = (
        (costs.later_amount, costs.later),
        (now + costs.shop_later_amount, now + costs.shop_later),
        (price + costs.owner_later_amount, price + costs.owner_later),
    )
    figures = [figure + unknown for mean, paths in purses for figure in (mean, *np.quantile(paths, [0.1, 0.9]))]
    chance = costs.callback_share + unknown
    return [machine.subject.subject, option, costs.parts_amount, bench_hours, price, chance, *figures, wait, bay]


def scope_options(connection):
    """Output table ``scope_options``: see :func:`make`."""
    return make(connection).options


def scope_lines(connection):
    """Output table ``scope_lines``: see :func:`make`."""
    return make(connection).lines


def _family_hours(shop, subject):
    """Hours of a subject's family, learnt from its own two ends."""
    lines = scope_costs.priced_lines(shop, subject)
    ends = scope_plan.fix_only(lines), scope_plan.thorough(shop, subject, lines)
    return scope_hours.family_hours(shop, subject, lines, *ends)


def _empty(columns):
    """A table without rows, its columns of the kinds they have with rows: numbers and words."""
    return pd.DataFrame({column: pd.Series(dtype=object if column in _WORDS else float) for column in columns})
