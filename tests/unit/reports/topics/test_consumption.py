"""The page on consumption: the answer, the windows, the jobs behind them, and what each parameter does."""

import pandas as pd
import pytest

from pipeline.reports import shop as shops
from pipeline.reports.tables import Note
from pipeline.reports.topics.consumption import Consumption
from tests.support.consumption_frames import forecast_of


@pytest.fixture
def shop(small_store):
    return shops.of(small_store)


@pytest.fixture
def table(frames):
    return lambda name: frames[name].copy()


def page(shop, table, **parameters):
    return Consumption(shop, lambda _topic: forecast_of(table), **parameters)


def test_the_answer_adds_the_families_up_and_names_the_first(shop, table):
    assert page(shop, table).headline == (
        "In the next 91 days the machines will use parts for about USD 2,520. dm alone: USD 1,290, 8 times in 10 "
        "between USD 700 and USD 1,900 (8.2 jobs expected, 66 seen)."
    )


def test_families_come_by_money(shop, table):
    assert page(shop, table).families.frame["expected_amount"].is_monotonic_decreasing


def test_few_jobs_are_said(shop, table):
    assert page(shop, table).thin_families.text.startswith(
        "Few jobs behind: ess (3 jobs only)."
    )


def test_one_family_shows_its_own_parts(shop, table, frames):
    topic = page(shop, table, family="em")
    own = frames["forecast"][frames["forecast"]["family"] == "em"]
    assert set(topic.parts.frame["part"]) == set(own["part"])
    assert topic.parts.frame["expected_pcs"].sum() == pytest.approx(own["expected_pcs"].sum())
    assert topic.parts.caption.endswith("em")


def test_the_other_window_has_nothing_in_this_table(shop, table):
    assert isinstance(page(shop, table, window_days=365).families, Note)


def test_only_so_many_parts_are_drawn_but_all_are_listed(shop, table):
    topic = page(shop, table, rows=2)
    assert len(topic.parts.frame) == 4
    assert len(topic.parts_chart.to_dict()["layer"][0]["encoding"]["y"]["scale"]["domain"]) == 2


def test_quarter_and_year_stand_side_by_side(shop, table):
    frame = page(shop, table).both_windows.frame.set_index("family_name")
    assert frame.loc["em", ["quarter_expected_amount", "quarter_q90_amount"]].tolist() == [820, 1200]
    assert frame["year_expected_amount"].isna().all()  # unknown, not none


def test_jobs_on_the_books_and_still_to_be_booked_add_up(shop, table):
    frame = page(shop, table).jobs.frame
    assert (frame["known_jobs"] + frame["unbooked_jobs"]).tolist() == pytest.approx(frame["expected_jobs"])
    assert frame["expected_jobs"].is_monotonic_decreasing


def test_jobs_without_a_record_are_counted_and_the_other_reading_told(shop, table):
    told = forecast_of(table)
    told.readings = pd.DataFrame({"jobs_unknown": [2, 1]})
    effect = table("forecast_parts")[["from_on", "to_on", "expected_pcs"]]
    told.unknown_jobs_effect = effect.assign(expected_unknown_as_none_pcs=0.9 * effect["expected_pcs"])
    said = Consumption(shop, lambda _topic: told).unknown_jobs.text
    assert said.startswith("3 delivered jobs left no record") and "10 % fewer" in said


def test_the_method_is_named(shop, table):
    assert "use per job times jobs" in page(shop, table).method.text


def test_what_was_assumed_is_said(shop, table):
    assert page(shop, table).assumed.text == "Nothing had to be assumed."
    told = forecast_of(table, ["no booking is dated"], ["OPT-07"])
    said = Consumption(shop, lambda _topic: told).assumed.text
    assert said == "Assumed: no booking is dated; no price is known for OPT-07: no amount counts them."
