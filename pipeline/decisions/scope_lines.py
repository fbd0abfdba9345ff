"""Every line of an option, what it costs now, what it avoids, and from where it would pay."""

import numpy as np
import pandas as pd

from pipeline.decisions import scope_costs, scope_hours, scope_words
from pipeline.decisions.scope_plan import FAILED
from pipeline.decisions.scope_prospect import OWNER_DAYS, prospect
from pipeline.kernels import scope as kernel

# Lines rarer than one piece in twenty such jobs are summed up in one line.
RARE_PCS = 0.05
LINE_COLUMNS = [
    "subject",
    "option",
    "assembly",
    "part",
    "qty_pcs",
    "action",
    "now_amount",
    "failures_avoided",
    "break_even_failures",
    "why",
]
_STRENGTH = ("keep", "clean", "recondition", "replace", "make")  # a line shows the strongest thing done to it


def option_lines(shop, machine, option, plan):
    """Rows of ``scope_lines`` for one option of one machine; together they cost what the option costs now.

    A line of the recommended scope that a thorough job would work on and this one leaves stands with action ``keep``,
    at no cost, with what it would avoid and from where it would pay.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    machine : pipeline.decisions.scope.Machine
    option : str
    plan : pipeline.decisions.scope_plan.Plan

    Returns
    -------
    pandas.DataFrame
        Columns `LINE_COLUMNS`.
    """
    lines = _weighed(shop, machine, option, plan)
    shown = lines[lines["qty_pcs"] >= RARE_PCS].sort_values(["assembly", "part"])
    rare = lines[(lines["qty_pcs"] > 0) & (lines["qty_pcs"] < RARE_PCS)]
    parts = [shown, _rare(rare), _openings(shop, machine, option, plan, lines), _start(shop, machine, option)]
    if option == "recommended":
        parts.insert(1, _stays(shop, machine, plan))
    filled = [part for part in parts if len(part)]
    if not filled:  # fixing a machine of which nothing ever failed, in hours that nobody wrote down
        return pd.DataFrame(columns=LINE_COLUMNS)
    made = pd.concat(filled, ignore_index=True)
    return made.assign(subject=machine.subject.subject, option=option)[LINE_COLUMNS]


def _weighed(shop, machine, option, plan):
    """Lines that an option works on, weighed against fixing only, with the reason."""
    choice = machine.choice
    moves = plan.moves.assign(amount=plan.moves["parts_amount"] + plan.moves["hours"] * shop.hour_cost)
    moves = moves.assign(strength=moves["action"].map(_STRENGTH.index))
    by_line = moves.groupby("line")
    beyond = moves[moves["note"] != FAILED].groupby("line")
    # what was chosen speaks for a line before what had failed on it
    ordered = moves.assign(is_chosen=moves["note"] != FAILED).sort_values(["is_chosen", "strength", "pcs"])
    last = ordered.groupby("line").last()
    now = by_line["amount"].agg(lambda amounts: amounts.sum(skipna=False))
    fix_pcs = choice.fix.replaced_pcs
    table = choice.lines.iloc[last.index].assign(
        line=last.index,
        qty_pcs=by_line["pcs"].sum().to_numpy(),
        action=last["action"].to_numpy(),
        note=last["note"].to_numpy(),
        now_amount=now.to_numpy(),
    )
    extra = table["qty_pcs"] - np.where(option == "fix_only", table["qty_pcs"], fix_pcs[last.index])
    own = table["now_amount"] * np.divide(extra, table["qty_pcs"])  # a thorough line holds the failed pieces, too
    if option == "recommended":
        chosen = beyond["amount"].agg(lambda amounts: amounts.sum(skipna=False))
        is_chosen = last.index.isin(chosen.index)
        own = pd.Series(np.where(is_chosen, chosen.reindex(last.index), 0.0), index=table.index)
    return _judged(shop, machine, option, table.assign(extra_pcs=extra.clip(lower=0.0), extra_amount=own), plan)


def _judged(shop, machine, option, table, plan):
    """Failures avoided beside the break-even number, over five years and inside the warranty, and why."""
    choice, place = machine.choice, table["line"].to_numpy(dtype=int)
    is_known = machine.subject.is_listed & (table["extra_pcs"] > 1e-9)
    unknown = np.where(is_known, 0.0, np.nan)
    table = table.assign(
        owner_gain_amount=_owner_gain(shop, machine, plan)[place],
        is_listed=machine.subject.is_listed,
        is_had=(table["is_sold"].astype(bool) | (table["on_hand_pcs"] >= table["extra_pcs"])).to_numpy(),
        failures_avoided=_avoided(shop, machine, plan, OWNER_DAYS)[place] + unknown,
        warranty_avoided=_avoided(shop, machine, plan, machine.subject.warranty_days)[place],
        break_even_failures=kernel.break_even_failures(table["extra_amount"], table["call_amount"]) + unknown,
        opened=plan.opened.reindex(table["assembly"].fillna("")).to_numpy()
        > choice.fix.opened.reindex(table["assembly"].fillna("")).to_numpy() + 1e-9,
    )
    guess = shop.guesses.reindex(table["wear_class"])
    table = table.assign(
        guess_share=guess["prior_weight_share"].to_numpy(),
        guess_from=guess["guess_from"].to_numpy(),
        mixes=guess["mixes"].eq(True).to_numpy(),
    )
    return table.assign(why=[scope_words.why(line, option) for line in table.to_dict("records")])


def _avoided(shop, machine, plan, horizon_days):
    """Expected failures of each line that an option spares against fixing only: (n_lines,)."""
    choice = machine.choice
    seen = prospect(shop, machine.subject, choice.lines, horizon_days)
    expected = seen.mean_of_lines(seen.expected)
    return ((choice.fix.pcs - plan.pcs) * expected).sum(axis=1)


def _owner_gain(shop, machine, plan):
    """What each line brings the machine's owner over five years beyond its price, life left counted: (n_lines,)."""
    choice = machine.choice
    years = prospect(shop, machine.subject, choice.lines, OWNER_DAYS)
    displaced = scope_costs.displaced_pcs(plan, choice.fix)
    left = (displaced * years.mean_of_lines(years.life_gained)).sum(axis=1)
    after = _avoided(shop, machine, plan, OWNER_DAYS) - _avoided(shop, machine, plan, machine.subject.warranty_days)
    charged, calls = (choice.lines[name].to_numpy() for name in ("charged_piece_amount", "charged_call_amount"))
    return after * calls + (left - displaced.sum(axis=1)) * charged


def _stays(shop, machine, plan):
    """Lines that a thorough job would work on and this scope leaves, as if they were done as there."""
    choice, thorough = machine.choice, machine.choice.thorough
    table = _weighed(shop, machine, "thorough", thorough)
    is_left = plan.touched_pcs[table["line"]] - choice.fix.touched_pcs[table["line"]] < 1e-9
    left = table[(table["extra_pcs"] >= RARE_PCS) & is_left].sort_values(["assembly", "part"])
    opened = (plan.opened - choice.fix.opened).reindex(left["assembly"].fillna("")).to_numpy() > 1e-9
    why = [scope_words.why_left(line, is_open) for line, is_open in zip(left.to_dict("records"), opened, strict=True)]
    return left.assign(qty_pcs=left["extra_pcs"], action="keep", now_amount=0.0, why=why)


def _rare(lines):
    if lines.empty:
        return lines
    row = {"qty_pcs": lines["qty_pcs"].sum(), "action": "replace", "now_amount": lines["now_amount"].sum(),
           "why": scope_words.why_rare(len(lines), int(lines["now_amount"].isna().sum()))}
    return pd.DataFrame([row]).reindex(columns=LINE_COLUMNS)


def _openings(shop, machine, option, plan, lines):
    """One line per assembly that must be opened, for the work that all its pieces share."""
    choice = machine.choice
    hours = scope_costs.opening_hours(choice.lines)
    unseen = machine.hours.unseen_ratio * scope_hours.bench_hours(choice.lines) * plan.restored
    pcs = lines.groupby(lines["assembly"].fillna(""))["qty_pcs"].sum()
    rows = [
        {"assembly": place, "qty_pcs": count, "action": "open",
         "now_amount": (count * hours[place] + unseen[place]) * shop.hour_cost,
         "why": scope_words.why_opened(place, count, pcs.get(place, 0.0), option, unseen[place], machine.hours)}
        for place, count in plan.opened.items()
        if place and count * hours[place] + unseen[place] > 0
    ]
    return pd.DataFrame(rows).reindex(columns=LINE_COLUMNS)


def _start(shop, machine, option):
    """The hours of such jobs that belong to no line: intake, finding the fault, test, admin; the whole machine's."""
    hours = machine.hours.start_hours + (machine.hours.whole_hours if option == "thorough" else 0.0)
    if hours <= 0:
        return pd.DataFrame(columns=LINE_COLUMNS)
    row = {"qty_pcs": 1.0, "action": "start", "now_amount": hours * shop.hour_cost,
           "why": scope_words.why_start(hours, option)}
    return pd.DataFrame([row]).reindex(columns=LINE_COLUMNS)
