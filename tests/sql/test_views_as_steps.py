"""A view written before a question as a step, read once, answers as the same view does made in the store."""

import pytest

from pipeline.ingest import shop_folder
from pipeline.store import connect, read, views
from tests.support import small_shop

QUESTIONS = {name: f"from {name}" for name, _ in views.in_order()} | dict(views.checks())


@pytest.fixture(scope="module", params=["a small shop with faults",
                                        pytest.param("the demo shop", marks=pytest.mark.slow)])
def store(request, root, tmp_path_factory):
    """A store opened to read, once with every view made in it and once as every store is opened."""
    place = tmp_path_factory.mktemp("steps")
    folder = root / "data" / "demo"
    if request.param == "a small shop with faults":
        files = small_shop.with_rows(small_shop.WHOLE, "job_parts", "J1,sleeve,-1,2025-01-12", "J1,lamp,none,")
        folder = small_shop.write(place / "shop", files)
    shop_folder.load(folder, place / "shop.duckdb", place / "out")
    with connect.open_read(place / "shop.duckdb") as plain, connect.open_read(place / "shop.duckdb") as made:
        for name, select in views.in_order():
            made.execute(f"create temp view {name} as {select}")
        yield made, plain


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_step_answers_as_the_view_does(store, name):
    made, plain = store
    wanted = made.execute(QUESTIONS[name]).fetchall()
    columns = [column[:2] for column in made.description]
    found = read.rows(plain, QUESTIONS[name])
    assert [column[:2] for column in plain.description] == columns
    assert sorted(found, key=repr) == sorted(wanted, key=repr)
