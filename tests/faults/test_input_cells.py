"""Cells that are not what they should be: the row is set aside, whole, with rule and advice; all others are in."""

import csv
import json

import pytest

from pipeline.store import connect, read
from tests.support import small_shop


def taken(tmp_path, name, *rows, files=small_shop.FEW):
    """Load a folder with rows added to one file; return store, summary and the entries of that file's rows."""
    files = small_shop.with_rows(files, name, *rows)
    store, summary = small_shop.load(tmp_path / "shop", files)
    return store, summary, small_shop.entries(summary, file=f"{name}.csv")


BAD = [
    ("job_parts", "J1,lamp,a few,2025-01-10", "qty_pcs", "whole_number", "wanted a whole number of pieces"),
    ("job_parts", "J1,lamp,½,2025-01-10", "qty_pcs", "whole_number", "wanted a whole number of pieces"),
    ("job_parts", "J1,lamp,1.5,2025-01-10", "qty_pcs", "whole_number", "wanted a whole number of pieces"),
    ("job_parts", 'J1,lamp,"1,5",2025-01-10', "qty_pcs", "whole_number", "wanted a whole number of pieces"),
    ("job_parts", "J1,lamp,1e3,2025-01-10", "qty_pcs", "whole_number", "wanted a whole number of pieces"),
    ("job_parts", "J1,lamp,99999999999999999999,", "qty_pcs", "whole_number", "wanted a whole number of pieces"),
    ("job_parts", "J1,lamp,,2025-01-10", "qty_pcs", "required", "a value is required"),
    ("job_parts", "J1,lamp,0,2025-01-10", "qty_pcs", "not_zero", "pieces, not 0"),
    ("job_parts", "J1,lamp,1,2025-02-30", "used_on", "date", "wanted a day as 2025-03-09"),
    ("job_parts", "J1,lamp,1,soon", "used_on", "date", "wanted a day as 2025-03-09"),
    ("job_parts", "J1,lamp,1,2025-13-01", "used_on", "date", "wanted a day as 2025-03-09"),
    ("job_parts", "J1,lomp,1,2025-01-10", "part", "unknown_part", "did you mean lamp?"),
    ("job_parts", "J1,xyzzy,1,2025-01-10", "part", "unknown_part", "add it to parts or mend the spelling"),
    ("job_parts", "J_1!x,lamp,1,2025-01-10", "job", "unknown_job", "did you mean J1?"),
    ("job_parts", ",lamp,1,2025-01-10", "job", "required", "a value is required"),
    ("jobs", "J9,em,full,,", "scope", "allowed_values", "wanted one of fix_only, refresh, thorough"),
    ("jobs", "J9,em,fix_only,2025-03-02,2025-03-01", "delivered_on", "order_of_days", "must not be before booked_on"),
    ("jobs", "J9,E.M,fix_only,,", "family", "unknown_family", "did you mean em?"),
    ("jobs", "J9,,fix_only,,", "family", "required", "a value is required"),
    ("jobs", "J1,ss,fix_only,,", "job", "same_key", "line 2 already gives other values for the same job"),
    ("parts", "shoe,", "description", "required", "a value is required"),
    ("counts", "lamp,2025-01-01,-2", "qty_pcs", "range", "pieces, 0 or more"),
    ("counts", "lamp,2025-01-01,lots", "qty_pcs", "whole_number", "wanted a whole number of pieces"),
    ("offers", "north,lamp,10,nan,1,", "pack_price", "number", "wanted a number with a decimal point"),
    ("offers", "north,lamp,10,inf,1,", "pack_price", "number", "wanted a number with a decimal point"),
    ("offers", "north,lamp,10,99999999999999999,1,", "pack_price", "number", "wanted a number with a decimal point"),
    ("offers", 'north,lamp,10,"1,234",1,', "pack_price", "number", "wanted a number with a decimal point"),
    ("offers", "north,lamp,10,-1,1,", "pack_price", "range", "0 or more"),
    ("offers", "south,lamp,10,1,1,", "vendor", "unknown_vendor", "add it to vendors or mend the spelling"),
    ("job_hours", "J1,1e999,,", "hours", "number", "wanted a number"),
    ("job_hours", "J1,0,,", "hours", "range", "more than 0"),
    ("companions", ",sleeve,1", "trigger_part", "required", "wanted a value in trigger_part or trigger_wear_class"),
    ("companions", "coils,sleeve,1", "trigger_wear_class", "allowed_values", "wanted one of coil, sleeve"),
    ("companions", "lamp,sleeve,1.5", "share", "range", "wanted a number from 0 to 1"),
    ("machines", "M9,em,Old,1776", "year", "range", "from 1900 to 2100"),
    ("shop", "labor_rate,60", "key", "unknown_key", "did you mean labour_rate?"),
    ("aliases", "Birne,lampe", "part", "unknown_part", "did you mean lamp?"),
    ("receipts", "P9,lamp,2025-01-01,1,", "order_no", "unknown_order_no", "did you mean P1 or P2?"),
]


@pytest.fixture(scope="module")
def all_bad(tmp_path_factory):
    """One folder with every bad row, loaded; and the line each row stands on."""
    files, lines = small_shop.WHOLE, []
    for name, row, *_ in BAD:
        lines.append(files[name].count("\n") + 1)
        files = small_shop.with_rows(files, name, row)
    return *small_shop.load(tmp_path_factory.mktemp("bad") / "shop", files), dict(
        zip([row for _, row, *_ in BAD], lines, strict=True)
    )


@pytest.mark.parametrize(("name", "row", "column", "rule", "words"), BAD)
def test_a_bad_cell_sets_its_row_aside_and_says_why(all_bad, name, row, column, rule, words):
    store, summary, lines = all_bad
    (entry,) = small_shop.entries(summary, file=f"{name}.csv", line=lines[row])
    assert (entry["column"], entry["rule"]) == (column, rule)
    assert words in entry["suggestion"]
    ((cells,),) = small_shop.rows(store, f"select cells from set_aside_rows where file = '{name}.csv'"
                                         f" and line = {lines[row]}")
    assert [cell for cell in json.loads(cells).values() if cell] == [cell for cell in next(csv.reader([row])) if cell]


def test_every_bad_row_is_out_and_every_other_row_in(all_bad):
    store, summary, lines = all_bad
    told = summary.files.set_index("file")
    assert told["rows_set_aside"].sum() == len(BAD)
    for name, text in small_shop.WHOLE.items():
        good, bad = text.count("\n") - 1, sum(name == file for file, *_ in BAD)
        assert tuple(told.loc[f"{name}.csv"]) == (good + bad, good, bad, name)
    assert small_shop.records(store) == small_shop.records(all_good(store))


def all_good(store):
    """The same store without the bad rows."""
    return small_shop.loaded_before(store.with_name("good"), small_shop.WHOLE)


def test_a_row_whose_parent_was_set_aside_says_so(tmp_path):
    files = small_shop.with_rows(small_shop.FEW, "jobs", "J9,em,wild,,")
    _, _, found = taken(tmp_path, "job_parts", "j9,lamp,1,", "J9,sleeve,1,", files=files)
    assert [(e["value"], e["rule"]) for e in found] == [("J9", "job_set_aside")] * 2
    assert found[0]["suggestion"] == "its row in jobs.csv was itself set aside: mend that one first"


def test_a_family_in_doubt_is_asked_about_with_its_machine_and_never_filled(tmp_path):
    files = small_shop.WHOLE | {"jobs": "job,family,machine,scope\nJ1,Solid St.,m2,fix_only\nJ2,em,M1,thorough\n"
                                        "J3,,M2,refresh\n"}
    store, summary = small_shop.load(tmp_path / "shop", files)
    (entry,) = small_shop.entries(summary, file="jobs.csv")
    assert entry["rule"] == "unknown_family" and "; its machine is of family ss; " in entry["suggestion"]
    assert small_shop.rows(store, "select job, family from jobs order by job") == [("J2", "em"), ("J3", "ss")]
    (mend,) = small_shop.entries(summary, "repaired", rule="family_from_machine")
    assert (mend["line"], mend["value"], mend["suggestion"]) == (4, "", "taken as ss, as machine M2 is listed")


def test_exact_doubles_are_set_aside_unless_line_differs(tmp_path):
    files = small_shop.FEW | {"job_parts": "job,part,qty_pcs,used_on,line\n"
                                             "J1,sleeve,2,2025-01-10,\nJ1,SLEEVE,2.0,2025-01-10,\n"
                                             "J1,sleeve,2,2025-01-10,1\nJ1,sleeve,2,2025-01-10,2\n"}
    store, summary = small_shop.load(tmp_path / "shop", files)
    (entry,) = small_shop.entries(summary)
    assert (entry["line"], entry["rule"]) == (3, "double")
    assert entry["suggestion"] == "the same as line 2; a number in `line` tells equal rows apart"
    assert small_shop.rows(store, "select sum(qty_pcs) from job_parts") == [(6,)]


def test_doubles_of_files_without_line_are_told_another_way(tmp_path):
    _, _, found = taken(tmp_path, "job_costs", "J1,freight,30.50,2025-01-20")
    assert found[0]["suggestion"] == "the same as line 2; if both are true, write them as one row"


MENDED = [
    ("job_costs", 'J2,freight,"12,51",', "12,51", "decimal_comma", "amount = 12.51"),
    ("job_costs", 'J2,freight,"0,125",', "0,125", "decimal_comma", "amount = 0.125"),
    ("job_costs", "J2,freight,EUR 12.52,", "EUR 12.52", "own_currency", "amount = 12.52"),
    ("job_costs", "J2,freight,12.53 €,", "12.53 €", "own_currency", "amount = 12.53"),
    ("job_costs", "J2,freight,-€12,", "-€12", "own_currency", "amount = -12"),
    ("job_costs", "J2,freight,1.23456,", "1.23456", "rounded", "amount = 1.2346"),
    ("job_costs", "J2,freight,1.00005,", "1.00005", "rounded", "amount = 1.0001"),
    ("job_costs", "J2,Supplies,7,", "Supplies", "spelling", "kind = 'supplies' and amount = 7"),
    ("job_costs", "J2, other,8,", " other", "blanks", "kind = 'other' and amount = 8"),
    ("job_costs", "J2,freight,9,25/03/2025", "25/03/2025", "date_spelling", "paid_on = date '2025-03-25'"),
    ("job_parts", "J2,flipper COIL,8,", "flipper COIL", "alias", "part = 'fli-coil' and used_on is null"),
    ("job_parts", "j2,Lamp,9,", "Lamp", "spelling", "part = 'lamp' and job = 'J2' and qty_pcs = 9"),
    ("job_hours", 'J2,"1,25",,', "1,25", "decimal_comma", "hours = 1.25"),
    ("job_hours", "J2,2,,In-Take", "In-Take", None, "hours = 2"),
    ("job_hours", "J2,3,,RE assembly", "RE assembly", None, "hours = 3"),
    ("job_hours", "J2,4,,Call-Back", "Call-Back", None, "hours = 4"),
]


@pytest.fixture(scope="module")
def all_mended(tmp_path_factory):
    """One folder with every row to mend, loaded."""
    files = small_shop.WHOLE
    for name, row, *_ in MENDED:
        files = small_shop.with_rows(files, name, row)
    return small_shop.load(tmp_path_factory.mktemp("mended") / "shop", files)


@pytest.mark.parametrize(("name", "row", "value", "rule", "kept"), MENDED)
def test_a_repair_is_listed_with_before_and_after_or_not_made(all_mended, name, row, value, rule, kept):
    store, summary = all_mended
    found = [(e["rule"], e["outcome"]) for outcome in ("repaired", "set_aside")
             for e in small_shop.entries(summary, outcome, file=f"{name}.csv", value=value)]
    assert found == [(rule, "repaired") if rule else ("allowed_values", "set_aside")]
    assert small_shop.rows(store, f"select count(*) from {name} where {kept}") == [(1 if rule else 0,)]


def test_four_decimals_and_less_are_kept_without_a_word(tmp_path):
    store, summary, _ = taken(tmp_path, "job_costs", "J2,tax,0.1234,", "J2,tax,1.50000,", "J2,tax,2e-3,")
    assert not small_shop.entries(summary, "repaired")
    assert [str(amount) for (amount,) in small_shop.rows(
        store, "select amount from job_costs where kind = 'tax' order by 1")] == ["0.0020", "0.1234", "1.5000"]


def test_amounts_in_another_currency_are_refused(tmp_path):
    amounts = ["USD 12", "12 usd", "$12", "£3", "12.50GBP", "¥1200"]
    _, _, found = taken(tmp_path, "job_costs", *(f"J2,freight,{amount}," for amount in amounts))
    assert [(entry["rule"], entry["value"]) for entry in found] == [("other_currency", amount) for amount in amounts]
    assert {entry["suggestion"] for entry in found} == {
        "this shop's amounts are in EUR; write the amount in EUR, as 12.50"}


def test_a_row_that_names_another_currency_in_a_column_is_refused(tmp_path):
    files = small_shop.FEW | {"job_costs": "job,kind,amount,Currency\nJ1,freight,1,eur\nJ1,tax,2,USD\nJ2,tax,3,\n"}
    store, summary = small_shop.load(tmp_path / "shop", files)
    (entry,) = small_shop.entries(summary)
    assert (entry["line"], entry["column"], entry["value"], entry["rule"]) == (3, "currency", "USD", "other_currency")
    assert small_shop.rows(store, "select amount::int from job_costs order by 1") == [(1,), (3,)]


def test_without_a_stated_currency_the_default_is_named(tmp_path):
    files = small_shop.with_rows({k: v for k, v in small_shop.FEW.items() if k != "shop"}, "job_costs",
                                 "J2,freight,EUR 12,", "J2,freight,$13,")
    store, summary = small_shop.load(tmp_path / "shop", files)
    (entry,) = small_shop.entries(summary)
    assert "amounts are in USD (the default; give `currency` in shop.csv" in entry["suggestion"]
    assert small_shop.rows(store, "select count(*) from job_costs where amount = 13") == [(1,)]


def test_a_new_currency_over_old_amounts_is_remarked(tmp_path):
    small_shop.loaded_before(tmp_path / "shop", small_shop.FEW)
    changed = small_shop.FEW | {"shop": "key,value\ncurrency,CHF\n"}
    _, summary = small_shop.load(tmp_path / "shop", changed)
    (remark,) = small_shop.entries(summary, "noted", rule="currency_changed")
    assert "were in EUR; they are not converted" in remark["suggestion"]


def test_days_that_read_two_ways_show_both_readings(tmp_path):
    _, _, found = taken(tmp_path, "job_parts", "J1,lamp,1,03/04/2025", "J1,lamp,2,05/06/2025")
    assert [(e["rule"], e["column"]) for e in found] == [("two_readings", "used_on")] * 2
    assert "could be 2025-03-04 or 2025-04-03" in found[0]["suggestion"]


def test_one_telling_day_settles_the_whole_column(tmp_path):
    store, summary, found = taken(tmp_path, "job_parts", "J1,lamp,1,03/04/2025", "J1,lamp,2,25/06/2025")
    assert not found and len(small_shop.entries(summary, "repaired", rule="date_spelling")) == 2
    assert small_shop.rows(store, "select used_on::varchar from job_parts where part = 'lamp' and qty_pcs < 3"
                                  " order by 1") == [("2025-04-03",), ("2025-06-25",)]


def test_points_beside_decimal_commas_are_not_guessed_at(tmp_path):
    store, _, found = taken(tmp_path, "job_costs", 'J2,tax,"12,50",', "J2,tax,1.500,", "J2,tax,2.5,")
    (entry,) = found
    assert entry["rule"] == "two_readings" and "could be 1.500 or 1500" in entry["suggestion"]
    assert small_shop.rows(store, "select count(*) from job_costs") == [(3,)]


def test_the_shops_own_settings_are_mended_remarked_and_never_crash(tmp_path):
    odd = {
        "labour_rate": '"62,5"',
        "labour_cost": "-3",
        "holding_rate_share": "20",
        "today": "yesterday",
        "bays": "two",
        "warranty_days": "1e999",
        "overhead_per_hour": "nan",
        "name": "",
        "part_markup_share": "0.4",
    }
    text = "key,value\n" + "".join(f"{key},{value}\n" for key, value in odd.items())
    store, summary = small_shop.load(tmp_path / "shop", small_shop.WHOLE | {"shop": text})
    remarks = {e["column"]: e["suggestion"]
               for e in small_shop.entries(summary, "noted", rule="setting_of_unknown_kind")}
    assert set(remarks) == {"labour_cost", "holding_rate_share", "today", "bays", "warranty_days", "overhead_per_hour"}
    assert remarks["holding_rate_share"] == ("wanted a share from 0 to 1, as 0.25; until then the default 0.20 is used")
    assert [e["suggestion"] for e in small_shop.entries(summary, "repaired", file="shop.csv")] == ["taken as 62.5"]
    with connect.open_read(store) as connection:
        settings = read.settings(connection)
        assert read.rows(connection, "select distinct warranty_days from tidy_jobs") == [(90,)]
    assert (settings.labour_rate, settings.labour_cost, settings.bays, settings.holding_rate_share) == (
        62.5,
        30,
        2,
        0.2,
    )
    assert (settings.part_markup_share, settings.warranty_days, settings.name) == (0.4, 90, "Your shop")
    assert set(remarks) | {"name"} <= set(settings.defaulted) and "labour_rate" not in settings.defaulted


TEXTS = [
    "=1+1",
    "@SUM(A1)",
    "-2+3",
    "+x",
    "O'Neill's \"best\"",
    "Ärger; Ü\tß",
    "日本の部品",
    "🎯",
    "a,b",
    "C:\\parts\\1",
    "%s {0} $x",
    "'; drop table jobs; --",
    "null",
    "NaN",
    "\\N",
    "two\nlines",
    "a\x1e\x1fb",
    "#",
]


def test_whatever_an_identifier_or_a_remark_holds_comes_back_unchanged(tmp_path):
    files = small_shop.LEAST | {"stock_moves": "part,moved_on,qty_pcs,kind,note\n"}
    for text in TEXTS:
        cell = '"' + text.replace('"', '""') + '"'
        files = small_shop.with_rows(files, "parts", f"{cell},{cell}")
        files = small_shop.with_rows(files, "job_parts", f"J1,{cell},7,2025-01-10")
        files = small_shop.with_rows(files, "stock_moves", f"{cell},2025-01-01,1,found,{cell}")
    store, summary = small_shop.load(tmp_path / "shop", files)
    assert not small_shop.entries(summary)
    spelled = [" ".join(text.split()) for text in TEXTS]
    assert sorted(small_shop.rows(store, "select part, description from parts where length(description) > 0"
                                         " and part not in ('fli-coil', 'sleeve', 'lamp')")
                  ) == sorted(zip(spelled, [text.strip() for text in TEXTS], strict=True))
    assert sorted(small_shop.rows(store, "select part from job_parts where qty_pcs = 7")) == sorted(zip(spelled))
    assert sorted(small_shop.rows(store, "select note from stock_moves")) == sorted(zip(t.strip() for t in TEXTS))
    assert small_shop.contents(store) == small_shop.contents(small_shop.load(tmp_path / "shop")[0])
