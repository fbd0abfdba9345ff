"""Rows that stood in the store before a load: vanished, dropped, needed by the notebook, or borne by a file."""

import pandas as pd
import pytest

from pipeline.store import catalogue, connect, read, standing, validate

NONE = pd.DataFrame(columns=validate.OFFENCE_COLUMNS)


@pytest.fixture
def shop():
    """A store in memory: two jobs, two parts, a taking by the folder and one by the notebook; no file gives a row."""
    with connect.open_memory() as connection:
        connection.execute("insert into families values ('em', 'EM', null, null), ('ss', 'SS', null, null)")
        connection.execute("insert into vendors (vendor) values ('north'), ('south')")
        connection.execute("insert into parts (part, description, unit_cost) values"
                           " ('coil', 'Coil', 1.5), ('lamp', 'L', null)")
        connection.execute("insert into jobs (job, family, scope, booked_on) values"
                           " ('J1', 'em', 'fix_only', date '2025-01-02'), ('J2', 'ss', 'refresh', null)")
        connection.execute("insert into job_parts (row_hash, job, part, qty_pcs, recorded_in)"
                           " values ('h1', 'J1', 'coil', 1, 'folder'), ('h2', 'J2', 'lamp', 2, 'notebook')")
        connection.execute("insert into offers (vendor, part, pack_price) values"
                           " ('north', 'coil', 2), ('north', 'lamp', 3)")
        for name in catalogue.tables():
            connection.execute(f"create temp table standing_{name} as from main.{name}")
            connection.execute(f"create temp table given_{name} as from main.{name} limit 0")
            connection.execute(f"create temp table accepted_{name} as from main.{name}")
        yield connection


def test_the_notebooks_rows_need_what_they_name_and_what_that_names(shop):
    needed = standing.needed(shop)
    assert {name: ids for name, ids in needed.items() if ids} == {"jobs": {"J2"}, "parts": {"lamp"}, "families": {"ss"}}


def test_without_the_notebook_nothing_is_needed(shop):
    shop.execute("update job_parts set recorded_in = 'folder'")
    assert not any(standing.needed(shop).values())


def test_vanished_rows_are_told_in_words_one_by_one(shop):
    assert standing.vanished(shop, "parts") == ["part coil, description Coil, unit_cost 1.5000",
                                                "part lamp, description L"]
    shop.execute("insert into given_parts by name select 'lamp' as part, 'Other' as description")
    assert standing.vanished(shop, "parts") == ["part coil, description Coil, unit_cost 1.5000"]


def test_the_notebooks_rows_vanish_from_no_file(shop):
    assert standing.vanished(shop, "job_parts") == ["job J1, part coil, qty_pcs 1"]


def test_dropping_keeps_what_the_file_bears_and_what_the_notebook_needs(shop):
    shop.execute("insert into given_jobs by name select 'J3' as job, 'em' as family, 'refresh' as scope")
    assert standing.drop_vanished(shop, "jobs", {"J2"}) == (
        ["job J1, family em, scope fix_only, booked_on 2025-01-02"], ["job J2, family ss, scope refresh"])
    assert read.rows(shop, "select job from standing_jobs") == [("J2",)]
    shop.execute("insert into given_families by name select 'em' as family, 'E' as name")
    assert standing.drop_vanished(shop, "families", set()) == (["family ss, name SS"], [])
    assert read.rows(shop, "select family from standing_families") == [("em",)]


def test_dropping_leaves_the_notebooks_own_rows_without_a_word(shop):
    assert standing.drop_vanished(shop, "job_parts", set()) == (["job J1, part coil, qty_pcs 1"], [])
    assert read.rows(shop, "select recorded_in from standing_job_parts") == [("notebook",)]


def test_dropping_tells_rows_apart_by_their_whole_key(shop):
    shop.execute("insert into given_offers by name select 'north' as vendor, 'coil' as part, 9 as pack_price")
    assert standing.drop_vanished(shop, "offers", set())[0] == ["vendor north, part lamp, pack_price 3.0000"]


def put_by(connection, name, parent):
    """Judge the store's rows without one parent; keep the bad ones, as a load does."""
    table, column, value = parent
    connection.execute(f"delete from accepted_{table} where {column} = '{value}'")
    validate.stage_standing(connection, name, {})
    validate.offences(connection, name, NONE)
    return validate.put_by(connection, name)


def stage(connection, name, *rows):
    frame = pd.DataFrame([{"file_line": n, **row, "extra": None} for n, row in enumerate(rows, start=2)])
    validate.stage(connection, name, frame)
    validate.offences(connection, name, NONE)


def test_a_bad_row_of_the_store_is_stood_for_by_its_row_in_the_file_good_or_bad(shop):
    (line,) = put_by(shop, "jobs", ("families", "family", "em"))["file_line"]
    stage(shop, "jobs", {"job": "J9", "family": "ss", "scope": "refresh"})
    assert standing.not_borne(shop, "jobs", ()) == {line}
    stage(shop, "jobs", {"job": "J1", "family": "em", "scope": "wild"})
    assert standing.not_borne(shop, "jobs", ()) == set()
    stage(shop, "jobs", {"job": "J1", "family": "ss", "scope": "refresh"})
    assert standing.not_borne(shop, "jobs", ()) == set()


def test_a_row_that_merely_waits_stands_for_no_other(shop):
    (line,) = put_by(shop, "jobs", ("families", "family", "em"))["file_line"]
    stage(shop, "jobs", {"job": "J1", "family": "ss", "scope": "refresh"})
    assert standing.not_borne(shop, "jobs", {2}) == {line}


def test_rows_of_all_their_values_are_stood_for_by_their_equals_alone(shop):
    (line,) = put_by(shop, "job_parts", ("jobs", "job", "J1"))["file_line"]
    stage(shop, "job_parts", {"job": "J1", "part": "coil", "qty_pcs": "2"})
    assert standing.not_borne(shop, "job_parts", ()) == {line}
    stage(shop, "job_parts", {"job": "J1", "part": "coil", "qty_pcs": "1.0"})
    assert standing.not_borne(shop, "job_parts", ()) == set()
