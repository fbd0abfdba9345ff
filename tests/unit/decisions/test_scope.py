"""Fix-only, recommended and thorough: sums by hand, two purses, and what is said where something is not known."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope, scope_costs
from pipeline.decisions.scope_lines import RARE_PCS
from tests.support import hand_shop, scope_bench
from tests.support.scope_bench import BASE


def _tables(**tables):
    found = scope_bench.made(**tables)
    return found.options.set_index(["subject", "option"]), found.lines


def _option(option="thorough", subject="family:ss", **tables):
    return _tables(**tables)[0].loc[(subject, option)]


def test_three_options_from_the_least_to_the_most():
    options, _ = _tables(shop={"plays_per_month_home": "500"}, quiet_share=0.8, **scope_bench.WORN)
    fix, recommended, thorough = (options.loc[("family:ss", option)] for option in scope.OPTIONS)
    assert fix["price_amount"] < recommended["price_amount"] < thorough["price_amount"]
    assert fix["parts_amount"] == 0
    assert recommended["parts_amount"] == 3  # the worn sleeves, and the coils stay
    assert thorough["parts_amount"] == 48


OPTION_COLUMNS = """subject option parts_amount bench_hours price_amount callback_share later_cost_amount
    later_cost_low_amount later_cost_high_amount shop_cost_amount shop_cost_low_amount shop_cost_high_amount
    owner_cost_amount owner_cost_low_amount owner_cost_high_amount wait_days bay_amount"""
LINE_COLUMNS = "subject option assembly part qty_pcs action now_amount failures_avoided break_even_failures why"


def test_columns_are_the_contracts():
    options, lines = _tables()
    assert list(options.reset_index().columns) == scope.OPTION_COLUMNS == OPTION_COLUMNS.split()
    assert list(lines.columns) == scope.LINE_COLUMNS == LINE_COLUMNS.split()


def test_now_by_hand():
    row = _option()
    # 3 coils at 15 and 3 sleeves at 1; 3 x (0.2 + 0.05) h for the pieces and 3 x 0.3 h to open; with each of the 3
    # bench hours of the assemblies, cleaning and wiring as the seed table shares them: (0.25 + 0.125) / 0.175
    hours = 0.75 + 0.9 + 3 * 0.375 / 0.175
    assert row["parts_amount"] == 48
    assert_allclose(row["bench_hours"], hours)
    assert_allclose(row["price_amount"], 48 * 1.5 + hours * 60)


def test_fixing_now_by_hand():
    # one coil of three failed at every machine that came: 15 and 0.2 h, one of three flippers opened for 0.3 h, and
    # nothing is cleaned or wired beyond it
    found = "job assembly part qty_pcs condition\nO1 flip coil 1 failed\nO1 flip sleeve 3 good"
    row = _option("fix_only", "job:O1", jobs=BASE["jobs"] + "\nO1 ss refresh in_progress home - read", findings=found)
    assert row["parts_amount"] == 15
    assert_allclose(row["bench_hours"], 0.2 + 0.3)


def test_lines_by_hand():
    _, lines = _tables()
    lines = lines[lines["option"] == "thorough"]
    lines = lines.set_index(lines["part"].fillna("open"))
    assert_allclose(lines.loc["coil", "now_amount"], 3 * (15 + 0.2 * 40))
    assert_allclose(lines.loc["open", "now_amount"], (3 * 0.3 + 3 * 0.375 / 0.175) * 40)
    assert lines.loc["open", "action"] == "open"
    # a call-back: the piece 15, 0.2 h x 2 installed and 0.3 h to open at 40, trip and goodwill 90
    assert_allclose(lines.loc["coil", "break_even_failures"], 3 * 23 / (15 + 0.7 * 40 + 90))


def test_cheap_hidden_part_pays_and_the_dear_one_does_not():
    _, lines = _tables(shop={"plays_per_month_home": "500"})
    lines = lines[lines["option"] == "thorough"].set_index("part")
    assert lines.loc["sleeve", "failures_avoided"] > lines.loc["sleeve", "break_even_failures"]
    assert lines.loc["sleeve", "why"].startswith("pays: over five years")
    assert lines.loc["coil", "failures_avoided"] < lines.loc["coil", "break_even_failures"]
    assert "does not pay" in lines.loc["coil", "why"]


def test_thorough_costs_more_now_and_less_later():
    options, _ = _tables()
    thorough, fix = (options.loc[("family:ss", option)] for option in ("thorough", "fix_only"))
    assert thorough["price_amount"] > fix["price_amount"]
    assert thorough["later_cost_amount"] < fix["later_cost_amount"]


def test_thorough_has_fewer_part_call_backs_and_no_fewer_calls_without_a_part():
    # new parts fail later; every assembly opened is disturbed, which no part is to blame for
    machine, shop = scope_bench.machine()
    choice, plans, none = machine.choice, machine.plans(), np.zeros(len(shop.other_call_draws))
    share = {
        option: scope_costs.option_costs(shop, machine.subject, choice.lines, plan, none, choice.fix).callback_share
        for option, plan in plans.items()
    }
    assert share["thorough"] < share["fix_only"]
    without = {option: choice.other_calls_of(plan) for option, plan in plans.items()}
    assert (without["thorough"] >= without["fix_only"]).all()
    assert without["thorough"].mean() > without["fix_only"].mean()


def test_fewer_parts_failing_does_not_make_up_for_calls_without_one_where_none_would_have_failed():
    # nothing of this machine fails inside the warranty: what opening it disturbs is all that can bring it back
    sturdy = BASE["wear"].replace("5000 100 20", "9000000 9000 9000")
    options, _ = _tables(wear=sturdy)
    share = options["callback_share"].loc["family:ss"]
    assert share["thorough"] > share["fix_only"]
    assert share["recommended"] == share["fix_only"]


def test_ranges_are_of_single_machines():
    # most machines never come back inside the warranty: the lower figure is the work alone
    options, _ = _tables()
    for purse in ("later", "shop", "owner"):
        assert (options[f"{purse}_cost_low_amount"] <= options[f"{purse}_cost_amount"]).all()
        assert (options[f"{purse}_cost_low_amount"] <= options[f"{purse}_cost_high_amount"]).all()
    fix = options.loc[("family:ss", "fix_only")]
    assert fix["later_cost_low_amount"] < fix["later_cost_amount"] < fix["later_cost_high_amount"]
    assert_allclose(fix["shop_cost_low_amount"], fix["parts_amount"] + fix["bench_hours"] * 40)


def test_the_shops_purse_ends_with_the_warranty():
    short = _option("fix_only", shop={"warranty_days": "0.5"})
    assert short["callback_share"] < 0.002
    now = short["parts_amount"] + short["bench_hours"] * 40
    assert_allclose(short["shop_cost_amount"], now, atol=2)
    assert short["owner_cost_amount"] > short["price_amount"] + 50


def test_a_dearer_trip_weighs_on_fixing_only_most():
    near, far = (_tables(shop={"callback_trip_cost": trip})[0]["later_cost_amount"] for trip in ("50", "250"))
    rise = far - near
    assert rise["family:ss", "fix_only"] > rise["family:ss", "thorough"] > 0


def test_goodwill_is_the_shops_and_never_charged():
    plain, dear = (_option("fix_only", shop={"callback_goodwill_cost": amount}) for amount in ("0", "400"))
    assert dear["shop_cost_amount"] > plain["shop_cost_amount"]
    assert_allclose(dear["owner_cost_amount"], plain["owner_cost_amount"])


def test_hours_of_such_jobs_come_before_those_of_the_lines():
    jobs = BASE["jobs"] + "".join(f"\nT{n} ss thorough delivered home 2026-01-01 read" for n in range(5))
    clock = "job hours\n" + "\n".join(f"T{n} {60 + n}" for n in range(5))
    used = BASE["job_parts"] + "".join(f"\nT{n} coil 3\nT{n} sleeve 3" for n in range(5))
    assert 55 < _option(jobs=jobs, job_hours=clock, job_parts=used)["bench_hours"] < 70


def test_an_open_job_moves_the_hours_by_its_own_lines():
    jobs = BASE["jobs"] + "".join(f"\nT{n} ss thorough delivered home 2026-01-01 read" for n in range(5))
    jobs += "\nO1 ss thorough in_progress home - read"
    clock = "job hours\n" + "\n".join(f"T{n} 60" for n in range(5))
    used = BASE["job_parts"] + "".join(f"\nT{n} coil 3\nT{n} sleeve 3" for n in range(5))
    found = "job assembly part qty_pcs condition\nO1 flip coil 3 good\nO1 flip sleeve 3 good"
    options, _ = _tables(jobs=jobs, job_hours=clock, job_parts=used, findings=found)
    hours = options["bench_hours"]
    # all pieces found good: none of the 8.08 h for them (0.75 + 0.9 + 3 x 0.375 / 0.175), but what belongs to no line;
    # a family's own three pieces are drawn towards other families' jobs, so a little less
    assert 6.5 < hours["family:ss", "thorough"] - hours["job:O1", "thorough"] < 8.08


def test_a_part_without_price_is_stated_and_never_zero():
    lists = BASE["assembly_parts"] + "\nflip glass 1 0.1 replace keep"
    options, lines = _tables(assembly_parts=lists)
    line = lines[(lines["part"] == "glass") & (lines["option"] == "thorough")].iloc[0]
    assert np.isnan(line["now_amount"])
    assert "no price known (0 is none): not in the sums" in line["why"]
    assert options.loc[("family:ss", "thorough"), "parts_amount"] == 48


def test_without_lists_everything_later_is_unknown_and_says_what_would_tell():
    options, lines = _tables(
        assembly_parts="",
        family_assemblies="",
        assemblies="",
        jobs=BASE["jobs"] + "\nT1 ss thorough delivered home 2026-01-01 read",
        job_parts=BASE["job_parts"] + "\nT1 coil 3",
    )
    row = options.loc[("family:ss", "thorough")]
    assert row["parts_amount"] > 15
    assert row[["callback_share", "later_cost_amount", "shop_cost_amount", "owner_cost_amount"]].isna().all()
    assert lines["why"].str.contains("assembly_parts.csv").any()


def test_the_guess_is_named_where_it_decides():
    _, lines = _tables()
    thorough = lines[(lines["option"] == "thorough") & lines["part"].notna()]
    assert thorough["why"].str.contains("the owner's guess still decides").all()


def test_every_line_says_why():
    _, lines = _tables()
    assert (lines["why"].str.len() > 20).all()


def test_no_families_at_all():
    with hand_shop.store(parts="part description\ncoil Coil") as connection:
        found = scope.make(connection)
    assert found.machines == {}
    for table, columns in (
        (found.options, scope.OPTION_COLUMNS),
        (found.lines, scope.LINE_COLUMNS),
        (found.frontiers, scope.FRONTIER_COLUMNS),
        (found.calls, scope.CALL_COLUMNS),
    ):
        assert table.empty
        assert list(table.columns) == columns


@pytest.mark.parametrize("table", ["wear", "callbacks", "family_assemblies", "assembly_parts", "job_parts"])
def test_each_optional_file_may_be_missing(table):
    options, _ = _tables(**{table: ""})
    assert options["parts_amount"].notna().all()


def test_the_same_records_give_the_same_tables():
    first = _tables()
    scope_bench.forget()
    second = _tables()
    assert first[0].equals(second[0])
    assert first[1].equals(second[1])


def test_single_tables_are_those_made_together():
    with hand_shop.store(**BASE) as connection:
        found = scope.make(connection)
        assert scope.scope_options(connection).equals(found.options)
        assert scope.scope_lines(connection).equals(found.lines)


def test_rare_lines_are_summed_up_in_one():
    # thirty fix-only jobs, one of which took a coil: a thirtieth of a piece a job, below one in twenty
    jobs = BASE["jobs"] + "".join(f"\nF{n} ss fix_only delivered home 2026-01-01 read" for n in range(30))
    used = "job part qty_pcs\nR1 coil 1\nF0 coil 1" + "".join(f"\nF{n} sleeve 1" for n in range(30))
    options, lines = _tables(jobs=jobs, job_parts=used)
    lines = lines[lines["option"] == "fix_only"]
    rare = lines[lines["part"].isna() & (lines["action"] == "replace")].iloc[0]
    assert "rarer than one piece in twenty" in rare["why"]
    assert 0 < rare["qty_pcs"] < RARE_PCS
    assert not (lines["part"] == "coil").any()
    own = options.loc[("family:ss", "fix_only")]
    assert_allclose(lines["now_amount"].sum(), own["parts_amount"] + own["bench_hours"] * 40)
