"""What the machine families will use in the next quarter and year: pieces by part, money by family."""

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions import coming_jobs, seed
from pipeline.models import (
    bench_flow,
    demand,
    family_amounts,
    job_pipeline,
    use_per_job,
    whole_jobs,
)
from pipeline.store import read

WINDOW_DAYS = (91, 365)
N_DRAWS = 2000
FEW_JOBS = 5
BY_JOBS = "use per job x jobs to come"
BY_OTHERS = f"use per job x jobs to come, fewer than {FEW_JOBS} jobs seen: leans on other families"
METHODS = {
    BY_JOBS: (
        "Share of jobs that use the part, learned from all families, scopes and kinds of part together, with what the "
        "owner means to do with the part; pieces then: the whole set that a machine holds, or fewer. Times the jobs "
        "running, booked, asked for and not yet booked: their queue for the places on the bench is drawn in "
        f"{bench_flow.N_RUNS} runs, with past slips, answers to enquiries, cancellations and the trend of bookings; "
        "the rest is exact, by generating functions, with the doubt about share, pieces and number of jobs in it. "
        "A running job that has taken much is expected to take more; a family long not asked for counts less. "
        "What call-backs take is kept apart, and what a job's own findings say is left to the order plan."
    ),
    BY_OTHERS: "The same; with so few own jobs most of the answer is what other families' jobs took.",
}
AMOUNT_METHOD = (
    "Family totals are the expected pieces at their prices. Their ranges are drawn, because a rough machine takes more "
    "of everything: adding up parts as if independent would make them far too narrow. Each of "
    f"{N_DRAWS:,} draws takes its own shares, its own number of jobs, and for every job its own roughness. Every piece "
    "counts at its last landed price, else an offer, else the remembered cost, salvaged and made ones too; what "
    "customers bring costs nothing, at the share they brought so far. Parts without a price are left out and listed; "
    "where none has one there is no amount at all."
)
PIECES = ["expected_pcs", *demand.LEVELS, "jobs_seen", "method"]
COLUMNS = {
    "forecast": ["family", "part", "from_on", "to_on", *PIECES],
    "forecast_parts": ["part", "from_on", "to_on", *PIECES],
    "forecast_families": ["family", "from_on", "to_on", "expected_amount", "q10_amount", "q50_amount", "q90_amount",
                          "expected_jobs", "jobs_seen"],
}


@dataclass(frozen=True)
class Forecast:
    """The forecast and what it rests on.

    Attributes
    ----------
    today : datetime.date
        Windows begin the day after.
    forecast, forecast_parts, forecast_families : pandas.DataFrame
        The output tables of these names.
    expected_jobs : pandas.DataFrame
        family, scope, from_on, to_on, known_jobs, expected_jobs, low_jobs, high_jobs (80 %).
    coming_jobs : pandas.DataFrame
        The same by family, with the known and the unbooked apart (see :func:`coming_jobs.by_family`).
    readings : pandas.DataFrame
        Pieces per job by family and scope under both readings of delivered jobs without a parts record.
    unknown_jobs_effect : pandas.DataFrame
        part, from_on, to_on, expected_pcs, expected_unknown_as_none_pcs: all families under both readings.
    unpriced : pandas.DataFrame
        part, expected_pcs of the longest window: parts left out of every amount because no price is known.
    notes : tuple of str
        What had to be assumed.
    bench : str
        What limits the bench, and who stands before it.
    basis : Basis
        What was fitted: further pages ask it what the tables do not say.
    """

    today: datetime.date
    forecast: pd.DataFrame
    forecast_parts: pd.DataFrame
    forecast_families: pd.DataFrame
    expected_jobs: pd.DataFrame
    coming_jobs: pd.DataFrame
    readings: pd.DataFrame
    unknown_jobs_effect: pd.DataFrame
    unpriced: pd.DataFrame
    notes: tuple
    bench: str
    basis: "Basis"


@dataclass(frozen=True)
class Basis:
    """What the forecast rests on.

    Attributes
    ----------
    use : pipeline.models.use_per_job.UsePerJob
    pipeline : pipeline.models.job_pipeline.JobPipeline
    history : pipeline.models.whole_jobs.JobHistory
    prices : pandas.Series
        Price of a piece by part.
    costs : pandas.Series
        What a piece costs the shop: less, where customers bring some.
    predicted : dict of int to pipeline.models.demand.Demand
        Distributions by length of the window in days.
    """

    use: use_per_job.UsePerJob
    pipeline: job_pipeline.JobPipeline
    history: whole_jobs.JobHistory
    prices: pd.Series
    costs: pd.Series
    predicted: dict


def make(connection, today=None, rng=None):
    """Forecast the use of parts.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store; parts, jobs and job_parts are enough.
    today : datetime.date, optional
        Default the shop's today.
    rng : numpy.random.Generator, optional
        For the ranges of family totals; default the decisions' one seed.

    Returns
    -------
    Forecast
        With empty tables where no job ever took a part.
    """
    today = today or read.settings(connection).today
    rng = rng or seed.generator()
    basis = _fit(connection, today)
    as_none = use_per_job.fit_unknown_as_none(connection, basis.history, is_brief=True)
    made = {name: [] for name in (*COLUMNS, "expected_jobs", "coming_jobs", "unknown_jobs_effect")}
    for days, predicted in basis.predicted.items():
        other = demand.expect(as_none, basis.pipeline, days).groupby("part")["expected_pcs"].sum()
        jobs = basis.pipeline.expected_jobs(days)
        rows = {
            "forecast": _with_method(predicted.by_family),
            "forecast_parts": _with_method(predicted.by_part),
            "forecast_families": _families(basis, predicted, jobs, rng),
            "expected_jobs": jobs,
            "coming_jobs": coming_jobs.by_family(basis.pipeline, days),
            "unknown_jobs_effect": predicted.by_part[["part", "expected_pcs"]].assign(
                expected_unknown_as_none_pcs=predicted.by_part["part"].map(other)),
        }
        for name, frame in rows.items():
            made[name].append(_dated(frame, today, days))
    tables = {name: pd.concat(frames, ignore_index=True) for name, frames in made.items()}
    tables |= {name: tables[name].reindex(columns=columns) for name, columns in COLUMNS.items()}
    return Forecast(today, **tables, readings=basis.use.readings, notes=_notes(connection, basis),
                    unpriced=_unpriced(tables["forecast_parts"], basis.prices),
                    bench=coming_jobs.bench_words(basis.pipeline), basis=basis)


def _fit(connection, today):
    history = whole_jobs.history(connection)
    use, pipeline = use_per_job.fit(connection, history), job_pipeline.fit(connection, today)
    prices = read.query(connection, "select part, unit_price from part_prices").set_index("part")["unit_price"]
    predicted = {days: demand.predict(use, pipeline, days) for days in WINDOW_DAYS}
    return Basis(use, pipeline, history, prices, family_amounts.own_cost(history, prices), predicted)


def _with_method(rows):
    return rows.assign(method=np.where(rows["jobs_seen"] < FEW_JOBS, BY_OTHERS, BY_JOBS))


def _dated(rows, today, days):
    return rows.assign(from_on=today + datetime.timedelta(days=1), to_on=today + datetime.timedelta(days=days))


def _families(basis, predicted, jobs, rng):
    """Worth of the parts used by family: expected pieces at their prices, its range drawn whole job by whole job."""
    amounts = family_amounts.draw(basis.use, basis.pipeline, basis.costs, predicted.days, N_DRAWS, rng)
    pieces = predicted.by_family
    worth = pieces["expected_pcs"].astype(float) * pieces["part"].map(basis.costs).astype(float)
    expected = worth.groupby(pieces["family"]).sum(min_count=1)
    n_jobs, seen = jobs.groupby("family")["expected_jobs"].sum(), basis.history.jobs["family"].value_counts()
    rows = []
    for family, amount in amounts.items():
        low, middle, high = np.quantile(amount, [0.1, 0.5, 0.9])  # not a number where nothing is known: stays so
        mean = expected.get(family, amount.mean())
        rows.append((family, mean, low, middle, high, n_jobs[family], int(seen.get(family, 0))))
    return pd.DataFrame(rows, columns=[c for c in COLUMNS["forecast_families"] if c not in ("from_on", "to_on")])


def _unpriced(parts, prices):
    longest = parts[parts["to_on"] == parts["to_on"].max()] if len(parts) else parts
    missing = longest[~longest["part"].isin(prices.index) & (longest["expected_pcs"] > 0)]
    return missing.sort_values("expected_pcs", ascending=False)[["part", "expected_pcs"]].reset_index(drop=True)


def _notes(connection, basis):
    """What had to be assumed, in words."""
    pipeline, history = basis.pipeline, basis.history
    bare = [f"no delivered {kind} job says what it used: {then}" for column, then in
            (("family", "its amounts lean on other families"), ("scope", "it is taken to be like jobs of other scopes"))
            for kind in sorted(set(pipeline.bookings[column]) - set(history.jobs[column]))]
    asked = read.query(connection, "select job, family, scope from open_enquiries order by job")
    strange = [f"{asked_for.job} asks for {getattr(asked_for, column)}, a {column} that no job was ever of: nothing to "
               "go by, left out" for asked_for in asked.itertuples(index=False) for column in ("scope", "family")
               if getattr(asked_for, column) not in set(pipeline.bookings[column])]
    return (*pipeline.notes, *bare, *strange)
