"""The page on consumption of shops whose records say little or odd things: every cell shows something, no traceback."""

import altair as alt
import nbformat
import pytest

from pipeline.reports import notebook, run
from pipeline.reports.tables import Note, Table
from tests.support import hand_shop

SHOP = "key value\ntoday 2026-01-01\ncurrency EUR"
FAMILIES = "family name\nem Electromechanical\nss Solid-state"
PARTS = "part description unit_cost\ncoil Coil 12\nsleeve Sleeve 0.5\nlamp Lamp -"
HEAD = "job family scope status booked_on planned_start_on started_on delivered_on"
JOBS = [f"J{n} em thorough delivered 2025-{n + 1:02}-01 - 2025-{n + 1:02}-05 2025-{n + 1:02}-25" for n in range(8)]
TAKEN = [f"J{n} coil 1 2025-{n + 1:02}-10" for n in range(8)]
ODD = {
    "parts never used": ([*JOBS], []),
    "one job": (JOBS[:1], TAKEN[:1]),
    "one family": (JOBS, TAKEN),
    "a family with no jobs but a booking": ([*JOBS, "B1 ss thorough booked 2025-12-01 - - -"], TAKEN),
    "a booking years ahead": ([*JOBS, "B1 em thorough booked 2025-12-01 2029-06-01 - -"], TAKEN),
    "jobs without dates": ([f"J{n} em thorough delivered - - - -" for n in range(8)],
                           [f"J{n} coil 1 -" for n in range(8)]),
    "returns beyond use": (JOBS, [*TAKEN, "J0 coil -3 2025-01-20"]),
    "an enquiry in a scope nobody did": ([*JOBS, "E1 em refresh enquiry 2025-12-20 2026-02-01 - -"], TAKEN),
    "an enquiry of a new family": ([*JOBS, "E1 ss thorough enquiry 2025-12-20 2026-02-01 - -"], TAKEN),
    "no price at all": (JOBS, [line.replace("coil", "lamp") for line in TAKEN]),
    "bookings alone": (["B1 em thorough booked 2025-12-01 - - -"], []),
    "years of records": ([job.replace("2025-", f"{year}-").replace("J", f"Y{year}-") for year in (2023, 2024, 2025)
                          for job in JOBS],
                         [line.replace("2025-", f"{year}-").replace("J", f"Y{year}-") for year in (2023, 2024, 2025)
                          for line in TAKEN]),
}


def store_of(folder, jobs, taken):
    tables = {"shop": SHOP, "families": FAMILIES, "parts": PARTS, "jobs": "\n".join([HEAD, *jobs]),
              "job_parts": "\n".join(["job part qty_pcs used_on", *taken])}
    return hand_shop.write(folder / "shop.duckdb", **tables)


def cells():
    book = nbformat.read(run.NOTEBOOKS / "consumption.ipynb", as_version=4)
    return [cell.source for cell in book.cells if cell.cell_type == "code" and cell.source.startswith("consumption.")]


@pytest.fixture(params=ODD, scope="module")
def page(request, tmp_path_factory):
    store = store_of(tmp_path_factory.mktemp("odd"), *ODD[request.param])
    return request.param, [notebook.consumption(str(store), window_days=days) for days in (91, 365)]


def test_every_cell_shows_something(page):
    for consumption in page[1]:
        assert len(consumption.headline) > 20 and "nan" not in consumption.headline
        for source in cells():
            shown = eval(source, {"consumption": consumption})  # noqa: S307  (the notebook's own cells)
            assert isinstance(shown, (Table, Note, alt.Chart, alt.LayerChart)), source
            text = shown.text if isinstance(shown, Note) else shown._repr_html_() if isinstance(shown, Table) else ""
            assert "nan" not in text.lower().split(), source
            assert isinstance(shown, (Table, Note)) or shown.to_dict(), source


def test_too_few_jobs_are_said_where_the_past_should_speak(page):
    name, (quarter, _) = page
    said = quarter.trust.answer.text
    assert said.startswith("Too few to say: "), said
    assert quarter.trust.skill.text == quarter.trust.skill_chart.text == said
    known = {"parts never used": 0, "one job": 1, "bookings alone": 0, "years of records": 24}.get(name)
    assert known is None or f"{known} delivered jobs" in said


def test_a_year_before_is_held_against_only_where_the_records_reach(page):
    name, (quarter, _) = page
    is_split = not isinstance(quarter.change.families, Note)
    assert is_split == (name == "years of records")
    assert is_split or "to hold" in quarter.change.families.text
