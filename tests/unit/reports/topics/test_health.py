"""The page on the records: trusted or not, what first, every list with the decisions that rest on it."""

import datetime
import shutil

import altair as alt
import pandas as pd
import pytest

from pipeline.reports import notebook
from pipeline.reports import shop as shops
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics import health as topic
from pipeline.reports.topics.health import Health
from pipeline.store import connect
from tests.support import small_shop

FILES = small_shop.WHOLE
FILES = small_shop.with_rows(FILES, "jobs", "J8,em,fix_only,2025-03-01,2025-03-20",
                             "J9,em,fix_only,2025-05-02,2025-05-01")
FILES = small_shop.with_rows(FILES, "job_parts", "J1,sleeve,lots,31.31.2025", "J9,sleeve,1,2025-05-02",
                             "J1, SLEEVE,1,2025-01-12", "J1,washer,2,2025-01-12", "J2,mystery,2,2025-02-12")
FILES = small_shop.with_rows(FILES, "parts", "washer,Washer")
FILES = small_shop.with_rows(FILES, "counts", "lamp,2025-04-01,lots", "sleeve,2025-05-05,900")
SECTIONS = ["first", "decisions", "mends", "set_aside", "repaired_kinds", "repaired", "missing", "defaults",
            "weeks_chart", "gaps", "rhythms", "delivered_chart", "jobs", "parts", "prices", "counts", "negatives",
            "ledger", "noted", "trend_chart", "loads", "files"]
WEIGHED = ["first", "mends", "set_aside", "repaired_kinds", "jobs", "parts", "counts"]


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    return small_shop.load(tmp_path_factory.mktemp("health") / "shop", FILES)[0]


@pytest.fixture(scope="module")
def page(store):
    return notebook.health(str(store))


@pytest.fixture
def copied(store, tmp_path):
    path = tmp_path / "shop.duckdb"
    shutil.copy(store, path)
    return path


def of(path):
    return Health(shops.of(str(path)))


def test_the_answer_says_how_much_is_in_what_is_sure_and_what_to_mend_first(page):
    rows, rest = page.headline.split(" rows are in, 5 wait to be mended, ")
    assert int(rows) > 40 and "cells were repaired. " in rest or "cell was repaired. " in rest
    first = page.first.frame.iloc[0]
    assert "rest on no record in doubt. Mend first what " in rest and rest.endswith(f" ({first['what']}).")
    assert f"what {first['decisions']:,} decisions rest on: {first['description']}" in rest


@pytest.mark.parametrize("name", SECTIONS)
def test_every_section_is_a_table_a_chart_or_words(page, name):
    shown = getattr(page, name)
    assert isinstance(shown, Table | Note | alt.TopLevelMixin)
    assert not isinstance(shown, Table) or len(shown.frame) > 0
    assert not isinstance(shown, Note) or len(shown.text) > 15


@pytest.mark.parametrize("name", WEIGHED)
def test_every_list_counts_decisions_and_stands_in_their_order(page, name):
    decisions = getattr(page, name).frame["decisions"].dropna()
    assert len(decisions) > 0 and decisions.is_monotonic_decreasing


def test_decisions_are_defined_on_the_page_and_add_up(page):
    frame = page.decisions.frame
    assert {"order line", "forecast", "margin"} <= set(frame["decision"])
    assert set(frame["table"]) <= {kind[3] for kind in topic.KINDS.values()}
    assert f"of {frame['decisions'].sum():,} decisions" in page.headline


def test_a_row_with_two_reasons_stands_once(page):
    rows = page.set_aside.frame
    assert len(rows) == 5 and (rows["column"] == "qty_pcs; used_on").sum() == 1
    assert rows["why"].str.len().min() > 10


def test_line_numbers_are_texts_without_commas(page):
    assert all(isinstance(line, str) and "," not in line for line in page.set_aside.frame["line"])
    assert all(isinstance(line, str) and "," not in line for line in page.repaired.frame["line"])


def test_one_mend_that_brings_in_many_rows_is_told(page):
    (mend,) = page.mends.frame.itertuples()
    assert (mend.file, mend.rows) == ("jobs.csv", 2) and mend.description == "delivered_on is '2025-05-01'"


def test_repairs_stand_by_kind_with_samples_and_in_full(page):
    kinds = page.repaired_kinds.frame
    assert "' SLEEVE' as 'sleeve'" in set(kinds["note"])
    assert kinds["cells"].sum() == len(page.repaired.frame)
    assert {"value", "taken_as", "rule", "decisions"} <= set(page.repaired.frame)


def test_jobs_and_parts_that_lack_something_are_listed(page):
    jobs = page.jobs.frame.set_index("job")["lacks"]
    assert jobs["J8"] == "parts, hours" and "J1" not in jobs
    assert "washer" in set(page.parts.frame["part"]) and {"used_pcs", "year_pcs", "jobs"} <= set(page.parts.frame)


def test_a_count_far_from_the_book_has_a_section_of_its_own(page):
    assert "count far from book" in set(page.counts.frame["description"])
    assert not isinstance(page.noted, Table) or "count far from book" not in set(page.noted.frame["description"])


def test_rows_of_each_file_add_up(page):
    rows = page.files.frame
    assert (rows["rows_in"] == rows["rows_loaded"] + rows["rows_set_aside"]).all()
    assert rows["rows_waiting"].sum() == 5


def test_settings_nobody_gave_are_listed_with_their_defaults(page):
    used = page.defaults.frame.set_index("setting")["used"]
    assert used["labour_cost"] == "30" and "labour_rate" not in used


def test_one_load_draws_no_trend_and_says_so(page):
    assert page.trend_chart.text == "One load so far: a trend is drawn from the second on."
    assert len(page.loads.frame) == 1


def test_the_second_load_draws_a_trend_and_names_files_of_the_first(copied, tmp_path):
    folder = small_shop.write(tmp_path / "more", {name: FILES[name] for name in ("parts", "jobs", "job_parts")})
    small_shop.load(folder, None, copied)
    page = of(copied)
    assert isinstance(page.trend_chart, alt.HConcatChart)
    assert page.loads.frame["load_no"].tolist() == [2, 1]
    assert "counts.csv: from an earlier load" in page.set_aside.caption
    assert dict(zip(page.files.frame["file"], page.files.frame["load_no"], strict=True))["counts.csv"] == 1


def test_many_loads_are_drawn_from_the_newest_back(copied):
    with connect.open_write(copied) as connection:
        connection.executemany("insert into loads values (?, timestamp '2031-01-01', 'shop', 'x')",
                               [(n,) for n in range(2, 60)])
    page = of(copied)
    assert len(page.trend_chart.to_dict()["hconcat"][0]["encoding"]["y"]["scale"]["domain"]) == topic.LOADS_DRAWN
    assert len(page.loads.frame) == 59 and page.loads.caption.endswith("59 rows, scroll for the rest")


def test_more_lines_to_mend_than_fit_are_counted(copied, monkeypatch):
    monkeypatch.setattr(topic, "FIRST_ROWS", 2)
    page = of(copied)
    assert len(page.first.frame) == 2 and page.first.is_whole
    assert page.first.caption.startswith("Mend first: the 2 of ")


def test_a_gap_is_listed_and_drawn(copied):
    with connect.open_write(copied) as connection:
        days = [datetime.date(2024, 1, 1) + datetime.timedelta(days=n) for n in (*range(100), *range(200, 300))]
        connection.execute("update jobs set started_on = '2024-01-01', booked_on = '2024-01-01' where job = 'J1'")
        connection.executemany("insert into job_hours (row_hash, job, hours, worked_on, recorded_in) values"
                               " (?, 'J1', 1, ?, 'folder')", [(f"x{n}", day) for n, day in enumerate(days)])
    page = of(copied)
    gaps = page.gaps.frame[page.gaps.frame["kind"] == "hours"].set_index("gap_days")
    assert gaps.loc[101, "jobs"] == 1 and gaps.loc[101, "from_on"] == days[99]
    assert len(page.weeks_chart.to_dict()["layer"]) == 2
    assert page.rhythms.frame.set_index("kind").loc["hours", "gaps"] == len(gaps)
    assert "no hours" in set(page.first.frame["what"])


def test_a_part_below_none_is_told_with_the_likely_cause(copied):
    with connect.open_write(copied) as connection:
        connection.execute("insert into job_parts (row_hash, job, part, qty_pcs, used_on, recorded_in)"
                           " values ('x', 'J1', 'lamp', 500, '2025-05-06', 'folder')")
    negatives = of(copied).negatives
    told = negatives.frame.set_index("part").loc["lamp"]
    assert told["lowest_pcs"] < -400 and len(told["reason"]) > 10 and told["decisions"] > 0
    assert "likely cause" in negatives._repr_html_()


def test_gains_and_losses_at_counts_are_told_in_money(page):
    frame = page.ledger.frame
    assert ((frame["gain_pcs"] > 0) | (frame["loss_pcs"] > 0)).all()
    left = frame["came_pcs"] + frame["gain_pcs"] - frame["went_pcs"] - frame["loss_pcs"] - frame["on_hand_pcs"]
    assert (left.dropna() == 0).all()


@pytest.fixture(scope="module")
def three_files(small_store):
    return notebook.health(str(small_store))


@pytest.mark.parametrize("name", SECTIONS)
def test_three_files_are_enough_for_every_section(three_files, name):
    shown = getattr(three_files, name)
    assert isinstance(shown, Table | Note | alt.TopLevelMixin)
    assert not isinstance(shown, Table) or len(shown.frame) > 0


def test_what_three_files_lack_is_told_as_missing_not_job_by_job(three_files):
    assert {"offers.csv", "callbacks.csv", "job_hours.csv"} <= set(three_files.missing.frame["file"])
    assert "offers.csv" in three_files.missing._repr_html_()
    assert three_files.jobs.text.startswith("No delivered job lacks")
    hours = three_files.missing.frame.set_index("file").loc["job_hours.csv"]
    assert hours["decisions"] > 0 and "4 margins" in hours["note"]


def test_the_answer_of_three_files(three_files):
    assert "1 waits to be mended, 0 cells were repaired." in three_files.headline
    assert three_files.set_aside.frame[["file", "line", "value"]].values.tolist() == [["job_parts.csv", "9", "J-009"]]
    assert three_files.repaired.text == three_files.repaired_kinds.text == "Nothing had to be repaired."


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    path = tmp_path_factory.mktemp("empty") / "shop.duckdb"
    connect.open_write(path).close()
    return notebook.health(str(path))


@pytest.mark.parametrize("name", [name for name in SECTIONS if name not in ("missing", "defaults")])
def test_an_empty_shop_says_in_words_that_there_is_nothing(empty, name):
    shown = getattr(empty, name)
    assert isinstance(shown, Note) and shown.text.endswith(".")


def test_an_empty_shop_misses_all_and_has_nothing_to_mend(empty):
    assert empty.headline == ("0 rows are in, 0 wait to be mended, 0 cells were repaired. "
                              "Nothing is decided on these records yet.")
    assert len(empty.missing.frame) == 25 and (empty.missing.frame["decisions"] == 0).all()
    assert len(empty.defaults.frame) > 10


def test_a_clean_shop_has_nothing_to_mend(tmp_path):
    files = {
        "parts": "part,description,unit_cost\nsleeve,Sleeve,0.5\n",
        "jobs": "job,family,scope,booked_on,started_on,delivered_on\nJ1,em,fix_only,2025-01-02,2025-01-10,2025-01-20\n",
        "job_parts": "job,part,qty_pcs,used_on\nJ1,sleeve,2,2025-01-10\n",
    }
    page = of(small_shop.load(tmp_path / "clean", files)[0])
    assert page.headline.endswith("Nothing has to be mended.")
    assert page.first.text.startswith("Nothing waits")
    assert page.prices.text == "No price is far from the usual."
    assert page.counts.text == "No count is far from the book."


def test_what_people_type_is_no_markup_here(copied):
    with connect.open_write(copied) as connection:
        connection.execute("update records set value = '<b>lots</b>' where value = 'lots'")
    assert "<b>lots" not in of(copied).set_aside._repr_html_() and "&lt;b&gt;lots" in of(copied).set_aside._repr_html_()


def test_a_delivered_job_without_a_day_draws_no_month(copied):
    with connect.open_write(copied) as connection:
        connection.execute("update jobs set delivered_on = null, status = 'delivered' where job in ('J1', 'J2', 'J8')")
    page = of(copied)
    assert isinstance(page.delivered_chart, Note)
    assert pd.isna(page.jobs.frame.set_index("job").loc["J8", "delivered_on"])
