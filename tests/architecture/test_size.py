"""Nothing grows past what a reader holds in the head, and the tests keep up with the code."""

import ast
import json
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FILE_LINES, FUNCTION_LINES, SQL_LINES, CELL_LINES = 300, 40, 60, 12
AS_LONG_AS_THE_CONTRACT = ("schema.sql",)  # every table of the shop folder, said once


def docstring_lines(node):
    first = node.body[0]
    is_doc = (
        isinstance(first, ast.Expr)
        and isinstance(first.value, ast.Constant)
        and isinstance(first.value.value, str)
    )
    return set(range(first.lineno, first.end_lineno + 1)) if is_doc else set()


def code_lines(node, lines):
    """Lines of a function that are code: no docstring, no blank line, no comment."""
    skipped = docstring_lines(node)
    body = range(node.lineno, node.end_lineno + 1)
    return sum(
        1
        for n in body
        if n not in skipped and lines[n - 1].strip() and not lines[n - 1].strip().startswith("#")
    )


def long_functions(path, tree):
    lines = path.read_text(encoding="utf-8").splitlines()
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    return [
        f"{path.name}:{node.lineno} {node.name} has {code_lines(node, lines)} lines"
        for node in functions
        if code_lines(node, lines) > FUNCTION_LINES
    ]


def long_file(path, limit):
    count = len(path.read_text(encoding="utf-8").splitlines())
    return [f"{path.name} has {count} lines"] if count > limit else []


def long_cells(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    sizes = [
        (n, sum(1 for line in "".join(cell["source"]).splitlines() if line.strip()))
        for n, cell in enumerate(cells)
        if cell["cell_type"] == "code"
    ]
    return [f"{path.name} cell {n} has {size} lines" for n, size in sizes if size > CELL_LINES]


def test_no_python_file_is_longer_than_300_lines(package_files, test_files):
    assert [line for path in package_files + test_files for line in long_file(path, FILE_LINES)] == []


def test_no_function_is_longer_than_40_code_lines(package_files, test_files, tree_of):
    assert [line for path in package_files + test_files for line in long_functions(path, tree_of(path))] == []


def test_no_query_is_longer_than_60_lines(repository_files):
    queries = [
        path
        for path in repository_files
        if path.suffix == ".sql" and path.name not in AS_LONG_AS_THE_CONTRACT
    ]
    assert [line for path in queries for line in long_file(path, SQL_LINES)] == []


def test_no_notebook_cell_is_longer_than_12_lines(repository_files):
    notebooks = [path for path in repository_files if path.suffix == ".ipynb"]
    assert [line for path in notebooks for line in long_cells(path)] == []


def test_there_is_a_line_of_test_for_every_line_of_code(package_files, test_files):
    code, tests = (
        sum(len(path.read_text(encoding="utf-8").splitlines()) for path in files)
        for files in (package_files, test_files)
    )
    assert tests >= code, f"{tests} lines of tests for {code} lines of code"


@pytest.mark.parametrize("count, is_long", [(FUNCTION_LINES - 1, False), (FUNCTION_LINES, True)])
def test_a_long_function_is_found(tmp_path, tree_of, count, is_long):
    # Its first line counts, its docstring, blank lines and comments do not.
    path = tmp_path / "planted.py"
    path.write_text(
        'def f():\n    """One\n\n    two."""\n\n    # why\n' + "    x = 1\n" * count, encoding="utf-8"
    )
    assert bool(long_functions(path, tree_of(path))) is is_long


def test_a_long_file_is_found(tmp_path):
    path = tmp_path / "planted.sql"
    path.write_text("select 1\n" * (SQL_LINES + 1), encoding="utf-8")
    assert long_file(path, SQL_LINES) == ["planted.sql has 61 lines"]
    assert long_file(path, SQL_LINES + 1) == []


def test_a_long_cell_is_found(tmp_path):
    path = tmp_path / "planted.ipynb"
    long, short = ["x = 1\n"] * 13, ["x = 1\n"] * 12 + ["\n"]
    path.write_text(
        json.dumps({"cells": [{"cell_type": "code", "source": source} for source in (long, short)]})
    )
    assert long_cells(path) == ["planted.ipynb cell 0 has 13 lines"]
