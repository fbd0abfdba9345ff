"""The whole report on the demo shop: every table of the contract, every page, the same answer each time."""

import re

import nbformat
import pandas as pd
import pytest

from pipeline.ingest import shop_folder
from pipeline.reports import all_tables, run
from tests.support.one_kernel import reports_in

BAND = ["expected_pcs", "q05_pcs", "q10_pcs", "q25_pcs", "q50_pcs", "q75_pcs", "q90_pcs", "q95_pcs"]
COSTS = [
    f"{stem}_{end}amount" for stem in ("later_cost", "shop_cost", "owner_cost") for end in ("", "low_", "high_")
]
CONTRACT = {
    "forecast": ["family", "part", "from_on", "to_on", *BAND, "jobs_seen", "method"],
    "forecast_parts": ["part", "from_on", "to_on", *BAND, "jobs_seen", "method"],
    "forecast_families": [
        "family",
        "from_on",
        "to_on",
        "expected_amount",
        "q10_amount",
        "q50_amount",
        "q90_amount",
        "expected_jobs",
        "jobs_seen",
    ],
    "backtest": [
        "family",
        "shelf_rule",
        "method",
        "horizon_months",
        "crps_scaled",
        "crps_money",
        "coverage80_share",
        "n_origins",
        "n_series",
    ],
    "lead_times": [
        "vendor",
        "receipts",
        "open_orders",
        "mean_days",
        "q10_days",
        "q50_days",
        "q90_days",
        "note",
    ],
    "order_plan": [
        "part",
        "shelf_rule",
        "on_hand_pcs",
        "on_order_pcs",
        "committed_pcs",
        "reorder_point_pcs",
        "order_up_to_pcs",
        "order_pcs",
        "vendor",
        "vendor_part",
        "packs",
        "pack_pcs",
        "unit_price",
        "line_amount",
        "why",
    ],
    "baskets": ["vendor", "lines", "goods_amount", "freight_amount", "total_amount", "brought_forward_amount"],
    "job_ready": [
        "family",
        "scope",
        "expected_jobs",
        "today_share",
        "planned_share",
        "planned_low_share",
        "planned_high_share",
        "equal_share_rule_share",
        "worst_part",
    ],
    "pick_list": [
        "job",
        "part",
        "need_pcs",
        "on_shelf_pcs",
        "shelf",
        "short_pcs",
        "substitute",
        "condition",
        "order_by_on",
    ],
    "ready_curve": ["shelf", "cash_amount", "ready_share"],
    "stalling_parts": ["part", "stalls_share", "alone_share", "stalled_jobs_12m"],
    "bay_calendar": [
        "job",
        "family",
        "scope",
        "status",
        "planned_on",
        "short_parts",
        "short_pcs",
        "waits_for",
        "ready_on",
        "wait_days",
    ],
    "idle_stock": ["part", "on_hand_pcs", "likely_use_12m_pcs", "idle_pcs", "idle_amount"],
    "count_list": ["part", "shelf", "book_pcs", "last_counted_on", "worth_amount", "why"],
    "lives": [
        *("wear_class", "part_was", "clock", "pieces_watched", "failures"),
        *("median", "median_low", "median_high", "shape", "prior_weight_share"),
        "judged",
        *("shape_low", "shape_high", "guess_from", "guess_median", "guess_low", "guess_high"),
        *("data_median", "data_low", "data_high", "data_note", "decides"),
        *("random_share", "random_share_low", "random_share_high", "mixes", "warning", "plays_share"),
    ],
    "scope_options": [
        *("subject", "option", "parts_amount", "bench_hours", "price_amount", "callback_share"),
        *COSTS,
        *("wait_days", "bay_amount"),
    ],
    "scope_frontier": ["subject", "quiet_share", "now_amount", "later_amount", "total_amount"],
    "scope_calls": ["subject", "option", "horizon_days", "none_share", "one_share", "two_share", "more_share"],
    "scope_lines": [
        "subject",
        "option",
        "assembly",
        "part",
        "qty_pcs",
        "action",
        "now_amount",
        "failures_avoided",
        "break_even_failures",
        "why",
    ],
    "job_hours_outlook": [
        "family",
        "scope",
        "jobs_seen",
        "median_hours",
        "mean_hours",
        "q80_hours",
        "quote_bias",
        "quote_bias_low",
        "quote_bias_high",
        "contingency_hours",
        "quotes_seen",
    ],
    "stage_hours": ["family", "scope", "stage", "jobs_seen", "mean_hours", "share", "share_low", "share_high"],
    "job_margins": [
        "job",
        "family",
        "scope",
        "invoiced_amount",
        "parts_amount",
        "labour_amount",
        "overhead_amount",
        "other_amount",
        "callback_amount",
        "margin_amount",
        "margin_share",
        "hours",
        "margin_per_hour",
    ],
    "variances": ["job", "kind", "quoted_amount", "actual_amount", "variance_amount", "reason"],
    "records": ["file", "line", "column", "value", "rule", "suggestion", "outcome"],
}


def load(folder, out_dir):
    shop_folder.load(folder, out_dir / "shop.duckdb", out_dir)
    return run.report(out_dir / "shop.duckdb", out_dir)


@pytest.fixture(scope="module")
def demo(demo_report):
    return demo_report


# The jobs of its last two years are enough for every page and an origin or two of the backtest.
LATER_JOBS = ("W25-", "W26-")


@pytest.fixture(scope="module", params=[LATER_JOBS, pytest.param(("",), marks=pytest.mark.slow)], ids=["later", "all"])
def three_files(request, tmp_path_factory, root, warm_kernel):
    """The demo shop, from some job on, with nothing but the three required files."""
    folder = tmp_path_factory.mktemp("three")
    (folder / "parts.csv").write_bytes((root / "data" / "demo" / "parts.csv").read_bytes())
    for name in ("jobs", "job_parts"):
        head, *rows = (root / "data" / "demo" / f"{name}.csv").read_text(encoding="utf-8").splitlines(keepends=True)
        kept = [row for row in rows if row.startswith(request.param)]
        assert len(kept) > 100
        (folder / f"{name}.csv").write_text(head + "".join(kept), encoding="utf-8")
    with reports_in(warm_kernel):
        return load(folder, tmp_path_factory.mktemp("three-out"))


@pytest.fixture(scope="module")
def kept_by_a_person(tmp_path_factory, alder_lane, warm_kernel):
    with reports_in(warm_kernel):
        return run.report(alder_lane.store, tmp_path_factory.mktemp("alder"))


def text_of(path):
    return re.sub(
        r"<style>.*?</style>|<script.*?</script>|<img[^>]*>",
        "",
        path.read_text(encoding="utf-8"),
        flags=re.DOTALL,
    )


def test_the_report_knows_every_table_of_the_contract():
    assert sorted(all_tables.NAMES) == sorted(CONTRACT)


def test_nothing_fails_on_the_demo(demo):
    assert demo.failures == {}


@pytest.mark.parametrize("name", CONTRACT)
def test_a_table_has_its_columns_and_is_not_empty(demo, name):
    frame = pd.read_csv(demo.tables[name])
    assert list(frame) == CONTRACT[name]
    assert len(frame) > 0


@pytest.mark.parametrize("name", CONTRACT)
def test_a_table_is_plain_utf8(demo, name):
    content = demo.tables[name].read_bytes()
    assert not content.startswith(b"\xef\xbb\xbf") and b"\r" not in content
    content.decode("utf-8")


@pytest.mark.parametrize("name", run.ORDER)
def test_a_page_answers_its_question_in_one_line(demo, name):
    assert 20 < len(demo.answers[name]) < 420 and "\n" not in demo.answers[name]
    assert "nan" not in re.findall(r"\w+", demo.answers[name].lower())
    assert demo.answers[name].split(" ")[0] in text_of(demo.pages[name])


@pytest.mark.parametrize("name", run.ORDER)
def test_the_checked_cell_of_a_notebook_is_the_answer_of_the_report(demo, name):
    book = nbformat.read(run.NOTEBOOKS / f"{name}.ipynb", as_version=4)
    (checked,) = [cell for cell in book.cells if "nbval-check-output" in cell.metadata.get("tags", [])]
    kept = "".join(output["text"] for output in checked.outputs)
    assert kept.split() == demo.answers[name].split() and len(kept) > 20


@pytest.mark.parametrize("name", run.ORDER)
def test_a_page_shows_no_python_and_no_nan(demo, name):
    body = text_of(demo.pages[name]).split("<footer>")[0]
    assert "Traceback" not in body and "&lt;pipeline" not in body and "object at 0x" not in body
    assert not re.search(r"\b(nan|NaN|NaT|None)\b|&lt;NA&gt;", body)


def test_the_windows_of_the_forecast_are_a_quarter_and_a_year(demo):
    for name in ("forecast", "forecast_parts", "forecast_families"):
        frame = pd.read_csv(demo.tables[name], parse_dates=["from_on", "to_on"])
        assert sorted((frame["to_on"] - frame["from_on"]).dt.days.unique() + 1) == [91, 365]


def test_the_terminal_gets_one_line_per_page_and_the_way_to_the_index(demo):
    lines = demo.lines()
    assert [line.split(":")[0] for line in lines[:-1]] == [*run.ORDER, "orders"]
    assert str(demo.index.parent / "orders") in lines[-2]
    assert lines[-1] == f"7 pages and {len(CONTRACT)} tables written. Open {demo.index}"


def test_three_files_are_enough_for_a_report(three_files):
    assert three_files.failures == {}
    assert len(pd.read_csv(three_files.tables["forecast"])) > 0
    assert len(pd.read_csv(three_files.tables["backtest"])) > 0


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("shelf", "counts.csv"),
        ("shelf", "offers.csv"),
        ("scope", "assembly_parts.csv"),
        ("earnings", "job_hours.csv"),
        ("health", "callbacks.csv"),
    ],
)
def test_a_page_says_which_file_would_unlock_what_is_missing(three_files, name, file):
    body = text_of(three_files.pages[name])
    assert file in body and "unlock" in body


@pytest.mark.parametrize("name", run.ORDER)
def test_no_page_of_three_files_shows_python_or_nan(three_files, name):
    test_a_page_shows_no_python_and_no_nan(three_files, name)


@pytest.mark.parametrize("name", run.ORDER)
def test_records_kept_by_a_person_make_a_report_too(kept_by_a_person, name):
    assert kept_by_a_person.failures == {}
    test_a_page_shows_no_python_and_no_nan(kept_by_a_person, name)
