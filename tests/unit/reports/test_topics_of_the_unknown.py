"""What a page says where the records do not reach: unknown is never told as nothing."""

from types import SimpleNamespace

import pytest

from pipeline.errors import UsageError
from pipeline.reports import run
from pipeline.reports import shop as shops
from pipeline.reports.topics.consumption import Consumption
from pipeline.reports.topics.shelf import Shelf


@pytest.fixture
def shop(small_store):
    return shops.of(str(small_store))


def test_a_shelf_never_counted_is_unknown_not_full(shop, frames):
    frames["order_plan"]["order_pcs"] = float("nan")
    said = Shelf(shop, lambda name: frames[name]).headline
    assert said.startswith("What to order is unknown") and "counts.csv" in said


def test_what_the_plan_was_held_to_is_said(shop, frames):
    said = Shelf(shop, lambda name: frames[name], notes=("no lead time known: 14 days assumed",)).method.text
    assert said.endswith("No lead time known: 14 days assumed.")


def test_without_any_price_the_answer_is_in_pieces(shop, frames):
    names = ("forecast", "forecast_parts", "forecast_families")
    made = SimpleNamespace(**{name: frames[name].copy() for name in names})
    amounts = [column for column in made.forecast_families if column.endswith("_amount")]
    made.forecast_families[amounts] = float("nan")
    said = Consumption(shop, lambda _topic: made).headline
    assert "pieces of" in said and "8 times in 10" in said and "offers.csv" in said
    assert "no delivered job" not in said


def test_a_place_that_cannot_be_made_is_said_in_a_sentence(tmp_path, small_store):
    taken = tmp_path / "README.md"
    taken.write_text("a file", encoding="utf-8")
    with pytest.raises(UsageError, match="--out DIR"):
        run.report(small_store, taken / "pages")
