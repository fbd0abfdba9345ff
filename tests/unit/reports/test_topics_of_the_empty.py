"""Every page on a shop that holds nothing yet: a blank folder loaded, its example rows left out."""

import pytest

from pipeline.ingest import shop_folder, starter
from pipeline.reports import all_tables, notebook

PAGES = ("today", "consumption", "shelf", "scope", "earnings", "health", "record")


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    place = tmp_path_factory.mktemp("empty")
    starter.write_folder(place / "blank")
    shop_folder.load(place / "blank", place / "blank.duckdb", place / "out")
    return place / "blank.duckdb"


@pytest.mark.parametrize("page", PAGES)
def test_a_page_says_in_a_sentence_that_there_is_nothing_yet_and_shows_what_it_can(store, page):
    made = getattr(notebook, page)(str(store))
    shown = [name for name in dir(type(made)) if not name.startswith("_") and not callable(getattr(type(made), name))]
    assert "headline" in shown and all(getattr(made, name) is not None for name in shown)
    assert made.headline.endswith(".") and "nan" not in made.headline.lower() and "  " not in made.headline


def test_the_tables_on_scope_have_their_columns_and_kinds(store):
    options, lines = (all_tables.table(store, name) for name in ("scope_options", "scope_lines"))
    assert options.empty and lines.empty
    assert lines.nlargest(3, "failures_avoided").empty and options["price_amount"].dtype == float
