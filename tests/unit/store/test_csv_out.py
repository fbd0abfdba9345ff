"""A table as the file it came from: exact values, columns in their order, quotes where a reader needs them."""

import csv
import io
import json
import math
import struct
from decimal import Decimal
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd
import pytest

from pipeline.store import build, connect, csv_out


@pytest.fixture
def shop():
    """Three parts and two jobs; no views, for none is asked."""
    with duckdb.connect() as connection:
        build.build(connection)
        connection.execute("insert into families (family, name) values ('em', 'Electromechanical')")
        connection.execute("insert into parts (part, description) values ('b', 'B'), ('a', 'A'), ('c', 'C')")
        connection.execute("insert into jobs (job, family, scope) values"
                           " ('J2', 'em', 'refresh'), ('J1', 'em', 'fix_only')")
        yield connection


def written(connection, name, tmp_path, left_out=()):
    """The file's text, and what was said of it."""
    path = tmp_path / f"{name}.csv"
    found = csv_out.write_csv(connection, name, path, left_out)
    return path.read_bytes().decode("utf-8"), found


def taken(connection, row_hash, **cells):
    row = {"row_hash": row_hash, "job": "J1", "part": "a", "qty_pcs": 1, "recorded_in": "folder"} | cells
    columns = ", ".join(f'"{column}"' for column in row)
    connection.execute(f"insert into job_parts ({columns}) values ({', '.join('?' * len(row))})", list(row.values()))


def extras(connection, **by_part):
    for part, cells in by_part.items():
        connection.execute("update parts set extra = ? where part = ?", [json.dumps(cells, ensure_ascii=False), part])


def test_every_column_of_the_contract_in_its_order_and_rows_by_identity(shop, tmp_path):
    text, found = written(shop, "parts", tmp_path)
    assert text == ("part,description,wear_class,supply,shelf,keep,unit_cost\n"
                    "a,A,,,,,\nb,B,,,,,\nc,C,,,,,\n")
    assert found == csv_out.Written("parts", 3, ())


def test_an_empty_table_is_its_header(tmp_path):
    with connect.open_memory() as connection:
        assert written(connection, "aliases", tmp_path) == ("alias,part\n", csv_out.Written("aliases", 0, ()))


@pytest.mark.parametrize(("amount", "shown"), [
    ("0", "0"), ("0.0001", "0.0001"), ("12.50", "12.5"), ("1200", "1200"), ("100.0000", "100"), ("10", "10"),
    ("99999999999999.9999", "99999999999999.9999"), ("0.4567", "0.4567"),
])
def test_money_keeps_every_digit_and_no_idle_zero(shop, tmp_path, amount, shown):
    shop.execute("update parts set unit_cost = cast(? as decimal(18, 4)) where part = 'a'", [amount])
    text, _ = written(shop, "parts", tmp_path)
    assert text.splitlines()[1] == f"a,A,,,,,{shown}"
    assert Decimal(shown) == Decimal(amount)


def test_a_credit_is_negative(shop, tmp_path):
    shop.execute("insert into job_costs (row_hash, job, kind, amount, recorded_in) values"
                 " ('x', 'J1', 'discount', -12.5, 'folder')")
    assert written(shop, "job_costs", tmp_path)[0].splitlines()[1] == "J1,discount,-12.5,,,,"


def test_numbers_read_back_as_the_very_same_numbers_in_their_shortest_form(shop, tmp_path):
    # The shortest decimal that reads back is what Python's own repr gives (Steele & White 1990; David Gay's algorithm).
    random = np.random.default_rng(7)
    bits = random.integers(1, 0x7FEF_FFFF_FFFF_FFFF, 4000, dtype=np.uint64)
    some = [value for (value,) in struct.iter_unpack("d", bits.tobytes()) if math.isfinite(value) and value > 0]
    hours = some + [0.1 + 0.2, 1.0, 2.5, 100.0, 1e22, 123456789012345680.0, 5e-324, 1.7976931348623157e308]
    shop.register("given", pd.DataFrame({"n": range(len(hours)), "hours": hours}))
    shop.execute("insert into job_hours (row_hash, job, hours, line, recorded_in)"
                 " select 'h' || n, 'J1', hours, n, 'folder' from given")
    text, _ = written(shop, "job_hours", tmp_path)
    shown = [row[1] for row in csv.reader(text.splitlines()[1:])]
    assert [float(cell) for cell in shown] == hours
    assert {"0.30000000000000004", "1", "2.5", "100", "5e-324"} <= set(shown)
    digits = [cell.partition("e")[0].replace(".", "").strip("0") for cell in shown]
    assert digits == [repr(value).partition("e")[0].replace(".", "").strip("0") for value in hours]


def test_days_are_iso_and_the_unknown_is_empty(shop, tmp_path):
    shop.execute("update jobs set booked_on = date '2025-03-09', plays = 0 where job = 'J1'")
    rows = list(csv.DictReader(written(shop, "jobs", tmp_path)[0].splitlines()))
    assert (rows[0]["job"], rows[0]["booked_on"], rows[0]["plays"]) == ("J1", "2025-03-09", "0")
    assert (rows[1]["job"], rows[1]["booked_on"], rows[1]["plays"]) == ("J2", "", "")


def test_rows_that_are_all_their_values_stand_by_day_and_what_they_name(shop, tmp_path):
    for row_hash, cells in {"1": {}, "9": {"used_on": "2025-01-02", "job": "J2"}, "2": {"used_on": "2025-01-02"},
                            "5": {"used_on": "2025-01-01", "part": "b"}, "4": {"used_on": "2025-01-02", "line": 1},
                            "7": {"used_on": "2025-01-01", "part": "b", "qty_pcs": 3}}.items():
        taken(shop, row_hash, **cells)
    rows = list(csv.DictReader(written(shop, "job_parts", tmp_path)[0].splitlines()))
    assert [(r["used_on"], r["job"], r["part"], r["line"], r["qty_pcs"]) for r in rows] == [
        ("2025-01-01", "J1", "b", "", "1"), ("2025-01-01", "J1", "b", "", "3"), ("2025-01-02", "J1", "a", "1", "1"),
        ("2025-01-02", "J1", "a", "", "1"), ("2025-01-02", "J2", "a", "", "1"), ("", "J1", "a", "", "1")]


def test_numbers_among_the_identity_stand_as_numbers_not_as_text(shop, tmp_path):
    shop.execute("insert into vendors (vendor) values ('v'); insert into offers (vendor, part, pack_price, from_packs)"
                 " select 'v', 'a', 1, n from range(1, 12) as given (n) order by n % 5")
    rows = list(csv.DictReader(written(shop, "offers", tmp_path)[0].splitlines()))
    assert [row["from_packs"] for row in rows] == [str(n) for n in range(1, 12)]


def test_the_same_rows_in_another_order_give_the_same_bytes(shop, tmp_path):
    cells = [{"row_hash": str(n), "used_on": f"2025-01-{1 + n % 3:02}", "part": "abc"[n % 3], "qty_pcs": 1 + n}
             for n in range(20)]
    for row in cells:
        taken(shop, **row)
    before = written(shop, "job_parts", tmp_path)
    shop.execute("delete from job_parts")
    for row in reversed(cells):
        taken(shop, **row)
    assert written(shop, "job_parts", tmp_path) == before


def test_the_notebooks_mark_is_written_only_where_it_wrote(shop, tmp_path):
    taken(shop, "1")
    assert "recorded_in" not in written(shop, "job_parts", tmp_path)[0]
    taken(shop, "2", recorded_in="notebook", part="b")
    rows = list(csv.DictReader(written(shop, "job_parts", tmp_path)[0].splitlines()))
    assert [(row["part"], row["recorded_in"]) for row in rows] == [("a", "folder"), ("b", "notebook")]


def test_a_column_may_be_left_out(shop, tmp_path):
    shop.execute("update jobs set customer_ref = 'Ada' where job = 'J1'")
    assert "Ada" in written(shop, "jobs", tmp_path)[0]
    text, _ = written(shop, "jobs", tmp_path, ("customer_ref",))
    assert "customer_ref" not in text and "Ada" not in text and text.startswith("job,family,machine,")


def test_other_columns_follow_in_an_order_that_agrees_with_every_row(shop, tmp_path):
    extras(shop, a={"colour": "red"}, b={"maker": "x", "colour": "blue"}, c={"colour": "", "bin": " 7 "})
    text, found = written(shop, "parts", tmp_path)
    assert found.other_columns == ("maker", "colour", "bin")
    rows = list(csv.reader(text.splitlines()))
    assert [row[-3:] for row in rows] == [["maker", "colour", "bin"],
                                          ["", "red", ""], ["x", "blue", ""], ["", "", " 7 "]]


def test_rows_that_disagree_about_the_order_of_other_columns_lose_none(shop, tmp_path):
    extras(shop, a={"x": "1", "y": "2"}, b={"y": "3", "x": "4"})
    text, found = written(shop, "parts", tmp_path)
    assert found.other_columns == ("x", "y")
    assert [row[-2:] for row in csv.reader(text.splitlines())] == [["x", "y"], ["1", "2"], ["4", "3"], ["", ""]]


@pytest.mark.parametrize("name", ["a/b", "~", "~1", "$.x", "'; drop table parts; --", 'q"q', "x,y", "né", "0",
                                  "two\nlines", "\\", "*", "part_1"])
def test_another_column_may_have_any_name(shop, tmp_path, name):
    extras(shop, a={name: "cell", "plain": "1"}, b={"plain": "2"})
    text, found = written(shop, "parts", tmp_path)
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert found.other_columns == (name, "plain")
    assert [row[-2:] for row in rows] == [[name, "plain"], ["cell", "1"], ["", "2"], ["", ""]]


def test_another_column_that_bears_a_name_of_the_contract_steps_aside(shop, tmp_path):
    # So it is where a later edition made a column of the contract out of one that an owner had added.
    extras(shop, a={"shelf": "B2"})
    taken(shop, "1", extra='{"recorded_in": "a diary"}')
    assert written(shop, "parts", tmp_path)[0].splitlines()[0].endswith(",keep,unit_cost,shelf (extra)")
    text, _ = written(shop, "job_parts", tmp_path)
    assert text.splitlines()[0].endswith(",batch,recorded_in (extra)") and text.splitlines()[1].endswith(",a diary")


@pytest.mark.parametrize("cell", ["plain", "a, b", 'say "so"', "=1+1", "#5", "'s", " blanks ", "NULL", "\\N", "né",
                                  "a\u2028b", "tab\there"])
def test_a_cell_is_quoted_where_it_must_be_and_reads_back(shop, tmp_path, cell):
    shop.execute("update parts set description = ?, shelf = ? where part = 'a'", [cell, cell])
    text, _ = written(shop, "parts", tmp_path)
    assert list(csv.reader(io.StringIO(text, newline="")))[1][:5] == ["a", cell, "", "", cell]
    assert text.startswith("part,") and ('"' in text) == any(sign in cell for sign in ',"#')


@pytest.mark.parametrize("cell", ["two\nlines", "two\r\nlines", "old\rMac", "\n", 'a "b",\nc,d,e,f,g,h'])
@pytest.mark.parametrize("place", ["description", "extra"])
def test_where_a_cell_holds_a_line_break_the_whole_header_is_quoted(shop, tmp_path, cell, place):
    if place == "extra":
        extras(shop, b={"story": cell})
    else:
        shop.execute("update parts set description = ? where part = 'b'", [cell])
    text, _ = written(shop, "parts", tmp_path)
    rows = list(csv.reader(io.StringIO(text, newline="")))
    header = ",".join(f'"{column}"' for column in rows[0])
    assert text.startswith(f"{header}\n") and cell in rows[2] and len(rows) == 4
    assert rows[1][:2] == ["a", "A"]


def test_columns_that_hold_nothing_are_told_from_the_others(shop):
    shop.execute("update jobs set customer_ref = 'Ada' where job = 'J1'")
    assert csv_out.filled(shop, "jobs", ("machine", "customer_ref", "family")) == ["customer_ref", "family"]


def test_a_folder_that_is_not_there_and_a_full_disk_are_errors_of_the_system(shop, tmp_path):
    with pytest.raises(OSError) as error:
        csv_out.write_csv(shop, "parts", tmp_path / "nowhere" / "parts.csv")
    assert error.value.strerror == "No such file or directory"
    if Path("/dev/full").exists():
        with pytest.raises(OSError) as error:
            csv_out.write_csv(shop, "parts", "/dev/full")
        assert error.value.strerror == "No space left on device"


def test_ctrl_c_within_a_query_is_ctrl_c(shop, tmp_path, monkeypatch):
    def interrupted(connection, sql):
        raise RuntimeError("Query interrupted")

    monkeypatch.setattr(csv_out, "_rows", interrupted)
    with pytest.raises(KeyboardInterrupt):
        csv_out.write_csv(shop, "parts", tmp_path / "parts.csv")


def test_a_path_with_a_quote_in_it(shop, tmp_path):
    path = tmp_path / "Ada's parts.csv"
    csv_out.write_csv(shop, "parts", path)
    assert path.read_text(encoding="utf-8").count("\n") == 4
