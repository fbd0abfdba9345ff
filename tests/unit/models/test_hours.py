"""Hours of delivered jobs by family and scope, from records."""

import numpy as np
from numpy.testing import assert_allclose

from pipeline.models import hours
from tests.support import hand_shop

BASE = {"families": "family name\nem Electromechanical\nss Solid-state"}
JOBS = """job family scope status quoted_hours
    J1 em fix_only delivered 4
    J2 em fix_only delivered 4
    J3 em fix_only delivered -
    J4 ss fix_only delivered 5
    J5 ss thorough in_progress 60"""
CLOCK = """job hours stage
    J1 3 bench
    J1 2 test
    J1 9 callback
    J2 6 bench
    J3 5 -
    J4 7 bench
    J5 12 bench"""


def _table(jobs=JOBS, clock=CLOCK, **tables):
    with hand_shop.store(**BASE, jobs=jobs, job_hours=clock, **tables) as connection:
        return hours.fit(connection).table.set_index(["family", "scope"])


def test_every_family_with_every_scope_has_a_row():
    assert len(_table()) == 6


def test_call_back_hours_and_running_jobs_are_not_among_them():
    table = _table()
    assert table["jobs_seen"].to_dict() == {
        ("em", "fix_only"): 3,
        ("em", "refresh"): 0,
        ("em", "thorough"): 0,
        ("ss", "fix_only"): 1,
        ("ss", "refresh"): 0,
        ("ss", "thorough"): 0,
    }
    assert 5 < table.loc[("em", "fix_only"), "median_hours"] < 6  # of 5, 6 and 5, leaning on 7


def test_a_scope_never_seen_is_unknown():
    assert np.isnan(_table().loc[("em", "thorough"), "mean_hours"])


def test_bias_counts_jobs_with_both_figures():
    # em: 5 + 6 hours taken for 4 + 4 quoted
    row = _table().loc[("em", "fix_only")]
    assert_allclose(row["quote_bias"], 11 / 8)
    assert row["quotes_seen"] == 2
    assert row["quote_bias_low"] < 11 / 8 < row["quote_bias_high"]


def test_a_group_without_quotes_has_no_bias():
    assert np.isnan(_table().loc[("em", "refresh"), "quote_bias"])


def test_too_few_jobs_are_counted_and_not_fitted():
    table = _table(clock="job hours\nJ1 5\nJ4 7")
    assert table["jobs_seen"].sum() == 2
    assert table["mean_hours"].isna().all()


def test_no_hours_at_all():
    with hand_shop.store(**BASE, jobs=JOBS) as connection:
        fitted = hours.fit(connection)
    assert fitted.fitted is None
    assert (fitted.table["jobs_seen"] == 0).all()
