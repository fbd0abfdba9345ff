"""Counter sales from a store: months counted back from today, n beside each figure, silence where there are few."""

import datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import calendar_predictive, calendar_served
from pipeline.models import counter_sales
from tests.support import hand_shop

TODAY = datetime.date(2026, 6, 30)
PARTS = "part description\ncoil Coil\nlamp Lamp\nsleeve Sleeve"


def day(ago):
    return (TODAY - datetime.timedelta(days=ago)).isoformat()


def predicted(sold, days=91, began=730, today=TODAY, more=()):
    """``sold``: part, days ago, pieces; the books opened ``began`` days ago with coils."""
    out = [(name, day(ago), -pcs, "sold") for name, ago, pcs in sold]
    moves = [("coil", day(began - 1), 500, "opening"), *out, *more]
    rows = "\n".join(" ".join(str(cell) for cell in move) + (" -" if len(move) == 4 else "") for move in moves)
    with hand_shop.store(parts=PARTS, stock_moves=f"part moved_on qty_pcs kind owner\n{rows}") as connection:
        return counter_sales.predict(connection, today, days)


def monthly(part, months, pcs=1):
    """One sale in the middle of each of the newest months."""
    return [(part, int((month + 0.5) * 365 / 12), pcs) for month in range(months)]


def part(made, name):
    return made.by_part.set_index("part").loc[name]


def test_a_part_sold_once_a_month_sells_three_in_a_quarter_and_twelve_in_a_year():
    for days, expected in ((91, 3), (365, 12)):
        made = predicted(monthly("coil", 24), days)
        row = part(made, "coil")
        assert_allclose(row["expected_pcs"], expected)
        assert (row["months"], row["sales"], row["sold_pcs"], row["note"]) == (24, 24, 24, "")
        assert row["q05_pcs"] < row["q50_pcs"] < row["q95_pcs"]
        assert_allclose(made.part_pmfs.sum(axis=1), 1, atol=1e-8)


def test_few_sales_are_counted_and_nothing_is_said():
    made = predicted([*monthly("coil", 12), ("lamp", 40, 2), ("lamp", 300, 5)])
    row = part(made, "lamp")
    assert np.isnan(row["expected_pcs"]) and np.isnan(row["q95_pcs"])
    assert (row["sales"], row["sold_pcs"]) == (2, 7)
    assert row["note"] == "too few to say: 2 sales in 24 months; wanted 5"
    place = made.by_part["part"].to_list().index("lamp")
    assert np.isnan(made.part_pmfs[place]).all() and not np.isnan(made.part_pmfs[1 - place]).any()


def test_all_parts_together_tell_what_none_of_them_can():
    made = predicted([("coil", 40, 1), ("coil", 500, 1), ("lamp", 90, 2), ("lamp", 300, 1), ("sleeve", 200, 4)])
    assert made.by_part["expected_pcs"].isna().all()
    row = made.together.iloc[0]
    assert (row["sales"], row["sold_pcs"], row["note"]) == (5, 9, "")
    assert_allclose(row["expected_pcs"], 9 / 24 * 3)


@pytest.mark.parametrize("began, days, said", [
    (200, 91, "too few to say: 6 sales in 6 months; wanted 8 months of records"),
    (300, 365, "too few to say: 9 sales in 9 months; wanted 12 months of records"),
    (20, 91, "too few to say: 0 sales in 0 months; wanted 8 months of records"),
])
def test_short_records_say_how_many_months_are_wanted(began, days, said):
    made = predicted(monthly("coil", began // 31 or 1), days, began)
    assert part(made, "coil")["note"] == said
    assert made.together["expected_pcs"].isna().all()
    assert made.method == ("mean" if made.months >= calendar_predictive.LEAST_PERIODS else "")


def test_the_newest_month_ends_today_and_later_sales_are_not_looked_at():
    sold = [("coil", 0, 7), ("coil", 30, 9)]  # a month is 91/3 days: both fall into the newest
    made = predicted([*sold, ("coil", 31, 2)], more=[("coil", day(-1), -50, "sold")])
    assert part(made, "coil")["sold_pcs"] == 18
    earlier = predicted([*sold, ("coil", 31, 2)], today=TODAY - datetime.timedelta(days=31))
    assert part(earlier, "coil")["sold_pcs"] == 2


def test_what_is_no_sale_of_the_shops_own_is_left_out():
    more = [("coil", day(9), -3, "written_off"), ("coil", day(9), -3, "returned_to_vendor"),
            ("lamp", day(9), -3, "sold", "customer")]
    made = predicted(monthly("coil", 6), more=more)
    assert made.by_part["part"].to_list() == ["coil"]
    assert part(made, "coil")["sold_pcs"] == 6


def test_days_before_the_oldest_whole_month_are_left_out():
    made = predicted([("coil", 729, 40), *monthly("coil", 24)])
    assert (made.months, part(made, "coil")["sold_pcs"]) == (24, 24)


def test_nothing_ever_sold_is_no_rows():
    made = predicted([])
    assert len(made.by_part) == len(made.together) == len(made.part_pmfs) == 0
    assert made.by_part.columns.to_list() == counter_sales.COLUMNS
    assert predicted(monthly("coil", 6)).by_part.columns.to_list() == counter_sales.COLUMNS


def test_few_sales_in_all_are_served_the_plain_mean_and_many_what_did_best():
    assert predicted(monthly("coil", 12)).method == "mean"
    sold = [(name, ago, 1) for name in ("coil", "lamp") for _, ago, _ in monthly(name, 24) if ago > 365] * 3
    made = predicted(sold)
    pieces = np.repeat([3.0, 0.0], 12)[:, None] * [1, 1]
    assert made.method == calendar_served.choose(pieces, 3).method != "mean"
    assert_array_equal(made.by_part["sales"], [36, 36])
    assert made.by_part["expected_pcs"].max() < 2  # both fell asleep a year ago; the mean would say 4.5


@pytest.mark.parametrize("days", [0, -1, np.inf])
def test_a_window_that_cannot_be_is_refused(days):
    with pytest.raises(InvalidParameter, match="wanted a window"):
        predicted(monthly("coil", 6), days)
