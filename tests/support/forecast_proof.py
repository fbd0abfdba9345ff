"""The proof of the forecast: every method scored on every world laid down, at every quarter of its later years."""

import datetime
from dataclasses import replace

import numpy as np
import pandas as pd
from scipy import stats

from pipeline.decisions import backtest, forecast
from pipeline.kernels import calendar_predictive, discrete, scores
from pipeline.models import demand, family_amounts, job_pipeline, use_per_job
from pipeline.store import as_of, connect, read
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


def family_totals(entry, folder, most=5, n_draws=2000, seed=1):
    """Worth used by family against what was foretold: jointly, and as if the parts were independent.

    Returns
    -------
    pandas.DataFrame
        world, origin_on, days, family, amount that came; is_inside of the forecast's middle 80 % by randomised
        transform (no use at all is often likely), and of that of the same parts added up as independent (normal:
        hundreds of parts).
    """
    path = forecast_worlds.store(entry, folder / f"{entry.name}-families.duckdb")
    with connect.open_read(path) as whole:
        today = read.settings(whole).today
    rows, rng = [], np.random.default_rng(seed)
    for day in backtest.origins(entry.world.first_on, today, most):
        with as_of.open_read(path, day) as connection:
            basis = forecast.make(connection, day).basis
        for days, predicted in basis.predicted.items():
            if day + datetime.timedelta(days=days) <= today:
                with connect.open_read(path) as whole:
                    used = as_of.used_afterwards(whole, day, days)
                drawn = family_amounts.draw(basis.use, basis.pipeline, basis.costs, days, n_draws, rng)
                rows.append(_held(drawn, predicted, used, basis.prices, rng).assign(days=days, origin_on=day))
    return pd.concat(rows, ignore_index=True).assign(world=entry.name)


def _held(drawn, predicted, used, prices, rng):
    came = (used["used_pcs"] * used["part"].map(prices).fillna(0)).groupby(used["family"]).sum()
    price = predicted.by_family["part"].map(prices).fillna(0).to_numpy(dtype=float)
    family = predicted.by_family["family"]
    mean = pd.Series([discrete.mean(pmf) for pmf in predicted.family_pmfs] * price).groupby(family).sum()
    variance = pd.Series([discrete.variance(pmf) for pmf in predicted.family_pmfs] * price**2).groupby(family).sum()
    amount = came.reindex(list(drawn), fill_value=0.0)
    apart = (amount - mean.reindex(amount.index)).abs() / np.sqrt(variance.reindex(amount.index))
    below = np.array([np.mean(draws < amount[name] - 1e-9) for name, draws in drawn.items()])
    equal = np.array([np.mean(np.abs(draws - amount[name]) <= 1e-9) for name, draws in drawn.items()])
    transform = below + rng.random(below.size) * equal
    return pd.DataFrame({"family": amount.index, "amount": amount.to_numpy(),
                         "is_inside": (transform > 0.1) & (transform <= 0.9),
                         "is_inside_apart": (apart < stats.norm.ppf(0.9)).to_numpy()})


def certain_of_shares(known):
    """The same use per job without the doubt about its shares: jobs then add up as if each were drawn by itself."""
    sure = replace(known.beliefs, alpha=known.beliefs.alpha * 1e6, beta=known.beliefs.beta * 1e6)
    return replace(known, beliefs=sure)


def coverage_with_and_without_doubt(entry, folder, days=365, most=6):
    """Share of series inside the middle 80 % over a window, with the doubt about shares and without it."""
    path = forecast_worlds.store(entry, folder / f"{entry.name}-doubt.duckdb")
    with connect.open_read(path) as whole:
        today = read.settings(whole).today
    rng, inside = np.random.default_rng(1), ([], [])
    for day in backtest.origins(entry.world.first_on, today - datetime.timedelta(days=days - 91), most):
        with as_of.open_read(path, day) as connection:
            use, jobs = use_per_job.fit(connection), job_pipeline.fit(connection, day)
        with connect.open_read(path) as whole:
            used = as_of.used_afterwards(whole, day, days).set_index(["family", "part"])["used_pcs"]
        for place, belief in enumerate((use, certain_of_shares(use))):
            predicted = demand.predict(belief, jobs, days)
            index = pd.MultiIndex.from_frame(predicted.by_family[["family", "part"]])
            seen = used.reindex(index, fill_value=0).to_numpy(dtype=np.int64)
            for pmf, pieces in zip(predicted.family_pmfs, seen, strict=True):
                transform = scores.randomised_pit((pmf / pmf.sum())[None], [pieces], rng)[0]
                inside[place].append(0.1 < transform <= 0.9)
    return float(np.mean(inside[0])), float(np.mean(inside[1]))
