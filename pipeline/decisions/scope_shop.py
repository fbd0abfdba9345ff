"""What every machine's reckoning rests on: prices, assemblies, lives and hours of the shop, read and fitted once."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions.scope_outlook import N_DRAWS, Outlook
from pipeline.models import callbacks, hours, lead_times, lives, seeds, stage_hours
from pipeline.store import read

RANDOM_SEED = 20
PATH_SEED = 21  # every option meets the same luck


@dataclass(frozen=True)
class Shop:
    """The shop as every machine meets it.

    Attributes
    ----------
    settings : pipeline.store.read.Settings
    prices : pandas.DataFrame
        By part: ``unit_price`` with ``price_from`` and ``priced_on``, ``made_price``, ``fit_hours``, ``reject_share``,
        ``on_hand_pcs`` (missing where nobody knows), ``lead_days`` of the vendor who sells it cheapest (mean, missing
        where there is none), ``is_sold`` (False: supply has ended and no vendor offers it).
    assemblies : pandas.DataFrame
        By assembly: ``bench_hours``, ``open_hours``, ``installed_ratio`` (installed over bench hours).
    rules : pandas.DataFrame
        View ``tidy_companions``.
    guesses : pandas.DataFrame
        By wear class, on the clock that more likely ages it: how far the guess decides the life of unjudged kept
        pieces, whose it is, and whether the class mixes wear-out with random failures.
    outlook : Outlook
    other_call_draws : numpy.ndarray, shape (n_draws, 3)
        Expected calls without a part inside the warranty, by scope.
    mean_hours : pandas.Series
        Hours of a job by family and scope.
    other_call_hours : float
        Hours of a call for which no part is to blame.
    unseen_ratio : float
        Hours of cleaning and wiring for every bench hour, in thorough jobs.
    is_unseen_guessed : bool
        Whether that is the seed table's.
    """

    settings: read.Settings
    prices: pd.DataFrame
    assemblies: pd.DataFrame
    rules: pd.DataFrame
    guesses: pd.DataFrame
    outlook: Outlook
    other_call_draws: np.ndarray
    mean_hours: pd.Series
    other_call_hours: float
    unseen_ratio: float
    is_unseen_guessed: bool

    @property
    def hour_cost(self):
        """Own cost of an hour, overhead included."""
        return self.settings.labour_cost + self.settings.overhead_per_hour

    @property
    def visit_amount(self):
        """What a call-back costs the shop before any work: trip and goodwill."""
        return self.settings.callback_trip_cost + self.settings.callback_goodwill_cost


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
    mean_hours = hours.fit(connection).table.set_index(["family", "scope"])["mean_hours"]
    rng = np.random.default_rng(RANDOM_SEED)
    prices = read.query(
        connection,
        """
        select parts.part, prices.unit_price, prices.price_from, prices.priced_on,
               coalesce(made.unit_cost, prices.unit_price)::double as made_price,
               coalesce(fitting.fit_hours, 0) as fit_hours, coalesce(fitting.reject_share, 0) as reject_share,
               position.on_hand_pcs::double as on_hand_pcs, fitting.vendor,
               parts.supply <> 'ended' or fitting.part is not null as is_sold
        from tidy_parts as parts left join part_prices as prices on parts.part = prices.part
        left join part_fitting as fitting on parts.part = fitting.part
        left join stock_position as position on parts.part = position.part
        left join (select part, arg_max(unit_cost, moved_on) as unit_cost from stock_moves
            where kind = 'made' and unit_cost is not null group by part) as made on parts.part = made.part""",
    ).set_index("part")
    lead = lead_times.fit(connection, settings.today).frame.set_index("vendor")["mean_days"]
    prices = prices.assign(lead_days=prices["vendor"].map(lead)).drop(columns="vendor")
    kept = fitted.table[fitted.table["judged"] == "unjudged"]
    own_clock = np.where(kept["plays_share"] > 0.5, "plays", "months")
    kept = kept[kept["clock"] == own_clock].set_index("wear_class")
    return Shop(
        settings,
        prices,
        _assemblies(connection),
        read.frame(connection, "tidy_companions"),
        kept[["prior_weight_share", "guess_from", "mixes"]],
        Outlook(fitted, settings, rng),
        callbacks.fit(connection, settings.warranty_days).draws_by_scope(rng, N_DRAWS),
        mean_hours,
        _other_call_hours(connection),
        *_unseen_ratio(connection, mean_hours),
    )


def _assemblies(connection):
    table = read.frame(connection, "assemblies").set_index("assembly")
    ratio = (table["installed_hours"] / table["bench_hours"].where(table["bench_hours"] > 0)).astype(float)
    return pd.DataFrame(
        {
            "bench_hours": table["bench_hours"].astype(float),
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


def _unseen_ratio(connection, mean_hours):
    """Hours of cleaning and wiring over bench hours in thorough jobs, and whether that is only a guess."""
    table = stage_hours.fit(connection, mean_hours).table
    own = table[table["family"].isna() & (table["scope"] == "thorough")].set_index("stage")
    share = own["share"]
    return float((share["cleaning"] + share["wiring"]) / share["bench"]), bool((own["jobs_seen"] == 0).all())
