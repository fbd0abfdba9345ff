"""What the stock views answer, row by row, on small stores written by hand."""

from datetime import date

import pytest

from pipeline.store import connect, read


@pytest.fixture
def shop():
    """An empty store with one family, two vendors, three parts and one delivered job, and a way to add rows."""
    with connect.open_memory() as connection:
        made = Shop(connection)
        made.add("families", family="em", name="Electromechanical")
        for vendor in ("north", "south"):
            made.add("vendors", vendor=vendor, lead_time_days=7)
        for part in ("sleeve", "coil", "bat"):
            made.add("parts", part=part, description=part)
        made.add("jobs", job="J1", family="em", scope="thorough", booked_on="2026-01-01", delivered_on="2026-03-01")
        yield made


class Shop:
    def __init__(self, connection):
        self.connection, self.rows = connection, 0

    def add(self, table, **values):
        self.rows += 1
        columns = {
            c
            for (c,) in self.connection.execute(
                "select column_name from duckdb_columns() where table_name = ?", [table]
            ).fetchall()
        }
        values |= {"row_hash": str(self.rows)} if "row_hash" in columns else {}
        values |= {"recorded_in": "folder"} if "recorded_in" in columns else {}
        names, marks = ", ".join(values), ", ".join("?" * len(values))
        self.connection.execute(f"insert into {table} ({names}) values ({marks})", list(values.values()))

    def order(self, number, vendor, ordered_on, **lines):
        self.add("orders", order_no=number, vendor=vendor, ordered_on=ordered_on)
        for part, (qty, received_on) in lines.items():
            self.add("order_lines", order_no=number, part=part, qty_pcs=qty, unit_price=2.5, received_on=received_on)

    def answer(self, view, part=None):
        found = read.rows(
            self.connection, f"select * from {view}" + (" where part = ?" if part else ""), [part] if part else []
        )
        names = [column[0] for column in self.connection.description]
        rows = [dict(zip(names, row, strict=True)) for row in found]
        return rows[0] if part and len(rows) == 1 else rows


def test_position_has_one_row_for_each_part(shop):
    shop.add("counts", part="coil", counted_on="2026-01-01", qty_pcs=3)
    shop.add("counts", part="coil", counted_on="2026-02-01", qty_pcs=4)
    shop.order("P1", "north", "2026-01-05", coil=(5, None), bat=(1, "2026-01-09"))
    shop.order("P2", "south", "2026-01-06", coil=(2, None))
    assert sorted(row["part"] for row in shop.answer("stock_position")) == ["bat", "coil", "sleeve"]


def test_on_hand_is_the_last_count_plus_what_came_less_what_went(shop):
    shop.add("counts", part="sleeve", counted_on="2026-01-10", qty_pcs=99)
    shop.add("counts", part="sleeve", counted_on="2026-02-01", qty_pcs=20)
    shop.order("P1", "north", "2026-01-20", sleeve=(10, "2026-02-05"))
    shop.add("job_parts", job="J1", part="sleeve", qty_pcs=12, used_on="2026-02-10")
    shop.add("job_parts", job="J1", part="sleeve", qty_pcs=-2, used_on="2026-02-11")
    shop.add("stock_moves", part="sleeve", moved_on="2026-02-12", qty_pcs=-1, kind="written_off")
    row = shop.answer("stock_position", "sleeve")
    assert row["on_hand_pcs"] == 20 + 10 - 12 + 2 - 1
    assert (row["counted_on"], row["doubt"]) == (date(2026, 2, 1), None)


def test_what_moved_on_the_day_of_the_count_was_counted(shop):
    shop.add("counts", part="sleeve", counted_on="2026-02-01", qty_pcs=20)
    shop.add("job_parts", job="J1", part="sleeve", qty_pcs=5, used_on="2026-02-01")
    assert shop.answer("stock_position", "sleeve")["on_hand_pcs"] == 20


def test_a_taking_without_a_day_counts_when_its_job_was_delivered(shop):
    shop.add("counts", part="sleeve", counted_on="2026-02-01", qty_pcs=20)
    shop.add("job_parts", job="J1", part="sleeve", qty_pcs=5)
    assert shop.answer("stock_position", "sleeve")["on_hand_pcs"] == 15
    shop.add("counts", part="sleeve", counted_on="2026-03-02", qty_pcs=15)
    assert shop.answer("stock_position", "sleeve")["on_hand_pcs"] == 15


def test_never_counted_is_unknown_not_zero(shop):
    row = shop.answer("stock_position", "bat")
    assert (row["on_hand_pcs"], row["on_order_pcs"], row["doubt"]) == (None, 0, "never counted")


def test_never_counted_but_bought_is_reckoned_and_doubted(shop):
    shop.order("P1", "north", "2026-01-20", bat=(4, "2026-01-25"))
    shop.add("job_parts", job="J1", part="bat", qty_pcs=1, used_on="2026-02-10")
    row = shop.answer("stock_position", "bat")
    assert row["on_hand_pcs"] == 3
    assert row["doubt"].startswith("never counted: reckoned")


def test_more_taken_than_there_was_is_shown_as_it_is_and_doubted(shop):
    shop.add("counts", part="bat", counted_on="2026-01-01", qty_pcs=1)
    shop.add("job_parts", job="J1", part="bat", qty_pcs=3, used_on="2026-02-10")
    row = shop.answer("stock_position", "bat")
    assert row["on_hand_pcs"] == -2
    assert row["doubt"] == "more taken than was there: count it"


def test_bins_of_one_day_add_up_and_a_bin_left_out_is_a_doubt(shop):
    shop.add("counts", part="coil", counted_on="2026-02-01", qty_pcs=4, shelf="A1")
    shop.add("counts", part="coil", counted_on="2026-02-01", qty_pcs=3, shelf="B2")
    assert shop.answer("stock_position", "coil")["on_hand_pcs"] == 7
    assert shop.answer("stock_position", "coil")["doubt"] is None
    shop.add("counts", part="coil", counted_on="2026-02-05", qty_pcs=4, shelf="A1")
    assert shop.answer("stock_position", "coil")["doubt"] == "not every bin was counted on the last day"


@pytest.mark.parametrize(
    ("source", "kind", "on_hand"),
    [
        ("new", None, 8),
        ("customer", None, 10),
        ("salvage", None, 10),
        ("made", None, 10),
        ("salvage", "harvested", 13),
        ("made", "made", 13),
        ("salvage", "made", 15),
        ("customer", "harvested", 15),
    ],
)
def test_only_what_lay_on_the_shelf_leaves_it(shop, source, kind, on_hand):
    # 10 counted, 2 taken from the source; five put on the shelf where a move of that kind was written down
    shop.add("counts", part="coil", counted_on="2026-01-01", qty_pcs=10)
    shop.add("job_parts", job="J1", part="coil", qty_pcs=2, used_on="2026-02-10", source=source)
    if kind:
        shop.add("stock_moves", part="coil", moved_on="2026-02-01", qty_pcs=5, kind=kind)
    assert shop.answer("stock_position", "coil")["on_hand_pcs"] == on_hand


def test_a_customers_own_pieces_are_not_the_shops(shop):
    shop.add("counts", part="coil", counted_on="2026-01-01", qty_pcs=1)
    shop.add("stock_moves", part="coil", moved_on="2026-02-01", qty_pcs=5, kind="harvested", owner="customer")
    assert shop.answer("stock_position", "coil")["on_hand_pcs"] == 1


def test_part_deliveries_leave_the_rest_on_order(shop):
    shop.add("counts", part="coil", counted_on="2026-01-01", qty_pcs=0)
    shop.order("P1", "north", "2026-01-20", coil=(10, None))
    shop.add("receipts", order_no="P1", part="coil", received_on="2026-02-01", received_pcs=6)
    row = shop.answer("stock_position", "coil")
    assert (row["on_hand_pcs"], row["on_order_pcs"]) == (6, 4)
    assert shop.answer("open_lines", "coil")["open_pcs"] == 4


def test_a_line_closed_short_brings_nothing_more(shop):
    shop.add("orders", order_no="P1", vendor="north", ordered_on="2026-01-20")
    shop.add(
        "order_lines", order_no="P1", part="coil", qty_pcs=10, unit_price=2, received_on="2026-02-01", received_pcs=8
    )
    row = shop.answer("stock_position", "coil")
    assert (row["on_hand_pcs"], row["on_order_pcs"]) == (8, 0)
    assert shop.answer("open_lines") == []


def test_each_delivery_of_a_line_is_a_receipt_and_the_rest_stays_open(shop):
    shop.order("P1", "north", "2026-01-20", coil=(10, None), bat=(1, "2026-01-29"))
    shop.add("receipts", order_no="P1", part="coil", received_on="2026-02-01", received_pcs=6)
    rows = {(row["part"], row["days"], row["is_open"]) for row in shop.answer("vendor_receipts")}
    assert rows == {("coil", 12, False), ("coil", None, True), ("bat", 9, False)}


class TestCommittedNeeds:
    @pytest.fixture(autouse=True)
    def jobs(self, shop):
        shop.add("jobs", job="B1", family="em", scope="thorough", booked_on="2026-03-01", planned_start_on="2026-04-01")
        shop.add("jobs", job="R1", family="em", scope="fix_only", booked_on="2026-03-01", started_on="2026-03-05")
        shop.add("jobs", job="E1", family="em", scope="fix_only", status="enquiry", booked_on="2026-03-01")

    def finding(self, shop, job, part, assembly="flipper", **values):
        shop.add("findings", job=job, part=part, assembly=assembly, **values)

    @pytest.mark.parametrize(
        ("condition", "action", "is_needed"),
        [
            ("failed", None, True),
            ("missing", None, True),
            ("worn", "replace", True),
            ("good", "replace", True),
            ("worn", None, False),
            ("failed", "recondition", False),
            ("missing", "make", False),
            ("good", "keep", False),
        ],
    )
    def test_a_finding_asks_for_a_part(self, shop, condition, action, is_needed):
        self.finding(shop, "B1", "coil", qty_pcs=2, condition=condition, action=action)
        assert [row["still_pcs"] for row in shop.answer("committed_needs")] == ([2] if is_needed else [])

    def test_findings_of_several_assemblies_add_up_and_what_was_taken_is_off(self, shop):
        self.finding(shop, "R1", "coil", "flipper", qty_pcs=2, condition="failed")
        self.finding(shop, "R1", "coil", "bumper", qty_pcs=3, condition="failed")
        shop.add("job_parts", job="R1", part="coil", qty_pcs=4, used_on="2026-03-06")
        row = shop.answer("committed_needs", "coil")
        assert (row["need_pcs"], row["still_pcs"], row["needed_on"]) == (5, 1, date(2026, 3, 5))
        shop.add("job_parts", job="R1", part="coil", qty_pcs=4, used_on="2026-03-07")
        assert shop.answer("committed_needs", "coil")["still_pcs"] == 0

    def test_a_finding_without_pieces_asks_for_one_and_says_so(self, shop):
        self.finding(shop, "B1", "coil", condition="missing")
        row = shop.answer("committed_needs", "coil")
        assert (row["need_pcs"], row["is_guessed"], row["known_from"]) == (1, True, "findings")

    def test_jobs_not_booked_or_already_delivered_reserve_nothing(self, shop):
        for job in ("J1", "E1"):
            self.finding(shop, job, "coil", qty_pcs=1, condition="failed")
        assert shop.answer("committed_needs") == []

    def test_accepted_lines_speak_for_a_job_without_findings(self, shop):
        line = {"version": 1, "option": "thorough", "kind": "part", "part": "coil", "amount": 30}
        shop.add("quote_lines", job="B1", qty_pcs=3, accepted_on="2026-03-02", **line)
        shop.add("quote_lines", job="R1", qty_pcs=5, **line)
        row = shop.answer("committed_needs", "coil")
        assert (row["job"], row["need_pcs"], row["known_from"]) == ("B1", 3, "accepted lines")
        self.finding(shop, "B1", "coil", qty_pcs=1, condition="failed")
        assert shop.answer("committed_needs", "coil")["need_pcs"] == 1


class TestBestOffers:
    def offer(self, shop, vendor, price, part="coil", **values):
        shop.add("offers", vendor=vendor, part=part, pack_price=price, **values)

    def test_the_cheapest_piece_of_the_fewest_packs_wins(self, shop):
        self.offer(shop, "north", 12, pack_pcs=1)
        self.offer(shop, "north", 5, pack_pcs=1, from_packs=10)
        self.offer(shop, "south", 20, pack_pcs=2)
        row = shop.answer("best_offers", "coil")
        assert (row["vendor"], row["unit_price"], row["price_source"]) == ("south", 10, "offer")

    def test_rejects_are_paid_for(self, shop):
        self.offer(shop, "north", 10)
        self.offer(shop, "south", 9, reject_share=0.25)
        assert shop.answer("best_offers", "coil")["vendor"] == "north"

    def test_the_newest_quote_counts(self, shop):
        self.offer(shop, "north", 10, quoted_on="2025-01-01")
        self.offer(shop, "north", 14, quoted_on="2026-01-01")
        assert shop.answer("best_offers", "coil")["unit_price"] == 14

    def test_what_cannot_be_had_is_priced_as_last_paid_then_as_remembered(self, shop):
        shop.add("parts", part="lamp", description="lamp", unit_cost=0.4)
        self.offer(shop, "north", 10, available="no")
        shop.order("P1", "south", "2026-01-20", coil=(10, None), bat=(1, None))
        shop.order("P2", "north", "2025-01-20", coil=(10, None))
        sources = {row["part"]: (row["unit_price"], row["price_source"]) for row in shop.answer("best_offers")}
        assert sources == {"coil": (2.5, "last paid"), "bat": (2.5, "last paid"), "lamp": (0.4, "remembered")}
        assert shop.answer("best_offers", "coil")["vendor"] == "south"

    def test_a_price_of_zero_is_no_price(self, shop):
        self.offer(shop, "north", 0)
        assert shop.answer("best_offers") == []
