"""Vendors ask and take what the world says."""

import numpy as np
import pytest

from pipeline.demo import catalogue, vendors
from pipeline.demo.world import stream


def part(name):
    return catalogue.parts()[catalogue.part_index()[name]]


@pytest.fixture(scope="module")
def tables(world):
    return vendors.tables(5, world)


def test_there_are_four_vendors_each_with_its_own_letter(tables):
    assert len(tables["vendors"]) == 4
    assert all(vendor.vendor.startswith(letter) for letter, vendor in vendors.VENDORS.items())


def test_every_part_is_offered_by_those_who_sell_it(tables):
    offered = {(row["vendor"], row["part"]) for row in tables["offers"]}
    sold = {(vendors.VENDORS[v].vendor, p.part) for p in catalogue.parts() for v in p.vendors}
    assert offered == sold


def test_no_offer_stands_twice(tables):
    keys = [
        (r["vendor"], r["part"], r["pack_pcs"], r["from_packs"], r["quoted_on"]) for r in tables["offers"]
    ]
    assert len(keys) == len(set(keys))


def test_a_price_break_is_a_lower_price(tables):
    by_part = {}
    for row in tables["offers"]:
        by_part.setdefault((row["vendor"], row["part"]), []).append((row["from_packs"], row["pack_price"]))
    broken = [prices for prices in by_part.values() if len(prices) > 1]
    assert len(broken) > 100
    for prices in broken:
        assert [packs for packs, _ in prices] == sorted(packs for packs, _ in prices)
        assert prices[0][0] == 1
        assert prices[1][1] <= prices[0][1]
    assert {len(prices) for prices in by_part.values()} <= {1, 2}


def test_availability_follows_supply(tables):
    said = {"steady": "yes", "ended": "no", "scarce": "run"}
    for row in tables["offers"]:
        assert row["available"] == said[part(row["part"]).supply]


def test_only_reproduction_mouldings_need_fitting(tables):
    fitted = [row for row in tables["offers"] if row["fit_hours"]]
    assert fitted
    assert {row["vendor"] for row in fitted} == {"otterbeck"}
    assert {part(row["part"]).wear_class for row in fitted} <= {"moulding", "cosmetic", "bracket"}


def test_vendor_numbers_differ_within_a_vendor(tables):
    for vendor in vendors.VENDORS.values():
        numbers = {r["part"]: r["vendor_part"] for r in tables["offers"] if r["vendor"] == vendor.vendor}
        assert len(set(numbers.values())) == len(numbers)


def test_some_quotes_are_stale_and_lower(tables, world):
    ages = np.array(
        [
            (world.today.toordinal() - np.datetime64(r["quoted_on"]).item().toordinal())
            for r in tables["offers"]
        ]
    )
    assert ages.min() >= 5
    assert 0.05 < (ages > 240).mean() < 0.3
    assert ages.max() <= 600


@pytest.mark.parametrize("name", ["panel-dots", "fuse-slow", "screw-wood"])
def test_prices_rise_by_the_stated_share_a_year(name):
    own = part(name)
    rise = vendors.price(own, own.vendors[0], 0) / vendors.price(own, own.vendors[0], 1)
    assert rise == pytest.approx(1 + vendors.drift(own.wear_class))


def test_a_break_lowers_the_price_of_each_piece():
    own = part("ball")
    packs, off = vendors.break_packs(own)
    few, many = (vendors.unit_price(own, "t", n, 0) for n in (packs - 1, packs))
    assert many == pytest.approx(few * (1 - off), abs=0.01)  # an invoice prints cents


@pytest.mark.parametrize("name", ["board-drive", "plastics-old", "glass-alpha"])
def test_dear_or_scarce_parts_have_no_break(name):
    assert vendors.break_packs(part(name)) is None


@pytest.mark.parametrize("letter", vendors.VENDORS)
def test_lead_times_have_the_stated_mean_and_are_sometimes_late(letter):
    vendor = vendors.VENDORS[letter]
    rng = stream(4, "purchases")
    days = np.array([vendors.lead_days(rng, vendor) for _ in range(6000)])
    expected = vendor.mean_days + vendor.late_share * vendor.late_extra_days + 0.5  # rounded up to whole days
    assert abs(days.mean() - expected) < 4.5 * days.std() / np.sqrt(6000) + 0.05
    assert days.min() >= 1
    assert np.quantile(days, 0.99) > 2 * vendor.mean_days


def test_vendors_take_longer_than_they_say():
    for vendor in vendors.VENDORS.values():
        assert vendor.mean_days > vendor.quoted_days


def test_scarce_parts_can_be_had_only_while_a_run_is_open(world):
    index = catalogue.part_index()["plastics-old"]
    starts = vendors.runs(5, world)[index]
    inside = [start for start in starts if 0 <= start < world.n_days]
    assert 2 <= len(inside) <= 7
    assert all(vendors.can_buy(5, world, index, start) for start in inside)
    assert not vendors.can_buy(5, world, index, inside[0] + vendors.RUN_DAYS)
    assert min(np.diff(starts)) >= 250


def test_ended_parts_can_never_be_had_and_steady_ones_always(world):
    ended, steady = catalogue.part_index()["glass-alpha"], catalogue.part_index()["ball"]
    assert not any(vendors.can_buy(5, world, ended, day) for day in range(0, world.n_days, 5))
    assert all(vendors.can_buy(5, world, steady, day) for day in range(0, world.n_days, 50))
