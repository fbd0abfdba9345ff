"""Every term of the ledger and the running book, on small stores written by hand."""

import pytest

from pipeline.store import connect, read
from tests.support.stock_bench import DAY, Bench

GRAIN = {
    "shelved_sources": ("part", "source"),
    "stock_starts": ("part",),
    "stock_book": ("part", "book_on"),
    "stock_counts": ("part", "counted_on"),
    "stock_terms": ("part",),
    "stock_last_day": ("part",),
    "stock_ledger": ("part",),
    "negative_spells": ("part", "below_since_on"),
    "negative_parts": ("part",),
    "negative_positions": ("part",),
    "interchange_pairs": ("part", "other"),
    "order_lines_in_packs": ("order_no", "part"),
    "undated_receipts": ("order_no", "part"),
    "counts_far_off": ("part", "counted_on"),
}


@pytest.fixture
def bench():
    with connect.open_memory() as connection:
        yield Bench(connection)


def test_every_view_of_the_ledger_has_one_row_for_each_thing_it_names(bench):
    bench.add("offers", vendor="north", part="coil", pack_pcs=10, pack_price=2)
    bench.add("interchange", part="coil", can_replace="bat")
    bench.add("interchange", part="bat", can_replace="coil")
    bench.order(day=None, received_pcs=4)
    for part in ("coil", "bat"):
        bench.move("harvested", 1, part=part)
        for day in (8, 12):
            bench.take(40, day=day, part=part)
            bench.take(40, day=day, part=part, line=2)
            bench.count(9, day=day, part=part, shelf="A1")
            bench.count(9, day=day, part=part, shelf="B2")
    for view, keys in GRAIN.items():
        things = f"count(distinct ({', '.join(keys)}))"
        (rows, things), = read.rows(bench.connection, f"select count(*), {things} from {view}")
        assert rows == things > 0, view


@pytest.mark.parametrize(("kind", "qty_pcs", "term"), [
    ("opening", 7, "opening"), ("harvested", 2, "harvested"), ("made", 3, "made"), ("found", 1, "found"),
    ("kit_opened", 4, "kit_in"), ("kit_opened", -1, "kit_out"), ("sold", -2, "sold"),
    ("written_off", -3, "written_off"), ("returned_to_vendor", -1, "returned_to_vendor")])
def test_a_move_of_each_kind_is_a_term_of_its_own(bench, kind, qty_pcs, term):
    bench.move("opening", 20, day=1)
    bench.move(kind, qty_pcs)
    told = {"opening": 20, "on_hand": 20 + qty_pcs} | {term: abs(qty_pcs)}
    assert bench.ledger() == (told if term != "opening" else {"opening": 27, "on_hand": 27})


def test_deliveries_in_parts_takings_and_what_went_back_are_terms(bench):
    bench.order(qty_pcs=10, day=None)
    for day, pcs in ((4, 3), (9, 2)):
        bench.row("receipts", order_no="P1", part="coil", received_on=DAY[day], received_pcs=pcs)
    bench.take(4, day=10)
    bench.take(-1, day=11)
    assert bench.ledger() == {"received": 5, "used": 3, "on_hand": 2}


def test_a_kit_opened_goes_and_its_pieces_come(bench):
    bench.move("opening", 1, day=1, part="kit")
    bench.move("kit_opened", -1, part="kit")
    bench.move("kit_opened", 4)
    assert bench.ledger("kit") == {"opening": 1, "kit_out": 1, "on_hand": 0}
    assert bench.ledger() == {"kit_in": 4, "on_hand": 4}


def test_the_credits_of_what_went_back_to_the_vendor_add_up_and_none_is_not_zero(bench):
    bench.move("opening", 9, day=1)
    bench.move("returned_to_vendor", -1)
    assert bench.rows("stock_ledger")[0]["credit_amount"] is None
    bench.move("returned_to_vendor", -1, amount=2.25)
    bench.move("returned_to_vendor", -2, amount=4.5)
    bench.move("returned_to_vendor", -2, amount=100, owner="customer")
    bench.move("sold", -1, amount=7)
    (row,) = bench.rows("stock_ledger")
    assert (float(row["credit_amount"]), row["returned_to_vendor_pcs"]) == (6.75, 4)


class TestStart:
    def test_the_first_count_implies_what_must_have_been_there(self, bench):
        bench.take(4)
        bench.count(3)
        assert bench.ledger() == {"implied_opening": 7, "used": 4, "on_hand": 3}

    def test_fewer_counted_than_came_is_a_loss_and_no_opening_below_none(self, bench):
        bench.order(qty_pcs=10)
        bench.count(3)
        assert bench.ledger() == {"received": 10, "count_loss": 7, "on_hand": 3}

    @pytest.mark.parametrize("day", [1, 20])
    def test_a_written_opening_leaves_the_difference_to_the_count(self, bench, day):
        bench.move("opening", 5, day=day)
        bench.count(8)
        assert bench.ledger() == {"opening": 5, "count_gain": 3, "on_hand": 8}

    def test_an_opening_after_the_first_count_only_adds(self, bench):
        bench.count(8, day=4)
        bench.move("opening", 5)
        assert bench.ledger() == {"implied_opening": 8, "opening": 5, "on_hand": 13}

    def test_where_nothing_ever_came_and_nobody_counted_on_hand_stays_unknown(self, bench):
        bench.take(4)
        bench.take(-1, day=11)
        bench.move("sold", -1)
        (row,) = bench.rows("stock_ledger")
        assert (row["start_from"], row["on_hand_pcs"], row["implied_opening_pcs"]) == ("nothing", None, None)
        assert (row["used_pcs"], row["sold_pcs"]) == (3, 1)
        assert bench.rows("negative_positions") == []
        assert bench.rows("stock_position")[0]["doubt"] == "never counted"

    def test_a_part_nobody_touched_is_unknown_too(self, bench):
        (row,) = bench.rows("stock_ledger", "lamp")
        assert (row["start_from"], row["on_hand_pcs"], row["used_pcs"]) == ("nothing", None, 0)

    @pytest.mark.parametrize(("start", "written"), [
        ("opening", [("opening", 1)]), ("arrivals", [("found", 1)]), ("nothing", [("sold", -1)])])
    def test_what_the_book_begins_with_is_said(self, bench, start, written):
        for kind, qty_pcs in written:
            bench.move(kind, qty_pcs)
        assert bench.rows("stock_ledger")[0]["start_from"] == start
        bench.count(1)
        assert bench.rows("stock_ledger")[0]["start_from"] == ("opening" if start == "opening" else "count")


class TestCounts:
    def test_each_count_is_a_new_start_and_its_difference_is_kept(self, bench):
        bench.move("opening", 10, day=1)
        bench.take(2, day=5)
        bench.count(9, day=6)
        bench.take(4, day=8)
        bench.count(3, day=12)
        bench.take(1, day=13)
        assert bench.ledger() == {"opening": 10, "used": 7, "count_gain": 1, "count_loss": 2, "on_hand": 2}
        assert [(row["counted_on"], row["book_pcs"], row["count_difference_pcs"]) for row in bench.rows("stock_counts")
                ] == [(DAY[6], 8, 1), (DAY[12], 5, -2)]

    def test_bins_of_one_day_are_one_count(self, bench):
        bench.move("opening", 10, day=1)
        bench.count(4, shelf="A1")
        bench.count(6, shelf="B2")
        assert bench.ledger() == {"opening": 10, "on_hand": 10}
        assert len(bench.rows("stock_counts")) == 1

    def test_what_moved_on_the_day_of_a_count_came_before_it(self, bench):
        bench.move("opening", 10, day=1)
        bench.take(3, day=20)
        bench.count(7)
        assert bench.ledger() == {"opening": 10, "used": 3, "on_hand": 7}

    def test_a_taking_without_any_day_comes_before_the_first_count(self, bench):
        bench.move("opening", 10, day=1)
        bench.take(3, day=None, job="J2")
        bench.count(7, day=4)
        bench.move("found", 1, day=6)
        bench.count(8, day=9)
        assert bench.ledger() == {"opening": 10, "found": 1, "used": 3, "on_hand": 8}
        assert [row["count_difference_pcs"] for row in bench.rows("stock_counts")] == [0, 0]

    def test_a_taking_without_any_day_and_no_count_comes_last(self, bench):
        bench.take(3, day=None, job="J2")
        bench.move("found", 4, day=9)
        assert bench.ledger() == {"found": 4, "used": 3, "on_hand": 1}
        assert bench.rows("negative_positions") == []

    def test_a_taking_without_a_day_counts_when_its_job_was_delivered(self, bench):
        bench.move("opening", 10, day=1)
        bench.count(10)
        bench.take(3, day=None)
        assert bench.rows("stock_book")[-1]["book_on"] == DAY[28]
        assert bench.ledger()["on_hand"] == 7


class TestShelf:
    def test_a_customers_own_pieces_are_in_no_term(self, bench):
        bench.move("opening", 10, day=1)
        bench.move("harvested", 5, owner="customer")
        bench.take(2, source="customer")
        (row,) = bench.rows("stock_ledger")
        assert bench.ledger() == {"opening": 10, "on_hand": 10, "never_shelved": 2} and row["harvested_pcs"] == 0

    @pytest.mark.parametrize(("source", "kind"), [("salvage", "harvested"), ("made", "made")])
    def test_pieces_never_put_on_the_shelf_do_not_leave_it(self, bench, source, kind):
        bench.move("opening", 10, day=1)
        bench.take(2, source=source)
        assert bench.ledger() == {"opening": 10, "on_hand": 10, "never_shelved": 2}
        bench.move(kind, 5)
        assert bench.ledger() == {"opening": 10, kind: 5, "used": 2, "on_hand": 13}

    def test_a_customers_donor_puts_nothing_on_the_shops_shelf(self, bench):
        bench.move("opening", 10, day=1)
        bench.move("harvested", 5, owner="customer")
        bench.take(2, source="salvage")
        assert bench.ledger() == {"opening": 10, "on_hand": 10, "never_shelved": 2}
        assert [(row["pcs"], row["is_from_shelf"]) for row in bench.rows("stock_issues")] == [(2, False)]

    def test_more_back_than_taken_is_use_below_none(self, bench):
        bench.move("opening", 10, day=1)
        bench.take(2)
        bench.take(-3, day=12)
        assert bench.ledger() == {"opening": 10, "used": -1, "on_hand": 11}


def test_a_put_back_alone_is_no_arrival(bench):
    bench.take(2)
    bench.take(-1, day=12)
    assert bench.rows("stock_position")[0]["on_hand_pcs"] is None
