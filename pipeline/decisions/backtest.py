"""How good the forecast would have been: made again as of past days, and held against what was used since."""

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions import seed
from pipeline.errors import InvalidParameter
from pipeline.kernels import calendar_predictive, discrete, job_arrivals, ragged, scores
from pipeline.models import calendar_history, demand, job_pipeline, use_per_job, whole_jobs
from pipeline.store import as_of, connect, read

HORIZONS = {3: 91, 12: 365}  # months: days
STEP_DAYS = 91
LEAST_HISTORY_DAYS = 365  # known before the first origin
LEAST_JOBS = 30  # delivered with a known use; fewer cannot tell a good forecast from a lucky one
MOST_ORIGINS = 6  # newest origins looked at for a page; a proof looks at more
N_DRAWS = 400
BY_JOBS, DRAWN_AGAIN = "use per job x jobs to come", "whole past jobs drawn again"
COLUMNS = ["family", "shelf_rule", "method", "horizon_months", "crps_scaled", "crps_money", "coverage80_share",
           "n_origins", "n_series"]
METHOD = (
    "At each origin, a quarter apart, the store is opened as it was known on that day and every method forecasts each "
    "family and part for the next 91 and 365 days. Smaller is better: CRPS in money weighs a part by its price, "
    "scaled by its own mean use before the origin. The share is how often the pieces fell in the middle 80 % of the "
    "distribution, by randomised probability transform. Mean absolute error is not shown: on mostly empty series a "
    "forecast of nothing at all wins it."
)


@dataclass(frozen=True)
class Backtest:
    """The forecast held against what came.

    Attributes
    ----------
    table : pandas.DataFrame
        Output table ``backtest``; no rows where there is too little to say.
    scores : pandas.DataFrame
        One row per origin, horizon, family, part and method (see :func:`score`).
    note : str
        What it rests on, or why nothing is said.
    """

    table: pd.DataFrame
    scores: pd.DataFrame
    note: str


def make(path, rules=None, most_origins=MOST_ORIGINS):
    """Forecast again as of past days.

    Parameters
    ----------
    path : str or pathlib.Path
        The shop's DuckDB file.
    rules : pandas.DataFrame, optional
        part, shelf_rule of the order plan; parts it does not have are told under an empty rule.
    most_origins : int
        Newest origins to look at.

    Returns
    -------
    Backtest
    """
    with connect.open_read(path) as connection:
        today = read.settings(connection).today
        (n_jobs,), = read.rows(connection, "select count(*) from known_jobs where delivered_on <= ?", [today])
        (first_on,), = read.rows(connection, "select min(used_on) from use_days where not is_callback")
        prices = read.query(connection, "select part, unit_price from part_prices").set_index("part")["unit_price"]
    days = origins(first_on, today, most_origins) if n_jobs >= LEAST_JOBS else []
    if not days:
        return Backtest(pd.DataFrame(columns=COLUMNS), pd.DataFrame(), _too_few(n_jobs, first_on, today))
    rng = seed.generator()
    told = pd.concat([score(path, day, prices, today, rng) for day in days], ignore_index=True)
    of_part = None if rules is None else rules.drop_duplicates("part").set_index("part")["shelf_rule"]
    told["shelf_rule"] = "" if of_part is None else told["part"].map(of_part).fillna("")
    note = f"{len(days)} origins from {days[0]} to {days[-1]}, {n_jobs} delivered jobs in all."
    return Backtest(summary(told, ["family", "shelf_rule"]), told, note)


def _too_few(n_jobs, first_on, today):
    if n_jobs < LEAST_JOBS:
        return f"Too few to say: {n_jobs} delivered jobs say what they used; wanted {LEAST_JOBS}."
    return (f"Too few to say: use is written down from {first_on} to {today}; wanted a year before the first origin "
            "and a quarter after it.")


def origins(first_on, today, most=MOST_ORIGINS):
    """Days on which a forecast can be made again and judged, oldest first.

    Parameters
    ----------
    first_on : datetime.date or None
        First day that use was written down.
    today : datetime.date
    most : int

    Returns
    -------
    list of datetime.date
        A quarter apart, the newest a quarter before today, each with a year of records behind it.
    """
    if first_on is None or pd.isna(first_on):
        return []
    first = pd.Timestamp(first_on).date() + datetime.timedelta(days=LEAST_HISTORY_DAYS)
    days = [today - datetime.timedelta(days=STEP_DAYS * (back + 1)) for back in range(most)]
    return [day for day in reversed(days) if day >= first]


def score(path, day, prices, today, rng):
    """Score every method's forecasts of one origin, for the horizons that have passed since.

    Parameters
    ----------
    path : str or pathlib.Path
        The shop's DuckDB file.
    day : datetime.date
        The origin: nothing later is known to the forecast, which is checked.
    prices : pandas.Series
        Price of a piece by part: weights, of today.
    today : datetime.date
        The store's today.
    rng : numpy.random.Generator
        For jobs drawn again and the randomised transform.

    Returns
    -------
    pandas.DataFrame
        origin_on, horizon_months, family, part, method, used_pcs, usual_pcs (mean use before the origin, for the
        window), unit_price (missing where not known), crps_pcs, transform_share.

    Raises
    ------
    StoreError
        If something later than the origin can be seen.
    """
    with as_of.open_read(path, day) as connection:
        as_of.refuse_later(connection, day)
        jobs = whole_jobs.history(connection)
        known = _Known(use_per_job.fit(connection, jobs, is_brief=True), job_pipeline.fit(connection, day),
                       jobs, calendar_history.fit(connection, day))
    with connect.open_read(path) as connection:
        used = {months: as_of.used_afterwards(connection, day, days) for months, days in HORIZONS.items()
                if day + datetime.timedelta(days=days) <= today}
    told = pd.concat([_scores(known, pieces, HORIZONS[months], rng).assign(horizon_months=months)
                      for months, pieces in used.items()], ignore_index=True)
    return told.assign(origin_on=day, unit_price=told["part"].map(prices).astype(float))


@dataclass(frozen=True)
class _Known:
    use: use_per_job.UsePerJob
    pipeline: job_pipeline.JobPipeline
    jobs: whole_jobs.JobHistory
    calendar: calendar_history.CalendarHistory


def _scores(known, used, days, rng):
    """Scores of every method over one window: rows are methods by series."""
    seen_by_family, predicted = demand.by_family_only(known.use, known.pipeline, days)
    keys = [seen_by_family.index.to_frame(index=False), known.calendar.series, used.loc[used["used_pcs"] > 0,
                                                                                      ["family", "part"]]]
    series = pd.concat(keys, ignore_index=True).drop_duplicates().reset_index(drop=True)
    index = pd.MultiIndex.from_frame(series)
    seen = used.set_index(["family", "part"])["used_pcs"].reindex(index, fill_value=0).to_numpy(dtype=np.int64)
    place = index.get_indexer(pd.MultiIndex.from_frame(keys[1]))
    months = np.zeros((len(known.calendar.used_pcs), len(series)))
    months[:, place] = known.calendar.used_pcs
    rows = {BY_JOBS: _by_jobs(seen_by_family.index, predicted, index),
            DRAWN_AGAIN: _drawn_again(known, index, days, rng)}
    rows |= _by_calendar(months, days)
    usual = months.mean(axis=0) * days / calendar_history.MONTH_DAYS
    told = [series.assign(method=method, used_pcs=seen, usual_pcs=usual, **_judged(pmfs, seen, rng))
            for method, pmfs in rows.items()]
    return pd.concat(told, ignore_index=True)


def _by_jobs(cells, pmfs, index):
    return [pmfs[row] if row >= 0 else np.ones(1) for row in cells.get_indexer(index)]


def _by_calendar(months, days):
    if len(months) < calendar_predictive.LEAST_PERIODS:
        raise InvalidParameter(f"the record before the origin has {len(months)} months; wanted at least "
                               f"{calendar_predictive.LEAST_PERIODS}.")
    ahead = round(days / calendar_history.MONTH_DAYS)
    return {method: calendar_predictive.ragged_pmfs(months, method, ahead)
            for method in calendar_predictive.METHODS}


def _drawn_again(known, index, days, rng):
    """Whole past jobs for every job to come: the plain method that the forecast has to beat."""
    drawn = {}
    share, _ = known.pipeline.known_share(days)
    rows = known.pipeline.known.groupby(["family", "scope"]).indices
    for family, scope, mean, excess in known.pipeline.unbooked(days)[
            ["family", "scope", "unbooked_mean", "unbooked_excess"]].itertuples(index=False):
        here = share[rows.get((family, scope), [])]
        n_jobs = job_arrivals.draw_counts(mean, excess, N_DRAWS, rng) + (
            rng.random((N_DRAWS, here.size)) < here).sum(axis=1)
        weight, candidates = whole_jobs.draw_weights(known.jobs, family, scope, N_DRAWS, rng)
        if candidates.size:
            # In floats, which hold whole numbers exactly: a product of integers has no fast way.
            taken = rng.multinomial(n_jobs, weight).astype(float) @ known.jobs.used_pcs[candidates].astype(float)
            drawn[family] = drawn.get(family, 0) + taken.astype(np.int64) * known.jobs.family_parts.get(
                family, np.ones(known.jobs.parts.size, dtype=bool))
    column = {part: place for place, part in enumerate(known.jobs.parts)}
    none = np.zeros(N_DRAWS, dtype=np.int64)
    draws = [drawn[family][:, column[part]] if family in drawn and part in column else none for family, part in index]
    return [np.bincount(pieces) / N_DRAWS for pieces in draws]


def _judged(pmfs, seen, rng):
    """CRPS and randomised transform of ragged distributions, those of about a length together."""
    crps, transform = np.empty(seen.size), np.empty(seen.size)
    size = np.array([pmf.size for pmf in pmfs])
    by_length = np.argsort(-(-size // 32), kind="stable")  # the order in which the random numbers are given out
    lengths = np.maximum(discrete.power_of_two(size), 32)
    for places, block in ragged.blocks([pmfs[row] for row in by_length], lengths[by_length]):
        rows = by_length[places]
        block /= block.sum(axis=1, keepdims=True)
        crps[rows] = scores.crps_pmf(block, seen[rows])
        transform[rows] = scores.randomised_pit(block, seen[rows], rng)
    return {"crps_pcs": crps, "transform_share": transform}


def summary(told, keys):
    """Add scores up by some keys, method and horizon.

    Parameters
    ----------
    told : pandas.DataFrame
        From :func:`score`.
    keys : list of str
        Further columns to tell apart.

    Returns
    -------
    pandas.DataFrame
        The keys, method, horizon_months, crps_scaled (mean over series used before the origin), crps_money (per
        origin, money; missing where no part has a price), coverage80_share, n_origins, n_series.
    """
    is_inside = (told["transform_share"] > 0.1) & (told["transform_share"] <= 0.9)
    had_use = told["usual_pcs"] > 0
    rows = told.assign(
        crps_scaled=(told["crps_pcs"] / told["usual_pcs"].where(had_use)), money=told["crps_pcs"] * told["unit_price"],
        is_inside=is_inside)
    grouped = rows.groupby([*keys, "method", "horizon_months"], sort=True)
    made = grouped.agg(crps_scaled=("crps_scaled", "mean"),
                       crps_money=("money", lambda amount: amount.sum(min_count=1)),
                       coverage80_share=("is_inside", "mean"), n_origins=("origin_on", "nunique"))
    n_series = rows.drop_duplicates([*keys, "method", "horizon_months", "family", "part"]).groupby(
        [*keys, "method", "horizon_months"]).size()
    made["crps_money"] /= made["n_origins"]
    return made.assign(n_series=n_series).reset_index()
