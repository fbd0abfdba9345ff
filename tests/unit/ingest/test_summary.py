"""What is printed of a load is true of every line it names."""

import pandas as pd
import pytest

from pipeline.ingest import records, summary


def entries(*rows, outcome="set_aside"):
    return records.gathered([records.listed(file, [line], column, [value], rule, [words], outcome)
                             for file, line, column, value, rule, words in rows])


def test_one_line_for_one_cause_with_the_values_found():
    found = entries(("a.csv", 3, "qty_pcs", "some", "whole_number", "wanted 1"),
                    ("a.csv", 9, "qty_pcs", "?", "whole_number", "wanted 1"),
                    ("a.csv", 7, "qty_pcs", "some", "whole_number", "wanted 1"))
    assert summary.set_aside_lines(found) == ["a.csv lines 3, 7, 9: qty_pcs is 'some', '?'; wanted 1. Set aside."]


def test_causes_are_told_apart_even_under_one_rule():
    found = entries(("a.csv", 3, "job", "J9", "unknown_job", "did you mean J1?"),
                    ("a.csv", 4, "job", "J8", "unknown_job", "add it"))
    assert summary.set_aside_lines(found) == ["a.csv line 3: job is 'J9'; did you mean J1? Set aside.",
                                              "a.csv line 4: job is 'J8'; add it. Set aside."]


def test_a_line_that_breaks_one_rule_twice_is_named_once():
    found = entries(("j.csv", 34, "delivered_on", "2023-02-22", "order_of_days", "before started_on"),
                    ("j.csv", 34, "delivered_on", "2023-02-22", "order_of_days", "before booked_on"),
                    ("j.csv", 34, "delivered_on", "2023-02-22", "order_of_days", "before booked_on"))
    assert [line.split(":")[0] for line in summary.set_aside_lines(found)] == ["j.csv line 34", "j.csv line 34"]


def test_many_causes_are_summed_up_in_a_line_that_claims_no_more_than_is_true():
    found = entries(*[("a.csv", n, None, None, "double", f"the same as line {n - 1}") for n in range(10, 22)])
    lines = summary.set_aside_lines(found)
    assert lines[0] == "a.csv line 10: the same as line 9. Set aside." and len(lines) == summary.CAUSES
    assert lines[-1].startswith("a.csv lines 12, 13, 14, 15 and 6 more: 10 more rows break the rule `double`")


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (1, "line 2"),
        (2, "lines 2, 3"),
        (5, "lines 2, 3, 4, 5, 6"),
        (6, "lines 2, 3, 4, 5 and 2 more"),
        (1200, "lines 2, 3, 4, 5 and 1,196 more"),
    ],
)
def test_lines_are_named_up_to_a_few(count, words):
    found = records.listed("a.csv", range(2, 2 + count), "part", ["x"] * count, "r", "why", "set_aside")
    assert summary.set_aside_lines(found) == [f"a.csv {words}: part is 'x'; why. Set aside."]


def test_many_values_are_shown_up_to_a_few_and_an_empty_one_is_called_empty():
    found = entries(*[("a.csv", n, "part", f"p{n}", "r", "why") for n in range(2, 9)])
    assert "part is 'p2', 'p3', 'p4', ...; why" in summary.set_aside_lines(found)[0]
    found = entries(("a.csv", 2, "part", None, "required", "a value is required here"))
    assert summary.set_aside_lines(found) == ["a.csv line 2: part is empty; a value is required here. Set aside."]


def test_remarks_are_one_line_for_each_file_and_kind():
    found = entries(
        ("jobs.csv", pd.NA, None, "J1", "no_hours", "no hours"),
        ("jobs.csv", pd.NA, None, "J2", "no_hours", "no"),
        ("b.csv", pd.NA, None, "b.csv", "unknown_file", "left alone"),
        ("c.csv", 7, None, None, "fewer_cells", "fewer"),
        ("c.csv", pd.NA, None, "shelv", "extra_column", "did you mean shelf?"),
        outcome="noted",
    )
    assert sorted(summary.note_lines(found)) == [
        "b.csv: left alone.", "c.csv line 7: fewer.", "c.csv: shelv: did you mean shelf?",
        "jobs.csv: J1: no hours. And 1 more remark `no_hours`."]


def files(*rows):
    return pd.DataFrame(rows, columns=["file", "rows_in", "rows_loaded", "rows_set_aside", "holds"])


def test_the_whole_summary_and_its_exit_code():
    found = files(("a.csv", 1234, 1233, 1, "a"), ("b.csv", 2, 2, 0, "b"))
    twice = entries(
        ("a.csv", 5, "part", " x", "blanks", "x"), ("a.csv", 5, "part", "x", "alias", "y"), outcome="repaired"
    )
    told = summary.LoadSummary("shop", found, twice, "check", notes=["The end."])
    assert told.lines() == ["a.csv: 1,233 of 1,234 rows would load, 1 set aside", "b.csv: 2 of 2 rows would load",
                            "1 cell was repaired, listed with before and after.", "The end."]
    assert told.exit_code == 1
    told = summary.LoadSummary("shop", found, records.gathered([]), "load", is_unchanged=True)
    assert told.lines()[-1] == "shop is the same as when it was last loaded: nothing changed." and told.exit_code == 0
    assert summary.LoadSummary("shop", found.iloc[1:], records.gathered([]), "check").exit_code == 0


@pytest.mark.parametrize(("names", "line"), [
    ("a", "No rows in a."), ("abc", "No rows in a, b, c."), ("abcde", "No rows in a, b, c and 2 more.")])
def test_files_without_a_row_share_a_line(names, line):
    found = files(*[(f"{name}.csv", 0, 0, 0, name) for name in names], ("parts.csv", 1, 1, 0, "parts"))
    assert summary.LoadSummary("shop", found, records.gathered([]), "load").lines() == [
        "parts.csv: 1 of 1 rows loaded", line]


def test_what_became_of_rows_of_earlier_loads_is_told_table_by_table():
    earlier = [("jobs", 1, 0, 0), ("parts", 0, 0, 0), ("job_parts", 2000, 1, 3), ("counts", 0, 4, 1)]
    told = summary.LoadSummary("shop", files(), records.gathered([]), "load", earlier=earlier)
    assert told.lines() == [
        "jobs, loaded earlier: 1 row set aside then is in now.",
        "job_parts, loaded earlier: 2,000 rows set aside then are in now.",
        "job_parts, loaded earlier: 1 row set aside then still waits.",
        "job_parts, loaded earlier: 3 rows no longer hold and are set aside.",
        "counts, loaded earlier: 4 rows set aside then still wait.",
        "counts, loaded earlier: 1 row no longer holds and is set aside."]
    assert (told.newly_set_aside, told.exit_code) == (4, 0)
    told.verb = "check"
    assert told.exit_code == 1


def test_rows_that_only_wait_on_are_no_news_for_check_or_a_strict_load():
    found = files(("a.csv", 1, 1, 0, "a"))
    told = summary.LoadSummary("shop", found, records.gathered([]), "check", earlier=[("jobs", 0, 7, 0)])
    assert (told.newly_set_aside, told.exit_code) == (0, 0)


def test_a_strict_load_that_was_refused_says_so_and_ends_with_one():
    found = files(("a.csv", 3, 1, 2, "a"))
    told = summary.LoadSummary("shop", found, records.gathered([]), "load", is_refused=True)
    assert told.lines() == [
        "a.csv: 1 of 3 rows would load, 2 set aside",
        "Nothing was loaded: 2 rows would be set aside, and --strict allows none. The shop is as it was. "
        "Mend them, or load without --strict."]
    assert told.exit_code == 1


def test_a_load_that_its_terms_did_not_allow_says_why_and_ends_with_one():
    found = files(("a.csv", 3, 3, 0, "a"))
    told = summary.LoadSummary("shop", found, records.gathered([]), "load", is_refused=True, refusal="Why not.")
    assert told.lines() == ["a.csv: 3 of 3 rows would load", "Why not."] and told.exit_code == 1


def test_rows_of_the_store_have_no_lines_to_name():
    found = entries(*[("jobs (in the store)", -n, "family", "zz", "unknown_family", "list it") for n in (1, 2)],
                    ("parts (in the store)", -4, "part", "x", "rule", "why"))
    assert summary.set_aside_lines(found) == ["jobs (in the store) 2 rows: family is 'zz'; list it. Set aside.",
                                              "parts (in the store) 1 row: part is 'x'; why. Set aside."]
