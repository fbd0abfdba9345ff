"""The form for deliveries: an open order chosen, pieces per line, the day; every failure seen."""

import shutil

import pytest

from pipeline.reports import notebook, widgets
from pipeline.reports.tables import Note
from tests.support import small_shop


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    files = small_shop.with_rows(small_shop.WHOLE, "order_lines", "P2,lamp,50,0.3,,", "P3,fli-coil,4,18,,")
    files = small_shop.with_rows(files, "orders", "P3,north,2025-03-10,")
    return small_shop.load(tmp_path_factory.mktemp("loaded") / "shop", files)[0]


@pytest.fixture
def store(tmp_path, loaded):
    return shutil.copy(loaded, tmp_path / "shop.duckdb")


class Form:
    """The form's parts by name."""

    def __init__(self, store):
        self.choice, self.box, self.day, self.whole, self.more, self.press, self.status = notebook.record(
            str(store)).delivery_form.children

    def send(self, **pieces):
        for field in self.box.children:
            field.value = pieces.get(field.description, field.value)
        self.day.value = self.day.value if "2025" in self.day.value else "2025-04-10"
        self.press.click()
        return self.status.value


def noted(store):
    return small_shop.rows(store, "select order_no, part, received_pcs from receipts"
                                  " where recorded_in = 'notebook' order by all")


def test_the_open_orders_are_offered_and_their_lines_say_what_is_to_come(store):
    form = Form(store)
    assert form.choice.options == (("P2, north, 2025-03-05", "P2"), ("P3, north, 2025-03-10", "P3"))
    assert [(field.description, field.placeholder) for field in form.box.children] == [
        ("lamp", "50 still to come of 50"), ("sleeve", "10 still to come of 10")]
    form.choice.value = "P3"
    assert [field.description for field in form.box.children] == ["fli-coil"]


def test_a_part_of_an_order_is_booked_in_and_the_form_asks_for_the_rest(store):
    form = Form(store)
    said = form.send(lamp="20")
    assert "20 pieces of lamp from order P2 on 2025-04-10" in said and "30 pieces of lamp, 10 pieces of sleeve" in said
    assert form.box.children[0].placeholder == "30 still to come of 50" and form.box.children[0].value == ""
    assert noted(store) == [("P2", "lamp", 20)]
    page = notebook.record(str(store))
    assert page.headline.startswith("Recorded here so far: 0 takings, 0 counts and 1 delivery.")
    assert page.headline.endswith("2 orders are still to come.")
    shown = page.recorded.frame[["record", "order_no", "part", "qty_pcs"]].values.tolist()
    assert shown == [["received", "P2", "lamp", 20]]


def test_the_whole_order_at_once(store):
    form = Form(store)
    form.whole.value = True
    assert "Nothing of order P2 (north) is still to come." in form.send()
    assert noted(store) == [("P2", "lamp", 50), ("P2", "sleeve", 10)] and form.box.children == ()


@pytest.mark.parametrize(("pieces", "words"), [
    ({}, "no pieces are named"), ({"lamp": "lots"}, "received_pcs is &#x27;lots&#x27;"),
    ({"lamp": "51"}, "wanted at most the 50"),
    ({"lamp": "0"}, "more than 0")])
def test_what_breaks_a_rule_is_refused_in_words_and_the_fields_stay(store, pieces, words):
    form = Form(store)
    said = form.send(**pieces)
    assert words in said and "Nothing was recorded" in said and noted(store) == []
    assert form.box.children[0].value == pieces.get("lamp", "")


def test_a_day_that_is_none_is_refused(store):
    form = Form(store)
    form.day.value = "31.2.2025"
    assert "wanted a day" in form.send(lamp="1") and noted(store) == []


def test_more_than_ordered_wants_the_tick(store):
    form = Form(store)
    form.more.value = True
    assert "with that 1 more than the 50 ordered" in form.send(lamp="51")


def test_pieces_and_the_tick_for_everything_contradict_each_other(store):
    form = Form(store)
    form.whole.value = True
    assert "leave one of the two out" in form.send(lamp="1") and noted(store) == []


def test_whatever_fails_shows_in_the_form(store):
    form = Form(store)
    store.unlink()
    assert "no store" in form.send(lamp="1").lower() or "shop.duckdb" in form.status.value


def test_a_failure_while_choosing_shows_too():
    choice = widgets.choice_field("Order", ["a", "b"])
    form = widgets.choosing_form(choice, lambda chosen: {} if chosen == "a" else 1 / 0, {}, "Go", print)
    choice.value = "b"
    assert "ZeroDivisionError" in form.children[-1].value


def test_a_shop_without_open_orders_gets_a_note(small_store):
    page = notebook.record(str(small_store))
    assert isinstance(page.delivery_form, Note) and "orders.csv" in page.delivery_form.text
    assert page.headline.endswith("0 orders are still to come.")
