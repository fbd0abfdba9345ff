"""Calls for which no part is to blame, by scope."""

import numpy as np
from numpy.testing import assert_allclose

from pipeline.models import callbacks
from tests.support import hand_shop

BASE = {
    "shop": "key value\ntoday 2026-07-01\ncallback_watch_days 180",
    "families": "family name\nem Electromechanical",
    "parts": "part description\ncoil Coil",
}


def _jobs(number, scope, delivered_on="2025-01-01"):
    return [f"{scope}{n} em {scope} {delivered_on}" for n in range(number)]


def _fit(jobs, calls, horizon_days=90):
    head = ["job family scope delivered_on"]
    tables = {"jobs": "\n".join(head + jobs)}
    if calls:
        tables["callbacks"] = "\n".join(["job reported_on part", *calls])
    with hand_shop.store(**BASE, **tables) as connection:
        return callbacks.fit(connection, horizon_days)


def test_many_jobs_speak_for_themselves():
    calls = [f"fix_only{n} 2025-02-01 -" for n in range(100)] + [
        f"thorough{n} 2025-02-01 -" for n in range(300)
    ]
    table = _fit(_jobs(500, "fix_only") + _jobs(500, "thorough"), calls).table.set_index("scope")
    assert_allclose(table.loc[["fix_only", "thorough"], "expected_calls"], [0.2, 0.6], rtol=0.05)
    assert table["jobs_watched"].to_dict() == {"fix_only": 500, "refresh": 0, "thorough": 500}


def test_calls_with_a_part_are_not_among_them():
    table = _fit(_jobs(50, "fix_only"), ["fix_only1 2025-02-01 coil", "fix_only2 2025-02-01 -"]).table
    assert table["calls"].sum() == 1


def test_calls_outside_the_horizon_count_for_the_curve_only():
    fitted = _fit(_jobs(50, "fix_only"), ["fix_only1 2025-02-01 -", "fix_only2 2025-06-01 -"])
    assert fitted.table["calls"].sum() == 1
    assert fitted.curve["days"].tolist() == [31.0, 151.0]
    assert_allclose(fitted.curve["mean_calls"], [0.02, 0.04])


def test_calls_before_delivery_or_after_the_watch_are_left_out():
    fitted = _fit(
        _jobs(50, "fix_only"), ["fix_only1 2024-12-01 -", "fix_only2 2025-12-01 -", "fix_only3 2025-02-01 -"]
    )
    assert len(fitted.curve) == 1


def test_jobs_still_watched_count_by_how_far_they_are():
    # half of all calls come by day 30, so 200 thorough jobs watched for 30 days weigh as much as 100 whole ones:
    # their 50 calls are one in two jobs, as with fix-only, not one in four
    early = [
        f"{scope}{n} {day} -"
        for scope, day in (("fix_only", "2025-01-21"), ("thorough", "2026-06-21"))
        for n in range(50)
    ]
    late = [f"fix_only{n} 2025-03-02 -" for n in range(50)]
    fitted = _fit(_jobs(200, "fix_only") + _jobs(200, "thorough", "2026-06-01"), early + late)
    assert_allclose(
        fitted.table.set_index("scope").loc[["fix_only", "thorough"], "expected_calls"], 0.5, rtol=0.03
    )


def test_horizon_ends_with_the_watch():
    assert (_fit(_jobs(5, "fix_only"), ["fix_only1 2025-02-01 -"], 365).table["horizon_days"] == 180).all()


def test_no_call_backs_noted_rests_on_the_guess_alone():
    table = _fit(_jobs(500, "fix_only"), []).table
    assert (table["jobs_watched"] == 0).all()
    assert_allclose(table["expected_calls"], 0.05, rtol=1e-6)
    assert (table["high_calls"] > 0.08).all()


def test_none_of_this_kind_among_others_is_not_never():
    table = _fit(_jobs(100, "fix_only"), ["fix_only1 2025-02-01 coil"]).table
    assert (table["expected_calls"] > 0).all()
    assert (table["expected_calls"] < 0.05).all()


def test_draws_have_the_believed_mean():
    fitted = _fit(_jobs(100, "fix_only"), ["fix_only1 2025-02-01 -"])
    drawn = fitted.draws(np.random.default_rng(0), "fix_only", 20_000)
    assert_allclose(drawn.mean(), fitted.table.loc[0, "expected_calls"], rtol=0.03)


def test_ordered_draws_rise_with_what_is_opened():
    fitted = _fit(_jobs(100, "fix_only") + _jobs(100, "thorough"), ["fix_only1 2025-02-01 -"])
    drawn = fitted.ordered_draws(np.random.default_rng(0), 500)
    assert drawn.shape == (500, 3)
    assert (np.diff(drawn, axis=1) >= 0).all()
    assert (drawn > 0).all()


def test_ordered_draws_are_the_belief_where_records_are_in_that_order_anyway():
    calls = [f"{scope}{n} 2025-02-01 -" for scope, number in (("fix_only", 20), ("refresh", 120), ("thorough", 300))
             for n in range(number)]
    fitted = _fit([job for scope in callbacks.SCOPES for job in _jobs(500, scope)], calls)
    drawn = fitted.ordered_draws(np.random.default_rng(0), 20_000)
    assert_allclose(drawn.mean(axis=0), fitted.table["expected_calls"], rtol=0.02)
    assert_allclose(drawn.var(axis=0), fitted.alpha / fitted.beta**2, rtol=0.05)


def test_ordered_draws_are_the_belief_given_the_order():
    # three scopes believed alike: the least, the middle and the greatest of three draws of one belief
    fitted = _fit(_jobs(5, "fix_only"), [])
    drawn = fitted.ordered_draws(np.random.default_rng(0), 20_000)
    assert np.ptp(fitted.alpha) == np.ptp(fitted.beta) == 0
    alike = np.sort(np.random.default_rng(1).gamma(fitted.alpha[0], 1 / fitted.beta[0], (200_000, 3)), axis=1)
    assert_allclose(drawn.mean(axis=0), alike.mean(axis=0), rtol=0.05)
    assert_allclose(drawn.mean(), 0.05, rtol=0.03)


def test_ordered_draws_stand_in_order_where_records_speak_against_it():
    calls = [f"fix_only{n} 2025-02-01 -" for n in range(300)] + ["thorough1 2025-02-01 -"]
    fitted = _fit(_jobs(500, "fix_only") + _jobs(500, "thorough"), calls)
    drawn = fitted.ordered_draws(np.random.default_rng(0), 200)
    assert drawn.shape == (200, 3)
    assert (np.diff(drawn, axis=1) >= 0).all()
