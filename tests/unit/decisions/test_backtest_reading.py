"""What a backtest says: scores side by side by hand, ranges by origin, silence where there are too few."""

import datetime

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.stats import t as students_t

from pipeline.decisions import backtest, backtest_reading

FIRST_ON = datetime.date(2025, 1, 1)


def scores(shares=(0.5,), price=10.0, months=3, **crps):
    """One series an origin; CRPS in pieces by method, transform shares of the forecast by origin."""
    crps = {"forecast": 1.0, "drawn": 2.0, "croston": 3.0, "mean": 4.0} | crps
    names = {"forecast": backtest.BY_JOBS, "drawn": backtest.DRAWN_AGAIN}
    return pd.DataFrame([
        {"origin_on": FIRST_ON + datetime.timedelta(days=91 * n), "horizon_months": months, "family": "em",
         "part": f"p{one}", "shelf_rule": "by_the_job", "method": names.get(method, method), "used_pcs": one % 2,
         "usual_pcs": 2.0, "unit_price": price, "crps_pcs": value, "transform_share": share}
        for n, share_or_shares in enumerate(shares) for one, share in enumerate(np.atleast_1d(share_or_shares))
        for method, value in crps.items()])


def test_errors_stand_side_by_side_in_money_and_scaled():
    (row,) = backtest_reading.skill(scores(), 3, []).to_dict("records")
    # One piece off at 10 apiece, and at a usual use of 2 half a piece's worth.
    assert [row[f"{name}_money"] for name in ("forecast", "calendar", "drawn")] == [10, 30, 20]
    assert [row[f"{name}_scaled"] for name in ("forecast", "calendar", "drawn")] == [0.5, 1.5, 1.0]
    assert row["n_series"] == 1 and row["coverage80_share"] == 1


def test_the_calendar_method_is_the_best_of_the_whole_shop():
    assert backtest_reading.best_calendar(scores(), 3) == "croston"
    assert backtest_reading.best_calendar(scores(mean=0.5), 3) == "mean"
    assert backtest_reading.best_calendar(scores(price=np.nan), 3) == "croston"  # no money: by the scaled error


def test_rows_by_family_and_shelf_rule():
    both = pd.concat([scores(), scores().assign(family="ss", shelf_rule="one_or_two", crps_pcs=1.0)])
    found = backtest_reading.skill(both, 3, ["family", "shelf_rule"])
    assert found[["family", "shelf_rule"]].values.tolist() == [["em", "by_the_job"], ["ss", "one_or_two"]]
    assert found["calendar_money"].tolist() == [30, 10]


def test_shares_inside_have_the_interval_of_their_origins():
    # Inside the middle 80 %: 2 of 2, 1 of 2, 1 of 2 cases; by hand mean 2/3, sd of (1, 1/2, 1/2) = 0.288675.
    found = backtest_reading.within(scores(([0.2, 0.3], [0.04, 0.5], [0.97, 0.5])), 3).set_index("band_share")
    row = found.loc[0.8]
    half = students_t.ppf(0.95, 2) * 0.288675 / np.sqrt(3)
    assert_allclose(row["inside_share"], 2 / 3)
    assert_allclose([row["low_share"], row["high_share"]], [2 / 3 - half, 1.0], rtol=1e-4)  # cut off at 1
    assert row["n_origins"] == 3 and row["n_series"] == 2
    assert_allclose(found["inside_share"], [0.5, 2 / 3, 2 / 3])


@pytest.mark.parametrize(("shares", "months"), [((0.5, 0.02), 3), ((0.5, 0.02, 0.5, 0.5), 12)])
def test_few_origins_or_windows_that_overlap_give_no_interval(shares, months):
    found = backtest_reading.within(scores(shares, months=months), months)
    assert found[["low_share", "high_share"]].isna().all(axis=None) and found["inside_share"].notna().all()


def test_transforms_spread_evenly_lie_inside_as_often_as_stated():
    found = backtest_reading.within(scores(([(n + 0.5) / 40 for n in range(40)],) * 3), 3)
    assert_allclose(found["inside_share"], found["band_share"])
    assert_allclose(found["high_share"], found["low_share"])  # every origin says the same


def test_the_share_that_used_nothing():
    assert backtest_reading.unused_share(scores(([0.5, 0.5, 0.5],)), 3) == pytest.approx(2 / 3)
