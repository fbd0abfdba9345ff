import nbformat
import pytest

from pipeline.errors import InvalidParameter, UsageError
from pipeline.reports import parameters
from pipeline.reports.parameters import Parameter, checked, declared, near_miss, notebook_with

SHELF = {
    "store": Parameter("store", "str", "x.duckdb", "the store"),
    "family": Parameter("family", "str", "", "family code; empty = all"),
    "rows": Parameter("rows", "int", 20, "most rows to show"),
    "cash_limit_amount": Parameter("cash_limit_amount", "float", 0.0, "most cash"),
    "target_share": Parameter("target_share", "float", 0.9, "chance wanted"),
    "is_short": Parameter("is_short", "bool", False, "leave reasons out"),
}
NOTEBOOKS = {"shelf": SHELF, "consumption": {name: SHELF[name] for name in ("store", "family")}, "record": {}}
ALLOWED = {"family": ["em", "early_ss", "Dot matrix"], "window_days": [91, 365]}


def asked(**settings):
    return checked(settings, NOTEBOOKS, ALLOWED)


@pytest.fixture
def notebook(tmp_path):
    source = (
        '# one value a line\nstore: str = "x.duckdb"  # the store\n'
        "rows: int = 20  # most rows to show\nis_short: bool = False"
    )
    cells = [
        nbformat.v4.new_code_cell(source, metadata={"tags": ["parameters"]}),
        nbformat.v4.new_code_cell(
            "print(rows)", outputs=[nbformat.v4.new_output("stream", text="20")], execution_count=3
        ),
    ]
    path = tmp_path / "shelf.ipynb"
    metadata = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=metadata), path)
    return path


def test_declared_reads_types_defaults_and_meanings(notebook):
    assert declared(notebook) == {
        "store": Parameter("store", "str", "x.duckdb", "the store"),
        "rows": Parameter("rows", "int", 20, "most rows to show"),
        "is_short": Parameter("is_short", "bool", False, ""),
    }


def test_notebook_with_adds_the_values_after_the_defaults_and_clears_outputs(notebook):
    filled = notebook_with(notebook, {"store": "C:\\shops\\a.duckdb", "rows": 5})
    assert [cell.metadata.get("tags") for cell in filled.cells] == [["parameters"], ["injected-parameters"], []]
    assert filled.cells[2].outputs == [] and filled.cells[2].execution_count is None
    values = {}
    exec(filled.cells[1].source, values)
    assert values["store"] == "C:\\shops\\a.duckdb" and values["rows"] == 5


def test_the_notebook_on_disk_is_untouched(notebook):
    before = notebook.read_bytes()
    notebook_with(notebook, {"rows": 5})
    assert notebook.read_bytes() == before


def test_each_notebook_gets_the_values_it_declares():
    assert asked(family="em", rows=5) == {
        "shelf": {"family": "em", "rows": 5},
        "consumption": {"family": "em"},
        "record": {},
    }


def test_nothing_asked_is_nothing_set():
    assert asked() == {"shelf": {}, "consumption": {}, "record": {}}


@pytest.mark.parametrize(
    ("name", "typed", "value"),
    [
        ("rows", "12", 12),
        ("cash_limit_amount", "4000", 4000.0),
        ("cash_limit_amount", 4000, 4000.0),
        ("is_short", "Yes", True),
        ("is_short", "false", False),
        ("family", "EM", "em"),
        ("family", " dot matrix ", "Dot matrix"),
        ("family", "", ""),
        ("target_share", "0.95", 0.95),
        ("rows", 0, 0),
    ],
)
def test_typed_text_is_read_as_its_type(name, typed, value):
    found = asked(**{name: typed})["shelf"][name]
    assert found == value and type(found) is type(value)


@pytest.mark.parametrize(
    ("name", "typed", "message"),
    [
        ("rows", "many", r"rows is 'many'; wanted a whole number \(most rows to show\)"),
        ("rows", 2.5, "wanted a whole number"),
        ("rows", True, "wanted a whole number"),
        ("rows", "", "wanted a whole number"),
        ("rows", -1, "wanted 0 or more"),
        ("cash_limit_amount", "1,5", "Did you mean 1.5?"),
        ("cash_limit_amount", "nan", "finite"),
        ("cash_limit_amount", None, "wanted a number"),
        ("cash_limit_amount", "inf", "finite"),
        ("is_short", "perhaps", "wanted yes or no"),
        ("is_short", 1, "wanted yes or no"),
        ("family", 3, "wanted text"),
        ("target_share", 95, r"target_share is 95; wanted a share between 0 and 1. Did you mean 0.95\?"),
        ("target_share", -0.1, "share between 0 and 1"),
        (
            "family",
            "early_s",
            "not in the store. Did you mean early_ss.*Wanted one of: em, early_ss, Dot matrix",
        ),
        ("family", "zzz", "not in the store. Wanted one of"),
    ],
)
def test_a_value_that_does_not_fit_is_refused_with_what_would(name, typed, message):
    with pytest.raises(InvalidParameter, match=message):
        asked(**{name: typed})


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("famly", "Did you mean family.*Wanted one of: family, rows"),
        ("xyz", "no notebook has a parameter 'xyz'. Wanted one of"),
        ("store", "Name the store with --shop FILE"),
    ],
)
def test_an_unknown_name_is_refused_with_the_known_ones(name, message):
    with pytest.raises(UsageError, match=message):
        asked(**{name: "1"})


def test_windows_are_two():
    window = {"consumption": {"window_days": Parameter("window_days", "int", 91, "days")}}
    assert checked({"window_days": "365"}, window, ALLOWED)["consumption"] == {"window_days": 365}
    with pytest.raises(InvalidParameter, match="Wanted one of: 91, 365"):
        checked({"window_days": "90"}, window, ALLOWED)


def test_an_empty_store_says_so():
    with pytest.raises(InvalidParameter, match="the store holds none"):
        checked({"family": "em"}, NOTEBOOKS, {"family": []})


def test_long_lists_are_cut_and_counted():
    with pytest.raises(InvalidParameter, match="and 76 more"):
        checked(
            {"family": "nothing like it"}, NOTEBOOKS, {"family": [f"{number:03d}" for number in range(100)]}
        )


def test_choices_come_from_the_store():
    import duckdb

    with duckdb.connect() as connection:
        for name, query in parameters.CHOICE_QUERIES.items():
            table = query.split(" from ")[1].split()[0]
            connection.execute(f"create table {table} ({name} varchar)")
            connection.execute(f"insert into {table} values ('b'), ('a')")
        found = parameters.choices(connection)
    assert found["vendor"] == ["a", "b"] and found["scope"] == ["fix_only", "refresh", "thorough"]


@pytest.mark.parametrize(
    ("value", "known", "close"),
    [
        ("SHELFF", ["shelf", "scope"], "shelf"),
        ("q", ["shelf"], None),
        ("", ["shelf"], None),
        (92, [91, 365], None),
    ],
)
def test_near_misses(value, known, close):
    assert near_miss(value, known) == close
