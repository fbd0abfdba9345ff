"""Orders are what a person of habit would place, and what vendors make of them."""

from types import SimpleNamespace

import numpy as np
import pytest

from pipeline.demo import catalogue, purchases, shelf, vendors
from pipeline.demo.shelf import Need


def index(part):
    return catalogue.part_index()[part]


@pytest.fixture
def buyer(world):
    opened = shelf.open_shelf(5, world)
    opened.at_hand[:] = np.maximum(opened.high, 0)  # nothing is due
    return purchases.open_books(5, world, opened)


def need(part, qty, since=0):
    return Need(SimpleNamespace(job="W23-001"), 0, index(part), qty, "failed", since)


def lines_of(buyer, part):
    return [line for order in buyer.orders for line in order.lines if line.part == index(part)]


def test_nothing_short_and_nothing_due_means_no_order(buyer):
    for day in range(30):
        buyer.order(day, [])
    assert buyer.orders == []


def test_what_is_short_for_a_job_waits_two_days_then_goes_off(buyer):
    short = int(buyer.shelf.at_hand[index("opto-lift")]) + 2
    buyer.order(0, [need("opto-lift", short)])
    buyer.order(1, [need("opto-lift", short)])
    assert buyer.orders == []
    buyer.order(2, [need("opto-lift", short)])
    (line,) = lines_of(buyer, "opto-lift")
    assert line.qty_pcs == 2
    assert buyer.shelf.on_order[index("opto-lift")] == 2


def test_what_is_on_its_way_is_not_ordered_again(buyer):
    short = int(buyer.shelf.at_hand[index("opto-lift")]) + 2
    for day in range(2, 4):
        buyer.order(day, [need("opto-lift", short)])
    assert len(lines_of(buyer, "opto-lift")) == 1


def test_a_scarce_part_is_ordered_only_while_its_run_is_open(buyer, world):
    part = index("plastics-old")
    closed = next(day for day in range(10, 500) if not vendors.can_buy(5, world, part, day))
    opened = next(day for day in range(closed, 1400) if vendors.can_buy(5, world, part, day))
    buyer.order(closed, [need("plastics-old", 1)])
    assert lines_of(buyer, "plastics-old") == []
    buyer.order(opened, [need("plastics-old", 1)])
    assert len(lines_of(buyer, "plastics-old")) == 1


def test_whole_packs_are_ordered(buyer):
    buyer.shelf.at_hand[index("terminal-crimp")] = 0
    buyer.shelf.low[index("terminal-crimp")] = -1
    buyer.order(5, [need("terminal-crimp", 130)])
    (line,) = lines_of(buyer, "terminal-crimp")
    assert line.qty_pcs == 200


def test_a_drawer_at_its_low_mark_is_filled_on_a_checking_day(buyer):
    part = int(np.argmax(buyer.shelf.high * (buyer.shelf.low > 0)))
    buyer.shelf.at_hand[part] = buyer.shelf.low[part]
    checks = [day for day in range(28) if day % 14 == 4]
    buyer.order(checks[0] - 1, [])
    assert buyer.orders == []
    buyer.order(checks[0], [])
    assert part in [line.part for order in buyer.orders for line in order.lines] or buyer.orders == []
    assert buyer.shelf.on_order[part] + buyer.shelf.at_hand[part] >= buyer.shelf.low[part]


def test_a_small_pressing_order_is_filled_up_to_the_vendors_minimum(buyer):
    buyer.shelf.at_hand[index("damper-lift")] = 0
    buyer.order(5, [need("damper-lift", 1)])
    (order,) = [order for order in buyer.orders if order.letter == "t"]
    goods = sum(line.qty_pcs * line.unit_price for line in order.lines)
    assert (
        goods > 0.94 * vendors.VENDORS["t"].minimum_order
    )  # a price differs by a few per cent from the list's


def test_receiving_moves_pieces_from_the_way_to_the_shelf(buyer):
    before = int(buyer.shelf.at_hand[index("opto-lift")])
    buyer.order(5, [need("opto-lift", before + 3)])
    (line,) = lines_of(buyer, "opto-lift")
    buyer.receive(line.due)
    back = sum(move[2] for move in buyer.shelf.moves if move[3] == "returned_to_vendor")
    assert buyer.shelf.at_hand[index("opto-lift")] == before + line.received_pcs + back
    assert buyer.shelf.on_order[index("opto-lift")] == 0


def every_order(ran):
    return ran.buyer.orders


def test_freight_is_free_exactly_above_the_threshold(ran):
    for order in every_order(ran):
        vendor = vendors.VENDORS[order.letter]
        goods = round(sum(line.qty_pcs * line.unit_price for line in order.lines), 2)
        free = vendor.freight_free_over is not None and goods >= vendor.freight_free_over
        assert order.freight == (0.0 if free else vendor.freight_flat)


def test_tax_duty_and_discount_follow_the_vendor(ran):
    for order in every_order(ran):
        vendor = vendors.VENDORS[order.letter]
        goods = round(sum(line.qty_pcs * line.unit_price for line in order.lines), 2)
        assert order.duty == pytest.approx(vendor.duty_share * goods, abs=0.011)
        assert order.tax == pytest.approx(vendor.tax_share * (goods - order.discount), abs=0.011)
        assert (order.discount > 0) == (order.letter == "f" and goods > 300)


def test_every_line_is_whole_packs_from_the_habitual_vendor(ran):
    for order in every_order(ran):
        for line in order.lines:
            part = catalogue.parts()[line.part]
            assert line.qty_pcs % part.pack_pcs == 0
            assert part.vendors[0] == order.letter
            assert 0 < line.received_pcs <= line.qty_pcs


def test_no_part_stands_twice_in_an_order(ran):
    for order in every_order(ran):
        parts = [line.part for line in order.lines]
        assert len(parts) == len(set(parts))


def test_few_lines_come_short(ran):
    lines = [line for order in every_order(ran) for line in order.lines]
    share = np.mean([line.received_pcs < line.qty_pcs for line in lines])
    assert 0 < share < 0.04


def test_scarce_parts_were_bought_in_runs_and_ended_ones_never(ran):
    for order in every_order(ran):
        for line in order.lines:
            assert vendors.can_buy(ran.seed, ran.world, line.part, order.ordered)


def test_prices_paid_rise_over_the_years(ran):
    by_year = {}
    for order in every_order(ran):
        for line in order.lines:
            if catalogue.parts()[line.part].part == "sleeve-nylon-std":
                by_year.setdefault(order.ordered // 365, []).append(line.unit_price)
    years = sorted(by_year)
    assert len(years) == 4
    assert np.mean(by_year[years[-1]]) > np.mean(by_year[years[0]])


def test_orders_are_numbered_by_year(ran):
    numbers = [order.order_no for order in every_order(ran)]
    assert len(numbers) == len(set(numbers))
    for order in every_order(ran):
        assert order.order_no.startswith(f"P{ran.world.on(order.ordered).year % 100}")


def test_the_shop_orders_about_twice_a_week_at_most(ran):
    a_year = len(every_order(ran)) / 4
    assert 40 < a_year < 130
