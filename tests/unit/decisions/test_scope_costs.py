"""Cost of one machine's lines, by hand: prices, hours, call-backs, charges."""

from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope_costs, scope_plan, scope_shop
from pipeline.decisions.scope_outlook import KIND, KINDS, N_DRAWS, NEW
from pipeline.decisions.scope_prospect import prospect
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
        shop = scope_shop.shop(connection)
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


def _costs(option, other_calls=0.0, **tables):
    """Costs of one end, calls without a part left out unless asked for."""
    shop, subject, lines = _reckon(**tables)
    fix, thorough = scope_plan.fix_only(lines), scope_plan.thorough(shop, subject, lines)
    plan, other = (fix if option == "fix_only" else thorough), np.full(N_DRAWS, other_calls)
    return scope_costs.option_costs(shop, subject, lines, plan, other, fix), plan


def test_option_by_hand():
    costs, plan = _costs("thorough")
    assert costs.parts_amount == 3 * 15 + 3 * 1
    assert_allclose(costs.line_hours, 3 * 0.25 + 0.1 + 3 * 0.3)
    assert plan.opened.to_dict() == {"flip": 3.0, "light": 1.0}


def test_an_option_that_replaces_nothing_costs_nothing_now():
    costs, plan = _costs("fix_only")
    assert (costs.parts_amount, costs.line_hours, plan.opened.sum()) == (0, 0, 0)
    assert costs.later_amount > 0


def test_purses_part_the_five_years_between_them():
    # call-backs inside the warranty are the shop's; what comes after is the owner's, at the shop's prices
    costs, _ = _costs("fix_only")
    assert (costs.shop_later <= costs.later + 1e-9).all()
    assert (costs.owner_later >= 0).all()
    assert 0 < costs.shop_later_amount < costs.later_amount
    assert costs.owner_later_amount > 0


def test_a_warranty_of_five_years_leaves_the_owner_nothing_to_pay():
    costs, _ = _costs("fix_only", shop=BASE["shop"] + "\nwarranty_days 1826.25")
    assert_allclose(costs.owner_later, 0, atol=1e-9)
    assert_allclose(costs.owner_later_amount, 0, atol=1e-9)
    assert_allclose(costs.shop_later, costs.later)
    assert_allclose(costs.shop_later_amount, costs.later_amount)


@pytest.mark.parametrize("option", ["fix_only", "thorough"])
@pytest.mark.parametrize("purse", ["later", "shop_later", "owner_later"])
def test_machines_played_through_cost_on_average_what_is_expected(option, purse):
    costs, _ = _costs(option, other_calls=0.3)
    played = getattr(costs, purse)
    by_draw = played.reshape(scope_costs.PATHS_PER_DRAW, N_DRAWS).mean(axis=0)
    error = np.std(by_draw, ddof=1) / np.sqrt(N_DRAWS)
    assert error > 0
    assert abs(by_draw.mean() - getattr(costs, f"{purse}_amount")) < 4 * error


def test_calls_without_a_part_by_hand():
    # three tenths of a call, each the hours of such a call at 40, trip and goodwill; none of it is charged
    plain, called = (_costs("fix_only", other_calls)[0] for other_calls in (0.0, 0.3))
    each = 0.3 * (_reckon()[0].other_call_hours * 40 + 90)
    assert_allclose(called.later_amount - plain.later_amount, each)
    assert_allclose(called.shop_later_amount - plain.shop_later_amount, each)
    assert_allclose(called.owner_later_amount, plain.owner_later_amount)
    assert_allclose(1 - called.callback_share, (1 - plain.callback_share) * np.exp(-0.3))


def test_dearer_trip_and_wider_openings_are_in_the_call_back_alone_or_in_both():
    shop, subject, lines = _reckon()
    asked = scope_costs.terms(shop, trip_amount=80, open_ratio=2.0)
    other = scope_costs.priced_lines(shop, subject, asked)
    coil, asked_coil = (table[table["part"] == "coil"].iloc[0] for table in (lines, other))
    assert_allclose(asked_coil["call_amount"] - coil["call_amount"], (80 - 50) + 0.3 * 40)
    assert asked_coil["piece_now_amount"] == coil["piece_now_amount"]
    assert asked_coil["open_hours"] == 0.6


def test_terms_are_the_shop_s_own_unless_asked():
    asked = scope_costs.terms(_reckon()[0])
    assert (asked.trip_amount, asked.open_ratio, asked.horizon_days) == (50, 1, 5 * 365.25)


def test_lives_stand_in_the_order_of_the_lines():
    shop, subject, lines = _reckon()
    found = prospect(shop, subject, lines, 1826.25)
    assert list(lines["wear_class"]) == ["coil", "sleeve", "other"]
    place = [shop.outlook.classes.index(name) for name in lines["wear_class"]]
    assert found.wear.tolist() == place
    kept = KIND["unjudged", ""]
    again = shop.outlook.failures(subject.route_share, subject.is_clock_plays, 1826.25, [kept] * 3, place)
    assert_allclose(found.mean_of_lines(found.expected)[:, kept], again.expected.mean(axis=0))
    # two coils kept, and a new sleeve that counts tenfold
    pcs = np.zeros((3, len(KINDS)))
    pcs[0, kept], pcs[1, KIND[NEW, ""]] = 2, 1
    new = shop.outlook.failures(subject.route_share, subject.is_clock_plays, 1826.25, [KIND[NEW, ""]], [place[1]])
    assert_allclose(found.total(found.expected, pcs, np.array([1.0, 10.0, 1.0])),
                    2 * again.expected[:, 0] + 10 * new.expected[:, 0])


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
        assert 0 < shop.guesses.loc[wear_class, "prior_weight_share"] <= 1
