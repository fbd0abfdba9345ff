"""Views come in the order in which they can be made, from files that hold one SELECT each."""

import re

import duckdb
import pytest

from pipeline.store import catalogue, connect, read, views

NAMES = [name for name, _ in views.in_order()]


def test_every_sql_file_is_a_view_or_a_check():
    files = {path.stem for path in views.SQL.glob("tidy/*.sql")} | {
        path.stem for path in views.SQL.glob("answers/*.sql")
    }
    assert set(NAMES) == files
    assert {name for name, _ in views.checks()} == {path.stem for path in views.SQL.glob("checks/*.sql")}
    assert {path.parent.name for path in views.SQL.rglob("*.sql")} == {"tidy", "answers", "checks"}


def test_a_view_comes_after_those_it_reads():
    texts = dict(views.in_order())
    for n, name in enumerate(NAMES):
        code = " ".join(line.split("--")[0] for line in texts[name].splitlines())
        assert not {later for later in NAMES[n + 1:] if re.search(rf"\b{later}\b", code)}, name


def test_views_in_a_circle_are_refused(tmp_path, monkeypatch):
    for folder in ("tidy", "answers"):
        (tmp_path / folder).mkdir()
    (tmp_path / "answers" / "a.sql").write_text("select * from b", encoding="utf-8")
    (tmp_path / "answers" / "b.sql").write_text("select * from a -- not from c", encoding="utf-8")
    (tmp_path / "answers" / "c.sql").write_text("select 1 as one", encoding="utf-8")
    monkeypatch.setattr(views, "SQL", tmp_path)
    with pytest.raises(ValueError, match=r"circle: \['a', 'b'\]"):
        views.in_order.__wrapped__()


@pytest.fixture(scope="module")
def empty():
    """An empty store in memory."""
    with connect.open_memory() as connection:
        yield connection


@pytest.mark.parametrize("name", NAMES)
def test_every_view_answers_on_an_empty_store(empty, name):
    frame = read.frame(empty, name)
    # Settings have their defaults, and what each kind of record informs is the same for every shop.
    assert len(frame) == 0 or name in ("tidy_settings", "informed_kinds") or frame.shape[0] <= 1
    assert not [column for column in frame.columns if column != column.lower() or "(" in column]


def test_every_tidy_view_names_its_source():
    tables = catalogue.tables()
    for name in NAMES:
        if name.startswith("tidy_") and name != "tidy_settings":
            assert name.removeprefix("tidy_") in tables


def test_a_question_gets_the_views_it_names_and_those_they_read_alone():
    asked = views.before("select part from stock_terms")
    steps = [name for name in re.findall(r"^(\w+) as \($", asked.removeprefix("with "), re.M) if name in NAMES]
    assert steps == [name for name in NAMES if name in steps] and steps[-1] == "stock_terms"
    texts = dict(views.in_order())
    assert {name for name in steps if name != "stock_terms" and not any(
        re.search(rf"\b{name}\b", texts[other]) for other in steps if other != name)} == set()


@pytest.mark.parametrize("sql", [
    "from tidy_settings where key = 'bays'",
    "-- Its own steps and a remark.\n\n  WITH found as (select * from tidy_settings) from found where key = 'bays'",
    "with recursive found as (select * from tidy_settings where key = 'bays' union select * from found) from found",
    "(select * from tidy_settings where key = 'bays')"])
def test_a_question_may_have_steps_of_its_own(empty, sql):
    assert [row[:3] for row in read.rows(empty, sql)] == [("bays", "number", None)]


def test_an_opened_store_holds_no_view_and_a_name_it_lacks_is_told(empty):
    assert empty.execute("select count(*) from duckdb_views() where not internal").fetchall() == [(0,)]
    with pytest.raises(duckdb.CatalogException, match="no_such_view"):
        read.frame(empty, "no_such_view")
