"""Output tables: each worked out once as long as the store stays, again when it changes, and written plainly."""

import os
import shutil

import pandas as pd
import pytest

from pipeline.errors import StoreError
from pipeline.reports import all_tables

SHARED = {
    "forecast": ["forecast", "forecast_parts", "forecast_families"],
    "order_plan": ["order_plan", "baskets"],
    "scope": ["scope_options", "scope_lines"],
}


@pytest.fixture
def store(small_store, tmp_path):
    return shutil.copy(small_store, tmp_path / "shop.duckdb")


@pytest.fixture
def counted(monkeypatch):
    """Count how often each topic is worked out."""
    calls = []
    for topic, make in list(all_tables.TOPICS.items()):

        def counting(connection, decided, topic=topic, make=make):
            calls.append(topic)
            return make(connection, decided)

        monkeypatch.setitem(all_tables.TOPICS, topic, counting)
    return calls


@pytest.mark.parametrize("name", all_tables.NAMES)
def test_every_table_can_be_had_from_three_files(small_store, name):
    frame = all_tables.table(small_store, name)
    assert isinstance(frame, pd.DataFrame) and len(frame.columns) >= 3


@pytest.mark.parametrize("topic", SHARED)
def test_tables_of_one_decision_share_its_work(store, counted, topic):
    for name in SHARED[topic]:
        all_tables.table(store, name)
    assert counted.count(topic) == 1


def test_what_rests_on_the_plan_uses_the_same_plan(store, counted):
    for name in ("order_plan", "job_ready", "baskets"):
        all_tables.table(store, name)
    all_tables.decided(store, "attention")
    assert counted.count("order_plan") == 1


def test_a_changed_store_is_worked_out_again(store, counted):
    all_tables.table(store, "records")
    later = os.stat(store).st_mtime_ns + 2_000_000_000
    os.utime(store, ns=(later, later))
    all_tables.table(store, "records")
    all_tables.table(store, "records")
    assert counted == ["records", "records"]


def test_two_stores_are_two_answers(store, tmp_path, counted):
    other = shutil.copy(store, tmp_path / "other.duckdb")
    all_tables.table(store, "records")
    all_tables.table(other, "records")
    assert counted == ["records", "records"]


def test_changing_what_was_handed_out_changes_nothing(small_store):
    first = all_tables.table(small_store, "job_hours_outlook")
    first.iloc[:, 0] = "changed"
    assert "changed" not in all_tables.table(small_store, "job_hours_outlook").iloc[:, 0].tolist()


def test_no_store_is_a_sentence_every_time(tmp_path):
    for _ in range(2):
        with pytest.raises(StoreError, match="no store at"):
            all_tables.table(tmp_path / "none.duckdb", "records")


def test_a_table_is_written_where_asked_and_the_unknown_stays_empty(small_store, tmp_path):
    path = all_tables.write(small_store, "order_plan", tmp_path / "deep" / "tables")
    text = path.read_bytes().decode("utf-8")
    assert path.name == "order_plan.csv" and "\r" not in text and "nan" not in text.lower()
    frame = all_tables.table(small_store, "order_plan")
    assert list(pd.read_csv(path)) == list(frame) and len(pd.read_csv(path)) == len(frame)


def test_dates_are_written_as_days(small_store, tmp_path):
    path = all_tables.write(small_store, "forecast_parts", tmp_path)
    assert pd.read_csv(path)["from_on"].str.fullmatch(r"\d{4}-\d{2}-\d{2}").all()


def test_two_runs_write_the_same_bytes(small_store, store, tmp_path):
    for name in ("forecast", "forecast_families", "order_plan", "job_ready", "scope_options"):
        one = all_tables.write(small_store, name, tmp_path / "one").read_bytes()
        assert one == all_tables.write(store, name, tmp_path / "two").read_bytes(), name
