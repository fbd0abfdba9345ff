"""Each row check returns the offending rows, and none where all is well."""

import pytest

from pipeline.ingest import row_checks
from pipeline.store import connect, read, views
from tests.support.check_cases import BASE, BROKEN, COUNT, HELD, LINE, MANY, MOVE, OPENED, PACK, RECEIPT, TAKEN

# What is near a remark, and none.
SOUND = {
    "a kit went and its pieces came": MOVE + "('1', 'coil', date '2025-01-05', 4, 'kit_opened', 'folder'),"
    " ('2', 'lamp', date '2025-01-05', 4, 'opening', 'folder'),"
    " ('3', 'lamp', date '2025-01-05', -1, 'kit_opened', 'folder')",
    "three times the usual price": MANY + LINE + "2, 6.3, date '2025-01-09', null)",
    "far from two other prices alone": MANY + "delete from order_lines where order_no = 'Q2'; "
    + LINE + "2, 9, date '2025-01-09', null)",
    "a quarter more than the invoice": "insert into payments (row_hash, job, paid_on, amount, recorded_in) values"
    " ('1', 'J1', date '2025-01-20', 125, 'folder')",
    "more than the invoice and tax, refunded": "insert into payments (row_hash, job, paid_on, amount, kind,"
    " recorded_in) values ('1', 'J1', date '2025-01-20', 150, 'balance', 'folder'),"
    " ('2', 'J1', date '2025-01-21', 43, 'refund', 'folder'); insert into job_costs (row_hash, job, kind, amount,"
    " recorded_in) values ('1', 'J1', 'tax', 7, 'folder')",
    "four off a small book": OPENED.format(pcs=6) + COUNT + "('1', 'coil', date '2025-01-22', 1, 'folder')",
    "less than half off": OPENED.format(pcs=101) + COUNT + "('1', 'coil', date '2025-01-22', 51, 'folder')",
    "the first count, more than ever came": COUNT + "('1', 'coil', date '2025-01-22', 500, 'folder')",
    "an opening on the day of the first count": OPENED.format(pcs=4) + COUNT
    + "('1', 'coil', date '2025-01-01', 4, 'folder')",
    "the price of a piece of a pack": PACK + LINE + "30, 0.55, date '2025-01-09', null)",
    "a line that its receipts bring": LINE + "8, 1, date '2025-01-10', 8); " + RECEIPT
    + "('1', 'P1', 'coil', date '2025-01-09', 5, 'folder'), ('2', 'P1', 'coil', date '2025-01-10', 3, 'folder')",
    "a line without its day that its receipts tell": LINE + "8, 1, null, 5); " + RECEIPT
    + "('1', 'P1', 'coil', date '2025-01-09', 5, 'folder')",
    "a return whose credit was nothing": OPENED.format(pcs=5) + MOVE
    + "('1', 'coil', date '2025-01-06', -2, 'returned_to_vendor', 'folder'); update stock_moves set amount = 0"
    " where kind <> 'opening'",
    "twice what the machine holds": HELD + TAKEN + "('2', 'J1', 'coil', 7, date '2025-01-12', 'folder'),"
    " ('3', 'J3', 'coil', 1, date '2025-01-12', 'folder')",
    "far more than it holds, as another job took": HELD + TAKEN
    + "('2', 'J1', 'coil', 11, date '2025-01-12', 'folder'), ('3', 'J3', 'coil', 6, date '2025-01-12', 'folder')",
    "most parts not counted yet": TAKEN + "('2', 'J1', 'bat', 1, date '2025-01-12', 'folder'); " + COUNT
    + "('1', 'coil', date '2025-01-22', 9, 'folder')",
    "two orders of a vendor on one day": LINE + "4, 2, date '2025-01-08', null); " + MANY,
    "below none once, and put right by a count": OPENED.format(pcs=1) + TAKEN
    + "('2', 'J1', 'coil', 2, date '2025-01-12', 'folder'); " + COUNT + "('1', 'coil', date '2025-01-22', 0, 'folder')",
}


@pytest.mark.parametrize("case", SOUND)
def test_what_is_sound_has_no_remark(shop, case):
    shop.execute(SOUND[case])
    assert row_checks.run(shop).empty


@pytest.fixture
def shop():
    """A small store in memory with nothing to remark on."""
    with connect.open_memory() as connection:
        connection.execute(BASE)
        yield connection


def test_every_check_has_a_case_here():
    assert set(BROKEN) == {name for name, _ in views.checks()}


def test_a_sound_shop_and_an_empty_one_have_no_remarks(shop):
    assert row_checks.run(shop).empty
    with connect.open_memory() as empty:
        assert row_checks.run(empty).empty


@pytest.mark.parametrize("check", BROKEN)
def test_a_check_returns_the_offending_row_and_no_other_check_speaks(shop, check):
    breaks, (file, column, value, words) = BROKEN[check]
    shop.execute(breaks)
    found = row_checks.run(shop)
    assert found[["file", "column", "value", "rule", "outcome"]].values.tolist() == [
        [file, column, value, check, "noted"]
    ]
    assert words in found["suggestion"].iloc[0] and found["line"].isna().all()


def test_pieces_counted_where_the_book_has_packs_are_told_apart(shop):
    shop.execute(PACK + OPENED.format(pcs=9) + COUNT + "('1', 'coil', date '2025-01-22', 82, 'folder')")
    found = row_checks.run(shop)
    assert found["rule"].tolist() == ["count_in_packs"]
    assert "the book had 8; it may have packs of 10 as pieces" in found["suggestion"].iloc[0]


def test_a_kit_opened_for_nothing_is_asked_for_its_pieces(shop):
    shop.execute(OPENED.format(pcs=5) + MOVE + "('1', 'coil', date '2025-01-05', -1, 'kit_opened', 'folder')")
    assert "no piece of it came" in row_checks.run(shop)["suggestion"].iloc[0]


def test_receipts_of_whole_packs_are_told_once_and_as_packs(shop):
    shop.execute(PACK + LINE + "3, 0.5, null, null); " + RECEIPT
                 + "('1', 'P1', 'coil', date '2025-01-09', 20, 'folder'),"
                 " ('2', 'P1', 'coil', date '2025-01-11', 10, 'folder')")
    assert row_checks.run(shop)["rule"].tolist() == ["received_in_packs"]


def test_the_price_of_a_pack_is_told_once_and_as_a_pack(shop):
    shop.execute(MANY + "update order_lines set unit_price = unit_price / 4; " + PACK + LINE + "3, 5, null, null)")
    assert row_checks.run(shop)["rule"].tolist() == ["pack_entered_as_pieces"]


def test_what_a_remark_suggests_is_never_done(shop):
    shop.execute(PACK + LINE + "3, 4.8, date '2025-01-09', null)")
    before = shop.execute("from order_lines").fetchall()
    assert not row_checks.run(shop).empty and shop.execute("from order_lines").fetchall() == before
    assert read.rows(shop, "select received_pcs from stock_ledger where part = 'coil'") == [(3,)]


def test_without_any_hours_or_machines_or_assemblies_nobody_asks_for_them(shop):
    shop.execute("delete from job_hours; delete from machines; delete from assemblies")
    assert row_checks.run(shop).empty


def test_a_day_ahead_of_the_others_by_less_than_half_a_year_is_no_slip(shop):
    shop.execute("insert into counts values ('1', 'coil', date '2025-07-22', 3, null, 'folder', null)")
    assert row_checks.run(shop).empty
    shop.execute("update counts set counted_on = date '2025-07-24'")
    assert row_checks.run(shop)["rule"].tolist() == ["day_far_after_all_others"]


@pytest.mark.parametrize(("key", "value", "words"), [
    ("holding_rate_share", "20", "wanted a share from 0 to 1, as 0.25; until then the default 0.20"),
    ("today", "1.2.2025", "wanted a day as 2025-03-09, from 1930-01-01 to ten years after this load; until"),
    ("today", "9999-12-31", "ten years after this load; until then its default is used"),
    ("callback_watch_days", "1000000", "wanted a number from 0 to 36525"),
    ("warranty_days", "-5", "wanted a number from 0 to 36525, as 90; until then the default 90 is used")])
def test_a_setting_in_doubt_is_told_what_is_wanted_and_used(shop, key, value, words):
    shop.execute("insert into shop values (?, ?, null)", [key, value])
    assert words in row_checks.run(shop)["suggestion"].iloc[0]
