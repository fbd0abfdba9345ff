"""Views come in the order in which they can be made, from files that hold one SELECT each."""

import re

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
