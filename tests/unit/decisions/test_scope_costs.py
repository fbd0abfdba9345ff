"""Cost of one machine's lines, by hand: prices, hours, call-backs, charges."""

from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope_costs
from pipeline.decisions.scope_subject import subjects
from pipeline.models import seeds
from tests.support import hand_shop

BASE = {
    "shop": "key value\ntoday 2026-07-01\nlabour_rate 60\nlabour_cost 30\noverhead_per_hour 10\n"
    "part_markup_share 0.5\ncallback_trip_cost 50\ncallback_goodwill_cost 40",
    "families": "family name\nss Solid-state",
    "parts": "part description wear_class unit_cost\ncoil Coil coil 15\nsleeve Sleeve sleeve 1\nglass Glass other -",
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3\nlight - - -",
    "family_assemblies": "family assembly count\nss flip 3\nss light 1",
    "assembly_parts": """assembly part qty_pcs piece_hours thorough_action
        flip coil 1 0.2 replace
        flip sleeve 1 0.05 replace
        light glass 1 0.1 replace""",
    "vendors": "vendor\nnorth",
}


@cache
def _reckon(**tables):
    with hand_shop.store(**{**BASE, **tables}) as connection:
        shop = scope_costs.shop(connection)
        subject = subjects(connection)[0]
    return shop, subject, scope_costs.priced_lines(shop, subject)


def _line(part, **tables):
    lines = _reckon(**tables)[2]
    return lines[lines["part"] == part].iloc[0]


def test_own_hour_holds_labour_and_overhead():
    assert _reckon()[0].hour_cost == 40


def test_a_piece_now():
    assert _line("coil")["piece_now_amount"] == 15 + 0.2 * 40


def test_a_call_back_at_the_shops_cost():
    # the piece, 0.2 h x 2 installed, 0.3 h to open again, trip and goodwill
    assert_allclose(_line("coil")["call_amount"], 15 + 0.4 * 40 + 0.3 * 40 + 90)


def test_a_call_back_as_charged_has_markup_and_rate_and_no_goodwill():
    assert_allclose(_line("coil")["charged_call_amount"], 15 * 1.5 + 0.4 * 60 + 0.3 * 60 + 50)


def test_an_unknown_price_is_unknown_now_and_its_call_back_counts_the_work():
    line = _line("glass")
    assert np.isnan(line["piece_now_amount"])
    assert line["call_amount"] > 90


def test_an_assembly_that_does_not_say_takes_the_seed_tables_ratio():
    line = _line("glass")
    assert line["installed_ratio"] == seeds.installed_ratio()
    assert line["open_hours"] == 0


def test_rejects_make_the_good_pieces_dearer():
    offers = "vendor part pack_price quoted_on reject_share\nnorth coil 15 2026-01-01 0.25"
    line = _line("coil", offers=offers)
    assert_allclose(line["unit_price"], 20)
    assert_allclose(line["piece_now_amount"], 20 + 0.2 * 40)


def test_fitting_time_is_in_the_piece_and_in_its_call_back():
    offers = "vendor part pack_price quoted_on fit_hours\nnorth coil 15 2026-01-01 0.5"
    plain, fitted = _line("coil"), _line("coil", offers=offers)
    assert_allclose(fitted["piece_now_amount"] - plain["piece_now_amount"], 0.5 * 40)
    assert_allclose(fitted["call_amount"] - plain["call_amount"], 0.5 * 40)


def test_landed_price_comes_before_the_offer():
    line = _line(
        "coil",
        offers="vendor part pack_price quoted_on\nnorth coil 99 2026-01-01",
        orders="order_no vendor ordered_on freight\nP1 north 2026-02-01 4",
        order_lines="order_no part qty_pcs unit_price received_on\nP1 coil 4 12 2026-02-05",
    )
    assert_allclose(line["unit_price"], 12 + 1)
    assert line["price_from"] == "landed"


def test_option_by_hand():
    shop, subject, lines = _reckon()
    costs = scope_costs.option_costs(shop, subject, lines, "thorough")
    assert costs.parts_amount == 3 * 15 + 3 * 1
    assert_allclose(costs.line_hours, 3 * 0.25 + 0.1 + 3 * 0.3)
    assert costs.opened.to_dict() == {"flip": 3.0, "light": 1.0}


def test_an_option_that_replaces_nothing_costs_nothing_now():
    shop, subject, lines = _reckon()
    costs = scope_costs.option_costs(shop, subject, lines, "fix_only")
    assert (costs.parts_amount, costs.line_hours, costs.opened.sum()) == (0, 0, 0)
    assert (costs.later > 0).all()


def test_purses_part_the_five_years_between_them():
    # call-backs inside the warranty are the shop's; what comes after is the owner's, at the shop's prices
    shop, subject, lines = _reckon()
    costs = scope_costs.option_costs(shop, subject, lines, "fix_only")
    assert (costs.shop_later <= costs.later + 1e-9).all()
    assert (costs.owner_later >= 0).all()


def test_a_warranty_of_five_years_leaves_the_owner_nothing_to_pay():
    shop, subject, lines = _reckon(shop=BASE["shop"] + "\nwarranty_days 1826.25")
    costs = scope_costs.option_costs(shop, subject, lines, "fix_only")
    assert_allclose(costs.owner_later, 0, atol=1e-9)
    assert_allclose(costs.shop_later, costs.later)


def test_failures_stand_in_the_order_of_the_lines():
    shop, subject, lines = _reckon()
    found = scope_costs.failures(shop, subject, 1826.25)
    classes = dict(zip(lines["part"], lines["wear_class"], strict=True))
    assert list(classes) == ["coil", "sleeve", "glass"]
    again = shop.outlook.failures(subject.route_share, subject.is_clock_plays, 1826.25)
    for column, wear_class in enumerate(classes.values()):
        assert_allclose(found.kept[:, column], again.kept[:, shop.outlook.classes.index(wear_class)])


@pytest.mark.parametrize(
    ("calls", "hours"),
    [
        ("job reported_on part hours\nJ1 2026-02-01 - 1.5\nJ1 2026-02-02 - 2.5\nJ1 2026-02-03 coil 9", 2.0),
        ("job reported_on part hours\nJ1 2026-02-03 coil 3", 3.0),
        (
            "job reported_on part hours\nJ1 2026-02-03 - -",
            float(seeds.assemblies()["installed_hours"].median()),
        ),
    ],
    ids=["own calls without a part", "calls of any kind", "nobody wrote hours down"],
)
def test_hours_of_a_call_without_a_part(calls, hours):
    jobs = "job family scope delivered_on\nJ1 ss fix_only 2026-01-15"
    shop = _reckon(jobs=jobs, job_parts="job part qty_pcs\nJ1 coil 1", callbacks=calls)[0]
    assert shop.other_call_hours == hours


def test_how_far_the_guess_decides_is_known_for_every_class():
    shop, _, lines = _reckon()
    for wear_class in lines["wear_class"]:
        for clock in ("plays", "months"):
            assert 0 < shop.guesses.loc[(wear_class, clock), "prior_weight_share"] <= 1
