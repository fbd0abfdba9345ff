"""Rows that wait: each told once, what rests on it, and which one mend brings in how many."""

import shutil

import pytest

from pipeline.decisions import records_waiting, records_weight
from pipeline.store import connect
from tests.support import small_shop

# The files that a decision or a row of a test rests on; a load of all others beside them takes twice as long.
FILES = {name: small_shop.WHOLE[name] for name in (*small_shop.LEAST, "families", "assemblies", "family_assemblies",
                                                   "assembly_parts", "counts", "job_hours", "payments")}
# Line numbers of the rows added: the file's rows, and the header.
JOBS, TAKINGS = len(FILES["jobs"].splitlines()), len(FILES["job_parts"].splitlines())


@pytest.fixture
def gather(tmp_path):
    """Load files and look at what waits."""

    def load(files):
        store, _ = small_shop.load(tmp_path / "shop", files, tmp_path / "shop.duckdb")
        with connect.open_read(store) as connection:
            return records_waiting.gather(connection, records_weight.gather(connection))

    return load


def told(frame, *columns):
    return frame[list(columns)].astype(object).where(frame[list(columns)].notna(), None).values.tolist()


def test_a_row_that_breaks_two_rules_is_one_row_with_both_reasons(gather):
    waiting = gather(small_shop.with_rows(FILES, "job_parts", "J1,sleeve,lots,31.31.2025"))
    (row,) = waiting.rows.itertuples()
    assert row.file == "job_parts.csv" and row.line == TAKINGS + 1
    assert sorted(row.column.split("; ")) == ["qty_pcs", "used_on"] and sorted(row.value.split("; ")) == [
        "31.31.2025", "lots"]
    assert "whole number" in row.why and "day" in row.why
    assert told(waiting.mends, "lines", "rows") == [[[TAKINGS + 1], 1]]


def test_one_value_that_breaks_two_rules_is_named_once(gather):
    waiting = gather(small_shop.with_rows(FILES, "jobs", "J9,em,fix_only,2025-05-02,2025-05-01"))
    (row,) = waiting.rows.itertuples()
    assert row.value.count("2025-05-01") == 1


def test_a_row_counts_the_decisions_of_the_part_and_job_it_names(gather):
    waiting = gather(small_shop.with_rows(FILES, "job_parts", "J1,sleeve,lots,2025-01-11"))
    # Order line, forecast in em, place in em's flipper, margin of J1.
    assert told(waiting.rows, "decisions") == [[4]]


def test_a_stranger_counts_as_the_nearest_name_suggested(gather):
    waiting = gather(small_shop.with_rows(FILES, "job_parts", "J1,sleev,1,2025-01-11"))
    (row,) = waiting.rows.itertuples()
    assert "did you mean sleeve?" in row.why and row.decisions == 4


def test_a_stranger_without_a_near_name_is_the_one_decision_it_would_bring(gather):
    waiting = gather(small_shop.with_rows(FILES, "job_parts", "J1,backbox-lock,1,2025-01-11"))
    (row,) = waiting.rows.itertuples()
    assert "did you mean" not in row.why and row.decisions == 2  # its order line to be, and the margin of J1


def test_one_name_no_table_lists_keeps_out_every_row_that_bears_it(gather):
    files = small_shop.with_rows(FILES, "job_parts", "J1,backbox-lock,1,2025-01-11", "J2,backbox-lock,2,2025-02-11")
    waiting = gather(small_shop.with_rows(files, "counts", "backbox-lock,2025-03-31,4"))
    assert len(waiting.rows) == 3
    (mend,) = waiting.mends.itertuples()
    assert mend.rows == 3 and mend.column == "part" and mend.value == "backbox-lock"
    assert set(mend.file.split(", ")) == {"counts.csv", "job_parts.csv"}
    assert mend.decisions == 3  # its order line to be counts once; the margins of J1 and J2


def test_a_row_set_aside_keeps_out_those_that_name_it(gather):
    files = small_shop.with_rows(FILES, "jobs", "J9,em,fix_only,2025-05-02,2025-05-01")
    files = small_shop.with_rows(files, "job_parts", "J9,sleeve,1,2025-05-02", "J9,lamp,2,2025-05-02")
    waiting = gather(small_shop.with_rows(files, "job_hours", "J9,1,2025-05-01,bench"))
    (mend,) = waiting.mends.itertuples()
    assert (mend.file, mend.lines, mend.rows) == ("jobs.csv", [JOBS + 1], 4)
    assert "before booked_on" in mend.why and len(waiting.rows) == 4


def test_what_waits_with_its_job_is_of_the_jobs_family(gather):
    files = small_shop.with_rows(FILES, "jobs", "J9,em,fix_only,2025-05-02,2025-05-01")
    waiting = gather(small_shop.with_rows(files, "job_parts", "J9,sleeve,1,2025-05-02"))
    named = waiting.named[waiting.named["holds"] == "job_parts"]
    assert named[["family", "scope"]].values.tolist() == [["em", "fix_only"]]


def test_a_family_keeps_out_its_jobs_and_these_their_parts(gather):
    files = small_shop.with_rows(FILES, "families", ",Late")
    files = small_shop.with_rows(files, "jobs", "J9,late,fix_only,2025-05-02,2025-05-03")
    waiting = gather(small_shop.with_rows(files, "job_parts", "J9,sleeve,1,2025-05-02"))
    mends = {mend.file: mend.rows for mend in waiting.mends.itertuples()}
    assert mends == {"families.csv": 1, "jobs.csv": 2}


def test_rows_come_by_the_decisions_that_rest_on_them(gather):
    files = small_shop.with_rows(FILES, "job_parts", "J1,sleeve,lots,2025-01-11")
    files = small_shop.with_rows(files, "counts", "lamp,2025-04-01,lots")
    waiting = gather(small_shop.with_rows(files, "payments", "J1,2025-01-21,lots,balance"))
    assert told(waiting.rows, "file", "decisions") == [["job_parts.csv", 4], ["counts.csv", 1], ["payments.csv", 0]]


def test_a_job_that_was_never_delivered_would_bring_no_margin(gather):
    waiting = gather(small_shop.with_rows(FILES, "jobs", "J9,late,fix_only,2025-05-02,"))
    assert told(waiting.rows, "decisions", "amount") == [[0, None]]
    waiting = gather(small_shop.with_rows(FILES, "jobs", "J9,late,fix_only,2025-05-02,2025-05-09"))
    assert told(waiting.rows, "decisions") == [[1]]


def test_the_invoice_of_a_job_that_waits_is_the_money_it_is_about(gather):
    jobs = "job,family,scope,booked_on,delivered_on,invoiced_amount\n"
    rows = [line + "," for line in FILES["jobs"].splitlines()[1:]]
    files = FILES | {"jobs": jobs + "\n".join([*rows, "J9,late,fix_only,2025-05-02,2025-05-09,310.5"]) + "\n"}
    assert told(gather(files).rows, "decisions", "amount") == [[1, 310.5]]


def test_rows_of_an_earlier_load_still_wait_and_say_which(gather, tmp_path):
    gather(small_shop.with_rows(FILES, "counts", "lamp,2025-04-01,lots"))
    shutil.rmtree(tmp_path / "shop")
    required = {name: FILES[name] for name in ("parts", "jobs", "job_parts")}
    waiting = gather(small_shop.with_rows(required, "job_parts", "J1,lamp,1,2025-01-12"))
    assert told(waiting.rows, "file", "value", "load_no") == [["counts.csv", "lots", 1]]


def test_nothing_waits_in_a_clean_shop_or_an_empty_one(gather):
    clean = gather(FILES)
    with connect.open_memory() as empty:
        none = records_waiting.gather(empty, records_weight.gather(empty))
    for waiting in (clean, none):
        assert len(waiting.rows) == 0 and len(waiting.mends) == 0
        assert list(waiting.rows) == records_waiting.ROW_COLUMNS and list(waiting.mends) == records_waiting.MEND_COLUMNS
