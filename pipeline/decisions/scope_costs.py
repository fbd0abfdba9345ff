"""What one machine costs under each option: now, inside the warranty, and over five years."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions.scope_outlook import Outlook
from pipeline.kernels import scope as kernel
from pipeline.models import callbacks, hours, lives, seeds
from pipeline.store import read

OWNER_DAYS = 5 * 365.25
RANDOM_SEED = 20


@dataclass(frozen=True)
class Shop:
    """What every machine's reckoning rests on, read and fitted once.

    Attributes
    ----------
    settings : pipeline.store.read.Settings
    prices : pandas.DataFrame
        By part: ``unit_price`` with ``price_from`` and ``priced_on``, ``fit_hours``, ``reject_share``.
    assemblies : pandas.DataFrame
        By assembly: ``open_hours``, ``installed_ratio`` (installed over bench hours).
    guesses : pandas.DataFrame
        By wear class and clock: how far the guess decides the life of kept pieces, and whose it is.
    outlook : Outlook
    other_calls : pipeline.models.callbacks.OtherCalls
    mean_hours : pandas.Series
        Hours of a job by family and scope.
    other_call_hours : float
        Hours of a call for which no part is to blame.
    rng : numpy.random.Generator
    """

    settings: read.Settings
    prices: pd.DataFrame
    assemblies: pd.DataFrame
    guesses: pd.DataFrame
    outlook: Outlook
    other_calls: callbacks.OtherCalls
    mean_hours: pd.Series
    other_call_hours: float
    rng: np.random.Generator

    @property
    def hour_cost(self):
        """Own cost of an hour, overhead included."""
        return self.settings.labour_cost + self.settings.overhead_per_hour


@dataclass(frozen=True)
class OptionCosts:
    """One option of one machine; costs as draws over the belief about lives and use, shape (n_draws,).

    Attributes
    ----------
    parts_amount, line_hours : float
        Parts at landed price, and hours for replacing and opening alone.
    opened : pandas.Series
        Assemblies opened, by assembly.
    callback_share : float
        Chance of a call-back inside the warranty.
    later, shop_later, owner_later : numpy.ndarray
        Call-backs over five years and inside the warranty at the shop's cost; repairs after the warranty at its prices.
    """

    parts_amount: float
    line_hours: float
    opened: pd.Series
    callback_share: float
    later: np.ndarray
    shop_later: np.ndarray
    owner_later: np.ndarray


def shop(connection):
    """Read and fit what all machines share.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    Shop
    """
    settings, fitted = read.settings(connection), lives.fit(connection)
    rng = np.random.default_rng(RANDOM_SEED)
    prices = read.query(
        connection,
        """
        select parts.part, prices.unit_price, prices.price_from, prices.priced_on,
               coalesce(fitting.fit_hours, 0) as fit_hours, coalesce(fitting.reject_share, 0) as reject_share
        from tidy_parts as parts left join part_prices as prices on parts.part = prices.part
        left join part_fitting as fitting on parts.part = fitting.part""",
    ).set_index("part")
    kept = fitted.table[fitted.table["judged"] == "unjudged"].set_index(["wear_class", "clock"])
    return Shop(
        settings,
        prices,
        _assemblies(connection),
        kept[["prior_weight_share", "guess_from"]],
        Outlook(fitted, settings, rng),
        callbacks.fit(connection, settings.warranty_days),
        hours.fit(connection).table.set_index(["family", "scope"])["mean_hours"],
        _other_call_hours(connection),
        rng,
    )


def _assemblies(connection):
    table = read.frame(connection, "assemblies").set_index("assembly")
    ratio = (table["installed_hours"] / table["bench_hours"].where(table["bench_hours"] > 0)).astype(float)
    return pd.DataFrame(
        {
            "open_hours": table["open_hours"].astype(float).fillna(0.0),
            "installed_ratio": ratio.fillna(seeds.installed_ratio()),
        }
    )


def _other_call_hours(connection):
    """Mean hours written down for calls without a part, else for any call, else the seed table's middle."""
    mean, of_all = read.rows(
        connection, "select avg(hours) filter (where part is null), avg(hours) from callbacks"
    )[0]
    return mean or of_all or float(seeds.assemblies()["installed_hours"].median())


def priced_lines(shop, subject):
    """Lines of a machine with price, hours, and what one piece costs now and at a call-back.

    Parameters
    ----------
    shop : Shop
    subject : pipeline.decisions.scope_subject.Subject

    Returns
    -------
    pandas.DataFrame
        The subject's lines with ``unit_price``, ``price_from``, ``priced_on``, ``fit_hours``, ``open_hours``,
        ``piece_now_amount`` and ``call_amount`` at the shop's cost, ``charged_call_amount`` at its prices (trip without
        goodwill). Where the price is unknown ``piece_now_amount`` is, too, and the calls count without it.
    """
    lines = subject.lines.join(shop.prices, on="part").join(shop.assemblies, on="assembly")
    lines["open_hours"] = lines["open_hours"].fillna(0.0)
    lines["installed_ratio"] = lines["installed_ratio"].fillna(seeds.installed_ratio())
    own, mark_up = shop.settings, 1 + shop.settings.part_markup_share
    known, work = lines["unit_price"].fillna(0.0), (lines["piece_hours"], lines["fit_hours"])
    later = (lines["piece_hours"], lines["installed_ratio"], lines["open_hours"])
    rejects = lines["reject_share"].clip(upper=0.95)
    at_cost = kernel.piece_amount(known, *work, shop.hour_cost, rejects)
    charged = kernel.piece_amount(known * mark_up, *work, own.labour_rate, rejects)
    visit = own.callback_trip_cost + own.callback_goodwill_cost
    return lines.assign(
        unit_price=lines["unit_price"] / (1 - rejects),
        piece_now_amount=np.where(lines["unit_price"].isna(), np.nan, at_cost),
        call_amount=kernel.callback_amount(at_cost, *later, shop.hour_cost, visit),
        charged_call_amount=kernel.callback_amount(charged, *later, own.labour_rate, own.callback_trip_cost),
    )


def failures(shop, subject, horizon_days):
    """Expected failures and survival of one piece of each line (pipeline.decisions.scope_outlook.Failures).

    Columns are in the order of the subject's lines.
    """
    seen = shop.outlook.failures(subject.route_share, subject.is_clock_plays, horizon_days)
    column = np.searchsorted(shop.outlook.classes, subject.lines["wear_class"])
    return type(seen)(
        *(values[:, column] for values in (seen.kept, seen.new, seen.kept_survival, seen.new_survival))
    )


def option_costs(shop, subject, lines, option):
    """Cost of one option for one machine.

    Parameters
    ----------
    shop : Shop
    subject : pipeline.decisions.scope_subject.Subject
    lines : pandas.DataFrame
        From :func:`priced_lines`.
    option : str
        ``fix_only`` or ``thorough``.

    Returns
    -------
    OptionCosts
    """
    pcs, held = lines[f"{option}_pcs"].to_numpy(), lines["held_pcs"].to_numpy()
    opened = _opened(lines, pcs, held)
    warranty, years = failures(shop, subject, subject.warranty_days), failures(shop, subject, OWNER_DAYS)
    inside = kernel.expected_callbacks(pcs, held, warranty.kept, warranty.new)
    over = np.maximum(kernel.expected_callbacks(pcs, held, years.kept, years.new), inside)
    other = shop.other_calls.draws(shop.rng, option, len(inside))
    other_cost = other * (
        shop.other_call_hours * shop.hour_cost
        + shop.settings.callback_trip_cost
        + shop.settings.callback_goodwill_cost
    )
    call, charged = lines["call_amount"].to_numpy(), lines["charged_call_amount"].to_numpy()
    chance = kernel.callback_share(pcs, held, warranty.kept_survival, warranty.new_survival, other)
    open_hours = lines.groupby(lines["assembly"].fillna(""))["open_hours"].max()
    return OptionCosts(
        float(np.nansum(pcs * lines["unit_price"])),
        float((pcs * (lines["piece_hours"] + lines["fit_hours"])).sum() + (opened * open_hours).sum()),
        opened,
        float(chance.mean()),
        over @ call + other_cost,
        inside @ call + other_cost,
        (over - inside) @ charged,
    )


def _opened(lines, pcs, held):
    assembly, names = pd.factorize(lines["assembly"].fillna(""), sort=True)
    copies = lines.groupby(assembly)["copies"].max().to_numpy()
    return pd.Series(kernel.opened_assemblies(pcs, held, assembly, copies), index=names)
