"""The forecast tables: their columns, windows, money, methods, both readings, and what little records allow."""

import datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.decisions import forecast, seed
from pipeline.models import bench_flow
from tests.support import hand_shop

TODAY = datetime.date(2026, 1, 1)
DAY = datetime.timedelta(days=1)
PARTS = "part description wear_class unit_cost\ncoil Coil coil 12\nsleeve Sleeve sleeve 0.5\nboard Board board -"


def shop(n=24, extra_jobs=(), extra_parts=(), **more):
    """A shop of one family: a job every 25 days, taking coil and two sleeves when rough, a sleeve otherwise."""
    jobs = ["job family scope status booked_on delivered_on"]
    taken = ["job part qty_pcs used_on"]
    for i in range(n):
        booked = TODAY - (25 * i + 40) * DAY
        jobs.append(f"J{i} em thorough delivered {booked} {booked + 30 * DAY}")
        day = booked + 15 * DAY
        taken += [f"J{i} coil 1 {day}", f"J{i} sleeve 2 {day}"] if i % 2 else [f"J{i} sleeve 1 {day}"]
    return {"families": "family name\nem Electromechanical\nss Solid-state", "parts": PARTS,
            "jobs": "\n".join([*jobs, *extra_jobs]), "job_parts": "\n".join([*taken, *extra_parts]), **more}


def made(tables, **options):
    with hand_shop.store(**tables) as connection:
        return forecast.make(connection, today=TODAY, **options)


@pytest.fixture(scope="module")
def plain():
    return made(shop())


def test_tables_have_the_columns_of_the_contract(plain):
    for name, columns in forecast.COLUMNS.items():
        assert list(getattr(plain, name).columns) == columns
    quantiles = ["q05_pcs", "q10_pcs", "q25_pcs", "q50_pcs", "q75_pcs", "q90_pcs", "q95_pcs"]
    assert forecast.COLUMNS["forecast"] == ["family", "part", "from_on", "to_on", "expected_pcs", *quantiles,
                                            "jobs_seen", "method"]


def test_windows_begin_tomorrow_and_last_a_quarter_and_a_year(plain):
    windows = plain.forecast[["from_on", "to_on"]].drop_duplicates()
    assert windows["from_on"].unique().tolist() == [TODAY + DAY]
    assert sorted(windows["to_on"]) == [TODAY + 91 * DAY, TODAY + 365 * DAY]


def test_a_steady_shop_goes_on(plain):
    year = plain.forecast_parts[plain.forecast_parts["to_on"] == TODAY + 365 * DAY].set_index("part")
    # 14.6 jobs a year, of which parts go out 15 days later; half take a coil, and one and a half sleeves on average.
    assert_allclose(year.loc["coil", "expected_pcs"], 7, rtol=0.25)
    assert_allclose(year.loc["sleeve", "expected_pcs"], 21, rtol=0.25)


def test_quantiles_rise_and_surround_the_middle(plain):
    for table in (plain.forecast, plain.forecast_parts):
        quantiles = table[[name for name in table.columns if name.startswith("q")]].to_numpy()
        assert (np.diff(quantiles, axis=1) >= 0).all()
        assert quantiles.dtype.kind == "i"


def test_one_family_is_all_families(plain):
    pieces = [column for column in forecast.COLUMNS["forecast_parts"] if column.startswith(("q", "expected"))]
    assert_allclose(plain.forecast[pieces].astype(float), plain.forecast_parts[pieces].astype(float), atol=1e-6)


def test_family_money_is_the_expected_pieces_at_their_prices(plain):
    year = plain.forecast_families[plain.forecast_families["family"] == "em"].iloc[-1]
    pieces = plain.forecast[(plain.forecast["family"] == "em") & (plain.forecast["to_on"] == year["to_on"])]
    priced = pieces["expected_pcs"] * pieces["part"].map({"coil": 12.0, "sleeve": 0.5})
    assert_allclose(year["expected_amount"], priced.sum())
    # A rough job takes 12 + 1, a smooth one 0.5: 6.75 on average.
    assert_allclose(year["expected_amount"], 6.75 * year["expected_jobs"], rtol=0.1)
    assert year["q10_amount"] < year["q50_amount"] < year["q90_amount"]
    assert year["jobs_seen"] == 24


def test_whole_jobs_spread_wider_than_parts_added_up_as_if_independent(plain):
    # Coil and sleeves go together here; independent parts would give less than the spread of whole jobs.
    year = plain.forecast_families[plain.forecast_families["family"] == "em"].iloc[-1]
    n = year["expected_jobs"]
    independent = np.sqrt(n * (0.5 * 144 + 0.25 * 2.5))
    assert (year["q90_amount"] - year["q10_amount"]) / 2.56 > 0.9 * independent


def test_expected_jobs_have_known_ones_and_intervals():
    booked = f"B1 em thorough booked {TODAY - 5 * DAY} -"
    quarter = made(shop(extra_jobs=[booked])).expected_jobs
    row = quarter[(quarter["family"] == "em") & (quarter["to_on"] == TODAY + 91 * DAY)].iloc[0]
    assert row["known_jobs"] == 1
    assert row["low_jobs"] <= row["expected_jobs"] <= row["high_jobs"]


def test_a_booked_job_raises_the_next_quarter_by_itself(plain):
    booked = [f"B{i} em thorough booked {TODAY - 5 * DAY} -" for i in range(3)]
    before, after = plain.forecast_parts, made(shop(extra_jobs=booked)).forecast_parts
    gain = (after["expected_pcs"] - before["expected_pcs"])[(after["part"] == "sleeve").to_numpy()].iloc[0]
    assert 3.5 < gain < 6  # three jobs of 1.5 sleeves, and a little more trust in the rate


def test_a_part_without_a_price_is_stated_and_not_zero(plain):
    taken = [f"J{i} board 1 {TODAY - (25 * i + 25) * DAY}" for i in range(0, 24, 2)]
    priced, bare = plain, made(shop(extra_parts=taken))
    assert priced.unpriced.empty
    assert bare.unpriced["part"].tolist() == ["board"]
    assert bare.unpriced["expected_pcs"].iloc[0] > 2
    assert_allclose(bare.forecast_families["expected_amount"], priced.forecast_families["expected_amount"], rtol=0.1)


def test_both_readings_of_jobs_without_records():
    unknown = [f"U{i} em thorough delivered {TODAY - (30 * i + 40) * DAY} {TODAY - (30 * i + 10) * DAY}"
               for i in range(12)]
    found = made(shop(extra_jobs=unknown))
    assert found.readings.iloc[0]["jobs_unknown"] == 12
    effect = found.unknown_jobs_effect.set_index(["part", "to_on"])
    assert (effect["expected_unknown_as_none_pcs"] < 0.85 * effect["expected_pcs"]).all()


def test_without_unknown_jobs_the_readings_agree(plain):
    effect = plain.unknown_jobs_effect
    assert_allclose(effect["expected_unknown_as_none_pcs"], effect["expected_pcs"], rtol=1e-4)


def test_few_jobs_are_said_in_the_method(plain):
    jobs = "job family scope delivered_on\nJ1 em thorough 2025-11-01\nJ2 em thorough 2025-12-01"
    taken = "job part qty_pcs used_on\nJ1 coil 1 2025-10-20\nJ2 coil 1 2025-11-20"
    found = made(shop() | {"jobs": jobs, "job_parts": taken})
    assert found.forecast["method"].unique().tolist() == [forecast.BY_OTHERS]
    assert set(plain.forecast["method"]) == {forecast.BY_JOBS}


def test_every_method_said_is_explained_and_names_what_is_drawn(plain):
    assert set(plain.forecast["method"]) <= set(forecast.METHODS)
    assert "generating functions" in forecast.METHODS[forecast.BY_JOBS]
    assert f"{bench_flow.N_RUNS} runs" in forecast.METHODS[forecast.BY_JOBS]
    assert f"{forecast.N_DRAWS:,} draws" in forecast.AMOUNT_METHOD


def test_a_family_with_bookings_and_no_history_leans_on_others():
    booked = f"B1 ss thorough booked {TODAY - 5 * DAY} -"
    found = made(shop(extra_jobs=[booked]))
    assert any("ss" in note and "lean on other families" in note for note in found.notes)
    ss = found.forecast_families[found.forecast_families["family"] == "ss"]
    assert (ss["jobs_seen"] == 0).all() and (ss["expected_amount"] > 0).all()


def test_a_scope_booked_but_never_done_is_taken_to_be_like_the_others():
    booked = f"B1 em refresh booked {TODAY - 5 * DAY} -"
    found = made(shop(extra_jobs=[booked]))
    assert any("no delivered refresh job" in note for note in found.notes)
    em = found.forecast_families
    assert_allclose(em["expected_amount"], 6.75 * em["expected_jobs"], rtol=0.1)


def test_bookings_without_any_delivered_job_leave_amounts_unknown():
    jobs = f"job family scope status booked_on\nB1 em refresh booked {TODAY - 5 * DAY}"
    found = made(shop() | {"jobs": jobs, "job_parts": "job part qty_pcs"})
    assert found.forecast.empty
    assert found.forecast_families["expected_amount"].isna().all()
    assert (found.forecast_families["expected_jobs"] > 0).all()


def test_the_same_records_give_the_same_figures(plain):
    again = made(shop())
    assert_array_equal(again.forecast_families["q90_amount"], plain.forecast_families["q90_amount"])
    other = made(shop(), rng=np.random.default_rng(99))
    assert (other.forecast_families["q90_amount"] != plain.forecast_families["q90_amount"]).any()
    assert seed.generator().random() == seed.generator().random()


def test_todays_default_is_the_shops():
    with hand_shop.store(**shop(shop="key value\ntoday 2026-01-01")) as connection:
        assert forecast.make(connection).today == TODAY


def test_an_empty_store_gives_empty_tables():
    with hand_shop.store(families="family name\nem Electromechanical") as connection:
        found = forecast.make(connection, today=TODAY)
    assert found.forecast.empty and found.forecast_parts.empty and found.forecast_families.empty
    assert list(found.forecast.columns) == forecast.COLUMNS["forecast"]
    assert found.unpriced.empty


def test_one_job_without_any_day_is_answered():
    found = made(shop() | {"jobs": "job family scope status\nJ1 em thorough delivered",
                           "job_parts": "job part qty_pcs\nJ1 coil 2"})
    assert len(found.forecast) == 2
    assert found.notes
