"""The scope page between its two ends: what is recommended, what goes in and what stays, and fields that answer."""

import pytest

from pipeline.reports import notebook
from pipeline.reports.tables import Note, Table
from tests.support import hand_shop

RECORDS = {
    "shop": """key value
        today 2026-07-01
        labour_rate 60
        labour_cost 30
        overhead_per_hour 10
        callback_trip_cost 50
        callback_goodwill_cost 40
        callback_watch_days 180
        plays_per_month_home 400""",
    "families": "family name\nss Solid-state",
    "parts": "part description wear_class unit_cost\ncoil Coil coil 45\nsleeve Sleeve sleeve 1\nstop Stop bracket 3",
    "assemblies": "assembly name bench_hours installed_hours open_hours\nflip Flipper 0.6 1.2 0.1",
    "family_assemblies": "family assembly count\nss flip 3",
    "assembly_parts": """assembly part qty_pcs piece_hours thorough_action fix_only_action
        flip coil 1 0.2 replace keep
        flip sleeve 1 0.05 replace keep
        flip stop 1 0.05 clean keep""",
    "wear": """wear_class median_plays_new median_plays_kept median_months_new median_months_kept shape weight_jobs
        coil 900000 450000 900 450 1.2 2
        sleeve 200000 9000 100 20 2 2
        bracket 900000 300000 900 400 1.5 2""",
    "jobs": "job family scope status setting delivered_on plays_quality\nR1 ss refresh delivered home 2026-01-01 read",
    "job_parts": "job part qty_pcs\nR1 stop 1",
    "callbacks": "job reported_on cause\nR1 2026-01-20 level",
}


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    return notebook.scope(str(hand_shop.write(tmp_path_factory.mktemp("between") / "shop.duckdb", **RECORDS)))


def test_the_cheap_part_goes_in_and_the_dear_one_stays(page):
    assert "sleeve" in page.between.goes_in.frame["part"].tolist()
    assert "coil" in page.between.stays.frame["part"].tolist()
    assert page.between.goes_in.frame["why"].str.startswith("pays").any()
    assert page.between.stays.frame["why"].str.startswith("stays").all()


def test_the_target_is_said_to_be_reached(page):
    assert page.between.target.text.startswith("Recommended is the cheapest scope")


def test_a_target_out_of_reach_is_said_to_be(page):
    asked = notebook.scope(page._shop.path, quiet_share=0.9999)
    assert asked.between.target.text.startswith("No scope on offer reaches a chance of 100 %")
    assert set(asked.options.frame["option_name"]) == {"Fix only", "Recommended", "Thorough"}


def test_the_frontier_stands_with_the_three_options(page):
    layers = page.between.frontier_chart.to_dict()["layer"]
    assert len(layers) == 6
    assert sum("text" in layer["encoding"] for layer in layers) == 2


def _moved(page, **values):
    box = page.between.what_if
    names = ("machine", "quiet_percent", "horizon_years", "trip_amount", "open_ratio")
    fields = dict(zip(names, box.children, strict=False))
    for name, value in values.items():
        fields[name].value = value
    *_, status, answer = box.children
    return status.value, answer.value


def test_unmoved_fields_repeat_the_recommendation(page):
    assert "The scope stays as recommended by the shop's own terms." in _moved(page)[1]


def test_a_call_back_that_costs_no_trip_and_counts_half_a_year_leaves_things_alone(page):
    status, answer = _moved(page, horizon_years=0.5, trip_amount=0.0, quiet_percent=50.0)
    assert "As moved." in status
    assert "sleeve" in answer and "keep" in answer
    _moved(page, horizon_years=5.0, trip_amount=50.0, quiet_percent=80.0)


def test_a_failure_in_the_answer_is_seen(page, monkeypatch):
    def broken(*_args, **_asked):
        raise ValueError("no such thing")

    monkeypatch.setattr("pipeline.reports.topics.scope_between.scope_what_if.ask", broken)
    status, _ = _moved(page, open_ratio=2.0)
    assert "ValueError: no such thing" in status


def test_rooms_of_the_page_are_tables(page):
    assert isinstance(page.calls, Table) and isinstance(page.lives, Table)
    assert page.calls.frame["within"].tolist() == ["90 days"] * 3 + ["5 years"] * 3
    assert isinstance(page.hours.by_stage, Table)
    assert "from memory" in page.hours.by_stage.caption


def test_without_lists_there_is_nothing_between(tmp_path):
    bare = {name: RECORDS[name] for name in ("shop", "families", "parts", "jobs", "job_parts")}
    page = notebook.scope(str(hand_shop.write(tmp_path / "bare.duckdb", **bare)))
    for room in (page.between.target, page.between.frontier_chart, page.between.goes_in, page.between.what_if):
        assert isinstance(room, Note)
