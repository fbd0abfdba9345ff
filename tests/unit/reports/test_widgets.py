import pytest

from pipeline.errors import RecordsError
from pipeline.reports import theme, widgets


@pytest.fixture
def written():
    return []


@pytest.fixture
def form(written):
    def write(part, pieces):
        if not pieces.strip():
            raise RecordsError("pieces is empty; a value is required here. Nothing was recorded.")
        written.append((part, pieces))
        return f"{pieces} of {part} recorded"

    fields = {"part": widgets.known_field("Part", ["SLV-01"]), "pieces": widgets.text_field("Pieces")}
    return widgets.form(fields, "Record", write)


def fill(form, part, pieces):
    form.children[0].value, form.children[1].value = part, pieces
    form.children[2].click()
    return form.children[3].value


def test_pressing_the_button_writes_and_says_so(form, written):
    assert "2 of SLV-01 recorded" in fill(form, "SLV-01", "2")
    assert written == [("SLV-01", "2")]


def test_what_the_writer_refuses_is_shown_as_a_warning(form, written):
    said = fill(form, "SLV-01", " ")
    assert "pieces is empty" in said and theme.WARNING in said
    assert written == []


def test_the_next_press_replaces_the_message(form):
    fill(form, "SLV-01", "")
    assert "empty" not in fill(form, "SLV-01", "3")


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (RecordsError("job J-9 is not in the store"), "job J-9 is not in the store"),
        (KeyError("qty"), "Nothing was recorded. KeyError"),
        (ZeroDivisionError("x"), "ZeroDivisionError: x"),
    ],
)
def test_whatever_a_callback_raises_is_shown(error, words):
    import ipywidgets

    def fail():
        raise error

    status = ipywidgets.HTML()
    widgets.guarded(fail, status)()
    assert words in status.value and 'role="status"' in status.value


def test_a_callback_without_words_says_done():
    import ipywidgets

    status = ipywidgets.HTML()
    widgets.guarded(lambda: None, status)(object())
    assert "Done." in status.value


def test_typed_text_is_never_markup():
    import ipywidgets

    status = ipywidgets.HTML()
    widgets.guarded(lambda: "<img src=x>", status)()
    assert "<img" not in status.value


def test_choices_start_with_the_first():
    field = widgets.choice_field("Source", [("new", "new"), ("salvage", "salvage")])
    assert field.value == "new"


def test_known_values_are_suggested_and_others_admitted():
    field = widgets.known_field("Part", ["SLV-01"], "part")
    assert field.options == ("SLV-01",) and not field.ensure_option
    field.value = "sleeve"
    assert field.value == "sleeve"
