"""The output table of hours."""

from pipeline.decisions.hours_outlook import COLUMNS, job_hours_outlook
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
