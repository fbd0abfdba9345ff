"""The one call each notebook makes: the same words and defaults as in the notebook, errors as one sentence."""

import inspect

import nbformat
import pytest

from pipeline.reports import kernel, notebook, parameters, run

V4 = nbformat.v4


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    with kernel.warm(tmp_path_factory.mktemp("cells")) as started:
        yield started


def cell(source):
    return V4.new_notebook(cells=[V4.new_code_cell(source)])


@pytest.mark.parametrize("name", run.ORDER)
def test_the_call_takes_what_the_notebook_declares_with_the_same_defaults(name):
    declared = parameters.declared(run.NOTEBOOKS / f"{name}.ipynb")
    taken = inspect.signature(getattr(notebook, name)).parameters
    assert list(taken) == list(declared)
    for parameter in list(taken.values())[1:]:
        assert parameter.default == declared[parameter.name].default, parameter.name


@pytest.mark.parametrize("name", run.ORDER)
def test_the_call_is_documented_for_the_notebooks_reader(name):
    text = inspect.getdoc(getattr(notebook, name))
    assert "Parameters" in text and "Returns" in text and "Headline" in text


@pytest.mark.parametrize(
    ("chosen", "meant"), [("all", ""), ("busiest", ""), ("none", ""), ("dotmatrix", "dotmatrix"), ("W26", "W26")]
)
def test_words_for_no_single_one_mean_none(chosen, meant):
    assert notebook._one(chosen) == meant


def test_importing_it_gives_charts_our_look():
    import altair

    assert altair.renderers.active == "workshop" and altair.theme.active == "workshop"


@pytest.mark.parametrize("name", run.ORDER)
def test_every_call_refuses_a_store_that_is_not_there(name, tmp_path):
    from pipeline.errors import StoreError

    with pytest.raises(StoreError, match="no store at"):
        getattr(notebook, name)(str(tmp_path / "none.duckdb"))


def test_an_error_the_reader_can_act_on_is_one_sentence_in_the_cell(running):
    asked = cell("from pipeline.reports import notebook\nnotebook.shelf('none.duckdb')")
    with pytest.raises(kernel.NotebookError, match=r"^no store at none.duckdb\."):
        running.run(asked)
    (output,) = asked.cells[0].outputs
    assert output.output_type == "error" and output.ename == "StoreError"
    assert output.traceback == [output.evalue]


def test_an_unforeseen_error_keeps_its_traceback_for_who_mends_it(running):
    asked = cell("from pipeline.reports import notebook\n{}['missing']")
    with pytest.raises(kernel.NotebookError, match="^KeyError: 'missing'"):
        running.run(asked)
    assert len(asked.cells[0].outputs[0].traceback) > 1


def test_a_shop_is_read_once_for_all_pages_of_a_run(running, small_store):
    code = (
        "from pipeline.reports import notebook, shop\nshop._read.cache_clear()\n"
        f"first = notebook.health({str(small_store)!r})\nsecond = notebook.record({str(small_store)!r})\n"
        "print(shop._read.cache_info().misses, shop._read.cache_info().hits >= 1)"
    )
    asked = cell(code)
    running.run(asked)
    assert asked.cells[0].outputs[0].text == "1 True\n"
