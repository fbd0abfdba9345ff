"""Every line of an option: what it costs adds up, what stays costs nothing, and each says why."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions.scope_lines import option_lines
from tests.support import scope_bench
from tests.support.scope_bench import BASE, HOUR_COST

LIST = "assembly part qty_pcs piece_hours thorough_action fix_only_action\n"
HOURS = {
    "jobs": BASE["jobs"]
    + "".join(
        f"\nT{n} ss thorough delivered home 2026-01-01 read\nF{n} ss fix_only delivered home 2026-01-01 read"
        for n in range(4)
    ),
    "job_parts": "job part qty_pcs\nR1 coil 1"
    + "".join(f"\nT{n} coil 3\nT{n} sleeve 3\nF{n} sleeve 1" for n in range(4)),
    "job_hours": "job hours" + "".join(f"\nT{n} {40 + n}\nF{n} {3 + n / 4}" for n in range(4)),
}
OPEN = {
    "jobs": BASE["jobs"] + "\nO1 ss refresh in_progress home - read",
    "job_parts": "job part qty_pcs\nR1 coil 1",
    "findings": "job assembly part qty_pcs condition action\nO1 flip coil 1 failed -\nO1 flip coil 1 worn -\n"
    "O1 flip sleeve 2 worn -",
}
WORN = {"shop": {"plays_per_month_home": "300"}, "quiet_share": 0.5, **scope_bench.WORN}
SHOPS = {
    "plain": {},
    "worn": WORN,
    "hours": HOURS,
    "open job": OPEN,
    "open job, worn": WORN | OPEN,
    "treated": {"assembly_parts": LIST + "flip coil 1 0.2 clean keep\nflip sleeve 1 0.05 recondition keep"}
    | WORN
    | {"shop": {"plays_per_month_home": "300", "callback_trip_cost": "600"}},
}


def lines(option, subject="family:ss", **tables):
    found = scope_bench.made(**tables).lines
    return found[(found["option"] == option) & (found["subject"] == subject)]


@pytest.mark.parametrize("case", SHOPS)
def test_lines_add_up_to_what_the_option_costs_now(case):
    found = scope_bench.made(**SHOPS[case])
    options = found.options.set_index(["subject", "option"])
    now = found.lines.groupby(["subject", "option"])["now_amount"].sum().reindex(options.index, fill_value=0.0)
    assert_allclose(now, options["parts_amount"] + options["bench_hours"] * HOUR_COST, atol=1e-9)


@pytest.mark.parametrize("case", SHOPS)
def test_the_frontier_and_the_recommended_option_tell_the_same_cost(case):
    found = scope_bench.made(**SHOPS[case])
    options = found.options.set_index(["subject", "option"])
    for name, machine in found.machines.items():
        quiet_share = SHOPS[case].get("quiet_share", 0.85)
        table, own = machine.frontier.table, options.loc[(name, "recommended")]
        chosen = table.iloc[machine.frontier.best(quiet_share)]
        assert_allclose(chosen["now_amount"], own["parts_amount"] + own["bench_hours"] * HOUR_COST)
        assert_allclose(chosen["later_amount"], own["later_cost_amount"])
        assert_allclose(chosen["quiet_share"], 1 - own["callback_share"])


@pytest.mark.parametrize("case", SHOPS)
def test_every_line_has_a_reason_and_what_stays_costs_nothing(case):
    found = scope_bench.made(**SHOPS[case]).lines
    assert (found["why"].str.len() > 20).all()
    stays = found[found["action"] == "keep"]
    assert (stays["now_amount"] == 0).all()
    assert (stays["option"] == "recommended").all()
    assert stays["why"].str.startswith("stays").all()


def test_what_stays_is_what_thorough_does_and_the_recommended_scope_does_not():
    kept = lines("recommended")
    kept = kept[kept["action"] == "keep"].set_index("part")
    assert kept["qty_pcs"].to_dict() == {"coil": 3, "sleeve": 3}
    assert "opening not counted" in kept.loc["coil", "why"]
    assert "but not with its share of opening and putting back flip" in kept.loc["sleeve", "why"]


def test_what_pays_goes_in_and_says_from_where():
    sleeve = lines("recommended", **WORN).set_index("part").loc["sleeve"]
    assert sleeve["action"] == "replace"
    assert sleeve["why"].startswith("pays: over five years avoids")
    assert sleeve["failures_avoided"] > sleeve["break_even_failures"]


def test_what_the_asked_chance_wants_beyond_what_pays_says_so():
    asked = WORN | {"shop": {"plays_per_month_home": "500"}, "quiet_share": 0.875}
    coil = lines("recommended", **asked).set_index("part").loc["coil"]
    assert coil["action"] == "replace"
    assert coil["why"].startswith("goes in for the chance of no call-back that is asked")


def test_a_thorough_line_holds_the_failed_pieces_and_weighs_the_others_alone():
    # one coil failed: of the two that thorough replaces one is a choice, at 15 and 0.2 h
    thorough, fix = (
        lines(option, "job:O1", **OPEN).set_index("part").loc["coil"] for option in ("thorough", "fix_only")
    )
    assert (fix["qty_pcs"], thorough["qty_pcs"]) == (1, 2)
    assert_allclose([fix["now_amount"], thorough["now_amount"]], [23, 46])
    assert_allclose(thorough["break_even_failures"], 23 / (15 + 0.7 * HOUR_COST + 90))
    assert np.isnan(fix["break_even_failures"])
    assert fix["why"].startswith("what had failed or had to go")


def test_a_class_of_two_kinds_of_failure_is_warned_of():
    machine, shop = scope_bench.machine(**WORN)
    is_sleeve = shop.guesses.index.get_level_values("wear_class") == "sleeve"
    mixed = replace(shop, guesses=shop.guesses.assign(mixes=is_sleeve))
    told = option_lines(mixed, machine, "thorough", machine.plans()["thorough"]).set_index("part")["why"]
    assert "sleeve failures mix wear-out with chance" in told["sleeve"]
    assert "mix wear-out" not in told["coil"]


def test_a_part_without_a_price_that_comes_along_is_stated_and_never_zero():
    # a glass comes with every sleeve, and nobody knows its price
    tables = WORN | {
        "assembly_parts": BASE["assembly_parts"] + "\nflip glass 1 0.1 keep keep",
        "companions": "trigger_part adds_part\nsleeve glass",
        "job_parts": "job part qty_pcs\nR1 coil 1",
    }
    glass = lines("recommended", **tables).set_index("part").loc["glass"]
    assert glass["qty_pcs"] == 3
    assert np.isnan(glass["now_amount"])
    assert "no price known (0 is none): not in the sums" in glass["why"]
    own = scope_bench.made(**tables).options.set_index(["subject", "option"]).loc[("family:ss", "recommended")]
    assert own["parts_amount"] == 3  # the sleeves


def test_an_assembly_without_parts_is_not_opened_and_costs_nothing():
    tables = {
        "assemblies": BASE["assemblies"] + "\nempty 5 9 2",
        "family_assemblies": BASE["family_assemblies"] + "\nss empty 1",
    }
    assert not (scope_bench.made(**tables).lines["assembly"] == "empty").any()
    plain, with_it = (scope_bench.made(**each).options for each in ({}, tables))
    assert plain.equals(with_it)


@pytest.mark.parametrize(
    "tables",
    [
        {"callbacks": ""},
        {"jobs": BASE["jobs"].replace("delivered home 2026-01-01", "booked home -"), "callbacks": ""},
        {"jobs": BASE["jobs"].replace(" read", " reset_suspected")},
    ],
    ids=["no call-backs", "no deliveries", "plays reset"],
)
def test_thin_records_leave_figures_and_name_the_guess(tables):
    found = scope_bench.made(**tables)
    assert found.options.notna().all().all()
    weighed = found.lines[found.lines["failures_avoided"].notna()]
    assert len(weighed) > 2
    assert weighed["why"].str.contains("the owner's guess still decides").all()


def test_hours_nobody_wrote_leave_no_line_of_the_job_s_own():
    assert not (scope_bench.made().lines["action"] == "start").any()
    start = lines("fix_only", **HOURS)
    start = start[start["action"] == "start"].iloc[0]
    assert start["now_amount"] > 0
    assert "intake, finding the fault, test and admin" in start["why"]
    thorough = lines("thorough", **HOURS)
    assert "whole machine" in thorough[thorough["action"] == "start"]["why"].iloc[0]


def test_unseen_hours_stand_with_the_opening_and_say_where_they_come_from():
    opened = lines("thorough")
    why = opened[opened["action"] == "open"]["why"].iloc[0]
    assert "6.4 hours of cleaning and wiring, by the seed table's shares (from memory)" in why


def test_a_treated_line_costs_hours_and_no_parts():
    coil = lines("recommended", **SHOPS["treated"]).set_index("part").loc["coil"]
    assert (coil["action"], coil["qty_pcs"]) == ("clean", 3)
    assert_allclose(coil["now_amount"], 3 * 0.2 * 0.5 * HOUR_COST)
    assert "cleaned, as the assembly list names it" in coil["why"]
