"""Reading whole views, exact money, settings and what is missing."""

import datetime
from decimal import Decimal

import pytest

from pipeline.store import connect, read


@pytest.fixture
def shop():
    """An empty store in memory."""
    with connect.open_memory() as connection:
        yield connection


def give(connection, **settings):
    connection.executemany("insert into shop (key, value) values (?, ?)", list(settings.items()))


def test_a_frame_keeps_columns_in_order_and_a_query_its_parameters(shop):
    shop.execute("insert into families values ('em', 'EM', null, null), ('ss', 'SS', null, null)")
    assert list(read.frame(shop, "families")) == ["family", "name", "note", "extra"]
    assert read.query(shop, "select name from families where family = ?", ["ss"])["name"].tolist() == ["SS"]
    assert list(read.frame(shop, "tidy_parts")) == ["part", "description", "wear_class", "supply", "shelf", "keep",
                                                    "unit_cost"]


def test_money_by_rows_is_exact(shop):
    shop.execute("insert into parts (part, description, unit_cost) values ('a', 'A', 0.1), ('b', 'B', 0.2)")
    assert read.rows(shop, "select sum(unit_cost) from parts") == [(Decimal("0.3000"),)]


def test_an_empty_store_has_the_stated_defaults(shop):
    settings = read.settings(shop)
    assert (settings.name, settings.currency, settings.labour_rate, settings.warranty_days) == (
        "Your shop",
        "USD",
        60,
        90,
    )
    assert settings.callback_watch_days == 90 and settings.cash_limit_amount is None
    assert settings.today == datetime.date(1970, 1, 1)
    assert set(settings.defaulted) == {key for (key,) in read.rows(shop, "select key from shop_keys")}


def test_given_settings_count_and_the_watch_follows_the_warranty(shop):
    give(shop, name="Own", warranty_days="180", today="2026-08-31", cash_limit_amount="4000.5", bays=None)
    settings = read.settings(shop)
    assert (settings.name, settings.warranty_days, settings.callback_watch_days) == ("Own", 180, 180)
    assert (settings.today, settings.cash_limit_amount, settings.bays) == (datetime.date(2026, 8, 31), 4000.5, 2)
    assert not {"name", "warranty_days", "today", "cash_limit_amount"} & set(settings.defaulted)
    assert {"bays", "callback_watch_days"} <= set(settings.defaulted)


@pytest.mark.parametrize(("key", "value"), [
    ("labour_rate", "sixty"), ("labour_rate", "-1"), ("labour_rate", "1_000"), ("labour_rate", "nan"),
    ("labour_rate", "1e999"), ("labour_rate", "inf"), ("labour_rate", ""), ("holding_rate_share", "20"),
    ("today", "31.08.2026"), ("today", "2026-02-30"), ("today", "20260831"), ("warranty_days", "ninety")])
def test_a_setting_that_cannot_be_read_is_as_good_as_not_given_and_listed(shop, key, value):
    give(shop, **{key: value})
    settings = read.settings(shop)
    assert key in settings.defaulted
    with connect.open_memory() as empty:
        assert getattr(settings, key) == getattr(read.settings(empty), key)
    from pipeline.ingest import row_checks
    assert [tuple(row) for row in row_checks.run(shop)[["rule", "column", "value"]].to_numpy()] == [
        ("setting_of_unknown_kind", key, value)]


def test_today_is_the_newest_day_done_and_not_one_that_is_planned(shop):
    shop.execute("insert into families values ('em', 'EM', null, null)")
    shop.execute("insert into jobs (job, family, scope, booked_on, promised_on, planned_start_on)"
                 " values ('J1', 'em', 'fix_only', date '2025-03-09', date '2031-01-01', date '2030-01-01')")
    assert read.last_date(shop) == datetime.date(2025, 3, 9)
    shop.execute("insert into parts (part, description) values ('a', 'A')")
    shop.execute("insert into counts values ('h', 'a', date '2025-04-01', 3, null, 'notebook', null)")
    assert read.settings(shop).today == datetime.date(2025, 4, 1)


def test_without_any_day_today_is_the_day_of_the_load(shop):
    shop.execute("insert into loads values (1, timestamp '2025-05-06 07:08:09', 'f', 'd')")
    assert read.last_date(shop) == datetime.date(2025, 5, 6)


def test_missing_files_say_what_they_would_unlock(shop):
    missing = dict(read.missing_files(shop).itertuples(index=False))
    assert len(missing) == 25 and "parts.csv" not in missing
    assert missing["counts.csv"] == "what is on the shelf today, and so what to order."


def test_a_register_that_was_only_implied_is_still_missing(shop):
    shop.execute("insert into families values ('em', 'em', null, null)")
    assert "families.csv" in set(read.missing_files(shop)["file"])
    shop.execute("insert into loads values (1, now()::timestamp, 'f', 'd')")
    shop.execute("insert into load_files values (1, 'shop.xlsx, sheet families', 1, 1, 0, 'families'),"
                 " (1, 'offers.csv', 0, 0, 0, 'offers')")
    missing = set(read.missing_files(shop)["file"])
    assert "families.csv" not in missing and "offers.csv" in missing


def test_a_shop_file_in_toml_is_not_missing(shop):
    give(shop, bays="3")
    assert "shop.csv" not in set(read.missing_files(shop)["file"])
