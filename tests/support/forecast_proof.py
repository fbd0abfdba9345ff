"""The proof of the forecast: every method scored on every world laid down, at every quarter of its later years."""

import numpy as np
import pandas as pd

from pipeline.decisions import backtest
from pipeline.kernels import calendar_predictive
from pipeline.store import connect, read
from tests.support import forecast_worlds

FIRST_AFTER_DAYS = 548  # a year and a half of records before the first origin
CALENDAR = list(calendar_predictive.METHODS)


def scored(entry, folder, most=10, seed=1):
    """Scores of one world (frame of :func:`pipeline.decisions.backtest.score`) with its name and rate."""
    path = forecast_worlds.store(entry, folder / f"{entry.name}.duckdb")
    with connect.open_read(path) as connection:
        today = read.settings(connection).today
        prices = read.query(connection, "select part, unit_price from part_prices").set_index("part")["unit_price"]
        first_on = entry.world.first_on
    days = [day for day in backtest.origins(first_on, today, most) if (day - first_on).days >= FIRST_AFTER_DAYS]
    rng = np.random.default_rng(seed)
    told = [backtest.score(path, day, prices, today, rng) for day in days]
    return pd.concat(told, ignore_index=True).assign(world=entry.name, jobs_per_year=entry.world.jobs_per_year)


def totals(told):
    """CRPS in money and scaled by own mean use, added up by world, horizon and method."""
    scaled = told["crps_pcs"] / told["usual_pcs"].where(told["usual_pcs"] > 0)
    rows = told.assign(money=told["crps_pcs"] * told["unit_price"], scaled=scaled)
    return rows.groupby(["world", "jobs_per_year", "horizon_months", "method"])[["money", "scaled"]].sum()


def skill(told):
    """One less the ratio of each method's CRPS to that of the calendar method that is best for the world."""
    sums = totals(told)
    methods = sums.index.get_level_values("method")
    best = sums[methods.isin(CALENDAR)].groupby(["world", "jobs_per_year", "horizon_months"]).min()
    own = sums[~methods.isin(CALENDAR)]
    return 1 - own / best.reindex(own.index.droplevel("method")).to_numpy()
