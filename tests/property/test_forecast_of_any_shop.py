"""Whatever a small shop's records look like, the forecast answers, and its tables hold together."""

import datetime

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from pipeline.decisions import forecast
from pipeline.models import demand, job_pipeline, use_per_job, whole_jobs
from pipeline.store import read
from tests.support import hand_shop

TODAY = datetime.date(2026, 1, 1)
FAMILIES = ("em", "ss")
SCOPES = ("fix_only", "refresh", "thorough")
PARTS = ("coil", "sleeve", "lamp")
few = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def day(back):
    return "-" if back is None else str(TODAY - datetime.timedelta(days=back))


@st.composite
def shops(draw):
    """Tables of a shop of up to twelve jobs in any state, some without a day, some without a part."""
    jobs, taken = [], []
    for n in range(draw(st.integers(0, 12))):
        status = draw(st.sampled_from(["delivered", "delivered", "delivered", "in_progress", "booked", "enquiry",
                                       "declined"]))
        booked = draw(st.none() | st.integers(40, 1200))
        started = None if booked is None or status in ("booked", "enquiry", "declined") else draw(
            st.none() | st.integers(20, booked))
        delivered = started - draw(st.integers(0, 20)) if started is not None and status == "delivered" else None
        planned = draw(st.none() | st.integers(-400, 100))
        said = draw(st.sampled_from(["yes", "-"]))
        jobs.append(f"J{n} {draw(st.sampled_from(FAMILIES))} {draw(st.sampled_from(SCOPES))} {status} {day(booked)} "
                    f"{day(planned)} {day(started)} {day(delivered)} {said}")
        for line in range(draw(st.integers(0, 4)) if status in ("delivered", "in_progress") else 0):
            pieces = draw(st.integers(-3, 60).filter(bool))
            used = draw(st.none() | st.integers(0, 1200))
            source = draw(st.sampled_from(["new", "salvage", "made", "customer", "-"]))
            taken.append(f"J{n} {draw(st.sampled_from(PARTS))} {pieces} {day(used)} {line} {source}")
    costs = [draw(st.sampled_from(["-", "0.5", "12"])) for _ in PARTS]
    return {
        "families": "family name\nem Electromechanical\nss Solid-state",
        "parts": "part description unit_cost\n" + "\n".join(f"{p} {p} {c}" for p, c in zip(PARTS, costs, strict=True)),
        "jobs": "job family scope status booked_on planned_start_on started_on delivered_on no_parts_used\n"
                + "\n".join(jobs),
        "job_parts": "job part qty_pcs used_on line source\n" + "\n".join(taken),
    }


@settings(few, max_examples=6)
@given(shops())
def test_every_shop_gets_an_answer_whose_tables_hold_together(tables):
    _is_answered_in_tables_that_hold_together(tables)


@pytest.mark.slow
@settings(few, max_examples=60)
@given(shops())
def test_every_one_of_many_more_shops_gets_such_an_answer(tables):
    _is_answered_in_tables_that_hold_together(tables)


def _is_answered_in_tables_that_hold_together(tables):
    with hand_shop.store(**tables) as connection:
        found = forecast.make(connection, today=TODAY)
    for name, columns in forecast.COLUMNS.items():
        assert list(getattr(found, name).columns) == columns
    for table in (found.forecast, found.forecast_parts):
        quantiles = table[list(demand.LEVELS)].to_numpy(dtype=float)
        assert (np.diff(quantiles, axis=1) >= 0).all() and (quantiles >= 0).all()
        assert np.isfinite(table["expected_pcs"].to_numpy(dtype=float)).all()
        assert set(table["method"]) <= set(forecast.METHODS)
    added = found.forecast.groupby(["part", "to_on"])["expected_pcs"].sum()
    whole = found.forecast_parts.set_index(["part", "to_on"])["expected_pcs"]
    assert_allclose(added.sort_index().to_numpy(dtype=float), whole.sort_index().to_numpy(dtype=float), atol=1e-3)
    money = found.forecast_families[["q10_amount", "q50_amount", "q90_amount"]].dropna().to_numpy(dtype=float)
    assert (np.diff(money, axis=1) >= 0).all() and (money >= 0).all()


@few
@given(shops())
def test_the_hurdle_sees_every_known_job_once(tables):
    with hand_shop.store(**tables) as connection:
        grid = read.rows(connection, """
            select count(*) from known_jobs inner join family_parts on known_jobs.family = family_parts.family""")
        use = read.rows(connection, """
            select count(*), count(distinct (job, part)), coalesce(min(used_pcs), 0) from use_by_job""")
        by_cell = read.rows(connection, """
            select family, scope, part, jobs_seen, jobs_with_use, used_pcs from use_by_cell
            where jobs_seen > 0 order by all""")
        by_job = read.rows(connection, """
            select family, scope, part, count(*), count(*) filter (used_pcs > 0), sum(used_pcs) from use_by_job
            group by family, scope, part order by all""")
    assert use[0][0] == use[0][1] == grid[0][0] and use[0][2] >= 0
    assert by_cell == by_job  # the two roads to the same counts


@few
@given(shops())
def test_delays_spread_one_weight_over_each_job(tables):
    with hand_shop.store(**tables) as connection:
        rows = read.rows(connection, """
            select job, sum(weight_share), min(first_days), min(duration_days) from job_delays group by job""")
    for _, weight, first, duration in rows:
        assert_allclose(weight, 1)
        assert first == 0 and duration >= 0


@few
@given(shops(), st.sampled_from([1, 30, 91, 365]))
def test_known_jobs_never_count_for_more_than_one(tables, days):
    with hand_shop.store(**tables) as connection:
        pipeline = job_pipeline.fit(connection, TODAY)
    share, done = pipeline.known_share(days)
    assert ((share >= 0) & (done >= 0) & (share + done <= 1 + 1e-9)).all()
    longer, _ = pipeline.known_share(days + 100)
    assert (longer >= share - 1e-9).all()
    jobs = pipeline.expected_jobs(days)
    assert (jobs["expected_jobs"] >= 0).all() and (jobs["low_jobs"] <= jobs["high_jobs"]).all()


@few
@given(shops())
def test_shares_lie_between_none_and_all_and_intervals_around_them(tables):
    with hand_shop.store(**tables) as connection:
        rates = use_per_job.fit(connection).rates
    assert ((rates["use_share"] > 0) & (rates["use_share"] < 1)).all()
    assert (rates["use_low_share"] <= rates["use_high_share"]).all()
    assert (rates["pcs_if_used"] >= 1 - 1e-9).all()
    assert (rates["jobs_with_use"] <= rates["jobs_seen"]).all()
    assert rates["others_weight_share"].between(0, 1 + 1e-9).all()


@few
@given(shops(), st.sampled_from(FAMILIES), st.sampled_from(SCOPES))
def test_drawn_jobs_are_past_jobs(tables, family, scope):
    with hand_shop.store(**tables) as connection:
        past = whole_jobs.history(connection)
    weight, candidates = whole_jobs.draw_weights(past, family, scope, 7, np.random.default_rng(0))
    assert weight.shape == (7, candidates.size)
    if candidates.size:
        assert_allclose(weight.sum(axis=1), 1)
        drawn = whole_jobs.draw_jobs(past, family, scope, 7, 2, np.random.default_rng(0)).reshape(14, -1)
        possible = past.family_parts.get(family, np.ones(past.parts.size, dtype=bool))
        known = {tuple(row) for row in (past.used_pcs * possible).tolist()}
        assert {tuple(row) for row in drawn.tolist()} <= known
