"""Four years of an invented workshop, kept as a person keeps records: every planted fault found, every good row in.

What is expected is counted here from the files by the plain csv module, not by the code under test.
"""

import csv
import re
from collections import Counter

import pytest

from pipeline.ingest import shop_folder
from pipeline.store import connect, read
from tests.support import small_shop


class Folder:
    """The files as lists of dicts, each row with its line; no cell holds a line break in these."""

    def __init__(self, path):
        self.path = path
        self.rows = {}
        for file in sorted(path.glob("*.csv")):
            with open(file, encoding="utf-8", newline="") as text:
                self.rows[file.stem] = [{"line": n, **row} for n, row in enumerate(csv.DictReader(text), start=2)]

    def column(self, name, column):
        return [row[column] for row in self.rows[name]]


@pytest.fixture(scope="module")
def folder(shared_shops):
    """The records; the test is skipped where they do not lie beside the repository."""
    if not (shared_shops / "alder-lane").is_dir():
        pytest.skip("no ../shared/shops/alder-lane beside the repository")
    return Folder(shared_shops / "alder-lane")


@pytest.fixture(scope="module")
def loaded(alder_lane):
    """Store and summary of a load."""
    return alder_lane.store, alder_lane.summary


def is_whole(text):
    return re.fullmatch(r"-?\d+", text) is not None


@pytest.fixture(scope="module")
def bad_jobs(folder):
    """Jobs delivered before they were booked or begun, or of a family nobody listed (identifier to row)."""
    families = set(folder.column("families", "family"))
    return {row["job"]: row for row in folder.rows["jobs"]
            if (row["delivered_on"] and row["delivered_on"] < max(row["booked_on"], row["started_on"]))
            or (row["family"] and row["family"] not in families)}


@pytest.fixture(scope="module")
def part_of(folder):
    """What a taking's part means, by the aliases file read with blanks and capitals dropped; None where unknown."""
    parts = {part.strip().lower(): part for part in folder.column("parts", "part")}
    aliases = {row["alias"].strip().lower(): row["part"].strip().lower() for row in folder.rows["aliases"]}
    return lambda text: parts.get(text.strip().lower()) or parts.get(aliases.get(text.strip().lower()))


def lines(summary, file, *rules, column=None):
    return sorted(e["line"] for e in small_shop.entries(summary, file=f"{file}.csv")
                  if e["rule"] in rules and column in (None, e["column"]))


def test_every_row_of_every_file_is_accounted_for(folder, loaded):
    _, summary = loaded
    told = summary.files.set_index("file")
    assert set(told.index) == {f"{name}.csv" for name in folder.rows}
    for name, rows in folder.rows.items():
        row = told.loc[f"{name}.csv"]
        assert row["rows_in"] == len(rows) == row["rows_loaded"] + row["rows_set_aside"]
        assert small_shop.rows(loaded[0], f"select count(*) from {name}") == [(row["rows_loaded"],)]


def test_words_fractions_and_blanks_for_pieces(folder, loaded):
    rows = folder.rows["job_parts"]
    blank = [row["line"] for row in rows if row["qty_pcs"].strip() == ""]
    words = [row["line"] for row in rows if row["qty_pcs"].strip() and not is_whole(row["qty_pcs"].strip())]
    commas = [row["line"] for row in rows if re.fullmatch(r"\d+,\d+", row["qty_pcs"])]
    assert len(blank) > 0 and len(words) > len(commas) > 0
    assert lines(loaded[1], "job_parts", "required", column="qty_pcs") == blank
    assert lines(loaded[1], "job_parts", "whole_number") == words


def test_takings_of_no_piece(folder, loaded):
    zero = [row["line"] for row in folder.rows["job_parts"] if is_whole(row["qty_pcs"]) and int(row["qty_pcs"]) == 0]
    assert len(zero) > 0 and lines(loaded[1], "job_parts", "not_zero") == zero


def test_parts_nobody_listed(folder, loaded, part_of):
    for name in ("job_parts", "counts", "offers", "order_lines", "callbacks"):
        unknown = [row["line"] for row in folder.rows[name] if row["part"] and part_of(row["part"]) is None]
        assert lines(loaded[1], name, "unknown_part") == unknown
        assert (name != "job_parts") or len(unknown) > 0


def test_jobs_nobody_listed_and_jobs_themselves_set_aside(folder, loaded, bad_jobs):
    listed = set(folder.column("jobs", "job"))
    for name in ("job_parts", "job_hours", "job_costs", "callbacks"):
        unknown = [row["line"] for row in folder.rows[name] if row["job"] not in listed]
        orphans = [row["line"] for row in folder.rows[name] if row["job"] in bad_jobs]
        assert lines(loaded[1], name, "unknown_job") == unknown
        assert lines(loaded[1], name, "job_set_aside") == orphans
    assert any(row["job"] not in listed for row in folder.rows["job_parts"])


def test_exact_doubles(folder, loaded, bad_jobs, part_of):
    seen, doubles = {}, []
    listed = set(folder.column("jobs", "job"))
    for row in folder.rows["job_parts"]:
        cells = tuple(row[c].strip() for c in row if c != "line")
        is_good = (row["job"] in listed and row["job"] not in bad_jobs and part_of(row["part"])
                   and is_whole(row["qty_pcs"]) and int(row["qty_pcs"]))
        if is_good and cells in seen:
            doubles.append((row["line"], seen[cells]))
        elif is_good:
            seen[cells] = row["line"]
    found = sorted((e["line"], int(re.search(r"the same as line (\d+);", e["suggestion"])[1]))
                   for e in small_shop.entries(loaded[1], rule="double"))
    assert len(doubles) > 0 and found == doubles


def test_impossible_dates(folder, loaded):
    early = [
        row["line"] for row in folder.rows["jobs"] if row["delivered_on"] and row["delivered_on"] < row["booked_on"]
    ]
    before_start = [row["line"] for row in folder.rows["jobs"]
                    if row["delivered_on"] and row["started_on"] and row["delivered_on"] < row["started_on"]]
    assert len(early) > 0
    assert lines(loaded[1], "jobs", "order_of_days", column="delivered_on") == sorted(early + before_start)


def test_unknown_families_name_the_machines_own_and_are_not_filled(folder, loaded):
    families = set(folder.column("families", "family"))
    machine_family = {row["machine"]: row["family"] for row in folder.rows["machines"]}
    odd = {row["line"]: machine_family[row["machine"]] for row in folder.rows["jobs"]
           if row["family"] and row["family"] not in families}
    found = {e["line"]: e["suggestion"] for e in small_shop.entries(loaded[1], rule="unknown_family")}
    assert len(odd) > 0 and set(found) == set(odd)
    for line, family in odd.items():
        assert f"its machine is of family {family}" in found[line]


def test_blank_families_are_filled_from_the_machine_and_listed(folder, loaded):
    machine_family = {row["machine"]: row["family"] for row in folder.rows["machines"]}
    blank = {row["job"]: machine_family[row["machine"]] for row in folder.rows["jobs"] if row["family"] == ""}
    mends = small_shop.entries(loaded[1], "repaired", rule="family_from_machine")
    assert len(mends) == len(blank) > 0
    stored = dict(small_shop.rows(loaded[0], "select job, family from jobs"))
    assert {job: stored[job] for job in blank} == blank


def test_counts_that_are_no_number_or_less_than_nothing(folder, loaded):
    rows = folder.rows["counts"]
    words = [row["line"] for row in rows if not is_whole(row["qty_pcs"])]
    negative = [row["line"] for row in rows if is_whole(row["qty_pcs"]) and int(row["qty_pcs"]) < 0]
    assert len(words) > 0 and len(negative) > 0
    assert lines(loaded[1], "counts", "whole_number") == words
    assert lines(loaded[1], "counts", "range") == negative


def test_aliases_are_resolved_and_listed_line_by_line(folder, loaded, part_of):
    parts = set(folder.column("parts", "part"))
    other = {row["line"]: part_of(row["part"]) for row in folder.rows["job_parts"]
             if row["part"].strip() not in parts and part_of(row["part"])}
    found = {
        e["line"]: e["suggestion"]
        for e in small_shop.entries(loaded[1], "repaired", file="job_parts.csv", rule="alias")
    }
    assert len(other) > 100 and found == {line: f"taken as {part}" for line, part in other.items()}


def test_no_row_is_set_aside_without_a_cause_found_here(folder, loaded, bad_jobs, part_of):
    """The faults above are all: together they explain every row set aside, of every file."""
    listed, summary = set(folder.column("jobs", "job")), loaded[1]
    causes = Counter()
    for row in folder.rows["job_parts"]:
        causes["job_parts"] += (row["job"] not in listed or row["job"] in bad_jobs or part_of(row["part"]) is None
                                or not is_whole(row["qty_pcs"]) or int(row["qty_pcs"]) == 0)
    causes["job_parts"] += len(small_shop.entries(summary, rule="double"))
    causes["jobs"] = len(bad_jobs)
    for name in ("job_hours", "job_costs", "callbacks"):
        causes[name] = sum(row["job"] not in listed or row["job"] in bad_jobs for row in folder.rows[name])
    causes["counts"] = sum(not is_whole(row["qty_pcs"]) or int(row["qty_pcs"]) < 0 for row in folder.rows["counts"])
    told = summary.files.set_index("file")["rows_set_aside"]
    assert {file.removesuffix(".csv"): count for file, count in told.items() if count} == dict(causes)


def test_the_good_takings_are_in_piece_by_piece(folder, loaded, bad_jobs, part_of):
    listed = set(folder.column("jobs", "job"))
    expected, seen = Counter(), set()
    for row in folder.rows["job_parts"]:
        cells = tuple(row[c].strip() for c in row if c != "line")
        part = part_of(row["part"])
        if (
            row["job"] in listed
            and row["job"] not in bad_jobs
            and part
            and is_whole(row["qty_pcs"])
            and cells not in seen
        ):
            seen.add(cells)
            expected[row["job"], part] += int(row["qty_pcs"])
    stored = small_shop.rows(loaded[0], "select job, part, sum(qty_pcs)::int from job_parts group by all")
    assert {(job, part): pieces for job, part, pieces in stored if pieces} == {k: v for k, v in expected.items() if v}


def test_money_and_hours_are_in_to_the_last_digit(folder, loaded, bad_jobs):
    from decimal import Decimal
    paid = sum(Decimal(row["unit_price"]) * int(row["qty_pcs"]) for row in folder.rows["order_lines"])
    assert small_shop.rows(loaded[0], "select sum(unit_price * qty_pcs) from order_lines") == [(paid,)]
    hours = sum(float(row["hours"]) for row in folder.rows["job_hours"] if row["job"] not in bad_jobs)
    assert small_shop.rows(loaded[0], "select round(sum(hours), 6) from job_hours") == [(round(hours, 6),)]


def test_the_whole_rows_set_aside_are_kept(folder, loaded):
    kept = small_shop.rows(loaded[0], "select file, line, cells from set_aside_rows")
    assert len(kept) == loaded[1].files["rows_set_aside"].sum()
    import json
    for file, line, cells in kept:
        row = folder.rows[file.removesuffix(".csv")][line - 2]
        assert json.loads(cells) == {k: v for k, v in row.items() if k != "line"}


def test_what_is_printed_is_short_and_true(loaded):
    printed = loaded[1].lines()
    assert len(printed) < 50 and all(len(line) < 260 for line in printed)
    assert any(
        "jobs.csv line 176: family is 'E.M.'" in line and "its machine is of family dmd" in line for line in printed
    )
    for line in printed:
        named = re.search(r"lines (\d+(?:, \d+)*)", line)
        if named:
            numbers = [int(n) for n in named[1].split(", ")]
            assert numbers == sorted(set(numbers))


def test_settings_come_from_the_shops_own_file(folder, loaded):
    own = {row["key"]: row["value"] for row in folder.rows["shop"]}
    with connect.open_read(loaded[0]) as connection:
        settings = read.settings(connection)
    assert (settings.name, str(settings.today), settings.labour_rate) == (
        own["name"],
        own["today"],
        float(own["labour_rate"]),
    )
    assert not set(own) & set(settings.defaulted)


def test_a_second_load_changes_nothing(folder, loaded, tmp_path):
    before = small_shop.contents(loaded[0])
    assert shop_folder.load(folder.path, loaded[0], tmp_path).is_unchanged
    assert small_shop.contents(loaded[0]) == before


def test_check_finds_the_same_and_ends_with_one(folder, loaded, tmp_path):
    summary = shop_folder.check(folder.path, tmp_path)
    assert summary.exit_code == 1
    assert small_shop.set_aside(summary) == small_shop.set_aside(loaded[1])
