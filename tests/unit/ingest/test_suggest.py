"""What to do about identifiers that are not listed."""

import pandas as pd
import pytest

from pipeline.ingest import suggest
from pipeline.store import catalogue, connect


class Names:
    """Known identifiers by column."""

    def __init__(self, **names):
        self._names = names

    def names(self, column):
        return self._names.get(column, [])


@pytest.fixture(scope="module")
def connection():
    """Any connection will do."""
    with connect.open_memory() as opened:
        yield opened


def offences(*rows):
    return pd.DataFrame([(line, column, value, rule, "wanted") for line, column, value, rule in rows],
                        columns=["line", "column", "value", "rule", "suggestion"])


def test_near_misses_are_asked_about_and_others_told_where_to_go(connection):
    found = offences(
        (2, "part", "lomp", "unknown_part"),
        (3, "part", "xyzzy", "unknown_part"),
        (4, "qty_pcs", "0", "not_zero"),
        (5, "adds_part", "lamp 12", "unknown_part"),
        (6, "key", "colour", "unknown_key"),
    )
    suggest.suggest(connection, found, Names(part=["lamp", "lamp-12", "coil"]), {})
    assert found["suggestion"].tolist() == [
        "wanted; did you mean lamp?", "wanted; add it to parts or mend the spelling", "wanted",
        "wanted; did you mean lamp-12?", "wanted"]
    assert found["rule"].tolist() == ["unknown_part", "unknown_part", "not_zero", "unknown_part", "unknown_key"]


def test_several_near_misses_are_listed(connection):
    found = offences((2, "part", "coil", "unknown_part"))
    suggest.suggest(connection, found, Names(part=["coil-b", "coil-a", "coil-c"]), {})
    assert found["suggestion"].tolist() == ["wanted; did you mean coil-a, coil-b or coil-c?"]


def test_rows_set_aside_with_their_parent_get_a_rule_of_their_own(connection):
    found = offences((2, "job", "J1", "unknown_job"), (3, "job", "J2", "unknown_job"))
    suggest.suggest(
        connection, found, Names(job=["J1", "J7"]), {("job", "J1"): "jobs.csv", ("part", "J2"): "parts.csv"}
    )
    assert found["rule"].tolist() == ["job_set_aside", "unknown_job"]
    assert found["suggestion"][0] == "its row in jobs.csv was itself set aside: mend that one first"


def test_a_family_in_doubt_is_told_its_machines_family(connection):
    found = offences((2, "family", "e.m", "unknown_family"), (3, "family", "zz", "unknown_family"),
                     (4, "family", None, "required"), (5, "scope", "x", "allowed_values"))
    suggest.name_machines_family(found, pd.Series({2: "dmd", 4: "em", 5: "em"}, dtype=object))
    assert found["suggestion"].tolist() == ["wanted; its machine is of family dmd", "wanted", "wanted", "wanted"]
    none = offences()
    suggest.name_machines_family(none, pd.Series(dtype=object))
    suggest.suggest(connection, none, Names(), {})
    assert none.empty


def test_what_set_aside_rows_would_have_declared_is_remembered():
    tables, orphans = catalogue.tables(), {}
    frame = pd.DataFrame({"file_line": [2, 3, 4], "job": ["J1", "J2", "J3"]})
    suggest.remember(frame, [3, 4], tables["jobs"], orphans, "jobs.csv")
    suggest.remember(frame, [2], tables["job_parts"], orphans, "job_parts.csv")
    suggest.remember(frame.drop(columns="job"), [2], tables["jobs"], orphans, "jobs.csv")
    assert orphans == {("job", "J2"): "jobs.csv", ("job", "J3"): "jobs.csv"}
