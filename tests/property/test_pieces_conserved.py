"""Pieces are conserved: what came in = what went out + what is left, for every part and on every day, counted twice."""

import csv
import datetime
from contextlib import contextmanager
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest import row_checks
from pipeline.store import connect, read
from tests.support import recount

PARTS, JOBS, ORDERS = ("coil", "sleeve", "lamp", "kit"), ("J1", "J2", "J3"), ("P1", "P2", "P3")
FIRST = datetime.date(2025, 1, 1)
# Few days, so that deliveries, takings and counts meet on one.
DAYS = st.integers(0, 5).map(lambda n: FIRST + datetime.timedelta(days=n))
PCS = st.integers(1, 9)
IN_KINDS, OUT_KINDS = ("opening", "harvested", "made", "found"), ("sold", "written_off", "returned_to_vendor")


def or_none(values):
    return st.none() | values


def rows(most, **columns):
    return st.lists(st.fixed_dictionaries(columns), max_size=most)


def unlike(strategy, *names):
    """Rows of which no two have the same values in some columns."""
    return strategy.map(lambda found: list({tuple(row[name] for name in names): row for row in found}.values()))


MOVES = st.one_of(
    st.tuples(st.sampled_from(IN_KINDS), PCS),
    st.tuples(st.sampled_from(OUT_KINDS), PCS.map(lambda n: -n)),
    st.tuples(st.just("kit_opened"), PCS | PCS.map(lambda n: -n)),
)
SHOPS = st.fixed_dictionaries({
    "jobs": st.fixed_dictionaries({job: st.tuples(or_none(DAYS), or_none(DAYS)) for job in JOBS}),
    "order_lines": unlike(rows(8, order_no=st.sampled_from(ORDERS), part=st.sampled_from(PARTS), qty_pcs=PCS,
                               received_on=or_none(DAYS), received_pcs=or_none(st.integers(0, 9))),
                          "order_no", "part"),
    "receipts": rows(6, order_no=st.sampled_from(ORDERS), part=st.sampled_from(PARTS), received_on=DAYS,
                     received_pcs=PCS),
    "moves": rows(10, part=st.sampled_from(PARTS), moved_on=DAYS, move=MOVES,
                  owner=st.sampled_from([None, "shop", "shop", "customer"])),
    "counts": rows(8, part=st.sampled_from(PARTS), counted_on=DAYS, qty_pcs=st.integers(0, 12),
                   shelf=st.sampled_from([None, "A1", "B2"])),
    "job_parts": rows(14, job=st.sampled_from(JOBS), part=st.sampled_from(PARTS), used_on=or_none(DAYS),
                      qty_pcs=PCS | PCS | PCS.map(lambda n: -n),
                      source=st.sampled_from([None, "new", "new", "salvage", "made", "customer"])),
})


@pytest.fixture(scope="module")
def empty():
    """A store in memory with the parts, a vendor and the orders alone."""
    with connect.open_memory() as connection:
        connection.execute("set threads = 1")  # a handful of rows
        connection.execute("insert into families (family, name) values ('em', 'EM')")
        connection.execute("insert into vendors (vendor) values ('north')")
        connection.executemany("insert into parts (part, description) values ($1, $1)", [[part] for part in PARTS])
        connection.executemany("insert into orders (order_no, vendor, ordered_on) values (?, 'north', ?)",
                               [[order, FIRST] for order in ORDERS])
        yield connection


@contextmanager
def holding(connection, shop):
    """The store with the rows of a shop in it, and without them afterwards."""
    connection.execute("begin")
    try:
        for job, (started_on, delivered_on) in shop["jobs"].items():
            days = sorted(filter(None, (started_on, delivered_on)))
            add(connection, "jobs", {"job": job, "family": "em", "scope": "fix_only",
                                     "started_on": started_on and days[0], "delivered_on": delivered_on and days[-1]})
        for line in shop["order_lines"]:
            add(connection, "order_lines", {**line, "unit_price": 1})
        for n, move in enumerate(shop["moves"]):
            kind, qty_pcs = move["move"]
            amount = Decimal(n) if kind == "returned_to_vendor" and n % 2 else None
            add(connection, "stock_moves", {"part": move["part"], "moved_on": move["moved_on"], "kind": kind,
                                            "qty_pcs": qty_pcs, "owner": move["owner"], "amount": amount}, n)
        for table in ("receipts", "counts", "job_parts"):
            for n, row in enumerate(shop[table]):
                add(connection, table, row, n)
        yield connection
    finally:
        connection.execute("rollback")


def add(connection, table, row, n=None):
    if n is not None:
        row = row | {"row_hash": str(n), "recorded_in": "folder"}
    connection.execute(f"insert into {table} ({', '.join(row)}) values ({', '.join('?' * len(row))})",
                       list(row.values()))


def told_by(connection, view, *keys):
    """Rows of a view by some of their columns (dict of tuple to dict)."""
    found = read.rows(connection, f"select * from {view}")
    names = [column[0] for column in connection.description]
    told = {tuple(dict(zip(names, row, strict=True))[key] for key in keys): dict(zip(names, row, strict=True))
            for row in found}
    assert len(told) == len(found), f"{view} has two rows for one {keys}"
    return told


def assert_conserved(connection):
    """The ledger, the running book and the positions say what counting again in plain Python says."""
    counted = recount.recount(recount.rows_of(connection))
    ledger, book = told_by(connection, "stock_ledger", "part"), told_by(connection, "stock_book", "part", "book_on")
    positions = told_by(connection, "stock_position", "part")
    assert set(ledger) == set(positions) == {(part,) for part in counted}
    days = 0
    for part, own in counted.items():
        row = ledger[part,]
        assert {term: row[f"{term}_pcs"] for term in own.terms} == own.terms, part
        assert row["never_shelved_pcs"] == own.never_shelved
        assert row["credit_amount"] == (sum(own.credits) if own.credits else None)
        assert row["on_hand_pcs"] == positions[part,]["on_hand_pcs"] == own.on_hand, part
        assert (own.on_hand is None) == (row["start_from"] == "nothing") == (row["implied_opening_pcs"] is None)
        if own.on_hand is not None:
            # the identity, from the ledger's own columns
            assert sum(row[f"{term}_pcs"] for term in recount.IN) == (
                sum(row[f"{term}_pcs"] for term in recount.OUT) + row["on_hand_pcs"]), part
        for day, (on_hand, terms) in own.days.items():
            assert recount.balance(terms, on_hand) == 0, (part, day)
            told = book[part, day]
            assert (told["on_hand_pcs"], told["book_pcs"]) == (on_hand, own.lowest[day]), (part, day)
        days += len(own.days)
    assert sum(row["on_hand_pcs"] is not None for row in book.values()) == days
    assert_spells(connection, counted)


def assert_spells(connection, counted):
    """The stretches below none cover the days on which the book counted again is, and no other."""
    spells = told_by(connection, "negative_spells", "part", "below_since_on").values()
    for part, own in counted.items():
        told = [row for row in spells if row["part"] == part]
        below = {day for day, pcs in own.lowest.items() if pcs < 0}
        for row in told:
            # a count ends a stretch on its own day, anything else on the day that it no longer is
            own_days = {day for day in below if day >= row["below_since_on"]
                        and (row["until_on"] is None or day <= row["until_on"])}
            assert row["below_since_on"] in own_days
            assert row["lowest_pcs"] == min(own.lowest[day] for day in own_days)
            below -= own_days
        assert not below
        assert any(row["is_below_now"] for row in told) == (own.on_hand is not None and own.on_hand < 0)


@settings(max_examples=25)
@given(SHOPS)
def test_pieces_are_conserved_whatever_the_records_say(empty, shop):
    with holding(empty, shop) as connection:
        assert_conserved(connection)


@pytest.mark.slow
@settings(max_examples=300)
@given(SHOPS)
def test_pieces_are_conserved_in_300_shops(empty, shop):
    with holding(empty, shop) as connection:
        assert_conserved(connection)


@pytest.fixture(scope="module")
def demo(demo_shop):
    """The demo shop, loaded."""
    with connect.open_read(demo_shop.store) as connection:
        yield connection


def test_pieces_are_conserved_in_the_demo_shop_on_every_day(demo):
    assert_conserved(demo)
    # not for want of anything to conserve: every term the demo has is at work
    totals = read.query(demo, "select * from stock_ledger").sum(numeric_only=True)
    terms = set(recount.IN + recount.OUT) - {"implied_opening", "kit_in", "kit_out"}
    assert all(totals[f"{term}_pcs"] > 0 for term in terms)


def test_what_the_demo_forgot_to_write_down_is_found_where_it_was(demo, root):
    # The generator loses two purchases that were used all the same, and says which.
    with open(root / "data" / "demo" / "truth" / "slips.csv", encoding="utf-8", newline="") as text:
        lost = {row["part"]: int(row["received_pcs"]) for row in csv.DictReader(text)}
    gains = dict(read.rows(demo, "select part, max(count_difference_pcs) from stock_counts group by part"))
    remarked = set(row_checks.run(demo).query("rule == 'count_far_from_book'")["value"].str.split(",").str[0])
    assert lost and all(abs(gains[part] - pcs) <= 1 and part in remarked for part, pcs in lost.items())
    causes = dict(read.rows(demo, "select part, cause from negative_positions where lowest_pcs < -1"))
    assert causes and set(causes) <= set(lost) and set(causes.values()) == {"pieces came that nobody wrote down"}


def test_a_book_that_fell_below_none_since_its_count_is_truly_off(demo, root):
    # The generator knows what lies on the shelf on the last day.
    with open(root / "data" / "demo" / "truth" / "shelf.csv", encoding="utf-8", newline="") as text:
        true_pcs = {row["part"]: int(row["at_hand_pcs"]) for row in csv.DictReader(text)}
    told = read.rows(demo, "select part, on_hand_pcs from stock_position where doubt like 'more %taken%'")
    assert told and all(on_hand_pcs != true_pcs[part] for part, on_hand_pcs in told)


def test_pieces_are_conserved_in_alder_lane_on_every_day(alder_lane):
    with connect.open_read(alder_lane.store) as connection:
        assert_conserved(connection)
        starts = dict(read.rows(connection, "select start_from, count(*) from stock_ledger group by 1"))
        # one count, at the end of four years; four parts never
        assert starts == {"count": 117, "arrivals": 4}
