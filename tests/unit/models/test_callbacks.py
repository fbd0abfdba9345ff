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


def _by_scope(fitted, n_draws=4000):
    return fitted.draws_by_scope(np.random.default_rng(0), n_draws)


def _calls(**number):
    return [f"{scope}{n} 2025-02-01 -" for scope, calls in number.items() for n in range(calls)]


def test_draws_by_scope_stand_in_the_order_of_the_scopes():
    fitted = _fit(_jobs(100, "fix_only"), ["fix_only1 2025-02-01 -"])
    drawn = _by_scope(fitted, 160)
    assert drawn.shape == (160, len(callbacks.SCOPES))
    assert (drawn > 0).all()
    assert (drawn == _by_scope(fitted, 160)).all()


def test_scopes_nobody_watched_are_related_as_opening_is_believed_to_relate_them():
    drawn = _by_scope(_fit(_jobs(5, "fix_only"), []))
    gap = np.log(drawn[:, 1:] / drawn[:, :1])
    assert_allclose(gap.mean(axis=0), callbacks.OPENING_EFFECT[1:], atol=0.08)
    assert_allclose(gap.std(axis=0), callbacks.OPENING_EFFECT_SD, rtol=0.15)


def test_records_that_agree_with_the_belief_keep_their_rates():
    jobs = [job for scope in callbacks.SCOPES for job in _jobs(500, scope)]
    fitted = _fit(jobs, _calls(fix_only=100, refresh=112, thorough=125))
    assert_allclose(_by_scope(fitted).mean(axis=0), fitted.table["expected_calls"], rtol=0.06)


def test_three_jobs_without_a_call_do_not_make_a_rebuilt_machine_the_quietest():
    fitted = _fit(_jobs(100, "fix_only") + _jobs(3, "thorough"), _calls(fix_only=20))
    assert fitted.table["expected_calls"].iloc[2] < fitted.table["expected_calls"].iloc[0]
    fix, _, thorough = _by_scope(fitted).mean(axis=0)
    assert thorough > fix


def test_many_jobs_that_speak_against_the_belief_move_it():
    fitted = _fit(_jobs(500, "fix_only") + _jobs(500, "thorough"), _calls(fix_only=150, thorough=60))
    fix, _, thorough = _by_scope(fitted).mean(axis=0)
    told = fitted.table["expected_calls"]
    assert told.iloc[2] / told.iloc[0] < thorough / fix < 0.9
