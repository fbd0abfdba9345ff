"""Hours of delivered jobs by stage, from records."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.models import seeds, stage_hours
from tests.support import hand_shop

BASE = {"families": "family name\nem Electromechanical\nss Solid-state"}
JOBS = """job family scope status
    J1 em fix_only delivered
    J2 em fix_only delivered
    J3 ss fix_only delivered
    J4 ss thorough in_progress
    J5 ss fix_only delivered"""
CLOCK = """job hours stage
    J1 3 bench
    J1 1 test
    J1 9 callback
    J2 6 bench
    J2 2 test
    J3 5 -
    J3 1 bench
    J4 12 bench
    J5 9 cleaning
    J5 1 -"""
MEAN = pd.Series(
    [5.0, 8.0], index=pd.MultiIndex.from_tuples([("em", "fix_only"), ("ss", "fix_only")], names=["family", "scope"])
)


def _fitted(jobs=JOBS, clock=CLOCK):
    with hand_shop.store(**BASE, jobs=jobs, job_hours=clock) as connection:
        return stage_hours.fit(connection, MEAN)


def _cells(family=None, **tables):
    table = _fitted(**tables).table
    return table[table["family"].isna() if family is None else table["family"] == family].set_index(["scope", "stage"])


def test_every_scope_has_every_stage_and_families_only_what_they_recorded():
    table = _fitted().table
    assert table["family"].isna().sum() == 3 * 8
    rows = table[table["family"].notna()]
    assert set(zip(rows["family"], rows["scope"], strict=True)) == {("em", "fix_only"), ("ss", "fix_only")}
    assert len(rows) == 2 * 8
    assert_allclose(table.fillna({"family": ""}).groupby(["family", "scope"])["share"].sum(), 1.0)


def test_jobs_are_counted_where_four_hours_in_five_stand_with_a_stage():
    # J3 has one in six, J4 is not delivered; J5 has nine in ten
    assert _cells("em")["jobs_seen"].eq(2).all()
    assert _cells("ss")["jobs_seen"].eq(1).all()
    assert _cells().loc["fix_only", "jobs_seen"].eq(3).all()
    assert _cells().loc["thorough", "jobs_seen"].eq(0).all()


def test_a_scope_is_its_totals_and_one_job_of_the_seeds():
    # three jobs of 4 + 8 + 9 hours: 9 at the bench of 21, by hand
    share = _cells().loc[("fix_only", "bench"), "share"]
    assert_allclose(share, (3 * 9 / 21 + seeds.stages()["bench"]) / 4)


def test_call_backs_take_no_part():
    without = CLOCK.replace("    J1 9 callback\n", "")
    assert_allclose(_cells("em")["share"], _cells("em", clock=without)["share"])


def test_a_family_stands_between_its_own_jobs_and_its_scope():
    own, scope = 0.75, _cells().loc[("fix_only", "bench"), "share"]
    assert scope < _cells("em").loc[("fix_only", "bench"), "share"] < own


def test_hours_are_the_share_of_a_mean_job_and_of_all_jobs_of_the_scope():
    em = _cells("em")
    assert_allclose(em["mean_hours"], 5.0 * em["share"])
    scope = _cells().loc["fix_only"]
    assert_allclose(scope["mean_hours"], (4 + 8 + 6 + 10) / 4 * scope["share"])
    assert _cells().loc["refresh", "mean_hours"].isna().all()


@pytest.mark.parametrize("clock", ["job hours\nJ1 5\nJ3 6", "job hours stage\nJ4 5 bench"])
def test_a_shop_that_never_wrote_stages_has_the_seeds_and_says_no_job(clock):
    table = _fitted(clock=clock).table
    assert len(table) == 3 * 8 and table["family"].isna().all() and table["jobs_seen"].eq(0).all()
    assert_allclose(table["share"], np.tile(seeds.stages(), 3))
    assert ((table["share_low"] < table["share"]) & (table["share"] < table["share_high"])).all()


def test_many_jobs_of_a_family_speak_for_themselves():
    n = 60
    jobs = "job family scope status\n" + "\n".join(
        f"J{i} {('em', 'ss')[i % 2]} refresh delivered" for i in range(2 * n)
    )
    clock = "job hours stage\n" + "\n".join(
        f"J{i} {6 if i % 2 else 2} bench\nJ{i} {2 + i % 3} cleaning" for i in range(2 * n)
    )
    em, ss = (_cells(family, jobs=jobs, clock=clock).loc[("refresh", "bench"), "share"] for family in ("em", "ss"))
    assert_allclose([em, ss], [2 / 5, 6 / 9], atol=0.01)
