"""The notebooks asked for something else than their defaults: on the demo shop or a small one, through the report."""

import html

import pandas as pd
import pytest

from pipeline.errors import InvalidParameter, UsageError
from pipeline.reports import all_tables, notebook, parameters, run
from pipeline.reports.tables import Note
from pipeline.store import connect
from tests.support import small_shop


@pytest.fixture(scope="module")
def store(demo_shop):
    return str(demo_shop.store)


@pytest.fixture(scope="module")
def families(store):
    with connect.open_read(store) as connection:
        return parameters.choices(connection)["family"]


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """A shop of a few jobs, for what is asked of a page and not of its figures."""
    return str(small_shop.loaded_before(tmp_path_factory.mktemp("small") / "shop", small_shop.WHOLE))


def foot_of(page):
    return html.unescape(page.read_text(encoding="utf-8").split("<footer>")[1])


def test_a_page_alone_with_a_family_and_the_longer_window(small, tmp_path, monkeypatch, one_kernel):
    monkeypatch.setattr(all_tables, "NAMES", ("records",))
    asked = {"family": "EM", "window_days": "365", "rows": "5"}
    result = run.report(small, tmp_path, only="consumption", settings=asked)
    assert result.failures == {} and list(result.pages) == ["consumption"]
    assert "In the next 365 days" in result.answers["consumption"]
    foot = foot_of(result.pages["consumption"])
    assert "<code>family = 'em'</code>: machine family code" in foot
    assert "<code>window_days = 365</code>" in foot


def test_every_default_is_written_at_the_foot(small, tmp_path, monkeypatch, one_kernel):
    monkeypatch.setattr(all_tables, "NAMES", ("records",))
    result = run.report(small, tmp_path, only="shelf")
    foot = foot_of(result.pages["shelf"])
    assert "<code>vendor = 'all'</code>: one vendor, or all" in foot and "<code>rows = 30</code>" in foot


@pytest.mark.parametrize(
    ("settings", "kind", "message"),
    [
        ({"family": "dotmatrx"}, InvalidParameter, "Did you mean dotmatrix.*Wanted one of: alphanumeric"),
        ({"job": "W99-999"}, InvalidParameter, "not in the store"),
        ({"vendor": ""}, InvalidParameter, "not in the store"),
        ({"window_days": "30"}, InvalidParameter, "Wanted one of: 91, 365"),
        ({"rows": "-3"}, InvalidParameter, "wanted 0 or more"),
        ({"rows": "few"}, InvalidParameter, "wanted a whole number"),
        ({"families": "em"}, UsageError, "Did you mean family"),
        ({"store": "elsewhere"}, UsageError, "--shop FILE"),
    ],
)
def test_what_does_not_fit_is_refused_before_a_kernel_starts(
    store, tmp_path, settings, kind, message, monkeypatch
):
    monkeypatch.setattr(run.kernel, "warm", lambda *_: pytest.fail("a kernel was started"))
    with pytest.raises(kind, match=message):
        run.report(store, tmp_path / "out", settings=settings)


def test_a_family_alone_uses_no_more_than_all_together(store, families):
    everything = notebook.consumption(store).parts.frame.set_index("part")["expected_pcs"]
    added = sum(
        notebook.consumption(store, family)
        .parts.frame.set_index("part")["expected_pcs"]
        .reindex(everything.index)
        .fillna(0)
        for family in families
    )
    assert added.to_numpy() == pytest.approx(everything.to_numpy(), rel=1e-6)


def test_a_year_uses_more_than_a_quarter(store, families):
    for family in families:
        quarter, year = (notebook.consumption(store, family, days).families.frame for days in (91, 365))
        assert year["expected_amount"].iloc[0] > quarter["expected_amount"].iloc[0]


def test_the_vendors_baskets_add_up_to_the_shelf(store):
    with connect.open_read(store) as connection:
        vendors = parameters.choices(connection)["vendor"]
    whole = notebook.shelf(store)
    lines = [notebook.shelf(store, vendor).orders for vendor in vendors]
    shown = sum(len(one.frame) for one in lines if not isinstance(one, Note))
    assert shown == len(whole.orders.frame) - whole.orders.frame["vendor"].isna().sum()


def test_lines_of_a_basket_come_to_its_goods(store):
    shelf = notebook.shelf(store)
    goods = shelf.orders.frame.groupby("vendor")["line_amount"].sum()
    baskets = shelf.baskets.frame.set_index("vendor")["goods_amount"]
    assert goods.reindex(baskets.index).to_numpy() == pytest.approx(baskets.to_numpy(), abs=0.005)


def test_the_bars_of_a_basket_are_its_total(store):
    shelf = notebook.shelf(store)
    rows = pd.DataFrame(next(iter(shelf.baskets_chart.to_dict()["datasets"].values())))
    totals = shelf.baskets.frame.set_index("vendor")["total_amount"]
    assert rows.groupby("vendor")["amount"].sum().reindex(totals.index).to_numpy() == pytest.approx(
        totals.to_numpy()
    )


@pytest.mark.parametrize("rows", [1, 3, 12])
def test_a_picture_has_as_many_rows_as_asked(store, rows):
    chart = notebook.shelf(store, rows=rows).stock_chart.to_dict()
    assert len(chart["layer"][0]["encoding"]["y"]["scale"]["domain"]) == rows
    chart = notebook.consumption(store, rows=rows).parts_chart.to_dict()
    assert len(chart["layer"][0]["encoding"]["y"]["scale"]["domain"]) == rows


def test_each_family_and_each_open_job_has_its_scope_page(store, families):
    subjects = all_tables.table(store, "scope_options")["subject"].unique()
    jobs = [subject.removeprefix("job:") for subject in subjects if subject.startswith("job:")]
    assert len(jobs) > 0
    for family in families:
        assert notebook.scope(store, family=family).headline.startswith("A typical ")
    for job in jobs[:3]:
        page = notebook.scope(store, job=job)
        assert page.headline.startswith(f"Job {job}: ") and len(page.lines.frame) > 0


def test_a_job_without_findings_says_that_nothing_can_be_compared(store):
    with connect.open_read(store) as connection:
        jobs = set(parameters.choices(connection)["job"])
    subjects = all_tables.table(store, "scope_options")["subject"]
    bare = sorted(jobs - {subject.removeprefix("job:") for subject in subjects})[0]
    page = notebook.scope(store, job=bare)
    assert "cannot be put side by side" in page.headline and isinstance(page.options_chart, Note)


def test_the_cautions_stand_whatever_is_asked(store, families):
    for page in (notebook.scope(store), notebook.scope(store, family=families[0])):
        hazards = set(page.cautions.frame["hazard"])
        assert len(hazards) >= 10 and "Mains" in hazards and page.cautions.is_whole
        assert "Local codes" in page.cautions.caption


def test_a_familys_jobs_are_all_of_the_family(store, families):
    everything = len(notebook.earnings(store).jobs.frame)
    parts = [len(notebook.earnings(store, family).jobs.frame) for family in families]
    assert sum(parts) == everything and min(parts) > 0


def test_the_groups_hold_every_job_with_a_known_margin(store):
    page = notebook.earnings(store)
    known = page.jobs.frame["margin_per_hour"].notna().sum()
    assert page.groups.frame["jobs"].sum() == known


def test_every_margin_is_what_was_invoiced_less_what_it_cost(store):
    jobs = notebook.earnings(store).jobs.frame.dropna(subset=["margin_amount"])
    costs = jobs[["parts_amount", "labour_amount", "overhead_amount", "other_amount", "callback_amount"]].sum(
        axis=1
    )
    assert (jobs["invoiced_amount"] - costs).to_numpy() == pytest.approx(
        jobs["margin_amount"].to_numpy(), abs=0.01
    )


def test_the_list_of_the_day_is_ranked_without_gaps(store):
    ranks = notebook.today(store).attention.frame["rank"].tolist()
    assert ranks == list(range(1, len(ranks) + 1)) and len(ranks) > 3


@pytest.mark.parametrize("name", ["forecast", "forecast_parts", "forecast_families", "order_plan", "baskets"])
def test_two_processes_write_the_same_table_of_one_store(store, demo_report, tmp_path, name):
    assert all_tables.write(store, name, tmp_path).read_bytes() == demo_report.tables[name].read_bytes()


@pytest.mark.slow
def test_two_reports_of_one_store_give_the_same_answers_and_tables(store, demo_report, tmp_path, monkeypatch):
    monkeypatch.setattr(all_tables, "NAMES", ("forecast_families", "order_plan", "job_ready"))
    again = run.report(store, tmp_path, only=["today", "shelf"])
    assert again.failures == {} and list(again.answers) == ["today", "shelf"]
    for name, answer in again.answers.items():
        assert answer == demo_report.answers[name]
    for name, table in again.tables.items():
        assert table.read_bytes() == demo_report.tables[name].read_bytes()
