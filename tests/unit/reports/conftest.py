"""Small frames in the form of the output tables, so that charts and tables are tested without a store."""

import numpy as np
import pandas as pd
import pytest

from tests.support.consumption_frames import FAMILIES, FIRST, LAST, coming_jobs, use_change
from tests.support.scope_frames import lives, scope_calls, scope_frontier, scope_lines, scope_options, stage_hours
from tests.support.shelf_frames import bay_calendar, ready_curve, stalling_parts

PARTS = ["SLV-01", "COI-02", "OPT-07", "RNG-30"]


def forecast_families():
    return pd.DataFrame(
        {
            "family": list(FAMILIES),
            "from_on": FIRST,
            "to_on": LAST,
            "expected_amount": [820.0, 410.5, 1290.0],
            "q10_amount": [500.0, 150.0, 700.0],
            "q50_amount": [800.0, 390.0, 1250.0],
            "q90_amount": [1200.0, 700.0, 1900.0],
            "expected_jobs": [6.5, 3.1, 8.2],
            "jobs_seen": [41, 3, 66],
            "family_name": list(FAMILIES.values()),
        }
    ).sort_values("expected_amount", ascending=False, ignore_index=True)


def forecast():
    rng = np.random.default_rng(7)
    rows = [(family, part) for part in PARTS for family in FAMILIES]
    expected = rng.gamma(1.2, 6.0, len(rows)).round(2)
    frame = pd.DataFrame(rows, columns=["family", "part"]).assign(
        from_on=FIRST, to_on=LAST, expected_pcs=expected
    )
    for column, factor in zip(
        ("q05", "q10", "q25", "q50", "q75", "q90", "q95"), (0, 0.2, 0.5, 0.9, 1.4, 2, 2.6), strict=True
    ):
        frame[f"{column}_pcs"] = np.floor(expected * factor).astype(int)
    frame["jobs_seen"], frame["method"] = 41, "use per job times jobs"
    return frame.assign(part_name=frame["part"] + " thing", family_name=frame["family"].map(FAMILIES))


def forecast_parts():
    return (
        forecast()
        .drop_duplicates("part")
        .drop(columns=["family", "family_name"])
        .sort_values("expected_pcs", ascending=False, ignore_index=True)
    )


def order_plan():
    return pd.DataFrame(
        {
            "part": PARTS,
            "shelf_rule": ["hold by the job", "hold one or two", "buy when seen", "do not stock"],
            "on_hand_pcs": [3, 1, 0, np.nan],
            "on_order_pcs": [10, 0, 0, 0],
            "committed_pcs": [8, 0, 1, 0],
            "reorder_point_pcs": [14, 1, 0, np.nan],
            "order_up_to_pcs": [30, 2, 4, np.nan],
            "order_pcs": [20, 2, 4, 0],
            "vendor": ["north", "north", "south", None],
            "vendor_part": ["N1", "N2", "=S3", None],
            "packs": [2, 2, 4, 0],
            "pack_pcs": [10, 1, 1, 1],
            "unit_price": [0.85, 17.5, 42.0, np.nan],
            "line_amount": [17.0, 35.0, 168.0, 0.0],
            "why": ["two booked jobs need 8, 3 on the shelf", "below 1", "next run unknown", "never used"],
            "part_name": [f"{part} thing" for part in PARTS],
        }
    )


def baskets():
    return pd.DataFrame(
        {
            "vendor": ["north", "south"],
            "lines": [2, 1],
            "goods_amount": [52.0, 168.0],
            "freight_amount": [9.5, 0.0],
            "total_amount": [61.5, 168.0],
            "brought_forward_amount": [17.0, 0.0],
        }
    )


def idle_stock():
    columns = ["part", "on_hand_pcs", "likely_use_12m_pcs", "idle_pcs", "idle_amount"]
    return pd.DataFrame([("COI-02", 9, 2, 7, 122.5), ("OPT-07", 3, 0, 3, np.nan)], columns=columns)


def job_ready():
    return pd.DataFrame(
        {
            "family": ["dm", "em", "ess"],
            "scope": ["thorough", "thorough", "fix_only"],
            "expected_jobs": [3.2, 1.5, 9.0],
            "today_share": [0.31, 0.5, 0.9],
            "planned_share": [0.86, 0.92, 0.99],
            "planned_low_share": [0.74, 0.8, 0.96],
            "planned_high_share": [0.94, 0.97, 1.0],
            "equal_share_rule_share": [0.7, 0.81, 0.97],
            "worst_part": ["OPT-07", "SLV-01", "COI-02"],
            "job_type": ["Dot-matrix, thorough", "Electromechanical, thorough", "Early solid-state, fix only"],
        }
    )


def lead_times():
    return pd.DataFrame(
        {
            "vendor": ["south", "north"],
            "receipts": [31, 2],
            "open_orders": [2, 1],
            "mean_days": [24.5, 8.0],
            "q10_days": [9.0, 3.0],
            "q50_days": [21.0, 7.0],
            "q90_days": [44.0, 15.0],
            "note": ["", "2 receipts only: the vendor's own figure still decides"],
        }
    )


def job_hours_outlook():
    return pd.DataFrame(
        {
            "family": ["dm", "em"],
            "scope": ["thorough", "fix_only"],
            "jobs_seen": [12, 3],
            "median_hours": [33.0, 4.0],
            "mean_hours": [36.5, 5.1],
            "q80_hours": [46.0, 7.3],
            "quote_bias": [1.18, np.nan],
            "quote_bias_low": [1.05, np.nan],
            "quote_bias_high": [1.33, np.nan],
            "contingency_hours": [9.5, 2.2],
            "quotes_seen": [11, 0],
            "job_type": ["Dot-matrix, thorough", "Electromechanical, fix only"],
        }
    )


def job_margins():
    rng = np.random.default_rng(3)
    hours = rng.gamma(3, 5, 24).round(1) + 1
    margin = rng.normal(250, 300, 24).round(2)
    return pd.DataFrame(
        {
            "job": [f"J-{n:03d}" for n in range(24)],
            "family": list(FAMILIES) * 8,
            "scope": ["fix_only", "fix_only", "refresh", "thorough"] * 6,
            "invoiced_amount": margin + 60 * hours,
            "parts_amount": hours * 12,
            "labour_amount": hours * 30,
            "overhead_amount": hours * 10,
            "other_amount": hours * 4,
            "callback_amount": hours * 4,
            "margin_amount": margin,
            "margin_share": margin / (margin + 60 * hours),
            "hours": hours,
            "margin_per_hour": margin / hours,
            "family_name": list(FAMILIES.values()) * 8,
            "scope_name": ["fix only", "fix only", "refresh", "thorough"] * 6,
        }
    )


def variances():
    return pd.DataFrame(
        {
            "job": ["J-003", "J-007"],
            "kind": ["hours", "parts_price"],
            "quoted_amount": [900.0, 210.0],
            "actual_amount": [1420.0, 150.0],
            "variance_amount": [520.0, -60.0],
            "reason": ["wiring undone first", "on the shelf"],
            "label": ["J-003 hours", "J-007 parts price"],
        }
    )


def records():
    return pd.DataFrame(
        {
            "file": ["job_parts.csv", "job_parts.csv", "counts.csv"],
            "line": [214, 301, 7],
            "column": ["qty_pcs", "part", "qty_pcs"],
            "value": ["1,5", "SLV 1", "lots"],
            "rule": ["a whole number of pieces, not 0", "an alias", "zero or more pieces"],
            "suggestion": ["15 or 1?", "SLV-01", ""],
            "outcome": ["set_aside", "repaired", "set_aside"],
        }
    )


@pytest.fixture
def frames():
    """Every output table in miniature, with the name columns that charts want."""
    makers = (
        forecast,
        forecast_parts,
        forecast_families,
        coming_jobs,
        use_change,
        lead_times,
        order_plan,
        baskets,
        idle_stock,
        job_ready,
        ready_curve,
        stalling_parts,
        bay_calendar,
        scope_options,
        scope_lines,
        scope_frontier,
        scope_calls,
        stage_hours,
        lives,
        job_hours_outlook,
        job_margins,
        variances,
        records,
    )
    return {maker.__name__: maker() for maker in makers}


THREE_FILES = {
    "parts": "part,description,unit_cost\nSLV-01,coil sleeve,0.85\nCOI-02,coil,17.5\nOPT-07,opto pair,\n",
    "jobs": (
        "job,family,scope,booked_on,started_on,delivered_on\n"
        "J-001,em,thorough,2030-09-01,2030-09-10,2030-11-20\nJ-002,em,fix_only,2030-12-01,2030-12-02,2030-12-03\n"
        "J-003,dm,thorough,2030-10-01,2030-10-05,2031-01-15\nJ-004,dm,fix_only,2031-01-02,2031-01-20,2031-01-21\n"
        "J-005,dm,refresh,2031-02-01,2031-02-03,\nJ-006,em,thorough,2031-02-20,,\n"
    ),
    "job_parts": (
        "job,part,qty_pcs,used_on\nJ-001,SLV-01,12,2030-10-02\nJ-001,COI-02,1,2030-10-03\n"
        "J-002,SLV-01,1,2030-12-02\nJ-003,SLV-01,20,2030-11-11\nJ-003,OPT-07,3,2030-11-12\n"
        "J-004,OPT-07,1,2031-01-20\nJ-005,SLV-01,9,2031-02-10\nJ-009,SLV-01,1,2031-02-11\n"
    ),
}


@pytest.fixture(scope="session")
def small_store(tmp_path_factory):
    """The store of a shop that keeps the three required files and nothing else; one row names no known job."""
    from pipeline.ingest import shop_folder

    folder = tmp_path_factory.mktemp("three-files")
    for name, text in THREE_FILES.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    out = tmp_path_factory.mktemp("three-files-out")
    shop_folder.load(folder, out / "shop.duckdb", out)
    return out / "shop.duckdb"
