"""Repaired cells: told once each, by kind with samples, weighed where it is sure whose they are."""

import pandas as pd
import pytest

from pipeline.decisions import records_repaired, records_weight
from pipeline.store import connect

SHOP = """
insert into loads values (1, '2031-01-01', 'shop', 'a');
insert into load_files values (1, 'job_parts.csv', 9, 9, 0, 'job_parts'), (1, 'jobs.csv', 3, 3, 0, 'jobs'),
    (1, 'aliases.csv', 1, 1, 0, 'aliases'), (1, 'book.xlsx, sheet job_costs', 2, 2, 0, 'job_costs');
insert into families (family, name) values ('em', 'EM');
insert into parts (part, description) values ('SLV', 'sleeve'), ('COI', 'coil');
insert into jobs (job, family, scope, delivered_on, invoiced_amount) values
    ('J-1', 'em', 'thorough', '2031-01-03', 100), ('J-2', 'em', 'thorough', '2031-01-03', 200),
    ('J-3', 'em', 'fix_only', '2031-01-09', 300);
insert into job_parts (row_hash, job, part, qty_pcs, recorded_in) values ('a', 'J-1', 'SLV', 12, 'folder');
insert into job_costs (row_hash, job, kind, amount, recorded_in) values
    ('a', 'J-1', 'freight', 162.85, 'folder'), ('b', 'J-2', 'freight', 30, 'folder'),
    ('c', 'J-3', 'freight', 30, 'folder');
"""


@pytest.fixture
def gather():
    """Look at repairs (file, line, column, value, rule, suggestion) of a small shop."""
    with connect.open_memory() as connection:
        connection.execute(SHOP)

        def look(*repairs):
            connection.executemany("insert into records values (1, ?, ?, ?, ?, ?, ?, 'repaired')", repairs)
            return records_repaired.gather(connection, records_weight.gather(connection))

        yield look


BLANKS = ("job_parts.csv", 1214, "part", " EOS", "blanks", "blanks around it dropped: EOS")
ALIAS = ("job_parts.csv", 1214, "part", "EOS", "alias", "taken as SLV")


def test_a_cell_mended_twice_is_one_cell_as_first_written_and_last_taken(gather):
    kinds, cells = gather(BLANKS, ALIAS)
    assert cells[["line", "value", "taken_as", "rule"]].values.tolist() == [[1214, " EOS", "SLV", "blanks, alias"]]
    assert kinds[["rule", "cells", "samples"]].values.tolist() == [["blanks, alias", 1, "' EOS' as 'SLV'"]]


def test_a_mended_name_counts_the_decisions_of_what_it_names(gather):
    _, cells = gather(ALIAS, ("jobs.csv", 3, "job", "j-2 ", "blanks", "blanks around it dropped: J-2"))
    weights = dict(zip(cells["value"], cells["decisions"], strict=True))
    # SLV: order line, forecast, place. J-2: forecast, job-ready share, choice, margin; no hours are kept.
    assert weights == {"EOS": 3, "j-2 ": 4}


def test_a_mended_figure_is_found_again_by_its_value(gather):
    _, cells = gather(("book.xlsx, sheet job_costs", 2, "amount", "162,85", "decimal_comma", "taken as 162.85"))
    assert cells[["decisions", "amount"]].values.tolist() == [[1, 100.0]]


def test_a_value_that_more_rows_bear_than_were_mended_tells_nobody(gather):
    one = ("book.xlsx, sheet job_costs", 3, "amount", "30,00", "decimal_comma", "taken as 30.00")
    kinds, cells = gather(one)
    assert cells["decisions"].isna().all() and cells["amount"].isna().all()
    assert kinds["decisions"].tolist() == [0]


def test_as_many_cells_as_rows_tell_whose_they_are(gather):
    file = "book.xlsx, sheet job_costs"
    _, cells = gather((file, 3, "amount", "30,00", "decimal_comma", "taken as 30.00"),
                      (file, 4, "amount", "30,0", "decimal_comma", "taken as 30.00"))
    assert cells["decisions"].tolist() == [2, 2]  # either row, the margins of J-2 and J-3


def test_a_day_is_found_again_as_a_day(gather):
    _, cells = gather(("jobs.csv", 4, "delivered_on", "9.1.2031", "date", "taken as 2031-01-09"))
    assert cells["amount"].tolist() == [300.0]


def test_a_family_filled_in_from_its_machine_is_read_without_the_machine(gather):
    words = "taken as em, as machine m1 is listed"
    kinds, cells = gather(("jobs.csv", 2, "family", None, "family_from_machine", words))
    assert cells["taken_as"].tolist() == ["em"] and kinds["samples"].tolist() == ["empty as 'em'"]
    assert cells["decisions"].iloc[0] > 0


def test_a_mend_that_nothing_reads_bears_on_nothing(gather):
    kinds, cells = gather(("aliases.csv", 2, "alias", "EOS ", "blanks", "blanks around it dropped: EOS"))
    assert kinds["decisions"].tolist() == [0] and cells["decisions"].isna().all()


def test_kinds_show_three_samples_and_count_the_rest(gather):
    spellings = [("job_parts.csv", n, "part", f"s{n % 5}", "alias", "taken as SLV") for n in range(2, 12)]
    kinds, cells = gather(*spellings)
    (kind,) = kinds.itertuples()
    assert kind.cells == 10 and len(cells) == 10
    assert kind.samples == "'s2' as 'SLV', 's3' as 'SLV', 's4' as 'SLV', and 2 more spellings"


def test_the_kind_on_which_most_rests_comes_first_and_counts_a_decision_once(gather):
    kinds, _ = gather(ALIAS, ("job_parts.csv", 7, "part", "sleev", "alias", "taken as SLV"),
                      ("book.xlsx, sheet job_costs", 2, "amount", "162,85", "decimal_comma", "taken as 162.85"))
    assert kinds[["rule", "decisions"]].values.tolist() == [["alias", 3], ["decimal_comma", 1]]


def test_nothing_repaired_is_no_row():
    with connect.open_memory() as empty:
        kinds, cells = records_repaired.gather(empty, records_weight.gather(empty))
    assert list(kinds) == records_repaired.KIND_COLUMNS and list(cells) == records_repaired.CELL_COLUMNS
    assert len(kinds) == len(cells) == 0


def test_words_with_quotes_and_commas_survive(gather):
    value = "3\" 'nut', \\ ; drop"
    kinds, cells = gather(("job_parts.csv", 5, "part", value, "alias", "taken as COI"))
    assert cells["value"].tolist() == [value] and value in kinds["samples"].iloc[0]
    assert isinstance(cells, pd.DataFrame)
