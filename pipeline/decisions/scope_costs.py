"""What one machine costs under an option: now, inside the warranty, and over five years."""

from dataclasses import dataclass

import numpy as np

from pipeline.decisions.scope_outlook import KIND
from pipeline.decisions.scope_prospect import OWNER_DAYS, ends, prospect
from pipeline.decisions.scope_shop import PATH_SEED
from pipeline.kernels import scope as kernel
from pipeline.kernels.failure_paths import failures_on_paths
from pipeline.models import seeds

PATHS_PER_DRAW = 4  # single machines played through for every draw of the belief


@dataclass(frozen=True)
class Terms:
    """What call-backs cost, as the shop's settings say or as asked otherwise.

    Attributes
    ----------
    trip_amount : float
        Trip to one call-back.
    open_ratio : float
        Hours of opening over those on record, now and at a call-back.
    horizon_days : float
        Days over which call-backs count in the whole cost.
    """

    trip_amount: float
    open_ratio: float = 1.0
    horizon_days: float = OWNER_DAYS


@dataclass(frozen=True)
class OptionCosts:
    """One option of one machine; costs as draws, the luck of a single machine included, shape (n_paths,).

    Attributes
    ----------
    parts_amount, line_hours : float
        Parts at landed price, and hours for replacing, treating and opening alone.
    callback_share : float
        Chance of a call-back inside the warranty.
    later_amount, shop_later_amount, owner_later_amount : float
        Expected: call-backs over five years and inside the warranty at the shop's cost; repairs after the warranty at
        its prices, less the life that new pieces have left at the end.
    later, shop_later, owner_later : ndarray of float, shape (n_paths,)
        The same of machines played through one by one.
    """

    parts_amount: float
    line_hours: float
    callback_share: float
    later_amount: float
    shop_later_amount: float
    owner_later_amount: float
    later: np.ndarray
    shop_later: np.ndarray
    owner_later: np.ndarray


def terms(shop, trip_amount=None, open_ratio=1.0, horizon_days=OWNER_DAYS):
    """What call-backs cost, by the shop's settings where nothing else is asked.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    trip_amount, open_ratio, horizon_days : float, optional
        See :class:`Terms`.

    Returns
    -------
    Terms
    """
    trip = shop.settings.callback_trip_cost if trip_amount is None else trip_amount
    return Terms(float(trip), float(open_ratio), float(horizon_days))


def priced_lines(shop, subject, asked=None):
    """Lines of a machine with price, hours, and what one piece costs now and at a call-back.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    subject : pipeline.decisions.scope_subject.Subject
    asked : Terms, optional
        Default the shop's own.

    Returns
    -------
    pandas.DataFrame
        The subject's lines with ``unit_price``, ``made_price``, ``price_from``, ``priced_on``, ``on_hand_pcs``,
        ``is_sold``, ``fit_hours``, ``open_hours``, ``piece_now_amount`` and ``call_amount`` at the shop's cost,
        ``charged_piece_amount`` and ``charged_call_amount`` at its prices (trip without goodwill). Where the price is
        unknown ``piece_now_amount`` is, too, and the calls count without it.
    """
    asked = asked or terms(shop)
    lines = subject.lines.join(shop.prices, on="part").join(shop.assemblies, on="assembly")
    lines["open_hours"] = lines["open_hours"].fillna(0.0) * asked.open_ratio
    lines["installed_ratio"] = lines["installed_ratio"].fillna(seeds.installed_ratio())
    own, mark_up = shop.settings, 1 + shop.settings.part_markup_share
    known, work = lines["unit_price"].fillna(0.0), (lines["piece_hours"], lines["fit_hours"])
    later = (lines["piece_hours"], lines["installed_ratio"], lines["open_hours"])
    rejects = lines["reject_share"].clip(upper=0.95)
    at_cost = kernel.piece_amount(known, *work, shop.hour_cost, rejects)
    charged = kernel.piece_amount(known * mark_up, *work, own.labour_rate, rejects)
    visit = asked.trip_amount + own.callback_goodwill_cost
    return lines.assign(
        unit_price=lines["unit_price"] / (1 - rejects),
        piece_now_amount=np.where(lines["unit_price"].isna(), np.nan, at_cost),
        call_amount=kernel.callback_amount(at_cost, *later, shop.hour_cost, visit),
        charged_piece_amount=np.where(lines["unit_price"].isna(), np.nan, charged),
        charged_call_amount=kernel.callback_amount(charged, *later, own.labour_rate, asked.trip_amount),
    )


def other_call_amount(shop, asked):
    """What a call without a part costs the shop."""
    return shop.other_call_hours * shop.hour_cost + asked.trip_amount + shop.settings.callback_goodwill_cost


def option_costs(shop, subject, lines, plan, other_calls, base):
    """Cost of one option for one machine.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    subject : pipeline.decisions.scope_subject.Subject
    lines : pandas.DataFrame
        From :func:`priced_lines`.
    plan : pipeline.decisions.scope_plan.Plan
        The option.
    other_calls : ndarray of float, shape (n_draws,)
        Expected calls without a part inside the warranty.
    base : pipeline.decisions.scope_plan.Plan
        Fixing only: what life left is set against.

    Returns
    -------
    OptionCosts
    """
    asked = terms(shop)
    warranty, years = (prospect(shop, subject, lines, days) for days in ends(subject))
    call, charged = (lines[name].to_numpy() for name in ("call_amount", "charged_call_amount"))
    chance = 1 - np.exp(warranty.total(warranty.log_survival, plan.pcs, np.ones(len(lines))) - other_calls)
    other_each = other_call_amount(shop, asked)
    inside, over = (each.total(each.expected, plan.pcs, call) for each in (warranty, years))
    after = years.total(years.expected, plan.pcs, charged) - warranty.total(warranty.expected, plan.pcs, charged)
    left = _life_left(years, lines, plan, base)
    counts, other = _played(shop, subject, lines, plan, other_calls)
    return OptionCosts(
        float(plan.moves["parts_amount"].sum()),
        float(plan.moves["hours"].sum() + (plan.opened * opening_hours(lines)).sum()),
        float(chance.mean()),
        float((np.maximum(over, inside) + other_calls * other_each).mean()),
        float((inside + other_calls * other_each).mean()),
        float((after - left).mean()),
        counts[:, :, 1] @ call + other * other_each,
        counts[:, :, 0] @ call + other * other_each,
        (counts[:, :, 1] - counts[:, :, 0]) @ charged - np.tile(left, PATHS_PER_DRAW),
    )


def opening_hours(lines):
    """Hours to open one of each assembly, by assembly, sorted."""
    return lines.groupby(lines["assembly"].fillna(""))["open_hours"].max()


def _life_left(years, lines, plan, base):
    """What the owner has left at the end in pieces newer than those that fixing leaves, at the shop's prices."""
    price = lines["charged_piece_amount"].fillna(0.0).to_numpy()
    return years.total(years.life_gained, displaced_pcs(plan, base), price)


def displaced_pcs(plan, base):
    """Pieces that an option replaces beyond fixing, by the life they would have had: (n_lines, n_kinds).

    Parameters
    ----------
    plan, base : pipeline.decisions.scope_plan.Plan
        The option, and fixing only.

    Returns
    -------
    ndarray of float
    """
    gone = np.maximum(base.pcs - plan.pcs, 0.0)
    gone[:, KIND["new", ""]] = 0.0
    # pieces looked over and kept are the same pieces: only as many are gone as were replaced beyond fixing
    beyond = np.maximum(plan.replaced_pcs - base.replaced_pcs, 0.0)
    there = gone.sum(axis=1)
    return gone * np.divide(np.minimum(beyond, there), there, out=np.zeros(len(there)), where=there > 0)[:, None]


def _played(shop, subject, lines, plan, other_calls):
    """Failures of single machines by the warranty's end and by five years, and their calls without a part."""
    kinds = np.flatnonzero(plan.pcs.sum(axis=0) > 0)
    line, kind = np.nonzero(plan.pcs[:, kinds])
    wear = np.searchsorted(shop.outlook.classes, lines["wear_class"])[line]
    lives = shop.outlook.lives(subject.route_share, subject.is_clock_plays, kinds[kind], wear)
    times = [shop.outlook.time(days) for days in ends(subject)]
    rng = np.random.default_rng(PATH_SEED)
    counts = [failures_on_paths(rng, plan.pcs[line, kinds[kind]], *lives, np.stack(times, axis=1))
              for _ in range(PATHS_PER_DRAW)]
    first = np.flatnonzero(np.diff(line, prepend=-1))  # pieces stand sorted by line
    of_lines = np.zeros((len(times[0]) * PATHS_PER_DRAW, len(lines), len(times)))
    of_lines[:, line[first]] = np.add.reduceat(np.concatenate(counts), first, axis=1) if first.size else 0.0
    return of_lines, np.concatenate([rng.poisson(other_calls) for _ in range(PATHS_PER_DRAW)])
