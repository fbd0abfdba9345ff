"""Facts of the trade, each with the tool's own functions. Common practice, no source, unless one stands beside it."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import hours_outlook, scope
from pipeline.decisions.variances import variances
from pipeline.kernels.scope import break_even_failures, callback_amount, piece_amount
from tests.support import hand_shop

# Three assemblies that hold a coil and a plunger each, eight emitter and receiver pairs between them, and the small
# parts that come along.
MECHANISMS = {
    "shop": "key value\ntoday 2026-07-01\nlabour_cost 30\noverhead_per_hour 10\nlabour_rate 60",
    "families": "family name\nshop Any",
    "parts": """part description wear_class unit_cost
        coil Coil coil 15
        plunger Plunger plunger 5
        sleeve Sleeve sleeve 1.2
        pair Emitter_and_receiver opto_pair 7""",
    "assemblies": "assembly bench_hours installed_hours open_hours\nlift 0.8 1.8 0.4\npath 0.8 2.8 0.9",
    "family_assemblies": "family assembly count\nshop lift 3\nshop path 1",
    "assembly_parts": """assembly part qty_pcs thorough_action fix_only_action
        lift coil 1 replace keep
        lift plunger 1 replace keep
        lift sleeve 1 keep keep
        lift pair 2 replace keep
        path pair 2 replace keep""",
    "companions": "trigger_wear_class adds_part\ncoil sleeve",
}


def _thorough(**tables):
    with hand_shop.store(**{**MECHANISMS, **tables}) as connection:
        found = scope.make(connection)
    options, lines = found.options, found.lines
    option = options[options["option"] == "thorough"].iloc[0]
    return option, lines[lines["option"] == "thorough"]


def _parts_amount(part):
    """Parts of the thorough option with this part alone on the list."""
    lists = MECHANISMS["assembly_parts"].splitlines()
    kept = [lists[0], *(line for line in lists[1:] if line.split()[1] == part)]
    return _thorough(
        assembly_parts="\n".join(kept), companions="trigger_wear_class adds_part share\ncoil sleeve 0"
    )[0]["parts_amount"]


def test_eight_emitter_receiver_pairs_at_7_are_56():
    # common practice, no source
    assert _parts_amount("pair") == 56


def test_three_coils_at_15_are_45():
    # common practice, no source
    assert _parts_amount("coil") == 45


def test_a_new_coil_brings_a_new_sleeve():
    # common practice, no source: the list keeps the sleeves, the rule replaces one for each of the three coils
    lines = _thorough()[1]
    sleeve = lines[lines["part"] == "sleeve"].iloc[0]
    assert sleeve["qty_pcs"] == 3
    assert "companion" in sleeve["why"]


def test_three_assemblies_come_to_about_120_in_parts():
    # common practice, no source: 56 + 45 + three plungers at 5 + small parts; "about" is within a twentieth
    assert_allclose(_thorough()[0]["parts_amount"], 120, rtol=0.05)


LOOKED_UP = {
    "shop": MECHANISMS["shop"] + "\npart_markup_share 0",
    "jobs": "job family scope booked_on delivered_on quoted_amount quoted_parts_amount\n"
    "J1 shop thorough 2026-05-01 2026-06-20 500 56",
    "job_parts": "job part qty_pcs used_on\nJ1 pair 8 2026-06-01",
    "vendors": "vendor\nnorth",
    # eight at 7 bought and sold again before the job was booked, eight at 9 bought for it
    "orders": "order_no vendor ordered_on\nP1 north 2026-04-01\nP2 north 2026-05-20",
    "order_lines": "order_no part qty_pcs unit_price received_on\n"
    "P1 pair 8 7 2026-04-05\nP2 pair 8 9 2026-05-25",
    "stock_moves": "part moved_on qty_pcs kind\npair 2026-04-10 -8 sold",
}


def test_the_pair_looked_up_costs_9_and_moves_the_quote():
    # common practice, no source
    offers = "vendor part pack_price quoted_on\nnorth pair 9 2026-06-30"
    remembered, looked_up = _thorough()[0], _thorough(vendors="vendor\nnorth", offers=offers)[0]
    assert_allclose(looked_up["parts_amount"] - remembered["parts_amount"], 8 * (9 - 7))


def test_the_price_paid_is_29_percent_above_the_guess():
    # common practice, no source: a price known as 7 when the job was booked, paid as 9, is a price variance
    with hand_shop.store(**{**MECHANISMS, **LOOKED_UP}) as connection:
        price = variances(connection).set_index("kind").loc["parts_price"]
    assert price["variance_amount"] == 16
    assert_allclose(price["actual_amount"] / price["quoted_amount"] - 1, 0.29, atol=0.005)


def test_a_moulded_reproduction_part_needs_fitting_time():
    # common practice, no source; a quarter of an hour to one and a half, from memory
    offers = "vendor part pack_price quoted_on fit_hours\nnorth {part} 8 2026-06-30 {hours}"
    parts = MECHANISMS["parts"] + "\n        hood Moulded_hood moulding 8"
    lists = MECHANISMS["assembly_parts"] + "\n        lift hood 1 replace keep"
    plain, fitted = (
        _thorough(
            parts=parts,
            assembly_parts=lists,
            vendors="vendor\nnorth",
            offers=offers.format(part="hood", hours=hours),
        )
        for hours in (0, 0.5)
    )
    assert_allclose(fitted[0]["bench_hours"] - plain[0]["bench_hours"], 3 * 0.5)
    now = [lines.set_index("part").loc["hood", "now_amount"] for _, lines in (plain, fitted)]
    assert_allclose(now[1] - now[0], 3 * 0.5 * 40)


@pytest.mark.parametrize("pair", ["up_kicker", "diverter"])
@pytest.mark.parametrize("fitted_parts", [0, 2, 3])
def test_two_up_kickers_and_a_transport_take_six_to_eight_hours(pair, fitted_parts):
    # common practice, no source: restored with cleaning, wiring and fitting, the machine stripped already; the tool's
    # seed hours and shares, and a quarter of an hour for each moulded part that needs fitting (three at most)
    found = hours_outlook.restored_hours(pd.Series({pair: 2, "transport": 1}), fitting_hours=0.25 * fitted_parts)
    assert 6 <= found <= 8


@pytest.mark.parametrize(
    ("price", "minutes", "call_back", "share"),
    [
        (1, 3, 250, 0.017),
        (2, 2, 150, 0.028),
        (9, 6, 250, 0.06),
        (25, 10, 250, 0.14),
        (45, 15, 300, 0.20),
        (250, 20, 400, 0.68),
    ],
    ids=["sleeve", "stroke switch leaf", "switch", "coil", "emitter and receiver board", "display"],
)
def test_break_even_of_common_parts(price, minutes, call_back, share):
    # Computed from the definition (cost of replacing now / cost of a call-back) at 65 an hour; prices from memory.
    now = piece_amount(price, minutes / 60, 0.0, 65.0)
    assert_allclose(break_even_failures(now, call_back), share, atol=0.0055)


def test_cheap_hidden_parts_go_in_and_dear_visible_ones_wait():
    # common practice, no source: at one chance in ten of failing, the sleeve pays and the display does not
    sleeve, display = (
        break_even_failures(piece_amount(price, hours, 0.0, 65.0), call_back)
        for price, hours, call_back in ((1, 0.05, 250), (250, 0.33, 400))
    )
    assert sleeve < 0.1 < display


def test_a_call_back_is_dearer_than_the_part():
    # From memory: 2 h at 65, 60 of travel and 25 of parts are 215.
    assert_allclose(callback_amount(25.0, 0.0, 1.0, 2.0, 65.0, 60.0), 215)


def test_doing_it_later_costs_the_hours_of_an_assembled_machine():
    # From memory: a transport under the playfield takes 0.75 h apart and 2.75 h together, three to four times as long.
    now = piece_amount(0.0, 0.75, 0.0, 60.0)
    later = callback_amount(now, 0.75, 2.75 / 0.75, 0.0, 60.0, 0.0)
    assert 3 < later / now < 4


def test_a_memoryless_part_is_not_worth_replacing_early():
    # Cox (1962), Renewal Theory: a life without memory is as good old as new, so early replacement only costs.
    wear = """wear_class median_plays_new median_plays_kept median_months_new median_months_kept shape weight_jobs
        coil 50000 50000 50 50 1 2000"""
    lines = _thorough(wear=wear)[1].set_index("part")
    assert abs(lines.loc["coil", "failures_avoided"]) < lines.loc["coil", "break_even_failures"]
    assert not np.isnan(lines.loc["coil", "failures_avoided"])


# The same machine for somebody who mends it at home for the joy of it, and for a shop that ships it: the first counts
# neither own hours nor a trip nor goodwill, the second all three.
TINKERER = {"labour_cost": 0, "overhead_per_hour": 0, "callback_trip_cost": 0, "callback_goodwill_cost": 0}
SHIPPED = {"labour_cost": 30, "overhead_per_hour": 10, "callback_trip_cost": 150, "callback_goodwill_cost": 100}
WORN_MECHANISMS = """wear_class median_plays_new median_plays_kept median_months_new median_months_kept shape weight_jobs
    sleeve 100000 3000 300 15 2 20
    coil 900000 60000 600 150 1.5 20
    plunger 200000 30000 300 80 2 20
    opto_pair 900000 90000 900 240 1.2 20"""


def _pieces_recommended(settings):
    """Pieces that the recommended scope works on, by assembly and part."""
    shop = "\n".join(["key value", "today 2026-07-01", "labour_rate 60", *(f"{key} {value}" for key, value in
                                                                           settings.items())])
    with hand_shop.store(**{**MECHANISMS, "shop": shop, "wear": WORN_MECHANISMS}) as connection:
        lines = scope.scope_lines(connection)
    done = lines[(lines["option"] == "recommended") & lines["part"].notna() & (lines["action"] != "keep")]
    return done.groupby(["assembly", "part"])["qty_pcs"].sum()


def test_who_mends_at_home_does_less_than_who_ships():
    # common practice, no source: with the same records a machine that comes back costs the tinkerer a part and the
    # shop a journey, so the shop goes further
    at_home, shipped = _pieces_recommended(TINKERER), _pieces_recommended(SHIPPED)
    assert set(at_home.index) == {("lift", "sleeve")}  # for the chance of no call-back alone: the cheapest way to it
    assert set(at_home.index) < set(shipped.index)
    assert (at_home <= shipped.reindex(at_home.index) + 1e-9).all()
    assert at_home.sum() < shipped.sum()
