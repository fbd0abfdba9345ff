"""Clock hours of an option: such jobs' hours, and the unseen ones that every opened assembly brings."""

from dataclasses import dataclass

import numpy as np

from pipeline.decisions import scope_costs
from pipeline.models import seeds


@dataclass(frozen=True)
class FamilyHours:
    """Hours of one family's jobs.

    Attributes
    ----------
    start_hours : float
        What fixing takes beyond its lines: intake, finding the fault, test, admin.
    unseen_ratio : float
        Hours of cleaning, wiring and putting back that an opened assembly brings for every hour of its bench work.
    is_guessed : bool
        Whether that ratio is the seed table's, no thorough job having been logged.
    """

    start_hours: float
    unseen_ratio: float
    is_guessed: bool


def family_hours(shop, subject, lines, fix, thorough):
    """Learn a family's hours from its two ends: what fixing takes, and what a thorough job takes beyond it.

    The hours of a thorough job that its lines do not explain are spread over the assemblies it opens, by their bench
    hours: an assembly taken apart is cleaned, wired and put back whole.

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
    bench = float((bench_hours(lines) * (thorough.opened - fix.opened).clip(lower=0.0)).sum())
    if np.isnan(mean[1]) or bench <= 0:
        return FamilyHours(start, seeds.unseen_ratio(), True)
    return FamilyHours(start, max(mean[1] - of_lines[1] - start, 0.0) / bench, False)


def option_hours(hours, lines, plan, fix):
    """Clock hours of an option.

    Parameters
    ----------
    hours : FamilyHours
    lines : pandas.DataFrame
        Priced.
    plan, fix : pipeline.decisions.scope_plan.Plan
        The option, and fixing only.

    Returns
    -------
    float
    """
    more = (plan.opened - fix.opened).clip(lower=0.0)
    unseen = hours.unseen_ratio * float((bench_hours(lines) * more).sum())
    return hours.start_hours + line_hours(lines, plan) + unseen


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
