"""A folder that replaces what a store holds: the store of the folder alone, and what the notebook recorded."""

import tempfile
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from pipeline.ingest.identifiers import fold
from pipeline.store import catalogue, connect
from tests.support import any_folder, one_spelling, small_shop

LOADS = settings(max_examples=3, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
FOLDERS = one_spelling.OWN | any_folder.FOLDERS
# What was recorded at the bench, with the rows it names; no generated folder knows these names.
NOTEBOOK = {
    "parts": "part,description\nbench part,Own\nbench count,Own\n",
    "jobs": "job,family,scope,machine\nbench job,bench family,refresh,bench machine\n",
    "job_parts": "job,part,qty_pcs,recorded_in\nbench job,bench part,2,notebook\n",
    "counts": "part,counted_on,qty_pcs,recorded_in\nbench count,2025-01-31,3,notebook\n",
}


def held_after(*loads):
    """Shop tables, rows that wait and what was taken after each load: a folder of CSV texts, and its terms."""
    found = []
    with tempfile.TemporaryDirectory() as made, connect.open_memory() as connection:
        for n, (files, terms) in enumerate(loads):
            taken = small_shop.laid(connection, Path(made) / str(n), files, **terms)
            found.append((small_shop.held(connection), small_shop.waits(connection), taken))
    return found


def replaces(before, folder):
    files = any_folder.files_of(folder)
    (kept, *_), (once, *_), (held, still, taken) = held_after(
        (NOTEBOOK, {}), (any_folder.files_of(before), {}), (files, {"is_replacing": True}))
    ((fresh, waits, _),) = held_after((files, {}))
    for name in catalogue.tables():
        assert held[name] == sorted(fresh[name] + kept[name], key=repr), name
    assert still == waits
    told = Counter(entry.file.removesuffix(".csv") for part in taken.entries for entry in part.itertuples()
                   if entry.rule == "dropped")
    for name, table in catalogue.tables().items():
        if not table.has_row_identity:
            assert told[name] == len(keys(table, once[name]) - keys(table, held[name])), name


def keys(table, rows):
    """The keys of a table's rows, however they are spelled."""
    at = [[column.name for column in table.columns].index(column) for column in table.identity]
    return {tuple(fold(str(row[n])) for n in at) for row in rows}


CURRENCY = {"parts": [("a", "w", "", "")], "jobs": [("a", "em", "fix_only", "", "", "")], "job_parts": [],
            "job_costs": [("a", "freight", "EUR 2", "", "")], "shop": [("currency", "EUR")], "families": [("em", "w")]}


@LOADS
@given(FOLDERS, FOLDERS)
@example(CURRENCY, {name: rows for name, rows in CURRENCY.items() if name not in ("shop", "families")})
@example(CURRENCY, CURRENCY | {"families": [("ss", "w")]})
@example({"parts": [("X", "w", "", ""), ("a", "w", "", "")], "jobs": [], "job_parts": []},
         {"parts": [("A", "w", "", "")], "aliases": [("x", "a")], "jobs": [("a", "em", "fix_only", "", "", "")],
          "job_parts": [("a", "x", "1", "", "", ""), ("a", "a", "2", "", "", "")]})
def test_a_replacing_load_gives_the_store_of_the_folder_alone(before, folder):
    replaces(before, folder)


@pytest.mark.slow
@settings(LOADS, max_examples=300)
@given(st.tuples(FOLDERS, FOLDERS))
def test_the_same_for_many_more_folders(both):
    replaces(*both)
