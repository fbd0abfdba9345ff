"""Clock hours of an option: such jobs' hours, and the unseen ones that every opened assembly brings."""

from dataclasses import dataclass

import numpy as np

from pipeline.decisions import scope_costs


@dataclass(frozen=True)
class FamilyHours:
    """Hours of one family's jobs.

    Attributes
    ----------
    start_hours : float
        What fixing takes beyond its lines: intake, finding the fault, test, admin.
    unseen_ratio : float
        Hours of cleaning and wiring that an assembly restored whole brings for every hour of its bench work.
    whole_hours : float
        What a thorough job takes beyond all that: cabinet, looks, putting the whole machine back.
    is_guessed : bool
        Whether the ratio is the seed table's, no stage of a thorough job having been logged.
    """

    start_hours: float
    unseen_ratio: float
    whole_hours: float
    is_guessed: bool


def family_hours(shop, subject, lines, fix, thorough):
    """Learn a family's hours from its two ends: what fixing takes, and what a thorough job takes beyond it.

    An assembly taken apart beyond its fault is cleaned, wired and put back whole: its bench hours bring unseen ones in
    the shares that the stages of thorough jobs show. What is left of a thorough job's hours belongs to the whole
    machine, and to no line.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    subject : pipeline.decisions.scope_subject.Subject
        A typical machine of the family.
    lines : pandas.DataFrame
        Priced.
    fix, thorough : pipeline.decisions.scope_plan.Plan

    Returns
    -------
    FamilyHours
    """
    mean = [shop.mean_hours.get((subject.family, scope), np.nan) for scope in ("fix_only", "thorough")]
    of_lines = [line_hours(lines, plan) for plan in (fix, thorough)]
    start = 0.0 if np.isnan(mean[0]) else max(mean[0] - of_lines[0], 0.0)
    if np.isnan(mean[1]):
        return FamilyHours(start, shop.unseen_ratio, 0.0, shop.is_unseen_guessed)
    rest = max(mean[1] - of_lines[1] - start, 0.0)
    restored = float((bench_hours(lines) * thorough.restored).sum())
    ratio = min(shop.unseen_ratio, rest / restored) if restored > 0 else shop.unseen_ratio
    return FamilyHours(start, ratio, max(rest - ratio * restored, 0.0), shop.is_unseen_guessed)


def option_hours(hours, lines, plan, is_thorough):
    """Clock hours of an option.

    Parameters
    ----------
    hours : FamilyHours
    lines : pandas.DataFrame
        Priced.
    plan : pipeline.decisions.scope_plan.Plan
    is_thorough : bool
        Whether the whole machine is done.

    Returns
    -------
    float
    """
    unseen = hours.unseen_ratio * float((bench_hours(lines) * plan.restored).sum())
    return hours.start_hours + line_hours(lines, plan) + unseen + (hours.whole_hours if is_thorough else 0.0)


def line_hours(lines, plan):
    """Hours for the pieces and for opening alone."""
    return float(plan.moves["hours"].sum() + (plan.opened * scope_costs.opening_hours(lines)).sum())


def bench_hours(lines):
    """Bench hours of one of each assembly, by assembly, sorted: as said, else its pieces' hours together."""
    place = lines["assembly"].fillna("")
    said = lines.groupby(place)["bench_hours"].max()
    per_copy = lines["held_pcs"] / lines["copies"].clip(lower=1) * lines["piece_hours"]
    by_pieces = per_copy.groupby(place).sum()
    return said.where(said > 0, by_pieces).where(by_pieces.index != "", 0.0)
