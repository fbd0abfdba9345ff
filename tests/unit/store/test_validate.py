"""Staging, typed reading, offences and acceptance of one file at a time."""

import pandas as pd
import pytest

from pipeline.store import append, catalogue, connect, read, validate

NONE = pd.DataFrame(columns=validate.OFFENCE_COLUMNS)


@pytest.fixture
def shop():
    """An empty store in memory with two parts and a job."""
    with connect.open_memory() as connection:
        connection.execute("insert into families values ('em', 'EM', null, null)")
        connection.execute("insert into parts (part, description) values ('coil', 'C'), ('lamp', 'L')")
        connection.execute("insert into jobs (job, family, scope) values ('J1', 'em', 'fix_only')")
        for name in catalogue.tables():
            connection.execute(f"create or replace temp table accepted_{name} as from main.{name}")
        yield connection


def staged(connection, name, *rows, refused=NONE):
    """Stage rows (dicts of text) from line 2 on; return their offences as (line, column, rule)."""
    frame = pd.DataFrame([{"file_line": n, **row, "extra": row.get("extra")} for n, row in enumerate(rows, start=2)])
    validate.stage(connection, name, frame)
    found = validate.offences(connection, name, refused)
    return [(row.line, None if pd.isna(row.column) else row.column, row.rule) for row in found.itertuples()]


def taking(**cells):
    return {"job": "J1", "part": "coil", "qty_pcs": "1", "used_on": "", **cells}


@pytest.mark.parametrize(
    ("kind", "text", "expected"),
    [
        ("qty_pcs", "12", 12),
        ("qty_pcs", "+3", 3),
        ("qty_pcs", "-2", -2),
        ("qty_pcs", "4.000", 4),
        ("qty_pcs", "5.", 5),
        ("qty_pcs", "0012", 12),
        ("qty_pcs", "9223372036854775807", 9223372036854775807),
        ("qty_pcs", "9223372036854775808", None),
        ("qty_pcs", "1.5", None),
        ("qty_pcs", "1e2", None),
        ("qty_pcs", " 1", None),
        ("qty_pcs", "1_000", None),
        ("qty_pcs", "0x10", None),
        ("qty_pcs", "true", None),
        ("qty_pcs", "١٢", None),
    ],
)
def test_pieces_are_read_whole_or_not_at_all(shop, kind, text, expected):
    offences = staged(shop, "job_parts", taking(**{kind: text}))
    assert read.rows(shop, f'select "typed {kind}" from staged_job_parts') == [(expected,)]
    assert ("whole_number" in {rule for *_, rule in offences}) == (expected is None)


@pytest.mark.parametrize(("text", "expected"), [
    ("1.5", 1.5), (".5", 0.5), ("2.", 2.0), ("1e-2", 0.01), ("+7", 7.0), ("1e400", None), ("nan", None), ("inf", None),
    ("Infinity", None), ("1,5", None), ("1_0", None), ("0b1", None)])
def test_numbers_are_finite_or_not_read(shop, text, expected):
    staged(shop, "job_hours", {"job": "J1", "hours": text})
    assert read.rows(shop, 'select "typed hours" from staged_job_hours') == [(expected,)]


@pytest.mark.parametrize(("text", "expected"), [
    ("2025-03-09", "2025-03-09"), ("2024-02-29", "2024-02-29"), ("2025-02-29", None), ("2025-3-9", None),
    ("09.03.2025", None), ("infinity", None), ("2025-03-09 10:00", None)])
def test_days_are_iso_and_exist(shop, text, expected):
    staged(shop, "job_parts", taking(used_on=text))
    assert read.rows(shop, 'select "typed used_on"::varchar from staged_job_parts') == [(expected,)]


def test_an_absent_or_empty_cell_is_unknown(shop):
    assert staged(shop, "job_parts", taking(used_on="", line="")) == []
    assert read.rows(shop, 'select used_on, "typed used_on", batch, "typed line" from staged_job_parts') == [
        (None,) * 4
    ]


def test_every_broken_rule_of_a_line_is_told(shop):
    assert staged(shop, "job_parts", taking(qty_pcs="0", source="bought", job="J7", part="")) == [
        (2, "job", "unknown_job"), (2, "part", "required"), (2, "qty_pcs", "not_zero"), (2, "source", "allowed_values")]


def test_cells_refused_before_are_not_told_twice(shop):
    cell = pd.DataFrame([(2, "used_on", "1/2/25", "two_readings", "could be")], columns=validate.OFFENCE_COLUMNS)
    assert staged(shop, "job_parts", taking(used_on="1/2/25", qty_pcs="0"), refused=cell) == [
        (2, "qty_pcs", "not_zero"), (2, "used_on", "two_readings")]


def test_a_row_refused_as_a_whole_is_told_once(shop):
    row = pd.DataFrame([(2, None, "x", "more_cells", "too many")], columns=validate.OFFENCE_COLUMNS)
    assert staged(shop, "job_parts", taking(used_on="x", qty_pcs="0"), taking(), refused=row) == [
        (2, None, "more_cells")
    ]
    assert validate.accept(shop, "job_parts") == 1


def test_doubles_are_equal_as_read_not_as_written_and_the_first_stays(shop):
    assert staged(shop, "job_parts", taking(qty_pcs="1"), taking(qty_pcs="2"), taking(qty_pcs="1.0"),
                  taking(qty_pcs="+1")) == [(4, None, "double"), (5, None, "double")]
    assert validate.accept(shop, "job_parts") == 2


def test_a_double_of_a_bad_row_is_judged_by_itself(shop):
    assert staged(shop, "job_parts", taking(qty_pcs="0"), taking(qty_pcs="0"), taking()) == [
        (2, "qty_pcs", "not_zero"), (3, "qty_pcs", "not_zero")]


def test_the_same_key_with_empty_parts_is_one_key(shop):
    shop.execute("insert into accepted_vendors (vendor) values ('n')")
    offer = {"vendor": "n", "part": "coil", "pack_price": "1"}
    found = staged(shop, "offers", offer, offer | {"pack_price": "2"}, offer | {"pack_price": "3", "pack_pcs": "5"})
    assert found == [(3, "vendor", "same_key")]


def test_a_reference_is_known_where_its_parents_row_was_accepted_and_nowhere_else(shop):
    shop.execute("insert into accepted_parts (part, description) values ('new', 'N')")
    shop.execute("delete from accepted_parts where part = 'lamp'")  # in the store still, but no longer good
    assert staged(shop, "job_parts", taking(part="new"), taking(part="lamp"), taking(part="none")) == [
        (3, "part", "unknown_part"), (4, "part", "unknown_part")]


def test_settings_are_known_by_the_catalogue_that_the_store_carries(shop):
    assert staged(shop, "shop", {"key": "bays", "value": "3"}, {"key": "colour", "value": "red"}) == [
        (3, "key", "unknown_key")]


def test_an_accepted_row_is_marked_and_carries_its_extra(shop):
    staged(shop, "job_parts", taking(extra='{"note": "x"}', recorded_in="notebook"),
           taking(qty_pcs="2", extra=None, recorded_in=""))
    validate.accept(shop, "job_parts")
    assert read.rows(shop, "select job, recorded_in, extra, length(row_hash) from accepted_job_parts order by qty_pcs"
                     ) == [("J1", "notebook", '{"note": "x"}', 32), ("J1", "folder", None, 32)]


def test_who_recorded_a_row_is_one_of_two_words(shop):
    assert staged(shop, "job_parts", taking(recorded_in="bench"), taking(recorded_in="notebook")) == [
        (2, "recorded_in", "allowed_values")]
    words = validate.offences(shop, "job_parts", NONE)["suggestion"].tolist()
    assert words == ["wanted folder or notebook"]


def test_rows_are_accepted_under_the_name_asked_for(shop):
    staged(shop, "job_parts", taking())
    assert validate.accept(shop, "job_parts", into="given") == 1
    assert read.rows(shop, "select count(*) from given_job_parts") == [(1,)]
    assert read.rows(shop, "select count(*) from accepted_job_parts") == [(0,)]


def test_a_row_hash_keeps_cells_apart_and_counts_no_extra(shop):
    rows = [taking(batch="a", assembly="b"), taking(batch="b", assembly="a"), taking(batch='a","b'),
            taking(assembly='a","b'), taking(batch="null"), taking(), taking(batch="\x1e"), taking(batch="\x1f")]
    assert staged(shop, "job_parts", *rows) == []
    validate.accept(shop, "job_parts")
    assert read.rows(shop, "select count(distinct row_hash) from accepted_job_parts") == [(len(rows),)]
    staged(shop, "job_parts", taking(), )
    validate.accept(shop, "job_parts")
    plain = read.rows(shop, "select row_hash from accepted_job_parts")
    staged(shop, "job_parts", taking(qty_pcs="1.0", extra='{"note": "x"}'))
    validate.accept(shop, "job_parts")
    assert read.rows(shop, "select row_hash from accepted_job_parts") == plain


def test_next_line_counts_equal_rows_alone(shop):
    def line():
        staged(shop, "job_parts", taking())
        return append.next_line(shop, "job_parts")

    def keep(**cells):
        staged(shop, "job_parts", taking(**cells))
        validate.accept(shop, "job_parts")
        return append.append(shop, "job_parts")

    assert line() is None
    assert keep(qty_pcs="2") == 1 and line() is None
    assert keep() == 1 and line() == 1
    assert keep() == 0
    assert keep(line="1") == 1 and line() == 2
    assert keep(line="40") == 1 and line() == 41


def test_a_row_with_more_than_one_fault_is_put_by_once_and_whole(shop):
    staged(shop, "job_parts", taking(qty_pcs="0", source="odd", extra='{"a": "b"}'), taking())
    found = validate.put_by(shop, "job_parts")
    assert found[["file_line", "job", "qty_pcs", "extra"]].values.tolist() == [[2, "J1", "0", '{"a": "b"}']]
    assert read.rows(shop, "select file_line, qty_pcs from put_by_job_parts") == [(2, 0)]


def store_rows(connection, *assemblies):
    """Put takings into the store, equal but for their assembly."""
    for n, assembly in enumerate(assemblies):
        connection.execute("insert into job_parts (row_hash, job, part, qty_pcs, assembly, recorded_in)"
                           " values (?, 'J1', 'coil', 1, ?, ?)", [str(n), assembly, "notebook" if n else "folder"])


def test_rows_of_the_store_are_staged_below_line_nought_with_their_mark(shop):
    store_rows(shop, None, "flipper")
    validate.stage_standing(shop, "job_parts", {})
    assert read.rows(shop, 'select file_line, qty_pcs, "typed qty_pcs", assembly, recorded_in from staged_job_parts'
                           " order by file_line desc") == [(-1, "1", 1, None, "folder"),
                                                           (-2, "1", 1, "flipper", "notebook")]
    assert validate.offences(shop, "job_parts", NONE).empty


def test_rows_of_the_store_that_become_one_by_a_new_spelling_are_doubles_and_named_without_a_line(shop):
    store_rows(shop, "FLIPPER", "Flipper", "flipper")
    validate.stage_standing(shop, "job_parts", {"assembly": {"FLIPPER": "flipper", "Flipper": "flipper"}})
    found = validate.offences(shop, "job_parts", NONE)
    assert found["rule"].tolist() == ["double", "double"]
    assert set(found["suggestion"]) == {"the same as another row; a number in `line` tells equal rows apart"}
    assert validate.accept(shop, "job_parts", into="standing") == 1
    assert read.rows(shop, "select distinct assembly, length(row_hash) from standing_job_parts") == [("flipper", 32)]


def test_what_the_store_held_once_goes_behind_what_it_holds(shop):
    store_rows(shop, None)
    waits = pd.DataFrame([{"file_line": -3, **taking(), "extra": None, "recorded_in": "notebook"},
                          {"file_line": -1, **taking(qty_pcs="5"), "extra": None, "recorded_in": "notebook"}])
    validate.stage_standing(shop, "job_parts", {}, waits)
    assert read.rows(shop, "select file_line, qty_pcs, recorded_in from staged_job_parts order by 1") == [
        (-4, "1", "folder"), (-3, "1", "notebook"), (-1, "5", "notebook")]
    found = validate.offences(shop, "job_parts", NONE)
    assert found[["line", "rule"]].values.tolist() == [[-3, "double"]]


def standing(connection, name, sql):
    connection.execute(f"create or replace temp table standing_{name} as from main.{name} limit 0")
    connection.execute(f"insert into standing_{name} by name {sql}")


def test_a_row_that_waits_is_a_double_of_what_is_in_and_never_takes_its_place(shop):
    standing(shop, "parts", "select 'coil' as part, 'C' as description")
    assert staged(shop, "parts", {"part": "coil", "description": "Other"}, {"part": "new", "description": "N"},
                  {"part": "coil", "description": ""}) == [(4, "description", "required")]
    found = validate.already_there(shop, "parts", [2, 3, 4])
    assert found[["line", "column", "value", "rule"]].values.tolist() == [[2, "part", "coil", "same_key"]]
    assert found["suggestion"][0] == "a row with the same part is in; keep one of the two"
    assert validate.accept(shop, "parts", into="given") == 1


def test_a_row_of_all_its_values_that_waits_is_a_double_of_its_equal(shop):
    staged(shop, "job_parts", taking())
    validate.accept(shop, "job_parts", into="standing")
    assert staged(shop, "job_parts", taking(qty_pcs="1.0"), taking(qty_pcs="2"), taking(qty_pcs="1")) == [
        (4, None, "double")]
    found = validate.already_there(shop, "job_parts", [2, 3])
    assert found[["line", "rule"]].values.tolist() == [[2, "double"]] and found["column"].isna().all()
    assert validate.already_there(shop, "job_parts", []).empty
