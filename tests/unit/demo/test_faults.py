"""Planted faults stand where the list says, and nothing else is wrong."""

import csv
from collections import Counter

import numpy as np
import pytest

from pipeline.demo import faults, generate, write


@pytest.fixture(scope="module")
def written(shop, tmp_path_factory):
    """The records as a user would open them: file name to rows of text, header first."""
    folder = tmp_path_factory.mktemp("shop")
    write.shop_folder(folder, shop.tables)
    rows = {}
    for path in folder.glob("*.csv"):
        with open(path, encoding="utf-8", newline="") as file:
            rows[path.name] = list(csv.reader(file))
    return rows


@pytest.fixture(scope="module")
def planted(shop):
    return shop.truth_tables["faults"]


def test_there_are_about_two_dozen_faults(planted):
    assert 20 <= len(planted) <= 30


def test_every_kind_of_fault_occurs(planted):
    kinds = Counter((fault["rule"], fault["outcome"]) for fault in planted)
    for rule in (
        "required",
        "whole_number",
        "not_zero",
        "unknown_part",
        "unknown_job",
        "date",
        "double",
        "number",
    ):
        assert kinds[rule, "set_aside"] >= 1, rule
    for rule in ("alias", "spelling", "blanks", "decimal_comma"):
        assert kinds[rule, "repaired"] >= 1, rule


def test_each_fault_stands_in_the_line_and_column_listed(planted, written):
    for fault in planted:
        header, *rows = written[fault["file"]]
        row = rows[fault["line"] - 2]
        if fault["rule"] == "double":
            assert row == rows[fault["line"] - 3]
        else:
            assert row[header.index(fault["column"])] == fault["value"]


def test_faults_are_listed_in_order_of_file_and_line(planted):
    places = [(fault["file"], fault["line"]) for fault in planted]
    assert places == sorted(places)
    assert len(places) == len(set(places))


def test_a_fault_hides_a_true_value(planted):
    for fault in planted:
        if fault["rule"] != "double":
            assert fault["true_value"] != fault["value"]


def test_the_other_rows_are_as_they_would_be_without_faults(shop):
    from pipeline.demo.world import Habits, World

    honest = generate.simulate(5, World(habits=Habits(with_faults=False)))
    assert honest.truth_tables["faults"] == [] and honest.truth_tables["slips"] == []
    for name, rows in honest.tables.items():
        faulty = Counter(tuple(map(str, row.values())) for row in shop.tables[name])
        right = Counter(tuple(map(str, row.values())) for row in rows)
        n_faults = sum(fault["file"] == f"{name}.csv" for fault in shop.truth_tables["faults"])
        n_slips = sum(slip["file"] == f"{name}.csv" for slip in shop.truth_tables["slips"])
        assert sum((right - faulty).values()) <= n_faults + n_slips, name


def test_two_purchases_were_never_written_down(shop):
    slips = shop.truth_tables["slips"]
    assert len(slips) == 2
    listed = {(row["order_no"], row["part"]) for row in shop.tables["order_lines"]}
    for slip in slips:
        assert (slip["order_no"], slip["part"]) not in listed
        assert slip["received_pcs"] >= 10


def test_the_job_of_an_unknown_family_has_nothing_else_written(shop):
    (job,) = [row["job"] for row in shop.tables["jobs"] if row["family"] == "Dot Matrix"]
    for name, columns in write.COLUMNS.items():
        if name != "jobs" and "job" in columns.split():
            assert all(row["job"] != job for row in shop.tables[name]), name


def test_a_planter_never_spoils_a_row_twice():
    tables = {"counts": [{"qty_pcs": n} for n in range(5)]}
    planter = faults.Planter(np.random.default_rng(1), tables)
    for _ in range(9):
        planter.spoil("counts", "qty_pcs", "lots", "whole_number", "set_aside")
    assert len(planter.listed()) == 5
    assert [row["qty_pcs"] for row in tables["counts"]] == ["lots"] * 5


def test_a_double_is_listed_in_its_second_line():
    tables = {"counts": [{"qty_pcs": 7}]}
    planter = faults.Planter(np.random.default_rng(1), tables)
    planter.double("counts")
    (fault,) = planter.listed()
    assert (fault["line"], fault["rule"]) == (3, "double")
    assert tables["counts"] == [{"qty_pcs": 7}, {"qty_pcs": 7}]


def test_nothing_is_planted_where_no_row_fits():
    planter = faults.Planter(np.random.default_rng(1), {"counts": []})
    planter.spoil("counts", "qty_pcs", "", "required", "set_aside")
    planter.double("counts")
    assert planter.lose("counts", lambda row: True) is None
    assert planter.listed() == []


def test_a_lost_row_is_gone():
    tables = {"counts": [{"qty_pcs": 1}, {"qty_pcs": 2}]}
    planter = faults.Planter(np.random.default_rng(1), tables)
    lost = planter.lose("counts", lambda row: row["qty_pcs"] == 2)
    assert lost == {"qty_pcs": 2}
    assert tables["counts"] == [{"qty_pcs": 1}]
