"""Fix-only beside thorough: sums by hand, two purses, and what is said where something is not known."""

from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope
from tests.support import hand_shop

SHOP = {
    "today": "2026-07-01",
    "labour_rate": "60",
    "labour_cost": "30",
    "overhead_per_hour": "10",
    "part_markup_share": "0.5",
    "callback_trip_cost": "50",
    "callback_goodwill_cost": "40",
    "warranty_days": "90",
    "callback_watch_days": "180",
    "plays_per_month_home": "100",
    "plays_per_month_route": "1000",
}
BASE = {
    "families": "family name\nss Solid-state",
    "parts": "part description wear_class unit_cost\ncoil Coil coil 15\nsleeve Sleeve sleeve 1\nglass Glass cosmetic -",
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3",
    "family_assemblies": "family assembly count\nss flip 3",
    "assembly_parts": """assembly part qty_pcs piece_hours thorough_action fix_only_action
        flip coil 1 0.2 replace keep
        flip sleeve 1 0.05 replace keep""",
    "wear": """wear_class median_plays_new median_plays_kept median_months_new median_months_kept shape weight_jobs
        coil 900000 450000 900 450 1.2 2
        sleeve 100000 5000 100 20 2 2""",
    "jobs": "job family scope status setting delivered_on plays_quality\nR1 ss refresh delivered home 2026-01-01 read",
    "job_parts": "job part qty_pcs\nR1 glass 1",
    "callbacks": "job reported_on cause\nR1 2026-01-20 level",
}


def _tables(shop=None, **tables):
    settings = "key value\n" + "\n".join(f"{key} {value}" for key, value in (SHOP | (shop or {})).items())
    options, lines = _made(**{name: text for name, text in {**BASE, "shop": settings, **tables}.items() if text})
    return options.set_index(["subject", "option"]), lines


@cache
def _made(**tables):
    """The tables of these records, made once for all tests that only look at them."""
    with hand_shop.store(**tables) as connection:
        return scope.scope_tables(connection)


def _option(option="thorough", subject="family:ss", **tables):
    return _tables(**tables)[0].loc[(subject, option)]


def test_columns_are_the_contracts():
    options, lines = _tables()
    assert (
        list(options.reset_index().columns)
        == scope.OPTION_COLUMNS
        == [
            "subject",
            "option",
            "parts_amount",
            "bench_hours",
            "price_amount",
            "callback_share",
            "later_cost_amount",
            "later_cost_low_amount",
            "later_cost_high_amount",
            "shop_cost_amount",
            "shop_cost_low_amount",
            "shop_cost_high_amount",
            "owner_cost_amount",
            "owner_cost_low_amount",
            "owner_cost_high_amount",
        ]
    )
    assert (
        list(lines.columns)
        == scope.LINE_COLUMNS
        == [
            "subject",
            "option",
            "assembly",
            "part",
            "qty_pcs",
            "action",
            "now_amount",
            "failures_avoided",
            "break_even_failures",
            "why",
        ]
    )


def test_now_by_hand():
    row = _option()
    # 3 coils at 15 and 3 sleeves at 1; 3 x (0.2 + 0.05) h for the pieces and 3 x 0.3 h to open
    assert row["parts_amount"] == 48
    assert_allclose(row["bench_hours"], 0.75 + 0.9)
    assert_allclose(row["price_amount"], 48 * 1.5 + 1.65 * 60)


def test_lines_by_hand():
    _, lines = _tables()
    lines = lines[lines["option"] == "thorough"].set_index(lines["part"].fillna("open"))
    assert_allclose(lines.loc["coil", "now_amount"], 3 * (15 + 0.2 * 40))
    assert_allclose(lines.loc["open", "now_amount"], 3 * 0.3 * 40)
    assert lines.loc["open", "action"] == "open"
    # a call-back: the piece 15, 0.2 h x 2 installed and 0.3 h to open at 40, trip and goodwill 90
    assert_allclose(lines.loc["coil", "break_even_failures"], 3 * 23 / (15 + 0.7 * 40 + 90))


def test_lines_and_opening_add_up_to_parts_and_hours_at_own_cost():
    options, lines = _tables()
    now = lines[lines["option"] == "thorough"]["now_amount"].sum()
    row = options.loc[("family:ss", "thorough")]
    assert_allclose(now, row["parts_amount"] + row["bench_hours"] * 40)


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
    assert thorough["callback_share"] < fix["callback_share"]


def test_ranges_hold_their_expected_value_together():
    options, _ = _tables()
    for purse in ("later", "shop", "owner"):
        assert (options[f"{purse}_cost_low_amount"] <= options[f"{purse}_cost_amount"]).all()
        assert (options[f"{purse}_cost_low_amount"] < options[f"{purse}_cost_high_amount"]).all()


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
    assert 1.0 < hours["family:ss", "thorough"] - hours["job:O1", "thorough"] < 1.8


def test_a_part_without_price_is_stated_and_never_zero():
    lists = BASE["assembly_parts"] + "\nflip glass 1 0.1 replace keep"
    options, lines = _tables(assembly_parts=lists)
    line = lines[(lines["part"] == "glass") & (lines["option"] == "thorough")].iloc[0]
    assert np.isnan(line["now_amount"])
    assert "no price known: not in the sums" in line["why"]
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
        options, lines = scope.scope_tables(connection)
    assert options.empty
    assert lines.empty
    assert list(options.columns) == scope.OPTION_COLUMNS


@pytest.mark.parametrize("table", ["wear", "callbacks", "family_assemblies", "assembly_parts", "job_parts"])
def test_each_optional_file_may_be_missing(table):
    options, _ = _tables(**{table: ""})
    assert options["parts_amount"].notna().all()


def test_the_same_records_give_the_same_tables():
    first = _tables()
    _made.cache_clear()
    second = _tables()
    assert first[0].equals(second[0])
    assert first[1].equals(second[1])


def test_single_tables_are_the_pair():
    with hand_shop.store(**BASE) as connection:
        options, lines = scope.scope_tables(connection)
        assert scope.scope_options(connection).equals(options)
        assert scope.scope_lines(connection).equals(lines)


def test_rare_lines_are_summed_up_in_one():
    # thirty fix-only jobs, one of which took a coil: a thirtieth of a piece a job, below one in twenty
    jobs = BASE["jobs"] + "".join(f"\nF{n} ss fix_only delivered home 2026-01-01 read" for n in range(30))
    used = "job part qty_pcs\nR1 coil 1\nF0 coil 1" + "".join(f"\nF{n} sleeve 1" for n in range(30))
    options, lines = _tables(jobs=jobs, job_parts=used)
    lines = lines[lines["option"] == "fix_only"]
    rare = lines[lines["part"].isna() & (lines["action"] == "replace")].iloc[0]
    assert "rarer than one piece in twenty" in rare["why"]
    assert 0 < rare["qty_pcs"] < scope.RARE_PCS
    assert not (lines["part"] == "coil").any()
    own = options.loc[("family:ss", "fix_only")]
    assert_allclose(lines["now_amount"].sum(), own["parts_amount"] + own["bench_hours"] * 40)
