"""Shelves that do not add up: parts below none with what rests on them, gains and losses at counts in money."""

import pandas as pd
import pytest

from pipeline.decisions import records_stock, records_weight
from pipeline.store import connect, read

SHOP = """
insert into families (family, name) values ('em', 'EM');
insert into parts (part, description, unit_cost) values
    ('SLV', 'sleeve', 2), ('COI', 'coil', 9), ('LMP', 'lamp', null), ('NEW', 'never seen', 1);
insert into jobs (job, family, scope, started_on, delivered_on, invoiced_amount) values
    ('J-1', 'em', 'thorough', '2031-01-02', '2031-01-20', 100),
    ('J-2', 'em', 'thorough', '2031-02-01', '2031-02-20', 200);
insert into stock_moves (row_hash, part, moved_on, qty_pcs, kind, recorded_in) values
    ('a', 'SLV', '2031-01-01', 10, 'opening', 'folder'), ('b', 'COI', '2031-01-01', 3, 'opening', 'folder');
insert into job_parts (row_hash, job, part, qty_pcs, used_on, recorded_in) values
    ('a', 'J-1', 'SLV', 4, '2031-01-05', 'folder'), ('b', 'J-2', 'COI', 5, '2031-02-05', 'folder'),
    ('c', 'J-2', 'LMP', 1, '2031-02-06', 'folder');
insert into counts (row_hash, part, counted_on, qty_pcs, recorded_in) values
    ('a', 'SLV', '2031-01-10', 3, 'folder'), ('b', 'SLV', '2031-03-10', 4, 'folder');
"""


@pytest.fixture
def shop():
    with connect.open_memory() as connection:
        connection.execute(SHOP)
        yield connection


def look(shop, what):
    return getattr(records_stock, what)(shop, records_weight.gather(shop))


def test_a_part_below_none_is_told_with_its_job_and_a_cause(shop):
    parts, _ = look(shop, "negatives")
    told = parts.set_index("part").loc["COI"]
    assert (told["lowest_pcs"], told["after_job"], bool(told["is_below_now"])) == (-2, "J-2", True)
    assert isinstance(told["likely_cause"], str) and len(told["likely_cause"]) > 10


def test_on_a_part_below_none_now_rest_its_order_line_and_the_margin_of_that_job(shop):
    parts, _ = look(shop, "negatives")
    told = parts.set_index("part").loc["COI"]
    assert told["decisions"] == 2 and told["amount"] == 200.0 + 5 * 9


def test_what_a_count_has_healed_bears_on_the_margin_alone(shop):
    shop.execute("insert into counts (row_hash, part, counted_on, qty_pcs, recorded_in)"
                 " values ('c', 'COI', '2031-03-01', 4, 'folder')")
    parts, named = look(shop, "negatives")
    told = parts.set_index("part").loc["COI"]
    assert not told["is_below_now"] and told["decisions"] == 1 and told["amount"] == 200.0
    assert set(named["holds"]) == {"order_lines"}


def test_every_parts_pieces_add_up(shop):
    book = look(shop, "ledger")
    told = records_stock.adds_up(book.set_index("part"))
    assert told["SLV"] and told["COI"]
    assert set(book["part"]) == {"SLV", "COI", "LMP", "NEW"}


def test_gains_and_losses_stand_apart_from_what_came_and_went(shop):
    # By hand: 10 opened, 4 used, 3 counted where 6 should be (3 lost), 4 counted where 3 should be (1 gained).
    told = look(shop, "ledger").set_index("part").loc["SLV"]
    pieces = told[["came_pcs", "gain_pcs", "went_pcs", "loss_pcs", "on_hand_pcs"]]
    assert pieces.astype(int).tolist() == [10, 1, 4, 3, 4]
    assert told["amount"] == 4 * 2.0 and told["decisions"] == 1


def test_the_dearest_difference_comes_first(shop):
    assert look(shop, "ledger")["part"].iloc[0] == "SLV"
    shop.execute("insert into counts (row_hash, part, counted_on, qty_pcs, recorded_in)"
                 " values ('c', 'COI', '2031-03-01', 4, 'folder')")
    # COI: 6 more than the -2 of the book, at 9; SLV: 4 pieces at 2.
    book = look(shop, "ledger")
    assert book[["part", "amount"]].head(2).values.tolist() == [["COI", 54.0], ["SLV", 8.0]]


def test_where_the_book_begins_with_nothing_nothing_can_be_told(shop):
    book = look(shop, "ledger").set_index("part")
    told = records_stock.adds_up(book)
    assert pd.isna(told["LMP"]) == pd.isna(book.loc["LMP", "on_hand_pcs"])
    assert told.notna().sum() >= 2


def test_pieces_that_do_not_add_up_are_said_so():
    book = pd.DataFrame({"came_pcs": [4.0, None], "gain_pcs": [0, 0], "went_pcs": [4.0, 0.0], "loss_pcs": [0, 0],
                         "on_hand_pcs": [1.0, None]})
    told = records_stock.adds_up(book)
    assert not told.iloc[0] and pd.isna(told.iloc[1])


def test_all_that_moved_in_the_ledger_is_in_the_table(shop):
    shop.execute("insert into stock_moves (row_hash, part, moved_on, qty_pcs, kind, recorded_in) values"
                 " ('d', 'COI', '2031-03-02', 7, 'harvested', 'folder'),"
                 " ('e', 'COI', '2031-03-03', -2, 'sold', 'folder'),"
                 " ('f', 'SLV', '2031-03-12', -1, 'written_off', 'folder'),"
                 " ('g', 'SLV', '2031-03-13', 2, 'found', 'folder')")
    book = look(shop, "ledger").set_index("part")
    assert (book.loc["COI", "came_pcs"], book.loc["COI", "went_pcs"]) == (10, 7)
    assert (book.loc["SLV", "came_pcs"], book.loc["SLV", "went_pcs"], book.loc["SLV", "on_hand_pcs"]) == (12, 5, 5)
    assert records_stock.adds_up(book).loc[["COI", "SLV"]].all()


def test_an_empty_store_has_no_shelf():
    with connect.open_memory() as empty:
        parts, named = look(empty, "negatives")
        book = look(empty, "ledger")
        assert read.rows(empty, "from stock_ledger") == []
    assert len(parts) == len(named) == len(book) == 0
    assert list(parts) == records_stock.NEGATIVE_COLUMNS and list(book) == records_stock.LEDGER_COLUMNS
