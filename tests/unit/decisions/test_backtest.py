"""The forecast made again as of past days: when it is silent, what its table holds, that nothing later leaks in."""

import datetime

import numpy as np
import pytest

from pipeline.decisions import backtest
from pipeline.ingest import shop_folder
from tests.support.small_shop import write

TODAY = datetime.date(2026, 1, 1)
DAY = datetime.timedelta(days=1)
COLUMNS = ["family", "shelf_rule", "method", "horizon_months", "crps_scaled", "crps_money", "coverage80_share",
           "n_origins", "n_series"]


def store_of(folder, n_jobs):
    """A job every 20 days, the last 40 days ago; each takes a sleeve, every other a coil."""
    days = [TODAY - (40 + 20 * n) * DAY for n in range(n_jobs)]
    jobs = "".join(f"J{n},em,thorough,{day - 20 * DAY},{day - 5 * DAY},{day}\n" for n, day in enumerate(days))
    taken = "".join(f"J{n},sleeve,2,{day - DAY}\n" + (f"J{n},coil,1,{day - DAY}\n" if n % 2 else "")
                    for n, day in enumerate(days))
    write(folder / "shop", {
        "shop": f"key,value\ntoday,{TODAY}\n", "parts": "part,description,unit_cost\ncoil,Coil,10\nsleeve,Sleeve,1\n",
        "jobs": f"job,family,scope,booked_on,started_on,delivered_on\n{jobs}",
        "job_parts": f"job,part,qty_pcs,used_on\n{taken}"})
    shop_folder.load(folder / "shop", folder / "shop.duckdb", folder)
    return folder / "shop.duckdb"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return backtest.make(store_of(tmp_path_factory.mktemp("steady"), 45), most_origins=2)


def test_the_table_has_the_columns_of_the_contract_and_every_method(made):
    assert list(made.table.columns) == COLUMNS == backtest.COLUMNS
    assert {backtest.BY_JOBS, backtest.DRAWN_AGAIN, "croston", "sba", "tsb"} <= set(made.table["method"])
    assert set(made.table["horizon_months"]) == {3}  # of the two newest origins no year has passed yet
    assert (made.table["n_origins"] == 2).all() and (made.table["n_series"] == 2).all()
    assert made.note == "2 origins from 2025-07-03 to 2025-10-02, 45 delivered jobs in all."


def test_a_steady_shop_is_foretold_within_a_job_or_two(made):
    own = made.scores[made.scores["method"] == backtest.BY_JOBS].set_index("part")
    # Taken 41, 61, 81 days ago, and 101 to 181: three jobs, and five; two sleeves each, a coil in every other.
    assert own.loc["sleeve", "used_pcs"].tolist() == [10, 6] and own.loc["coil", "used_pcs"].tolist() == [3, 1]
    assert (own.loc["sleeve", "crps_pcs"] < 2).all() and (own.loc["coil", "crps_pcs"] < 1).all()


def test_shares_and_scores_are_in_their_ranges(made):
    assert made.scores["transform_share"].between(0, 1).all() and (made.scores["crps_pcs"] >= 0).all()
    assert np.isfinite(made.table[["crps_scaled", "crps_money"]].to_numpy(dtype=float)).all()


def test_fewer_than_thirty_known_jobs_get_an_empty_table_and_a_sentence(tmp_path):
    made = backtest.make(store_of(tmp_path, 29))
    assert list(made.table.columns) == COLUMNS and made.table.empty and made.scores.empty
    assert made.note == "Too few to say: 29 delivered jobs say what they used; wanted 30."


def test_thirty_jobs_in_less_than_a_year_and_a_quarter_are_too_short_a_record():
    assert backtest.origins(TODAY - 400 * DAY, TODAY) == []
    assert backtest.origins(TODAY - 456 * DAY, TODAY) == [TODAY - 91 * DAY]
    assert backtest.origins(None, TODAY) == []


def test_origins_lie_a_quarter_apart_and_are_the_newest():
    days = backtest.origins(TODAY - 3000 * DAY, TODAY, most=4)
    assert days == [TODAY - back * 91 * DAY for back in (4, 3, 2, 1)]
