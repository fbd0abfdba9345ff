"""Deliveries booked in: whole or in parts, never more than ordered unsaid, kept by every later load."""

import datetime
import shutil

import pytest

from pipeline.errors import RecordsError, UsageError
from pipeline.ingest import deliveries, export
from tests.support import small_shop

DAY = datetime.date(2025, 4, 10)
FILES = small_shop.with_rows(
    small_shop.with_rows(small_shop.WHOLE, "order_lines", "P2,lamp,50,0.3,,", "P3,fli-coil,4,18,2025-03-20,3",
                         "P4,lamp,9,0.3,,4"),
    "orders", "P3,north,2025-03-10,", "P4,north,2025-03-11,", "P5,north,2025-03-12,")


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """A small shop with an order of two open lines, one closed short and one received on no day; to be copied."""
    return small_shop.load(tmp_path_factory.mktemp("loaded") / "shop", FILES)[0]


@pytest.fixture
def store(tmp_path, loaded):
    return shutil.copy(loaded, tmp_path / "shop.duckdb")


def noted(store):
    return small_shop.rows(store, "select order_no, part, received_on, received_pcs from receipts"
                                  " where recorded_in = 'notebook' order by all")


def still(store):
    return dict(small_shop.rows(store, "select part, open_pcs from open_lines where order_no = 'P2'"))


def test_without_parts_everything_still_open_comes(store):
    received = deliveries.receive(store, " p2 ", DAY)
    assert received.lines() == [
        "Received: 50 pieces of lamp from order P2 on 2025-04-10.",
        "Received: 10 pieces of sleeve from order P2 on 2025-04-10.", "Nothing of order P2 (north) is still to come."]
    assert noted(store) == [("P2", "lamp", DAY, 50), ("P2", "sleeve", DAY, 10)] and still(store) == {}


def test_with_parts_only_these_come_and_the_rest_stays_open(store):
    received = deliveries.receive(store, "P2", "10 Apr 2025", [("LAMP", "20")])
    assert received.lines()[-1] == "Still to come of order P2 (north): 30 pieces of lamp, 10 pieces of sleeve."
    assert still(store) == {"lamp": 30, "sleeve": 10}


def test_several_deliveries_are_a_row_each_until_the_line_is_whole(store):
    for day, pieces in ((10, 20), (12, 25), (15, 5)):
        deliveries.receive(store, "P2", DAY.replace(day=day), [("lamp", pieces)])
    assert [row[2:] for row in noted(store)] == [(DAY, 20), (DAY.replace(day=12), 25), (DAY.replace(day=15), 5)]
    assert still(store) == {"sleeve": 10}
    deliveries.receive(store, "P2", DAY.replace(day=16))
    assert noted(store)[-1] == ("P2", "sleeve", DAY.replace(day=16), 10)


def test_the_order_line_itself_stays_as_its_file_has_it(store):
    before = small_shop.rows(store, "from order_lines order by all")
    deliveries.receive(store, "P2", DAY)
    assert small_shop.rows(store, "from order_lines order by all") == before


def test_the_shelf_has_what_came(store):
    before = dict(small_shop.rows(store, "select part, on_hand_pcs from stock_position"))
    deliveries.receive(store, "P2", DAY, [("lamp", 20)])
    assert dict(small_shop.rows(store, "select part, on_hand_pcs from stock_position"))["lamp"] == before["lamp"] + 20


def test_equal_deliveries_of_a_day_are_one_row_of_all(store):
    for said in ("", "; as many were booked in that day before, it is one row of 10 now"):
        received = deliveries.receive(store, "P2", DAY, [("lamp", 5)])
        assert received.booked == [f"Received: 5 pieces of lamp from order P2 on 2025-04-10{said}."]
    deliveries.receive(store, "P2", DAY, [("lamp", 5)])
    deliveries.receive(store, "P2", DAY, [("lamp", 5)])  # 10 and 5, then 10 and 10
    assert noted(store) == [("P2", "lamp", DAY, 20)] and still(store)["lamp"] == 30


def test_more_than_is_open_is_refused_unless_it_is_said(store):
    with pytest.raises(RecordsError, match="lamp: 60 pieces came; wanted at most the 50 still to come of 50 ordered"):
        deliveries.receive(store, "P2", DAY, [("sleeve", 10), ("lamp", 60)])
    assert noted(store) == []
    received = deliveries.receive(store, "P2", DAY, [("lamp", 60)], allows_more=True)
    assert "with that 10 more than the 50 ordered" in received.booked[0] and "lamp" not in still(store)
    with pytest.raises(RecordsError, match="at most the 0 still to come"):
        deliveries.receive(store, "P2", DAY, [("lamp", 1)])


@pytest.mark.parametrize(("words", "said"), [
    ({"order_no": "P22"}, "order_no is 'P22'; wanted an order listed in orders; did you mean P2?"),
    ({"order_no": "zzz"}, "order_no is 'zzz'; wanted an order listed in orders."),
    ({"order_no": "P5"}, "order P5 has no lines in order_lines"),
    ({"order_no": "P1"}, "order P1: wanted one with pieces still to come; 50 of 50 lamp came on 2025-01-12; 20 of 20"),
    ({"order_no": "P3"}, "3 of 4 fli-coil came on 2025-03-20"),
    ({"order_no": "P3", "pieces": [("fli-coil", 1)]}, "order P3, fli-coil: the line is closed: 3 of 4 pieces came"),
    ({"pieces": [("lmap", 1)]}, "part is 'lmap'; order P2 has lamp, sleeve; did you mean lamp?"),
    ({"pieces": [("fli-coil", 1)]}, "part is 'fli-coil'; order P2 has lamp, sleeve."),
    ({"pieces": [("lamp", 1), ("LAMP", 2)]}, "part lamp is named twice"),
    ({"pieces": []}, "no pieces are named"),
    ({"pieces": [("lamp", 0)]}, "received_pcs is '0'; wanted a whole number of pieces more than 0"),
    ({"pieces": [("lamp", "-2")]}, "received_pcs is '-2'"),
    ({"pieces": [("lamp", "two")]}, "received_pcs is 'two'; wanted a whole number"),
    ({"pieces": [("lamp", "1.5")]}, "received_pcs is '1.5'"),
    ({"received_on": "soon"}, "received_on is 'soon'; wanted a day as 2025-03-09"),
    ({"received_on": "2025-03-01"}, "received_on is 2025-03-01; order P2 was sent on 2025-03-05"),
    ({"received_on": "2025-05-02", "today": datetime.date(2025, 5, 1)}, "wanted no day after today, 2025-05-01"),
    ({"received_on": None}, "received_on is empty"),
])
def test_what_cannot_be_is_said_and_nothing_is_recorded(store, words, said):
    with pytest.raises(RecordsError) as error:
        deliveries.receive(**{"shop_file": store, "order_no": "P2", "received_on": DAY} | words)
    assert said in str(error.value) and str(error.value).endswith("Nothing was recorded.")
    assert "?." not in str(error.value) and noted(store) == []


def test_one_bad_line_leaves_the_good_ones_out_too(store):
    with pytest.raises(RecordsError, match="received_pcs is 'x'"):
        deliveries.receive(store, "P2", DAY, [("lamp", 20), ("sleeve", "x")])
    assert noted(store) == []


def test_an_alias_of_the_part_is_taken(store):
    small = small_shop.rows(store, "select count(*) from aliases")
    assert small == [(1,)]
    with pytest.raises(RecordsError, match="fli-coil: the line is closed"):
        deliveries.receive(store, "P3", DAY, [("Flipper Coil", 1)])


def test_pieces_on_no_day_counted_as_still_to_come_and_the_message_says_so(store):
    received = deliveries.receive(store, "P4", DAY)
    assert received.booked == ["Received: 9 pieces of lamp from order P4 on 2025-04-10; its line has 4 received on no "
                               "day, which counted as still to come."]


def test_a_delivery_the_folder_has_already_is_not_written_twice(tmp_path):
    files = small_shop.with_rows(FILES, "receipts", "P2,lamp,2025-04-10,20,")
    store, _ = small_shop.load(tmp_path / "shop", files)
    with pytest.raises(RecordsError, match="the receipts of the folder have 20 pieces on 2025-04-10 already"):
        deliveries.receive(store, "P2", DAY, [("lamp", 20)])
    deliveries.receive(store, "P2", DAY, [("lamp", 21)])
    assert still(store)["lamp"] == 9


def test_the_day_is_the_shop_s_own_where_it_says_one_else_the_one_given(tmp_path, store):
    deliveries.receive(store, "P2", None, [("lamp", 1)], today=datetime.date(2025, 4, 30))
    assert noted(store)[0][2] == datetime.date(2025, 4, 30)
    fixed, _ = small_shop.load(tmp_path / "fixed", FILES | {"shop": "key,value\ntoday,2025-05-05\n"})
    deliveries.receive(fixed, "P2", None, [("lamp", 1)], today=datetime.date(2025, 4, 30))
    assert noted(fixed)[0][2] == datetime.date(2025, 5, 5)


def test_a_later_load_keeps_it_and_changes_nothing(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", FILES)
    deliveries.receive(store, "P2", DAY, [("lamp", 20)])
    before = small_shop.contents(store)
    assert small_shop.load(tmp_path / "shop")[1].is_unchanged and small_shop.contents(store) == before
    small_shop.load(tmp_path / "shop", small_shop.with_rows(FILES, "counts", "lamp,2025-04-11,7"))
    assert noted(store) == [("P2", "lamp", DAY, 20)] and still(store)["lamp"] == 30


def test_an_exported_folder_brings_it_back(tmp_path, store):
    deliveries.receive(store, "P2", DAY, [("lamp", 20), ("sleeve", 3)])
    export.export(store, tmp_path / "copy", True)
    again, _ = small_shop.load(tmp_path / "copy")
    assert small_shop.records(again) == small_shop.records(store) and len(noted(again)) == 2
    assert still(again) == {"lamp": 30, "sleeve": 7}


def test_a_store_without_orders_says_what_to_add(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.LEAST)
    with pytest.raises(RecordsError, match="no order is on record. Add orders.csv and order_lines.csv"):
        deliveries.receive(store, "P1", DAY)


@pytest.mark.parametrize("text", ["'; drop table receipts; --", '"', "a'b", "%s", "\\"])
def test_odd_text_is_only_text(store, text):
    with pytest.raises(RecordsError, match="wanted an order listed"):
        deliveries.receive(store, text, DAY)
    with pytest.raises(RecordsError, match="order P2 has lamp, sleeve"):
        deliveries.receive(store, "P2", DAY, [(text, 1)])


@pytest.mark.parametrize("text", ["lamp", "lamp=", "=5", "", " = "])
def test_what_is_no_part_and_pieces_is_wrong_usage(text):
    with pytest.raises(UsageError, match="wanted PART=PIECES, such as --part sleeve=5"):
        deliveries.pairs([text])
