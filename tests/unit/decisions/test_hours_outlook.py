"""The output tables of hours, and hours to restore assemblies."""

import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions.hours_outlook import (
    COLUMNS,
    STAGE_COLUMNS,
    job_hours_outlook,
    restored_hours,
    stage_hours,
)
from pipeline.errors import InvalidParameter
from pipeline.models import seeds
from tests.support import hand_shop

BASE = {"families": "family name\nem Electromechanical\nss Solid-state"}


def test_columns_are_the_contracts():
    with hand_shop.store(**BASE) as connection:
        table = job_hours_outlook(connection)
    assert (
        list(table.columns)
        == COLUMNS
        == [
            "family",
            "scope",
            "jobs_seen",
            "median_hours",
            "mean_hours",
            "q80_hours",
            "quote_bias",
            "quote_bias_low",
            "quote_bias_high",
            "contingency_hours",
            "quotes_seen",
        ]
    )
    assert table.empty


def test_a_family_never_seen_leans_on_its_scope():
    jobs = "job family scope status\n" + "\n".join(f"J{n} em fix_only delivered" for n in range(4))
    clock = "job hours\n" + "\n".join(f"J{n} {5 + n}" for n in range(4))
    with hand_shop.store(**BASE, jobs=jobs, job_hours=clock) as connection:
        table = job_hours_outlook(connection).set_index(["family", "scope"])
    assert table.index.tolist() == [("em", "fix_only"), ("ss", "fix_only")]
    assert table.loc[("ss", "fix_only"), "jobs_seen"] == 0
    assert table.loc[("ss", "fix_only"), "q80_hours"] > table.loc[("em", "fix_only"), "q80_hours"]


def test_mean_is_above_the_median():
    jobs = "job family scope status\n" + "\n".join(f"J{n} em refresh delivered" for n in range(6))
    clock = "job hours\n" + "\n".join(f"J{n} {10 + 2 * n}" for n in range(6))
    with hand_shop.store(**BASE, jobs=jobs, job_hours=clock) as connection:
        row = job_hours_outlook(connection).iloc[0]
    assert row["median_hours"] < row["mean_hours"] < row["q80_hours"]


def test_contingency_reaches_from_the_mean_to_the_80_percent_figure():
    jobs = "job family scope status quoted_hours\n" + "\n".join(f"J{n} em refresh delivered 12" for n in range(5))
    jobs += "\nJ5 em refresh delivered -"
    clock = "job hours\n" + "\n".join(f"J{n} {10 + 2 * n}" for n in range(6))
    with hand_shop.store(**BASE, jobs=jobs, job_hours=clock) as connection:
        table = job_hours_outlook(connection).set_index("family")
    row = table.loc["em"]
    assert row["contingency_hours"] > 0
    assert_allclose(row["mean_hours"] + row["contingency_hours"], row["q80_hours"])
    assert table["quotes_seen"].to_dict() == {"em": 5, "ss": 0}


def test_stage_columns_are_the_contracts_and_a_shop_without_jobs_has_the_seeds():
    with hand_shop.store(**BASE) as connection:
        table = stage_hours(connection)
    assert (
        list(table.columns)
        == STAGE_COLUMNS
        == ["family", "scope", "stage", "jobs_seen", "mean_hours", "share", "share_low", "share_high"]
    )
    assert table["family"].isna().all() and table["mean_hours"].isna().all() and (table["jobs_seen"] == 0).all()
    for _, rows in table.groupby("scope"):
        assert_allclose(rows["share"], seeds.stages())


def test_stage_hours_of_a_family_add_up_to_its_mean_hours():
    jobs = "job family scope status\n" + "\n".join(f"J{n} em refresh delivered" for n in range(4))
    clock = "job hours stage\n" + "\n".join(f"J{n} {4 + n} bench\nJ{n} 2 test" for n in range(4))
    with hand_shop.store(**BASE, jobs=jobs, job_hours=clock) as connection:
        stages, outlook = stage_hours(connection), job_hours_outlook(connection)
    mean = outlook.set_index("family").loc["em", "mean_hours"]
    assert_allclose(stages.loc[stages["family"] == "em", "mean_hours"].sum(), mean)


TABLE = pd.DataFrame({"assembly": ["lift", "path"], "bench_hours": [0.8, 1.0]})
SHARES = pd.Series({"bench": 0.2, "cleaning": 0.3, "wiring": 0.1, "test": 0.4})


def test_restored_hours_by_hand():
    # 2 x 0.8 + 1 at the bench, three times that with cleaning and wiring, and an hour of fitting
    assert_allclose(restored_hours(pd.Series({"lift": 2, "path": 1}), TABLE, SHARES, 1.0), 2.6 * 3 + 1)


def test_only_the_ratios_of_the_shares_count():
    wanted = pd.Series({"lift": 3})
    assert_allclose(restored_hours(wanted, TABLE, SHARES / 2), restored_hours(wanted, TABLE, SHARES))


def test_an_assembly_without_bench_hours_is_named():
    with pytest.raises(InvalidParameter, match="bench hours of ramp"):
        restored_hours(pd.Series({"lift": 1, "ramp": 1}), TABLE, SHARES)


def test_fewer_than_no_assembly_is_refused():
    with pytest.raises(InvalidParameter, match="bench_hours"):
        restored_hours(pd.Series({"lift": -1}), TABLE, SHARES)
