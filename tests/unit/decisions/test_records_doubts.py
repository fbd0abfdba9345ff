"""Remarks, jobs that lack something, parts without a price and missing files, each with what rests on it."""

import pandas as pd
import pytest

from pipeline.decisions import records_doubts, records_weight
from pipeline.store import catalogue, connect

SHOP = """
insert into loads values (1, '2031-01-01', 'shop', 'a');
insert into load_files values (1, 'parts.csv', 3, 3, 0, 'parts'), (1, 'jobs.csv', 4, 4, 0, 'jobs'),
    (1, 'families.csv', 1, 1, 0, 'families');
insert into families (family, name) values ('em', 'EM');
insert into parts (part, description, unit_cost) values
    ('SLV', 'sleeve', null), ('COI', 'coil', 9), ('LMP', 'lamp', null);
insert into machines (machine, family) values ('m1', 'em');
insert into vendors (vendor) values ('north');
insert into orders (order_no, vendor, ordered_on) values ('P1', 'north', '2030-12-01');
insert into jobs (job, family, machine, scope, delivered_on, invoiced_amount) values
    ('J-1', 'em', null, 'thorough', '2031-01-03', 100), ('J-2', 'em', 'm1', 'thorough', '2031-01-05', null),
    ('J-3', 'em', 'm1', 'fix_only', '2031-01-09', 300), ('J-4', 'em', null, 'fix_only', null, null);
insert into job_parts (row_hash, job, part, qty_pcs, used_on, recorded_in) values
    ('a', 'J-1', 'SLV', 12, '2031-01-02', 'folder'), ('b', 'J-3', 'SLV', 1, '2031-01-08', 'folder'),
    ('c', 'J-3', 'COI', 1, '2031-01-08', 'folder');
"""


@pytest.fixture
def shop():
    with connect.open_memory() as connection:
        connection.execute(SHOP)
        yield connection


def look(shop, what):
    found = getattr(records_doubts, what)(shop, records_weight.gather(shop))
    return found


def note(shop, file, column, value, rule="odd"):
    shop.execute("insert into records values (1, ?, null, ?, ?, ?, 'look at it', 'noted')", [file, column, value, rule])
    (found,) = look(shop, "noted")[0].itertuples()
    return None if pd.isna(found.decisions) else found.decisions


def test_a_remark_counts_the_decisions_of_the_part_it_names(shop):
    assert note(shop, "counts.csv", "qty_pcs", "SLV, 2031-01-09: 400") == 1  # its order line; no job waits


def test_a_remark_on_a_job_and_a_part_means_that_job(shop):
    # COI's order line, its forecast and place in em, the margin of J-3.
    assert note(shop, "job_parts.csv", "qty_pcs", "J-3, COI: -1") == 4


def test_a_remark_on_an_order_line_counts_part_and_vendor(shop):
    # The order line and the place of COI, and the lead time of north.
    assert note(shop, "order_lines.csv", "unit_price", "P1, COI: 900") == 3


def test_a_remark_on_a_machine_means_all_its_jobs(shop):
    note(shop, "jobs.csv", "machine", "m1")
    named = look(shop, "noted")[1]
    assert sorted(named["job"]) == ["J-2", "J-3"]


def test_a_figure_behind_the_colon_is_no_name(shop):
    shop.execute("insert into jobs (job, family, scope, delivered_on) values ('12', 'em', 'refresh', '2031-02-01')")
    assert note(shop, "counts.csv", "qty_pcs", "SLV: 12") == 1


def test_a_remark_that_names_nobody_has_no_number(shop):
    assert note(shop, "job_parts.csv", "assembly", "attic") is None


def test_a_setting_that_cannot_be_read_bears_on_all_it_sets(shop):
    decisions = records_weight.gather(shop)
    informed = decisions.reads.loc[decisions.reads["holds"] == "shop", "kind"]
    assert note(shop, "shop.csv", "labour_rate", "sixty", "setting_of_unknown_kind") == (
        decisions.rows["kind"].isin(informed).sum())


def test_a_remark_on_a_sheet_is_one_on_its_table(shop):
    shop.execute("insert into load_files values (1, 'book.xlsx, sheet counts', 1, 1, 0, 'counts')")
    assert note(shop, "book.xlsx, sheet counts", "qty_pcs", "SLV: 400") == 1


def test_jobs_that_lack_something_say_what(shop):
    jobs, _ = look(shop, "lacking_jobs")
    assert jobs[["job", "lacks"]].values.tolist() == [["J-2", "parts, invoice"]]
    shop.execute("insert into job_hours (row_hash, job, hours, recorded_in) values ('a', 'J-1', 2, 'folder')")
    jobs, _ = look(shop, "lacking_jobs")
    assert dict(zip(jobs["job"], jobs["lacks"], strict=True)) == {"J-2": "parts, hours, invoice", "J-3": "hours"}


def test_on_a_job_without_parts_rests_all_its_family_is_reckoned_from(shop):
    jobs, named = look(shop, "lacking_jobs")
    # Forecasts of SLV and COI in em, the job-ready share of em thorough, the choice of em, its margin.
    assert jobs["decisions"].tolist() == [5]
    assert sorted(named["holds"]) == ["job_costs", "jobs"]


def test_on_a_job_without_hours_rest_its_margin_the_outlook_and_the_choice(shop):
    shop.execute("insert into job_hours (row_hash, job, hours, recorded_in) values ('a', 'J-1', 2, 'folder'),"
                 " ('b', 'J-2', 9, 'folder'), ('c', 'J-2', 2, 'folder')")
    jobs, _ = look(shop, "lacking_jobs")
    hours = jobs.set_index("job").loc["J-3"]
    # fix_only has no hours at all, so that it has no outlook: the margin of J-3 and the choice of em.
    assert (hours["lacks"], hours["decisions"], hours["amount"]) == ("hours", 2, 300.0)


def test_a_part_without_a_price_leaves_its_jobs_without_a_margin(shop):
    parts, named = look(shop, "unpriced_parts")
    (part,) = parts.itertuples()
    assert (part.part, part.used_pcs, part.year_pcs, part.jobs) == ("SLV", 13, 13, 2)
    assert part.decisions == 4 and part.amount == 400.0  # order line, place, and the margins of J-1 and J-3
    assert set(named["job"].dropna()) == {"J-1", "J-3"}


def test_the_unpriced_part_on_which_most_rests_comes_first(shop):
    shop.execute("insert into job_parts (row_hash, job, part, qty_pcs, used_on, recorded_in)"
                 " values ('d', 'J-3', 'LMP', 900, '2031-01-08', 'folder')")
    parts, _ = look(shop, "unpriced_parts")
    assert parts["part"].tolist() == ["SLV", "LMP"] and parts["decisions"].tolist() == [4, 3]


def test_a_missing_file_counts_all_that_would_read_it(shop):
    files, kinds = look(shop, "missing_files")
    weights = files.set_index("file")["decisions"]
    assert weights["offers.csv"] == 3 + 2 + 3  # order lines, places, margins
    assert weights["photos.csv"] == weights["approvals.csv"] == 0
    told = kinds[kinds["file"] == "offers.csv"].set_index("kind")["decisions"].to_dict()
    assert told == {"order": 3, "piece": 2, "margin": 3}
    assert files["decisions"].is_monotonic_decreasing


def test_a_file_that_speaks_of_single_jobs_counts_those_that_lack_it(shop):
    files, kinds = look(shop, "missing_files")
    weights = files.set_index("file")["decisions"]
    assert weights["findings.csv"] == weights["quote_lines.csv"] == 1  # J-4 is open
    assert kinds[kinds["file"] == "findings.csv"][["kind", "decisions"]].values.tolist() == [["choice", 1]]
    assert weights["receipts.csv"] == 0
    assert weights["stock_moves.csv"] == 3  # nobody can tell any shelf: three order lines


def test_an_alias_would_bring_in_the_rows_with_names_no_table_lists(shop):
    shop.execute("""insert into set_aside_rows values (1, 'job_parts.csv', 4, '{"part": "sleef"}', 'job_parts', null),
                    (1, 'job_parts.csv', 5, '{"part": "sleef"}', 'job_parts', null)""")
    files, _ = look(shop, "missing_files")
    assert files.set_index("file")["decisions"]["aliases.csv"] == 1


def test_a_whole_folder_misses_nothing(shop):
    for name in catalogue.tables():
        shop.execute("delete from load_files where holds = ?", [name])
        shop.execute("insert into load_files values (1, ?, 1, 1, 0, ?)", [f"{name}.csv", name])
    files, kinds = look(shop, "missing_files")
    assert len(files) == 0 and len(kinds) == 0


@pytest.mark.parametrize("what", ["noted", "lacking_jobs", "unpriced_parts"])
def test_an_empty_store_has_nothing_in_doubt(what):
    with connect.open_memory() as empty:
        frame, named = look(empty, what)
    assert len(frame) == 0 and len(named) == 0
    assert {"decisions", "amount"} <= set(frame)


def test_an_empty_store_misses_every_file_and_nothing_rests_on_it():
    with connect.open_memory() as empty:
        files, _ = look(empty, "missing_files")
    assert len(files) == 25 and (files["decisions"] == 0).all()
