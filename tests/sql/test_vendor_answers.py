"""What the views on vendors, their prices and their orders answer."""

from datetime import date

from pipeline.store import read
from tests.support import hand_shop

BASE = {
    "parts": "part description\ncoil Coil\nlamp Lamp",
    "vendors": "vendor name freight_flat freight_free_over minimum_order order_hours lead_time_days\n"
    "north North 9 100 20 0.4 6\nsouth - - - - - -",
    "orders": "order_no vendor ordered_on freight\nP1 north 2025-01-10 9\nP2 north 2025-03-01 0\nP3 north 2025-06-01 -",
    "order_lines": "order_no part qty_pcs unit_price\nP1 coil 2 20\nP1 lamp 10 1\nP2 coil 7 20\nP3 coil 1 22",
}


def answer(view, **tables):
    with hand_shop.store(**(BASE | tables)) as connection:
        found = read.rows(connection, f"select * from {view}")
        names = [column[0] for column in connection.description]
        return [dict(zip(names, row, strict=True)) for row in found]


class TestVendorTerms:
    def test_each_vendor_has_one_row(self):
        assert [row["vendor"] for row in answer("vendor_terms")] == ["north", "south"]

    def test_past_orders_say_what_freight_and_lines_were(self):
        row = answer("vendor_terms")[0]
        # P3's freight was not written down: 9 on 50 + 140 of goods; lines (2 + 1 + 1) / 3
        assert row["orders_placed"] == 3
        assert abs(row["freight_share"] - 9 / 190) < 1e-12
        assert row["mean_freight_amount"] == 4.5
        assert abs(row["lines_per_order"] - 4 / 3) < 1e-12

    def test_what_a_vendor_never_said_stays_unknown(self):
        row = answer("vendor_terms")[1]
        assert (row["name"], row["minimum_order"], row["order_hours"], row["orders_placed"]) == ("south", 0, 0, 0)
        assert all(
            row[name] is None
            for name in (
                "freight_flat",
                "freight_free_over",
                "lead_time_days",
                "freight_share",
                "lines_per_order",
                "mean_freight_amount",
            )
        )


class TestOrderGaps:
    def test_the_longest_stretch_between_two_days_of_ordering(self):
        rows = {row["part"]: row for row in answer("order_gaps")}
        assert rows["coil"] == {
            "part": "coil",
            "order_days": 3,
            "longest_gap_days": 92,
            "last_ordered_on": date(2025, 6, 1),
        }
        assert rows["lamp"]["longest_gap_days"] is None

    def test_two_orders_of_one_day_are_one_day(self):
        tables = {
            "orders": BASE["orders"] + "\nP4 south 2025-06-01 -",
            "order_lines": BASE["order_lines"] + "\nP4 coil 1 20",
        }
        assert {row["part"]: row["order_days"] for row in answer("order_gaps", **tables)}["coil"] == 3


class TestPricesPaidSinceQuote:
    offers = "vendor part pack_pcs pack_price from_packs quoted_on\n{}"

    def since(self, *rows):
        return answer("prices_paid_since_quote", offers=self.offers.format("\n".join(rows)))

    def test_the_last_price_paid_stands_beside_the_quote(self):
        rows = self.since("north coil 1 19 1 2025-02-01", "north coil 1 18 5 2025-02-01")
        assert rows == [
            {
                "part": "coil",
                "vendor": "north",
                "quoted_on": date(2025, 2, 1),
                "low_price": 18.0,
                "high_price": 19.0,
                "paid_on": date(2025, 6, 1),
                "paid_price": 22.0,
            }
        ]

    def test_a_quote_newer_than_the_last_order_is_not_judged_by_it(self):
        assert self.since("north coil 1 19 1 2025-07-01") == []

    def test_prices_of_packs_are_by_the_piece(self):
        rows = self.since("north lamp 10 8 1 2025-01-01")
        assert (rows[0]["low_price"], rows[0]["paid_price"]) == (0.8, 1.0)

    def test_another_vendor_says_nothing(self):
        assert self.since("south coil 1 19 1 2025-02-01") == []
