"""Each tidy view's grain and values on a small shop, and its rows counted against its source."""

import datetime
from decimal import Decimal

import pytest

from pipeline.store import connect, read, views
from tests.support import small_shop

# View: the columns that name one row, and its source where each row of that gives one.
GRAIN = {
    "tidy_assembly_parts": (("family", "assembly", "part"), None),
    "tidy_callbacks": (None, "callbacks"),
    "tidy_companions": (("trigger_part", "trigger_wear_class", "adds_part", "per", "assembly"), "companions"),
    "tidy_job_hours": (None, "job_hours"),
    "tidy_job_parts": (None, "job_parts"),
    "tidy_jobs": (("job",), "jobs"),
    "tidy_offers": (("vendor", "part", "pack_pcs", "from_packs"), None),
    "tidy_order_lines": (("order_no", "part"), "order_lines"),
    "tidy_orders": (("order_no",), "orders"),
    "tidy_parts": (("part",), "parts"),
    "tidy_receipts": (None, None),
    "tidy_settings": (("key",), "shop_keys"),
    "tidy_vendors": (("vendor",), "vendors"),
}


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """The whole small shop, open for reading."""
    store = small_shop.loaded_before(tmp_path_factory.mktemp("views") / "shop", small_shop.WHOLE)
    with connect.open_read(store) as connection:
        yield connection


@pytest.fixture
def empty():
    """An empty store in memory, with a family, two parts, a vendor, an order and a job."""
    with connect.open_memory() as connection:
        connection.execute("insert into families values ('em', 'EM', null, null), ('ss', 'SS', null, null)")
        connection.execute("insert into parts (part, description) values ('coil', 'C'), ('lamp', 'L')")
        connection.execute("insert into vendors (vendor) values ('north')")
        connection.execute(
            "insert into orders (order_no, vendor, ordered_on) values ('P1', 'north', date '2025-01-05')"
        )
        connection.execute("insert into jobs (job, family, scope) values ('J1', 'em', 'fix_only')")
        yield connection


def test_the_list_of_tidy_views_here_is_whole():
    assert set(GRAIN) == {name for name, _ in views.in_order() if name.startswith("tidy_")}


@pytest.mark.parametrize("view", GRAIN)
def test_a_view_has_one_row_for_each_thing_it_names(shop, view):
    keys, source = GRAIN[view]
    (rows,), = read.rows(shop, f"select count(*) from {view}")
    assert rows > 0
    if keys:
        assert read.rows(shop, f"select count(*) from (select distinct {', '.join(keys)} from {view})") == [(rows,)]
    if source:
        assert read.rows(shop, f"select count(*) from {source}") == [(rows,)]


def test_a_job_without_status_has_the_one_its_days_tell(empty):
    empty.execute("insert into jobs (job, family, scope, status, started_on, delivered_on) values"
                  " ('a', 'em', 'refresh', null, date '2025-01-01', date '2025-02-01'),"
                  " ('b', 'em', 'refresh', null, date '2025-01-01', null), ('c', 'em', 'refresh', null, null, null),"
                  " ('d', 'em', 'refresh', 'declined', null, null)")
    assert read.rows(empty, "select job, status from tidy_jobs where job <> 'J1' order by job") == [
        ("a", "delivered"), ("b", "in_progress"), ("c", "booked"), ("d", "declined")]


@pytest.mark.parametrize(
    ("given", "own", "days"),
    [(None, None, 90), ("180", None, 180), ("180", 30, 30), ("180", 0, 0), ("half a year", None, 90), ("", None, 90)],
)
def test_a_jobs_warranty_is_its_own_or_the_shops(empty, given, own, days):
    empty.execute("insert into shop values ('warranty_days', ?, null)", [given])
    empty.execute("insert into jobs (job, family, scope, warranty_days) values ('J9', 'em', 'refresh', ?)", [own])
    assert read.rows(empty, "select warranty_days from tidy_jobs where job = 'J9'") == [(days,)]


def test_a_part_without_words_has_the_stated_defaults(empty):
    assert read.rows(empty, "select wear_class, supply, keep, unit_cost from tidy_parts where part = 'lamp'") == [
        ("other", "steady", "auto", None)]


def test_only_the_newest_quote_of_an_offer_counts(shop):
    assert read.rows(
        shop, "select pack_pcs, from_packs, unit_price, quoted_on from tidy_offers order by from_packs"
    ) == [(10, 1, 0.4, datetime.date(2025, 3, 1)), (10, 5, 0.35, datetime.date(2025, 3, 1))]


def test_an_offer_in_a_pack_of_one_and_one_in_no_pack_are_the_same_and_the_answer_is_settled(empty):
    empty.execute("insert into offers (vendor, part, pack_pcs, pack_price) values"
                  " ('north', 'coil', null, 7), ('north', 'coil', 1, 6)")
    assert read.rows(empty, "select pack_pcs, pack_price from tidy_offers") == [(1, Decimal("6.0000"))]


def test_a_line_with_a_day_came_whole_and_one_without_is_on_order(shop):
    assert read.rows(shop, "select order_no, part, received_pcs from tidy_order_lines order by all") == [
        ("P1", "lamp", 50), ("P1", "sleeve", 20), ("P2", "sleeve", None)]


def test_part_deliveries_replace_the_lines_own_day(shop):
    assert read.rows(
        shop, "select part, received_on::varchar, received_pcs, batch from tidy_receipts order by all"
    ) == [("lamp", "2025-01-12", 50, None), ("sleeve", "2025-01-11", 12, "b1"), ("sleeve", "2025-01-15", 8, "b2")]


def test_charges_nobody_wrote_down_add_nothing_and_are_called_unknown(shop):
    assert read.rows(shop, "select order_no, freight_amount, is_freight_unknown from tidy_orders order by 1") == [
        ("P1", Decimal("9.5000"), False), ("P2", Decimal("0.0000"), True)]


def test_a_vendor_without_a_name_is_called_by_its_identifier(empty):
    assert read.rows(empty, "select name, freight_flat, minimum_order from tidy_vendors") == [("north", None, 0)]


def test_a_companion_rule_has_its_defaults(shop):
    assert read.rows(shop, "select trigger_wear_class, adds_part, share, per, qty_pcs from tidy_companions") == [
        ("coil", "sleeve", 1.0, "piece", 1)]


def test_a_part_of_one_family_goes_before_the_same_part_of_all(shop):
    # Flipper: 0.8 bench hours. em: 1 sleeve and 2 coils of its own; ss: 1 sleeve, 1 coil at 0.5 h, by its own word.
    assert read.rows(shop, "select family, part, assembly_pcs, qty_pcs, machine_pcs, round(piece_hours, 6)"
                           " from tidy_assembly_parts order by family, part") == [
        ("em", "fli-coil", 2, 2, 4, round(0.8 / 3, 6)), ("em", "sleeve", 2, 1, 2, round(0.8 / 3, 6)),
        ("ss", "fli-coil", 3, 1, 3, 0.5), ("ss", "sleeve", 3, 1, 3, 0.4)]


def test_a_part_of_one_family_serves_no_other(empty):
    empty.execute("insert into assemblies (assembly, bench_hours) values ('flipper', 1)")
    empty.execute("insert into family_assemblies (family, assembly) values ('em', 'flipper'), ('ss', 'flipper')")
    empty.execute("insert into assembly_parts (assembly, part, family, qty_pcs) values ('flipper', 'coil', 'em', 2)")
    assert read.rows(empty, "select family, part, machine_pcs, piece_hours from tidy_assembly_parts") == [
        ("em", "coil", 2, 0.5)]


def test_a_callback_counts_its_days_from_delivery(shop, empty):
    assert read.rows(shop, "select job, days_since_delivery from tidy_callbacks") == [("J1", 12)]
    empty.execute("insert into callbacks (row_hash, job, reported_on, recorded_in)"
                  " values ('h', 'J1', date '2025-01-01', 'folder')")
    assert read.rows(empty, "select days_since_delivery from tidy_callbacks") == [(None,)]


def test_a_stage_and_a_source_nobody_wrote_down_are_said(shop):
    assert read.rows(shop, "select hours, stage from tidy_job_hours order by 1") == [(0.25, "unknown"), (1.5, "bench")]
    assert read.rows(shop, "select distinct source, reason from tidy_job_parts") == [("new", None)]


def test_settings_have_one_row_each_with_the_value_that_counts(shop):
    assert read.rows(shop, "select key, given_value, is_given, value from tidy_settings"
                           " where key in ('bays', 'labour_rate', 'cash_limit_amount') order by key") == [
        ("bays", None, False, "2"), ("cash_limit_amount", None, False, None), ("labour_rate", "62", True, "62")]
