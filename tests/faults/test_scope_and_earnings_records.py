"""Thin, odd and contradictory records: scope and earnings answer, refuse, or say what is not known."""

import numpy as np
import pytest

from pipeline.decisions import earnings, hours_outlook, scope
from pipeline.decisions import variances as variances_decision
from pipeline.models import callbacks, lives
from tests.support import hand_shop
from tests.support.scope_bench import assert_whole

SHOP = {
    "shop": "key value\ntoday 2026-07-01\ncallback_watch_days 180",
    "families": "family name\nem Electromechanical",
    "parts": "part description wear_class unit_cost\ncoil Coil coil 15\nsleeve Sleeve sleeve 1\nlamp Lamp lamp -",
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3\nempty 1 2 0.3",
    "family_assemblies": "family assembly count\nem flip 2\nem empty 1",
    "assembly_parts": "assembly part qty_pcs thorough_action\nflip coil 1 replace\nflip sleeve 1 replace",
    "jobs": """job family scope status booked_on delivered_on invoiced_amount quoted_amount setting plays_quality
        J1 em thorough delivered 2025-01-01 2025-03-01 900 800 home read
        J2 em fix_only delivered 2025-02-01 2025-04-01 150 140 home read""",
    "job_parts": "job part qty_pcs used_on\nJ1 coil 2 2025-02-01\nJ2 sleeve 1 2025-03-20",
    "job_hours": "job hours\nJ1 12\nJ2 3",
    "callbacks": "job reported_on part part_was hours\nJ1 2025-04-01 coil kept 1",
}
TABLES = (
    hours_outlook.job_hours_outlook,
    hours_outlook.stage_hours,
    earnings.job_margins,
    variances_decision.variances,
)


def _changed(**tables):
    return {name: text for name, text in {**SHOP, **tables}.items() if text}


CASES = {
    "nothing at all": dict.fromkeys(SHOP, ""),
    "parts alone": dict.fromkeys(set(SHOP) - {"parts"}, ""),
    "no call-backs": {"callbacks": ""},
    "no deliveries": {
        "jobs": "job family scope status\nJ1 em thorough booked\nJ2 em fix_only enquiry",
        "callbacks": "",
    },
    "declined jobs only": {
        "jobs": "job family scope status\nJ1 em thorough declined\nJ2 em fix_only declined",
        "callbacks": "",
    },
    "hours missing": {"job_hours": ""},
    "hours of one job": {"job_hours": "job hours\nJ1 12"},
    "no parts of an assembly": {"assembly_parts": "assembly part qty_pcs\nempty coil 1"},
    "plays reset": {"jobs": SHOP["jobs"].replace(" read", " reset_suspected")},
    "no setting": {"jobs": SHOP["jobs"].replace(" home ", " - ")},
    "no dates": {
        "jobs": "job family scope status\nJ1 em thorough delivered\nJ2 em fix_only delivered",
        "job_parts": "job part qty_pcs\nJ1 coil 2",
    },
    "a call-back before delivery": {"callbacks": "job reported_on part part_was\nJ1 2025-01-05 coil kept"},
    "a call-back of a running job": {
        "jobs": SHOP["jobs"].replace(
            "thorough delivered 2025-01-01 2025-03-01", "thorough in_progress 2025-01-01 -"
        ),
    },
    "a call-back that names neither new nor kept": {"callbacks": "job reported_on part\nJ1 2025-04-01 coil"},
    "more failures than pieces": {
        "callbacks": "job reported_on part part_was\n"
        + "\n".join(f"J2 2025-04-{day:02d} coil kept" for day in range(2, 20)),
    },
    "delivered today": {"jobs": SHOP["jobs"].replace("2025-03-01", "2026-07-01"), "callbacks": ""},
    "delivered after today": {"jobs": SHOP["jobs"].replace("2025-03-01", "2027-07-01"), "callbacks": ""},
    "more returned than taken": {"job_parts": "job part qty_pcs used_on\nJ1 coil -3 2025-02-01"},
    "only customers' pieces": {
        "job_parts": "job part qty_pcs source\nJ1 coil 2 customer\nJ2 sleeve 1 customer"
    },
    "call-back pieces only": {"job_parts": "job part qty_pcs reason\nJ1 coil 1 callback"},
    "an invoice of nothing": {"jobs": SHOP["jobs"].replace(" 900 800 ", " 0 0 ")},
    "no warranty": {"shop": SHOP["shop"] + "\nwarranty_days 0"},
    "no watch": {"shop": SHOP["shop"].replace("180", "0")},
    "nothing is played": {"shop": SHOP["shop"] + "\nplays_per_month_home 0\nplays_per_month_route 0"},
    "work costs nothing": {"shop": SHOP["shop"] + "\nlabour_cost 0\noverhead_per_hour 0"},
    "visits cost nothing": {"shop": SHOP["shop"] + "\ncallback_trip_cost 0\ncallback_goodwill_cost 0"},
    "zero assemblies' hours": {
        "assemblies": "assembly bench_hours installed_hours open_hours\nflip 0 0 0\nempty 0 0 0"
    },
    "every piece rejected": {
        "vendors": "vendor\nnorth",
        "offers": "vendor part pack_price quoted_on reject_share\nnorth coil 15 2026-01-01 1",
    },
    "a finding of a part nobody lists": {
        "jobs": SHOP["jobs"] + "\nO1 em thorough in_progress 2026-01-01 - - - home read",
        "findings": "job assembly part qty_pcs condition\nO1 topper lamp 3 missing",
    },
    "a companion of itself": {"companions": "trigger_part adds_part\ncoil coil"},
    "companions in a circle": {"companions": "trigger_part adds_part\ncoil sleeve\nsleeve coil"},
    "a companion that no machine holds": {"companions": "trigger_part adds_part\ncoil lamp"},
    "a job without parts that is not said to use none": {"job_parts": "job part qty_pcs\nJ1 coil 2"},
}


def _tables_of(scopes):
    return scopes.options, scopes.lines, scopes.frontiers, scopes.calls


@pytest.mark.parametrize("case", CASES)
def test_every_table_and_model_answers(case):
    with hand_shop.store(**_changed(**CASES[case])) as connection:
        scopes = scope.make(connection)
        frames = [*_tables_of(scopes), *(table(connection) for table in TABLES)]
        assert (lives.fit(connection).table["median"] > 0).all()
        assert (callbacks.fit(connection, 90).table["expected_calls"] >= 0).all()
    assert_whole(scopes)
    for frame in frames:
        assert len(frame.columns) > 4
        assert not np.isinf(frame.select_dtypes("number").to_numpy(dtype=float)).any()


def test_no_call_backs_noted_leaves_the_guess_and_says_so():
    with hand_shop.store(**_changed(callbacks="")) as connection:
        lines = scope.scope_lines(connection)
        assert lives.fit(connection).table["pieces_watched"].sum() == 0
    weighed = lines[lines["failures_avoided"].notna()]
    assert weighed["why"].str.contains("guess").all()


def test_a_part_without_price_leaves_its_job_without_a_margin():
    with hand_shop.store(**_changed(job_parts="job part qty_pcs\nJ1 lamp 2\nJ2 sleeve 1")) as connection:
        margins = earnings.job_margins(connection).set_index("job")
    assert np.isnan(margins.loc["J1", "parts_amount"])
    assert np.isnan(margins.loc["J1", "margin_amount"])
    assert not np.isnan(margins.loc["J2", "margin_amount"])


def test_more_failures_than_pieces_never_makes_negative_pieces():
    with hand_shop.store(**_changed(**CASES["more failures than pieces"])) as connection:
        table = lives.fit(connection).table
    assert (table["pieces_watched"] >= table["failures"]).all()


def test_the_shared_shop_is_taken(alder_lane):
    from pipeline.store import connect

    with connect.open_read(alder_lane.store) as connection:
        scopes = scope.make(connection)
        frames = [*_tables_of(scopes), *(table(connection) for table in TABLES)]
    assert_whole(scopes)
    assert all(len(frame) > 5 for frame in frames)
