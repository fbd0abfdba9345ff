"""Identifiers: one spelling for all, aliases resolved."""

import pandas as pd
import pytest

from pipeline.ingest.identifiers import Known, distinct, fold
from pipeline.ingest.raw_table import RawTable
from pipeline.store import catalogue, connect

TABLES = catalogue.tables()


def raw(name, **columns):
    frame = pd.DataFrame({column: pd.Series(cells, dtype=object) for column, cells in columns.items()})
    return RawTable(name, f"{name}.csv", frame.assign(file_line=range(2, 2 + len(frame)), extra=None), set(columns))


def column(name, table):
    return next(c for c in TABLES[table].columns if c.name == name)


def known(*tables, stored=()):
    with connect.open_memory() as connection:
        for statement in stored:
            connection.execute(statement)
        return Known(connection, {table.name: table for table in tables})


def spelled(names, table, named, *texts):
    return names.spelled(TABLES[table], column(named, table), pd.Series(list(texts), dtype=object)).tolist()


def unaliased(names, table, named, *texts):
    return names.unaliased(TABLES[table], column(named, table), pd.Series(list(texts), dtype=object)).tolist()


@pytest.mark.parametrize(("one", "other"), [("Coil A", " coil  a "), ("STRASSE", "straße"), ("e\u0301", "\u00e9"),
                                            ("a\u00a0b", "A B")])
def test_spellings_of_one_identifier_fold_alike(one, other):
    assert fold(one) == fold(other)


def test_the_first_spelling_seen_is_the_one_shown():
    names = known(raw("parts", part=["Coil A", "LAMP"], description=["c", "l"]))
    assert spelled(names, "job_parts", "part", "COIL  A", "lamp", "other", "") == ["Coil A", "LAMP", "other", ""]
    assert spelled(names, "parts", "part", " coil a") == ["Coil A"]
    assert names.names("part") == ["Coil A", "LAMP"] and names.names("job") == []


def test_the_stores_spelling_goes_before_the_files():
    names = known(raw("parts", part=["COIL"], description=["c"]),
                  stored=["insert into parts (part, description) values ('Coil', 'c')"])
    assert spelled(names, "parts", "part", "COIL", "coil") == ["Coil", "Coil"]


def test_assemblies_and_machines_are_spelled_alike_wherever_they_are_named():
    names = known(raw("assemblies", assembly=["Flipper"]), raw("machines", machine=["M1"], family=["em"]))
    assert spelled(names, "job_parts", "assembly", "FLIPPER", "bumper") == ["Flipper", "bumper"]
    assert spelled(names, "jobs", "machine", "m1") == ["M1"]


def test_free_text_and_words_are_not_identifiers():
    names = known(raw("parts", part=["Red"], description=["Red"]), raw("wear", wear_class=["COIL"]))
    assert spelled(names, "parts", "description", "RED") == ["RED"]
    assert spelled(names, "parts", "wear_class", "coil") == ["coil"]


def test_settings_are_known_by_the_catalogue_alone():
    names = known(raw("shop", key=["LABOUR_RATE", "colour"], value=["1", "2"]))
    assert spelled(names, "shop", "key", "Labour_Rate", "colour") == ["labour_rate", "colour"]
    assert "colour" not in names.names("key")


def test_an_alias_is_resolved_unless_it_is_a_part_itself():
    names = known(raw("parts", part=["coil", "lamp"], description=["c", "l"]),
                  raw("aliases", alias=["SPULE", "lamp"], part=["Coil", "coil"]))
    assert unaliased(names, "job_parts", "part", " spule ", "lamp", "x") == ["coil", "lamp", "x"]
    assert unaliased(names, "offers", "vendor", "spule") == ["spule"]
    assert unaliased(names, "callbacks", "part", "spule") == ["coil"]


def test_an_alias_of_an_alias_is_followed_and_a_circle_is_not():
    names = known(raw("parts", part=["coil"], description=["c"]),
                  raw("aliases", alias=["a", "b", "x", "y", "z"], part=["b", "coil", "y", "x", "nothing"]))
    assert unaliased(names, "job_parts", "part", "a", "b", "x", "y", "z") == ["coil", "coil", "x", "y", "z"]


def test_of_two_rows_for_one_alias_the_first_stands_and_the_file_goes_before_the_store():
    stored = ["insert into parts (part, description) values ('coil', 'c'), ('lamp', 'l')",
              "insert into aliases values ('one', 'lamp', null), ('two', 'lamp', null)"]
    names = known(raw("aliases", alias=["ONE", "one"], part=["coil", "lamp"]), stored=stored)
    assert unaliased(names, "job_parts", "part", "one", "two") == ["coil", "lamp"]


def test_an_empty_alias_does_not_fill_empty_cells():
    names = known(raw("parts", part=["coil"], description=["c"]), raw("aliases", alias=[" "], part=["coil"]))
    assert unaliased(names, "job_parts", "part", "", " ") == ["", " "]


def test_distinct_identifiers():
    assert distinct(pd.Series([" em", "EM", "", "ss ", "em"], dtype=object)).tolist() == ["em", "ss"]
    assert distinct(pd.Series([" ", ""], dtype=object)).tolist() == []


def test_what_the_store_once_held_is_spelled_as_it_was_then():
    once = {"jobs": pd.DataFrame({"job": ["Job 1"]})}
    with connect.open_memory() as connection:
        names = Known(connection, {"jobs": raw("jobs", job=["JOB 1", "J2"])}, once_stored=once)
    assert spelled(names, "job_parts", "job", "job 1", "j2") == ["Job 1", "J2"]


def test_a_folder_that_stands_for_the_whole_store_brings_its_own_aliases_and_currency():
    stored = ["insert into parts (part, description) values ('coil', 'c'), ('lamp', 'l')",
              "insert into aliases values ('one', 'lamp', null)",
              "insert into shop (key, value) values ('currency', 'CHF')",
              "insert into loads values (1, now()::timestamp, 'f', 'd')"]
    with connect.open_memory() as connection:
        for statement in stored:
            connection.execute(statement)
        folder = {"aliases": raw("aliases", alias=["two", "lamp"], part=["coil", "COIL"]),
                  "parts": raw("parts", part=["COIL"], description=["c"])}
        names = Known(connection, folder, {"parts": {"coil", "Kept"}})
        beside = Known(connection, {})
    # Neither the store's alias nor its lamp is there any more; what stays is spelled as the folder does.
    assert unaliased(names, "job_parts", "part", "one", "two", "lamp") == ["one", "COIL", "COIL"]
    assert spelled(names, "job_parts", "part", "coil", "kept", "lamp") == ["COIL", "Kept", "lamp"]
    assert (names.currency.code, names.currency.is_given, names.currency.before) == ("USD", False, "CHF")
    assert unaliased(beside, "job_parts", "part", "one") == ["lamp"] and beside.currency.code == "CHF"


def respelled(table, statements, *tables):
    with connect.open_memory() as connection:
        for statement in statements:
            connection.execute(statement)
        return Known(connection, {t.name: t for t in tables}).respelled(connection, TABLES[table])


def test_what_a_register_spells_otherwise_is_respelled_where_it_is_stored():
    stored = ["insert into families values ('em', 'EM', null, null)",
              "insert into parts (part, description) values ('coil', 'c')",
              "insert into jobs (job, family, scope, machine) values ('J1', 'em', 'refresh', 'm 1')",
              "insert into job_parts (row_hash, job, part, qty_pcs, assembly, recorded_in) values"
              " ('h', 'J1', 'coil', 1, 'FLIPPER', 'folder'), ('i', 'J1', 'coil', 1, 'flipper', 'folder'),"
              " ('j', 'J1', 'coil', 1, 'Bumper', 'folder'), ('k', 'J1', 'coil', 1, null, 'folder')"]
    register = raw("assemblies", assembly=["Flipper"])
    assert respelled("job_parts", stored, register) == {"assembly": {"FLIPPER": "Flipper", "flipper": "Flipper"}}
    assert respelled("jobs", stored, raw("machines", machine=["M 1"], family=["em"])) == {"machine": {"m 1": "M 1"}}
    assert respelled("job_parts", stored) == {} and respelled("jobs", stored, register) == {}


def test_identifiers_asked_for_in_another_spelling_are_given_as_shown():
    names = known(raw("parts", part=["Coil"], description=["c"]))
    assert names.shown("parts", {"COIL", "lamp"}) == {"Coil", "lamp"}
    assert names.shown("parts", None) == set() and names.shown("job_parts", {"x"}) == set()
