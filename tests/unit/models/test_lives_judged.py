"""Kept pieces by what was judged of them: findings, scopes, and which condition a call-back is charged to."""

import numpy as np
import pytest

from pipeline.models import lives, lives_watched
from pipeline.models.life_table import KEYS
from pipeline.store import read
from tests.support import hand_shop

BASE = {
    "shop": "key value\ntoday 2026-07-01\ncallback_watch_days 180\nplays_per_month_home 60",
    "families": "family name\nss Solid-state",
    "parts": "part description wear_class\ncoil Coil coil\nsleeve Sleeve sleeve\nknob Knob -",
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3",
    "family_assemblies": "family assembly count\nss flip 3",
    "assembly_parts": "assembly part qty_pcs\nflip coil 1\nflip sleeve 2",
    "jobs": """job family scope booked_on delivered_on status setting plays_quality
        F ss fix_only 2025-01-01 2025-03-01 delivered home read
        R ss refresh 2025-01-01 2025-03-01 delivered home read
        T ss thorough 2025-01-01 2025-03-01 delivered home read""",
    "job_parts": "job part qty_pcs\nF knob 1\nR knob 1\nT knob 1",
    "findings": "job assembly part qty_pcs condition action\nT flip sleeve 1 worn keep\nT flip sleeve 2 unknown keep",
    "callbacks": "job reported_on part part_was\nT 2025-03-11 coil kept",
}


def _watched(**tables):
    with hand_shop.store(**{**BASE, **tables}) as connection:
        return lives_watched.watched(connection, read.settings(connection))[0]


def _counts(watched, wear_class, column="pieces"):
    kept = watched[(watched["wear_class"] == wear_class) & (watched["part_was"] == "kept")]
    kept = kept if column == "pieces" else kept[kept["is_failed"]]
    return kept.groupby(["job", "judged"])["pieces"].sum().to_dict()


def test_without_findings_the_scope_says_how_pieces_were_judged():
    assert _counts(_watched(), "coil") == {("F", "unjudged"): 3, ("R", "partly"): 3, ("T", "good"): 3}


def test_findings_come_before_the_scope_and_the_rest_goes_by_it():
    # T: six sleeves kept, one worn, two unknown; of the other three nobody wrote
    found = _counts(_watched(), "sleeve")
    assert {judged: pieces for (job, judged), pieces in found.items() if job == "T"} == {
        "worn": 1, "unjudged": 2, "good": 3}  # fmt: skip
    assert (found["F", "unjudged"], found["R", "partly"]) == (6, 6)


def test_an_unknown_finding_in_a_fix_only_job_joins_what_nobody_looked_at():
    findings = "job assembly part qty_pcs condition action\nF flip sleeve 2 unknown keep\nF flip sleeve 1 good keep"
    found = _counts(_watched(findings=findings), "sleeve")
    assert (found["F", "unjudged"], found["F", "good"]) == (5, 1)


def test_new_pieces_are_not_judged():
    watched = _watched()
    assert set(watched.loc[watched["part_was"] == "new", "judged"]) == {""}


@pytest.mark.parametrize(
    ("calls", "expected"),
    [
        (1, {"worn": 1}),
        (2, {"worn": 1, "unjudged": 1}),
        (4, {"worn": 1, "unjudged": 2, "good": 1}),
        (6, {"worn": 1, "unjudged": 2, "good": 3}),
        (8, {"worn": 1, "unjudged": 2, "good": 5}),
    ],
)
def test_call_backs_are_charged_to_the_worst_pieces_first(calls, expected):
    rows = "\n".join(f"T 2025-03-{11 + n} sleeve kept" for n in range(calls))
    found = _counts(_watched(callbacks=f"job reported_on part part_was\n{rows}"), "sleeve", "failed")
    assert {judged: n for (_, judged), n in found.items()} == expected


def test_a_call_of_a_new_piece_leaves_the_kept_ones_alone():
    watched = _watched(callbacks="job reported_on part part_was\nT 2025-03-11 sleeve new\nT 2025-03-12 sleeve kept")
    failed = watched[watched["is_failed"]].set_index("part_was")["judged"].to_dict()
    assert failed == {"new": "", "kept": "worn"}


def test_a_kept_piece_nobody_listed_goes_by_the_scope():
    watched = _watched(callbacks="job reported_on part part_was\nT 2025-03-11 knob kept\nF 2025-03-11 knob kept")
    failed = watched[watched["is_failed"]].set_index("job")["judged"].to_dict()
    assert failed == {"T": "good", "F": "unjudged"}


def test_no_piece_is_counted_twice():
    watched = _watched()
    assert watched.loc[watched["part_was"] == "kept", "pieces"].sum() == 3 * 3 + 3 * 6


def test_a_job_whose_counter_was_reset_stays_on_the_plays_clock_by_its_setting():
    jobs = BASE["jobs"].replace("F ss fix_only 2025-01-01 2025-03-01 delivered home read",
                                "F ss fix_only 2025-01-01 2025-03-01 delivered home reset_suspected")  # fmt: skip
    watched = _watched(jobs=jobs)
    assert set(watched.loc[watched["job"] == "F", "clock"]) == {"plays"}
    assert np.allclose(watched.loc[watched["job"] == "F", "time"], 180 / lives_watched.MONTH_DAYS * 60)


@pytest.mark.parametrize(
    "tables",
    [
        {"callbacks": "job reported_on part part_was\nT 2024-03-11 coil kept"},
        {"jobs": BASE["jobs"].replace("2025-03-01 delivered", "- in_progress")},
        {"findings": "job assembly part qty_pcs condition action\nT flip knob 4 worn keep"},
        {"wear": "wear_class median_plays_kept shape weight_jobs\ncoil 1 9 100\nsleeve 1e9 0.2 0.01"},
    ],
    ids=["calls before delivery", "no deliveries", "findings of a part not on the list", "guesses far out"],
)
def test_bad_records_still_give_a_table(tables):
    given = {**BASE, **tables}
    given = given if "2025-03-01" in given["jobs"] else {**given, "callbacks": "job reported_on\nT 2025-03-11"}
    with hand_shop.store(**given) as connection:
        fitted = lives.fit(connection)
    numbers = fitted.table[["median", "median_low", "median_high", "shape", "guess_low", "guess_high"]]
    assert (numbers > 0).all(axis=None)
    assert np.isfinite(numbers).all(axis=None)
    assert not fitted.table.duplicated(KEYS).any()
