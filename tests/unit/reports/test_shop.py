import datetime
import os
import shutil

import pandas as pd
import pytest

from pipeline.errors import StoreError
from pipeline.reports import shop


@pytest.fixture
def small(small_store):
    return shop.of(small_store)


def test_names_settings_and_gaps_are_read(small):
    assert small.parts == {"SLV-01": "coil sleeve", "COI-02": "coil", "OPT-07": "opto pair"}
    assert small.families == {"em": "em", "dm": "dm"}
    assert small.currency == "USD" and small.settings.today == datetime.date(2031, 2, 20)
    assert "offers.csv" in small.unlocks and "jobs.csv" not in small.unlocks


def test_charts_get_names_in_words(small):
    frame = small.named(
        pd.DataFrame({"part": ["SLV-01", None], "family": ["em", "new"], "scope": ["fix_only", "thorough"]})
    )
    assert frame["part_name"].tolist()[0] == "SLV-01 coil sleeve" and pd.isna(frame["part_name"][1])
    assert frame["job_type"].tolist() == ["em, fix only", "new, thorough"]


def test_names_are_made_only_from_what_is_there(small):
    assert list(small.named(pd.DataFrame({"vendor": ["north"]}))) == ["vendor"]
    assert list(small.named(pd.DataFrame({"part": ["X"]}))) == ["part", "part_name"]


def test_a_long_name_is_cut_for_the_axis(small, monkeypatch):
    monkeypatch.setitem(small.parts, "LONG", "a " * 40)
    assert len(small.part_name("LONG")) <= 40 and small.part_name("LONG").endswith("…")


def test_an_unlisted_part_keeps_its_identifier(small):
    assert small.part_name("NEW-9") == "NEW-9" and small.family_name("xx") == "xx"


def test_a_question_goes_to_the_store(small):
    assert small.query("select count(*) as jobs from jobs where family = ?", ["em"])["jobs"].tolist() == [3]


def test_money_wears_the_currency(small):
    assert small.money(12) == "USD 12.00"


def test_the_shop_is_read_once_while_the_store_stays(small_store, tmp_path):
    copied = tmp_path / "copy.duckdb"
    shutil.copy(small_store, copied)
    first = shop.of(copied)
    assert shop.of(copied) is first
    later = copied.stat().st_mtime_ns + 5_000_000_000
    os.utime(copied, ns=(later, later))
    assert shop.of(copied) is not first


def test_no_store_is_a_sentence(tmp_path):
    assert shop.stamp(tmp_path / "none.duckdb") is None
    with pytest.raises(StoreError, match="no store at"):
        shop.of(tmp_path / "none.duckdb")
