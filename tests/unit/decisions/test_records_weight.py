"""Decisions counted in the store against the output tables themselves, and which rest on which record."""

import numpy as np
import pandas as pd
import pytest

from pipeline.decisions import (
    earnings,
    forecast,
    hours_outlook,
    job_ready,
    lead_times,
    order_plan,
    records_weight,
    scope,
    scope_subject,
)
from pipeline.store import catalogue, connect, read
from tests.support import small_shop

# The whole small shop, with a job that waits for a part, and enough hours for an outlook of every family.
FILES = small_shop.with_rows(
    small_shop.with_rows(small_shop.WHOLE, "findings", "J3,flipper,fli-coil,2,failed"),
    "job_hours", "J2,9,2025-02-20,bench", "J2,7.5,2025-02-21,wiring")
FILES = small_shop.with_rows(FILES, "jobs", "J4,em,fix_only,2025-03-01,2025-03-20",
                             "J5,em,fix_only,2025-03-02,2025-03-22", "J6,ss,fix_only,,")
FILES = small_shop.with_rows(FILES, "job_parts", "J4,sleeve,1,2025-03-10", "J5,lamp,4,2025-03-12")
FILES = small_shop.with_rows(FILES, "job_hours", "J4,2,2025-03-10,bench", "J5,3,2025-03-12,bench")


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    return small_shop.load(tmp_path_factory.mktemp("weight") / "shop", FILES)[0]


@pytest.fixture(scope="module")
def shop(store):
    with connect.open_read(store) as connection:
        yield connection


@pytest.fixture(scope="module")
def decisions(shop):
    return records_weight.gather(shop)


@pytest.fixture(scope="module")
def tables(shop):
    return outputs(shop)


def outputs(connection):
    """Every output table that holds decisions, by kind; values that do not tell one row from another are rounded."""
    plan = order_plan.make(connection)
    found = scope.make(connection)
    options, lines = found.options, found.lines
    needs = plan.facts.reservations.known
    return {
        "order": order_plan.table(plan), "forecast": forecast.make(connection).forecast,
        "piece": lines, "choice": options,
        "margin": earnings.job_margins(connection), "hours": hours_outlook.job_hours_outlook(connection),
        "ready": job_ready.readiness(plan).table, "need": needs[needs["still_pcs"] > 0],
        "lead_time": lead_times.table(connection, plan.facts.today),
    }


def number(decisions, kind):
    return int((decisions.rows["kind"] == kind).sum())


def weight(decisions, *rows):
    """Decisions of one item made of named rows."""
    frame = pd.DataFrame([{"item": 0, **row} for row in rows])
    return int(records_weight.weigh(decisions, frame)["decisions"].iloc[0])


def test_the_counts_are_those_of_the_output_tables(shop, decisions, tables):
    rows = {kind: len(tables[kind]) for kind in ("order", "margin", "hours", "ready", "need", "lead_time")}
    rows["forecast"] = len(tables["forecast"].drop_duplicates(["family", "part"]))  # two windows, one decision
    rows["choice"] = tables["choice"]["subject"].nunique()  # two options, one decision
    rows["piece"] = sum(len(subject.lines) for subject in scope_subject.subjects(shop))
    assert {kind: number(decisions, kind) for kind in rows} == rows
    assert set(decisions.rows["kind"]) == set(rows) and min(rows.values()) > 0


def test_each_row_of_a_table_is_one_of_the_decisions(decisions, tables):
    by_kind = decisions.rows.groupby("kind")
    for kind, names in {"order": ["part"], "forecast": ["family", "part"], "margin": ["job"], "lead_time": ["vendor"],
                        "hours": ["family", "scope"], "ready": ["family", "scope"], "need": ["job", "part"]}.items():
        told = set(map(tuple, by_kind.get_group(kind)[names].to_numpy()))
        assert told == set(map(tuple, tables[kind][names].drop_duplicates().to_numpy())), kind


def test_each_line_of_scope_names_a_piece_that_is_counted(decisions, tables):
    pieces = decisions.rows[decisions.rows["kind"] == "piece"]
    subject = ("job:" + pieces["job"]).where(pieces["job"].notna(), "family:" + pieces["family"])
    told = set(zip(subject, pieces["assembly"].fillna(""), pieces["part"], strict=True))
    lines = tables["piece"].dropna(subset=["part"])
    assert set(zip(lines["subject"], lines["assembly"].fillna(""), lines["part"], strict=True)) <= told


def test_a_decision_has_one_number_and_the_money_it_is_about(shop, decisions):
    assert decisions.rows["decision"].is_unique
    margins = decisions.rows[decisions.rows["kind"] == "margin"]
    assert margins["amount"].isna().all()  # no job of this shop has an invoice
    order = decisions.rows[decisions.rows["kind"] == "order"].set_index("part")["amount"]
    used, price = read.rows(shop, "select year_pcs, unit_price from year_use join part_prices using (part)"
                                  " where part = 'lamp'")[0]
    assert used == 16 and order["lamp"] == pytest.approx(used * price)


def test_a_taking_bears_on_its_part_in_its_family_and_on_its_job(decisions):
    # sleeve for J1 (em): its order line, its forecast in em, its place in em's flipper, the margin of J1.
    assert weight(decisions, {"holds": "job_parts", "part": "sleeve", "job": "J1"}) == 4
    # Where the job is not known the forecasts and places of every family can be meant: 1 + 2 + 2, J3's own place too.
    assert weight(decisions, {"holds": "job_parts", "part": "sleeve"}) == 6


def test_a_count_bears_on_the_order_line_and_on_jobs_that_wait(decisions):
    assert weight(decisions, {"holds": "counts", "part": "sleeve"}) == 1
    assert weight(decisions, {"holds": "counts", "part": "fli-coil"}) == 2


def test_hours_bear_on_the_margin_the_outlook_and_the_choice_of_the_jobs_family(decisions):
    assert weight(decisions, {"holds": "job_hours", "job": "J1"}) == 3


def test_a_job_bears_on_all_that_its_family_is_reckoned_from(decisions):
    # em: three forecasts, one job-ready share and one hours outlook of its scope, one choice, its own margin.
    forecasts = ((decisions.rows["kind"] == "forecast") & (decisions.rows["family"] == "em")).sum()
    assert weight(decisions, {"holds": "jobs", "job": "J2"}) == forecasts + 4
    assert weight(decisions, {"holds": "jobs", "job": "never"}) == 0


def test_one_decision_counts_once_however_many_rows_it_rests_on(decisions):
    one = {"holds": "job_parts", "part": "sleeve", "job": "J1"}
    assert weight(decisions, one, one) == weight(decisions, one) == 4
    assert weight(decisions, one, {"holds": "job_hours", "job": "J1"}) == 6  # the margin of J1 is shared


def test_a_name_of_no_table_is_the_one_decision_it_would_bring(decisions):
    new = {"holds": "job_parts", "part": "mystery", "job": "J1"}
    assert weight(decisions, {**new, "new_name": "part mystery"}) == 2
    assert weight(decisions, {**new, "new_name": "part mystery"}, {"holds": "counts", "part": "mystery",
                                                                   "new_name": "part mystery"}) == 2
    rows = pd.DataFrame([{"item": 0, "holds": "jobs", "new_name": "job J9", "new_amount": amount} for amount in (7, 7)])
    assert records_weight.weigh(decisions, rows.assign(job="J9")).values.tolist() == [[1, 7.0]]


def test_a_row_without_a_name_speaks_for_its_whole_table(decisions):
    parts = number(decisions, "order")
    assert weight(decisions, {"holds": "counts"}) == parts + number(decisions, "need")
    assert weight(decisions, {"holds": "photos"}) == 0


def test_kinds_are_told_apart_the_most_numerous_first(decisions):
    named = pd.DataFrame({"item": [3, 5], "holds": ["offers", "payments"]})
    found = records_weight.by_kind(decisions, named)
    assert set(found["item"]) == {3} and set(found["kind"]) == {"order", "piece", "margin"}
    assert found["decisions"].is_monotonic_decreasing
    assert records_weight.weigh(decisions, named)["decisions"].tolist() == [found["decisions"].sum(), 0]


def test_rows_come_by_decisions_then_by_money_then_as_they_stood(decisions):
    frame = pd.DataFrame({"what": ["none", "lamp", "coil", "sleeve"]}, index=[7, 8, 9, 10])
    named = pd.DataFrame({"item": [8, 9, 10], "holds": "counts", "part": ["lamp", "fli-coil", "sleeve"]})
    found = records_weight.weighed(decisions, frame, named)
    assert found["what"].tolist() == ["coil", "lamp", "sleeve", "none"] and found.index.tolist() == [9, 8, 10, 7]
    assert found["decisions"].tolist() == [2, 1, 1, 0]
    lamp, sleeve = found["amount"].iloc[1:3]
    assert lamp > sleeve > 0 and np.isnan(found["amount"].iloc[3])


def test_rows_alike_weigh_alike(decisions):
    named = pd.DataFrame({"item": [4, 9, 2, 7], "holds": "counts", "part": ["lamp", "fli-coil", "lamp", None],
                          "new_name": [None, None, None, "part x"]})
    found = records_weight.weigh(decisions, named)
    assert found.index.tolist() == [4, 9, 2, 7] and found["decisions"].tolist()[:3] == [1, 2, 1]
    assert found["amount"].iloc[0] == found["amount"].iloc[2] > 0


def test_groups_count_what_their_items_share_once(decisions):
    named = pd.DataFrame({"item": [0, 1, 2], "holds": "job_hours", "job": ["J1", "J4", "J5"]})
    each = records_weight.weigh(decisions, named)["decisions"]
    together = records_weight.together(decisions, named, pd.Series([0, 0], index=[0, 1]))
    # Two margins, one hours outlook and one choice of em; J5 is in no group.
    assert each.tolist() == [3, 3, 3] and together["decisions"].to_dict() == {0: 4}
    assert records_weight.touched(decisions, named) == 5


def test_an_empty_store_has_no_decision():
    with connect.open_memory() as empty:
        decisions = records_weight.gather(empty)
    assert len(decisions.rows) == 0 and len(decisions.kinds) == 0
    assert weight(decisions, {"holds": "job_parts", "part": "sleeve"}) == 0
    assert weight(decisions, {"holds": "shop"}) == 0


def test_no_item_has_no_weight(decisions):
    none = pd.DataFrame({"item": pd.Series(dtype="int64"), "holds": pd.Series(dtype="str")})
    assert len(records_weight.weigh(decisions, none)) == 0 and records_weight.touched(decisions, none) == 0


def test_what_is_read_is_a_table_and_a_kind_that_exist(decisions):
    assert set(decisions.reads["holds"]) <= set(catalogue.tables())
    assert set(decisions.reads["kind"]) == set(decisions.rows["kind"])
    assert set(decisions.reads["shared_name"].dropna()) <= set(records_weight.NAMES)
    pairs = decisions.reads[["holds", "kind"]]
    assert len(pairs.drop_duplicates()) == len(pairs)


# A sum over decisions moves with them: choices with their places, job-ready shares with the plan's levels.
SUMS = {"piece": "choice", "order": "ready", "forecast": "ready"}
LEAVES = ["interchange", "companions", "offers", "family_assemblies", "receipts", "counts", "stock_moves",
          "assembly_parts", "job_hours", "job_costs", "findings", "quote_lines", "approvals", "payments", "callbacks",
          "photos", "wear", "aliases", "shop"]


@pytest.mark.slow
@pytest.mark.parametrize("table", LEAVES)
def test_a_table_moves_only_the_decisions_it_is_said_to_inform(store, table):
    """Without a table's rows no output table changes but those that are said to read it."""
    with connect.open_memory() as connection:
        connect.copy_in(connection, store)
        before = outputs(connection)
        assert read.rows(connection, f"select count(*) from {table}")[0][0] > 0
        reads = records_weight.gather(connection).reads
        connection.execute(f"delete from {table}")
        after = outputs(connection)
    informed = set(reads.loc[reads["holds"] == table, "kind"])
    informed |= {SUMS[kind] for kind in informed & set(SUMS)}
    moved = {kind for kind in before if not same(before[kind], after[kind])}
    assert moved <= informed, table


def same(one, other):
    if list(one) != list(other) or len(one) != len(other):
        return False
    return all(one[column].astype(object).where(one[column].notna(), None).tolist()
               == other[column].astype(object).where(other[column].notna(), None).tolist() for column in one)
