"""The run itself, on toy notebooks: order, parameters, failures, links, tables, progress."""

import nbformat
import pytest

from pipeline.errors import InvalidParameter, StoreError, UsageError
from pipeline.reports import all_tables, run

V4 = nbformat.v4
SPEC = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}


def toy(
    name,
    *,
    code="print(f'answer of {note}')",
    parameters='store: str = ""  # the store\nnote: str = "none"  # a word',
):
    cells = [
        V4.new_markdown_cell(f"# Question of {name}?"),
        V4.new_code_cell(parameters, metadata={"tags": ["parameters"]}),
        V4.new_code_cell(code, metadata={"tags": ["nbval-check-output"]}),
    ]
    return V4.new_notebook(cells=cells, metadata=SPEC)


@pytest.fixture
def notebooks(tmp_path, monkeypatch):
    folder = tmp_path / "notebooks"
    folder.mkdir()
    special = {
        "scope": toy("scope", code="raise ValueError('no assemblies')"),
        "health": toy(
            "health",
            parameters='store: str = ""\nfamily: str = ""  # family code',
            code="print(store[-11:], family or 'all')",
        ),
    }
    for name in run.ORDER:
        nbformat.write(special.get(name, toy(name)), folder / f"{name}.ipynb")
    monkeypatch.setattr(run, "NOTEBOOKS", folder)
    monkeypatch.setattr(all_tables, "NAMES", ("records", "never"))
    return folder


def test_a_report_is_pages_tables_index_and_lines(notebooks, small_store, tmp_path, one_kernel):
    seen = []
    result = run.report(
        small_store, tmp_path / "out", settings={"note": "hello"}, progress=lambda *step: seen.append(step)
    )
    assert list(result.pages) == list(run.ORDER) and all(path.is_file() for path in result.pages.values())
    header = result.tables["records"].read_text(encoding="utf-8").splitlines()[0]
    assert header == "file,line,column,value,rule,suggestion,outcome"
    assert result.answers["today"] == "answer of hello" and result.answers["health"] == "shop.duckdb all"
    assert "ValueError: no assemblies" in result.failures["scope"] and "never" in result.failures["table never"]
    index = result.index.read_text(encoding="utf-8")
    assert all(f'href="{name}.html"' in index for name in run.ORDER) and "answer of hello" in index
    assert result.orders == {} and "orders: none is due today" in result.lines()[-2]
    assert (
        seen[0][:2] == (0, 17)
        and seen[-1] == (17, 17, "done")
        and [done for done, *_ in seen] == sorted(done for done, *_ in seen)
    )
    lines = result.lines()
    assert lines[0] == "today: answer of hello" and lines[-1].startswith("7 pages and 1 table written. Open ")
    assert any(line.startswith("scope could not be written in full. ValueError") for line in lines)
    assert "Traceback" in (tmp_path / "out" / "report.log").read_text(encoding="utf-8")
    assert "Traceback" not in result.pages["scope"].read_text(encoding="utf-8")


def test_one_page_alone_keeps_the_others_in_the_index(notebooks, small_store, tmp_path, one_kernel):
    run.report(small_store, tmp_path, only="today")
    result = run.report(small_store, tmp_path, only=["health"], settings={"family": "EM"})
    assert list(result.pages) == ["health"] and result.answers == {"health": "shop.duckdb em"}
    index = result.index.read_text(encoding="utf-8")
    assert index.index("Question of today?") < index.index("Question of health?")
    assert "answer of none" in index and "Question of shelf?" not in index
    assert 'href="today.html"' in result.pages["health"].read_text(encoding="utf-8")


def test_a_clean_run_leaves_no_log(notebooks, small_store, tmp_path, monkeypatch, one_kernel):
    monkeypatch.setattr(all_tables, "NAMES", ("records",))
    (tmp_path / "report.log").write_text("old", encoding="utf-8")
    assert run.report(small_store, tmp_path, only="today").failures == {}
    assert not (tmp_path / "report.log").exists()


@pytest.mark.parametrize(
    ("settings", "kind", "message"),
    [
        ({"famly": "em"}, UsageError, "Did you mean family"),
        ({"family": "emm"}, InvalidParameter, "Wanted one of: dm, em"),
    ],
)
def test_parameters_are_checked_before_anything_runs(notebooks, small_store, tmp_path, settings, kind, message):
    with pytest.raises(kind, match=message):
        run.report(small_store, tmp_path / "out", settings=settings)
    assert not (tmp_path / "out").exists()


def test_an_unknown_notebook_is_named_with_the_known_ones(small_store, tmp_path):
    with pytest.raises(
        UsageError, match="no notebook 'shelff'. Did you mean shelf.*Wanted one of: today, consumption"
    ):
        run.report(small_store, tmp_path, only=["today", "shelff"])


def test_no_store_is_a_sentence(tmp_path):
    with pytest.raises(StoreError, match="no store at"):
        run.report(tmp_path / "none.duckdb", tmp_path / "out")


@pytest.mark.parametrize(
    ("only", "names"),
    [
        (None, list(run.ORDER)),
        ([], list(run.ORDER)),
        ("shelf", ["shelf"]),
        (("health", "today"), ["today", "health"]),
    ],
)
def test_notebooks_are_taken_in_reading_order(only, names):
    assert run.chosen(only) == names
