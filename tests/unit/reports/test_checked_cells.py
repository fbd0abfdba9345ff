import nbformat
import pytest

from pipeline.reports import checked_cells, kernel
from pipeline.reports.pages import ANSWER_TAG

V4 = nbformat.v4


@pytest.fixture
def folder(tmp_path):
    cells = [
        V4.new_markdown_cell("# Two and two?"),
        V4.new_code_cell("total = 2 + 2\ntotal"),
        V4.new_code_cell("print(total)", metadata={"tags": [ANSWER_TAG]}),
    ]
    metadata = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    nbformat.write(V4.new_notebook(cells=cells, metadata=metadata), tmp_path / "sum.ipynb")
    return tmp_path


def test_only_the_checked_output_is_kept(folder):
    assert checked_cells.renew(folder) == ["sum"]
    _, plain, checked = nbformat.read(folder / "sum.ipynb", as_version=4).cells
    assert plain.outputs == [] and plain.execution_count is None
    assert checked.outputs[0].text == "4\n" and checked.execution_count == 1


def test_a_second_run_changes_nothing(folder):
    checked_cells.renew(folder)
    before = (folder / "sum.ipynb").read_bytes()
    assert checked_cells.renew(folder) == []
    assert (folder / "sum.ipynb").read_bytes() == before


def test_a_notebook_that_stops_is_left_as_it_was(folder):
    path = folder / "sum.ipynb"
    path.write_text(path.read_text(encoding="utf-8").replace("2 + 2", "2 + none"), encoding="utf-8")
    before = path.read_bytes()
    with pytest.raises(kernel.NotebookError, match="NameError"):
        checked_cells.renew(folder)
    assert path.read_bytes() == before
