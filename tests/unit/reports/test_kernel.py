"""One kernel for all: clean slate between notebooks, modules stay, failures come back as words."""

import os

import nbformat
import pytest

from pipeline.reports import kernel


def notebook(*sources):
    return nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(source) for source in sources])


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    with kernel.warm(tmp_path_factory.mktemp("pages")) as started:
        yield started


def test_outputs_land_in_the_notebook(running):
    asked = notebook("x = 2", "print(x + 1)")
    running.run(asked)
    assert asked.cells[1].outputs[0].text == "3\n"


def test_what_a_cell_prints_in_pieces_is_one_output(running):
    asked = notebook("import time\nfor word in 'abc':\n    print(word, flush=True)\n    time.sleep(0.3)")
    running.run(asked)
    assert [output.text for output in asked.cells[0].outputs] == ["a\nb\nc\n"]


def test_the_next_notebook_starts_from_nothing_but_warm_modules(running):
    running.run(notebook("left_over = 1", "import fractions; fractions.kept = 7"))
    asked = notebook("print('left_over' in globals())", "import fractions; print(fractions.kept)")
    running.run(asked)
    assert [cell.outputs[0].text for cell in asked.cells] == ["False\n", "7\n"]


def test_a_failing_cell_is_one_sentence_and_keeps_what_came_before(running):
    asked = notebook("print('before')", "raise ValueError('no vendor for SLV-01')", "print('after')")
    with pytest.raises(kernel.NotebookError, match="no vendor for SLV-01"):
        running.run(asked)
    assert asked.cells[0].outputs[0].text == "before\n" and asked.cells[2].outputs == []


def test_it_runs_on_after_a_failure(running):
    with pytest.raises(kernel.NotebookError):
        running.say("1 / 0")
    assert running.say("print('still here')") == "still here\n"


def test_this_package_is_found_from_anywhere(running):
    assert running.say("import pipeline; print('found')") == "found\n"


def test_it_runs_where_it_was_told(running, tmp_path_factory):
    assert "pages" in running.say("import os; print(os.getcwd())")


def test_the_environment_keeps_the_users_own_and_puts_this_package_first(monkeypatch):
    monkeypatch.setenv("PYTHONPATH", "elsewhere")
    monkeypatch.setenv("SHOP_WORD", "kept")
    found = kernel.environment("private")
    assert found["PYTHONPATH"].split(os.pathsep) == [str(kernel.ROOT), "elsewhere"]
    assert found["IPYTHONDIR"] == "private" and found["SHOP_WORD"] == "kept"
