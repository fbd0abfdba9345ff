"""One taking or one count at a time, by the rules a file obeys."""

import datetime
import shutil

import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import bench
from tests.support import small_shop


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """The whole small shop, loaded once; to be copied."""
    return small_shop.loaded_before(tmp_path_factory.mktemp("loaded") / "shop", small_shop.WHOLE)


@pytest.fixture
def store(tmp_path, loaded):
    """A loaded store."""
    return shutil.copy(loaded, tmp_path / "shop.duckdb")


def noted(store, table="job_parts"):
    return small_shop.rows(store, f"select * exclude (row_hash, extra, recorded_in) from {table}"
                                  " where recorded_in = 'notebook' order by all")


def test_a_taking_is_recorded_with_its_alias_resolved(store):
    said = bench.record_use(
        store, "j1", "Flipper Coil", 2, datetime.date(2025, 1, 15), assembly="FLIPPER", source="new", reason="Failed"
    )
    assert said == ("Recorded: 2 pieces of fli-coil for job J1 on 2025-01-15 (part 'Flipper Coil': taken as fli-coil).")
    assert noted(store) == [("J1", "fli-coil", 2, datetime.date(2025, 1, 15), None, "flipper", "new", "failed", None)]


def test_pieces_put_back_are_negative(store):
    said = bench.record_use(store, "J2", "sleeve", -1, "2025-02-11")
    assert said == "Recorded: 1 piece of sleeve put back from job J2 on 2025-02-11."
    assert small_shop.rows(store, "select sum(qty_pcs) from job_parts where job = 'J2' and part = 'sleeve'") == [(2,)]


def test_the_same_taking_again_is_a_second_taking(store):
    for n in range(3):
        said = bench.record_use(store, "J3", "lamp", 1, "2025-04-06")
        assert ("; the same was recorded before, this one is its line" in said) == (n > 0)
    assert [row[4] for row in noted(store)] == [1, 2, None]


def test_a_taking_that_the_folder_holds_too_is_a_second_taking(store):
    assert "its line 1" in bench.record_use(store, "J1", "sleeve", 2, "2025-01-10")


def test_days_may_be_written_in_other_ways_that_read_one_way(store):
    for used_on in ("2025-04-25", "25/04/2025", "25 Apr 2025", datetime.datetime(2025, 4, 25, 17, 30)):
        assert "on 2025-04-25" in bench.record_use(store, "J3", "lamp", 1, used_on)
    assert "(used_on '25/04/2025': read as 2025-04-25)" in bench.record_use(store, "J3", "lamp", 1, "25/04/2025")


def test_a_day_may_be_unknown(store):
    assert bench.record_use(store, "J3", "lamp", 1, None) == "Recorded: 1 piece of lamp for job J3."


@pytest.mark.parametrize(("words", "said"), [
    ({"job": "J 9"}, "job is 'J 9'; wanted a job listed in jobs; did you mean J1, J2 or J3?"),
    ({"part": "sleve"}, "part is 'sleve'; wanted a part listed in parts; did you mean sleeve?"),
    ({"part": ""}, "part is empty; a value is required here"),
    ({"qty_pcs": 0}, "qty_pcs is '0'; wanted a whole number of pieces, not 0"),
    ({"qty_pcs": 1.5}, "qty_pcs is '1.5'; wanted a whole number of pieces"),
    ({"qty_pcs": "two"}, "qty_pcs is 'two'; wanted a whole number of pieces"),
    ({"qty_pcs": None}, "qty_pcs is empty; a value is required here"),
    ({"qty_pcs": True}, "qty_pcs is 'True'; wanted a whole number"),
    ({"used_on": "3/4/2025"}, "used_on is '3/4/2025'; could be 2025-03-04 or 2025-04-03"),
    ({"used_on": "soon"}, "used_on is 'soon'; wanted a day as 2025-03-09"),
    ({"source": "shop"}, "source is 'shop'; wanted one of new, salvage, made, customer"),
    ({"reason": "broke"}, "reason is 'broke'; wanted one of failed, policy"),
])
def test_what_breaks_a_rule_is_said_and_nothing_is_recorded(store, words, said):
    with pytest.raises(RecordsError) as error:
        bench.record_use(
            **{"shop_file": store, "job": "J1", "part": "lamp", "qty_pcs": 1, "used_on": "2025-01-15"} | words
        )
    assert said in str(error.value) and str(error.value).endswith("Nothing was recorded.")
    assert "line 1" not in str(error.value) and "?." not in str(error.value) and noted(store) == []


def test_everything_wrong_is_said_at_once(store):
    with pytest.raises(RecordsError) as error:
        bench.record_count(store, "nix", -1, "")
    for words in (
        "counted_on is empty",
        "part is 'nix'",
        "qty_pcs is '-1'; wanted a whole number of pieces, 0 or more",
    ):
        assert words in str(error.value)


def test_a_count_is_recorded_and_the_same_count_changes_nothing(store):
    assert (
        bench.record_count(store, "LAMP", 0, "2025-05-01", "B2") == "Recorded: 0 pieces of lamp counted on 2025-05-01."
    )
    assert noted(store, "counts") == [("lamp", datetime.date(2025, 5, 1), 0, "B2")]
    before = small_shop.contents(store)
    assert bench.record_count(store, "lamp", "0", "2025-05-01", "B2") == (
        "Recorded: 0 pieces of lamp counted on 2025-05-01; the same count was there before, nothing changed.")
    assert small_shop.contents(store) == before


def test_the_store_is_closed_after_each_record(store):
    bench.record_count(store, "lamp", 3, "2025-05-01")
    store.rename(store.with_name("moved.duckdb"))
    assert noted(store.with_name("moved.duckdb"), "counts")


@pytest.mark.parametrize("text", ["'; drop table parts; --", '"', "a'b", "{x}", "%s", "\\"])
def test_odd_text_is_only_text(store, text):
    with pytest.raises(RecordsError, match="wanted a part listed"):
        bench.record_use(store, "J1", text, 1, "2025-01-15")
    bench.record_use(store, "J1", "lamp", 1, "2025-01-15", assembly=text)
    assert noted(store)[0][5] == text


def test_a_load_of_the_same_folder_afterwards_still_changes_nothing(tmp_path):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    bench.record_use(store, "J1", "lamp", 1, "2025-01-15")
    before = small_shop.contents(store)
    assert small_shop.load(tmp_path / "shop")[1].is_unchanged
    assert small_shop.contents(store) == before
