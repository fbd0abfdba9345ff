"""What the code may say and where: docstrings, prints, exceptions, names, and nothing of one machine."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
EMPTY_NAMES = {"utils", "util", "helpers", "helper", "common", "misc", "shared", "tools", "base"}
TEXT = {
    ".py",
    ".md",
    ".sql",
    ".ipynb",
    ".csv",
    ".toml",
    ".yml",
    ".yaml",
    ".html",
    ".j2",
    ".js",
    ".css",
    ".json",
    ".lock",
    ".txt",
    ".cfg",
    ".sh",
    ".svg",
    "",
}

# Put together from pieces, so that this file does not hold what it looks for.
REGISTRIES = [
    ".".join(parts)
    for parts in (
        ("pypi", "org"),
        ("pythonhosted", "org"),
        ("anaconda", "org"),
        ("npmjs", "org"),
        ("npmjs", "com"),
        ("registry", "yarnpkg"),
    )
]
FOLDERS = "|".join(["work", "root", "tmp", "farm", "home/[a-z]+", "opt/py" + "pi"])
MACHINE_PATH = re.compile(rf"(?<![\w.~<-])/(?:{FOLDERS})/")


def is_public(node):
    return not node.name.startswith("_")


def undocumented(tree, name):
    """Public functions, classes and methods without a docstring, and the module itself."""
    found = [] if ast.get_docstring(tree) else [f"{name}: the module"]
    holders = [tree, *(node for node in ast.walk(tree) if isinstance(node, ast.ClassDef) and is_public(node))]
    for holder in holders:
        for node in holder.body:
            is_named = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
            if is_named and is_public(node) and not ast.get_docstring(node):
                found.append(f"{name}:{node.lineno} {node.name}")
    return found


def printing(tree):
    """Lines that print or write to the terminal's streams."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            if called in ("print", "pprint", "builtins.print") or re.fullmatch(
                r"sys\.(stdout|stderr)\.write(lines)?", called
            ):
                yield node.lineno


def bare_exceptions(tree):
    """Lines that raise Exception or BaseException themselves."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and node.exc is not None:
            raised = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            if ast.unparse(raised) in ("Exception", "BaseException"):
                yield node.lineno


def foreign_words(text):
    """Addresses of package registries and paths of one machine in a text."""
    return [word for word in REGISTRIES if word in text.lower()] + [
        hit.group() for hit in MACHINE_PATH.finditer(text)
    ]


def test_everything_public_is_documented(package_files, tree_of):
    assert [line for path in package_files for line in undocumented(tree_of(path), path.name)] == []


def test_only_the_command_line_prints(package_files, tree_of):
    found = [
        f"{path.name}:{line}"
        for path in package_files
        if path.name != "__main__.py"
        for line in printing(tree_of(path))
    ]
    assert found == []


def test_nobody_raises_bare_exceptions(package_files, tree_of):
    assert [f"{path.name}:{line}" for path in package_files for line in bare_exceptions(tree_of(path))] == []


def test_every_module_has_a_name_that_says_something(package_files):
    words = [(path, part) for path in package_files for part in path.relative_to(ROOT).with_suffix("").parts]
    assert [f"{path}: {word}" for path, word in words if word.lower() in EMPTY_NAMES] == []


def test_no_file_names_a_package_registry_or_a_path_of_one_machine(repository_files):
    texts = [path for path in repository_files if path.suffix in TEXT]
    assert len(texts) > 20
    found = [
        f"{path.relative_to(ROOT)}: {words}"
        for path in texts
        if (words := foreign_words(path.read_text(encoding="utf-8", errors="replace")))
    ]
    assert found == []


@pytest.mark.parametrize(
    "text, found",
    [
        ('"""Doc."""\ndef f(): pass\n', ["x.py:2 f"]),
        ("def _f(): pass\n", ["x.py: the module"]),
        (
            '"""Doc."""\nclass C:\n    """Doc."""\n    def f(self): pass\n    def _g(self): pass\n',
            ["x.py:4 f"],
        ),
        ('"""Doc."""\ndef f():\n    """Doc."""\n    def inner(): pass\n', []),
    ],
)
def test_a_missing_docstring_is_found(text, found):
    assert undocumented(ast.parse(text), "x.py") == found


def test_a_print_is_found():
    assert list(printing(ast.parse("import sys\nprint(1)\nsys.stderr.write('x')\nbar.write('x')\n"))) == [
        2,
        3,
    ]


def test_a_bare_exception_is_found():
    text = "def f():\n    raise Exception('x')\n    raise BaseException\n    raise ValueError\n    raise\n"
    assert list(bare_exceptions(ast.parse(text))) == [2, 3]


@pytest.mark.parametrize(
    "text, count",
    [
        ("--index-url https://" + "pypi" + ".org/simple", 1),
        ("open('/" + "work/x.csv') and '/" + "tmp/y'", 2),
        ("~/tmp/notes, ./work/plan.md and https://doi.org/10.1000/tmp", 0),
    ],
)
def test_a_foreign_word_is_found(text, count):
    assert len(foreign_words(text)) == count
