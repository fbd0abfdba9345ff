"""The notebooks as documents: question first, typed parameters, answer before reasons, nothing left behind."""

import ast
import re

import nbformat
import pytest

from pipeline.reports import notebook as calls
from pipeline.reports import parameters, run
from pipeline.reports.pages import ANSWER_TAG

NAMES = list(run.ORDER)


@pytest.fixture(params=NAMES)
def name(request):
    return request.param


@pytest.fixture
def book(name):
    return nbformat.read(run.NOTEBOOKS / f"{name}.ipynb", as_version=4)


def tagged(book, tag):
    return [cell for cell in book.cells if tag in cell.metadata.get("tags", [])]


def code(book):
    return [cell for cell in book.cells if cell.cell_type == "code"]


def test_every_notebook_is_in_the_report_and_the_other_way_round():
    assert sorted(path.stem for path in run.NOTEBOOKS.glob("*.ipynb")) == sorted(NAMES)


def test_the_format_is_current_and_the_kernel_plain(book):
    nbformat.validate(book)
    assert (book.nbformat, book.nbformat_minor) == (4, 5)
    assert book.metadata.kernelspec.name == "python3"
    assert book.metadata["sparebench"] == {"opens": "running"}


def test_the_first_cell_asks_one_question_and_says_for_whom(book):
    first = book.cells[0]
    assert first.cell_type == "markdown"
    assert re.match(r"# [^\n]+\?\n\nFor ", first.source)


def test_parameters_are_typed_literals_with_a_comment_each(book, name):
    (cell,) = tagged(book, "parameters")
    statements = ast.parse(cell.source).body
    assert all(isinstance(line, ast.AnnAssign) and isinstance(line.value, ast.Constant) for line in statements)
    found = parameters.declared(run.NOTEBOOKS / f"{name}.ipynb")
    assert [line.target.id for line in statements] == list(found)
    assert all(
        parameter.meaning and parameter.kind in ("str", "int", "float", "bool") for parameter in found.values()
    )
    assert found["store"].default == "../out/demo/shop.duckdb"


def test_the_parameters_cell_has_two_lines(book):
    # A cell of the one line `store: str = ...` would be taken for the notebook shell's own command of that name.
    (cell,) = tagged(book, "parameters")
    assert len(cell.source.splitlines()) >= 2


def test_the_one_checked_cell_prints_the_headline_and_alone_keeps_its_output(book):
    (cell,) = tagged(book, ANSWER_TAG)
    assert re.fullmatch(r"print\(\w+\.headline\)", cell.source)
    assert len(cell.outputs) == 1 and cell.outputs[0].name == "stdout" and len(cell.outputs[0].text) > 20
    assert [other for other in code(book) if other is not cell and other.outputs] == []
    assert [other for other in code(book) if other.execution_count is not None] == [cell]


def test_the_answer_comes_before_any_reason(book):
    places = [n for n, cell in enumerate(code(book))]
    answer = code(book).index(tagged(book, ANSWER_TAG)[0])
    assert answer == 2 and places[-1] > answer


def test_one_call_fetches_what_the_page_shows(book, name):
    fetch = code(book)[1].source
    assert f"{name} = notebook.{name}(" in fetch
    asked = re.search(rf"notebook\.{name}\(([^)]*)\)", fetch)[1].split(", ")
    assert asked == list(parameters.declared(run.NOTEBOOKS / f"{name}.ipynb"))
    assert callable(getattr(calls, name))


def test_cells_are_short_and_define_nothing(book):
    for cell in code(book):
        lines = [line for line in cell.source.splitlines() if line.strip()]
        assert len(lines) <= 12 and not re.search(r"^\s*(def|class|lambda) ", cell.source, re.MULTILINE)
    assert sorted(len(cell.source.splitlines()) for cell in code(book))[len(code(book)) // 2] <= 4


def test_prose_stands_before_every_piece_of_code(book):
    kinds = [cell.cell_type for cell in book.cells]
    assert kinds == ["markdown", "code"] * (len(kinds) // 2)


def test_cells_have_ids_that_say_where_they_belong(book, name):
    ids = [cell.id for cell in book.cells]
    assert len(ids) == len(set(ids)) and all(one.startswith(name) for one in ids)


def test_no_notebook_names_a_place_of_one_machine(name):
    text = (run.NOTEBOOKS / f"{name}.ipynb").read_text(encoding="utf-8")
    assert not re.search(r"/(home|tmp)/|C:\\\\|https?://", text)


def test_the_scope_page_shows_the_cautions_and_defers():
    text = (run.NOTEBOOKS / "scope.ipynb").read_text(encoding="utf-8")
    assert "scope.cautions" in text and "Local codes and licensed practice come first" in text
