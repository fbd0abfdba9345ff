"""The demo shop a year earlier: what was forecast then, with only what was known then, against what came."""

import datetime

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from pipeline.kernels import scores
from pipeline.models import demand, job_pipeline, use_per_job
from pipeline.store import connect, read

ORIGIN = datetime.date(2025, 10, 31)
UNCHANGED = ("families", "parts", "assemblies", "family_assemblies", "assembly_parts")


@pytest.fixture(scope="module")
def records(demo_shop):
    """The demo's tables as frames."""
    with connect.open_read(demo_shop.store) as connection:
        return {name: read.frame(connection, name) for name in (*UNCHANGED, "jobs", "job_parts")}


@pytest.fixture(scope="module")
def then(records):
    """Use per job and pipeline fitted on the records as they were on the origin, nothing later in them."""
    origin = pd.Timestamp(ORIGIN)
    jobs = records["jobs"][records["jobs"]["booked_on"] <= origin].copy()
    was_declined = jobs["status"] == "declined"
    for column in ("started_on", "delivered_on"):
        jobs[column] = jobs[column].where(jobs[column] <= origin)
    jobs["status"] = np.where(was_declined, "declined", None)
    taken = records["job_parts"]
    taken = taken[(taken["used_on"] <= origin) & taken["job"].isin(jobs["job"])]
    with connect.open_memory() as store:
        for name, frame in (*((name, records[name]) for name in UNCHANGED), ("jobs", jobs), ("job_parts", taken)):
            store.register("rows", frame)
            store.execute(f"insert into {name} by name from rows")
        return use_per_job.fit(store), job_pipeline.fit(store, ORIGIN)


@pytest.fixture(scope="module", params=[91, 365])
def judged(request, records, then):
    """Each family and part forecast then: distribution, pieces that came, and pieces a month before."""
    days = request.param
    predicted = demand.predict(*then, days)
    use = records["job_parts"].merge(records["jobs"][["job", "family"]], on="job")
    origin = pd.Timestamp(ORIGIN)
    rows = predicted.by_family[["family", "part", "expected_pcs"]].copy()
    for name, low, high in (("came_pcs", origin, origin + pd.Timedelta(days=days)),
                            ("before_pcs", origin - pd.Timedelta(days=1095), origin)):
        window = use[(use["used_on"] > low) & (use["used_on"] <= high)]
        pieces = window.groupby(["family", "part"])["qty_pcs"].sum()
        rows[name] = pd.MultiIndex.from_frame(rows[["family", "part"]]).map(pieces).fillna(0).astype(int)
    return rows.assign(came_pcs=rows["came_pcs"].clip(lower=0), pmf=predicted.family_pmfs, days=days)


def test_nothing_of_later_is_in_the_fit(then, records):
    use, pipeline = then
    delivered_on = records["jobs"]["delivered_on"]
    assert pipeline.today == ORIGIN
    assert 0 < pipeline.work.past.scope.size <= (delivered_on <= pd.Timestamp(ORIGIN)).sum() < delivered_on.count()
    assert use.rates["jobs_seen"].max() < 60


def test_four_in_five_fall_within_the_eighty_per_cent_interval(judged):
    rng = np.random.default_rng(1)
    place = np.array([scores.randomised_pit(pmf, [came], rng)[0]
                      for pmf, came in zip(judged["pmf"], judged["came_pcs"], strict=True)])
    assert 0.7 < np.mean((place > 0.1) & (place < 0.9)) < 0.9
    assert abs(place.mean() - 0.5) < 0.12


def test_pieces_foretold_are_near_the_pieces_that_came(judged):
    assert 0.6 < judged["expected_pcs"].sum() / judged["came_pcs"].sum() < 1.5


def test_the_distribution_beats_the_mean_of_the_calendar(judged):
    # The calendar's answer: mean use of the last three years, negative binomial.
    days = judged["days"].iloc[0]
    mean = np.maximum(judged["before_pcs"] * days / 1095, 0.02).to_numpy()
    worst = []
    for size in (0.3, 1.0, 3.0):  # whatever spread the calendar chooses
        grid = np.arange(4000)
        calendar = stats.nbinom(size, size / (size + mean[:, None])).pmf(grid)
        score = scores.crps_pmf(calendar / calendar.sum(axis=1, keepdims=True), judged["came_pcs"])
        worst.append((score / (mean + 1)).mean())
    own = np.array([scores.crps_pmf(pmf, [came])[0]
                    for pmf, came in zip(judged["pmf"], judged["came_pcs"], strict=True)])
    assert (own / (mean + 1)).mean() < min(worst)


def test_the_forecast_of_none_loses_on_the_score_though_it_wins_on_absolute_error(judged):
    # Mostly nothing is used in a quarter: "none" wins the mean absolute error of the counts seen singly, so it must
    # never be the judge.
    single = judged[judged["expected_pcs"] < 0.5]
    own = np.array([scores.crps_pmf(pmf, [came])[0]
                    for pmf, came in zip(single["pmf"], single["came_pcs"], strict=True)])
    none = scores.crps_pmf(np.tile([1.0, 0.0], (len(single), 1)), single["came_pcs"])
    assert own.mean() < none.mean()
    assert np.abs(single["came_pcs"]).mean() < np.abs(single["came_pcs"] - single["expected_pcs"]).mean()
