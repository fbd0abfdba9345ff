"""Positions with prices and doubts."""

import datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.models import stock
from tests.support import hand_shop

TODAY = datetime.date(2026, 3, 1)
BASE = {
    "parts": """part description wear_class supply unit_cost
    bat Bat moulding - 7
    coil Coil coil - -
    lamp Lamp lamp scarce -"""
}


def positions(**tables):
    with hand_shop.store(**(BASE | tables)) as connection:
        return stock.positions(connection, TODAY).set_index("part")


def test_every_part_has_a_row_and_the_columns_are_complete():
    found = positions()
    assert list(found.index) == ["bat", "coil", "lamp"]
    assert ["part", *found.columns] == stock.COLUMNS


def test_a_fresh_count_is_no_doubt_and_an_old_one_is():
    found = positions(counts="part counted_on qty_pcs\nbat 2026-02-01 3\ncoil 2024-09-01 2")
    assert found.loc["bat", "doubt"] is None or found.isna().loc["bat", "doubt"]
    assert found.loc["coil", "doubt"] == "last counted 18 months ago"
    assert found.loc["lamp", "doubt"] == "never counted"


def test_an_older_doubt_is_kept_before_the_age_of_the_count():
    found = positions(
        counts="part counted_on qty_pcs\ncoil 2024-09-01 1",
        families="family name\nem EM",
        jobs="job family scope delivered_on\nJ1 em thorough 2025-02-01",
        job_parts="job part qty_pcs\nJ1 coil 3",
    )
    assert found.loc["coil", "on_hand_pcs"] == -2
    assert found.loc["coil", "doubt"] == "more taken than was there: count it"


def test_unknown_stays_unknown_and_below_zero_counts_as_none():
    found = positions(
        counts="part counted_on qty_pcs\ncoil 2025-09-01 1\nbat 2025-09-01 4",
        families="family name\nem EM",
        jobs="job family scope delivered_on\nJ1 em thorough 2025-12-01",
        job_parts="job part qty_pcs\nJ1 coil 3",
    )
    free = stock.free_pcs(found)
    assert_allclose(free[:2], [4, 0])
    assert np.isnan(free[2])


class TestClassPrices:
    def test_a_part_without_price_is_reckoned_as_its_class(self):
        found = positions(parts=BASE["parts"] + "\ncap Cap moulding - -\nlug Lug moulding - 3")
        assert_allclose(stock.class_prices(found).loc[["bat", "cap", "lug"]], [7, 5, 3])
        told = dict(zip(found.index, stock.price_origins(found), strict=True))
        assert (told["bat"], told["cap"], told["coil"]) == ("own", "class", "shop")

    def test_a_class_without_price_is_reckoned_as_the_shop(self):
        assert stock.class_prices(positions())["coil"] == 7

    def test_a_shop_without_any_price_reckons_all_alike(self):
        found = positions(parts="part description\na A\nb B")
        assert_allclose(stock.class_prices(found), 1)
        assert stock.price_origins(found).tolist() == ["none", "none"]


class TestLongestGap:
    def gaps(self, *days):
        heads = "\n".join(f"P{n} north {day}" for n, day in enumerate(days))
        lines = "\n".join(f"P{n} lamp 1 5" for n in range(len(days)))
        return positions(
            vendors="vendor\nnorth",
            orders=f"order_no vendor ordered_on\n{heads}",
            order_lines=f"order_no part qty_pcs unit_price\n{lines}",
        ).loc["lamp", "longest_gap_days"]

    def test_two_orders_say_nothing(self):
        assert np.isnan(self.gaps("2025-01-01", "2025-06-01"))

    @pytest.mark.parametrize(
        ("days", "longest"),
        [
            (("2025-01-01", "2025-12-01", "2026-02-01"), 334),
            (("2025-01-01", "2025-02-01", "2025-03-01"), 365),  # and none since: the wait goes on
        ],
    )
    def test_the_longest_wait_counts_the_one_that_still_lasts(self, days, longest):
        assert self.gaps(*days) == longest
