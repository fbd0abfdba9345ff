"""Small frames in the form of the scope page's tables, and what the page takes them as."""

from types import SimpleNamespace

import pandas as pd

from pipeline.models.life_table import COLUMNS

PARTS = ("SLV-01", "COI-02", "OPT-07")


def scope_options():
    frame = pd.DataFrame(
        {
            "subject": "family:dm",
            "option": ["fix_only", "recommended", "thorough"],
            "parts_amount": [64.0, 120.0, 610.0],
            "bench_hours": [5.5, 9.0, 34.0],
            "price_amount": [480.0, 700.0, 3100.0],
            "callback_share": [0.34, 0.15, 0.11],
            "option_name": ["Fix only", "Recommended", "Thorough"],
            "wait_days": 0.0,
            "bay_amount": 0.0,
        }
    )
    for stem, low, mid, high in (
        ("later_cost", 20, 90, 210),
        ("shop_cost", 300, 420, 600),
        ("owner_cost", 700, 1100, 1800),
    ):
        frame[f"{stem}_amount"], frame[f"{stem}_low_amount"], frame[f"{stem}_high_amount"] = (
            [mid, 1.5 * mid, 3.2 * mid],
            [low, 1.2 * low, 2 * low],
            [high, 2 * high, 4 * high],
        )
    return frame


def scope_lines():
    return pd.DataFrame(
        {
            "subject": "family:dm",
            "option": "thorough",
            "assembly": ["up-kicker", "trough", "display"],
            "part": list(PARTS),
            "qty_pcs": [2, 8, 1],
            "action": "replace",
            "now_amount": [1.7, 336.0, 250.0],
            "failures_avoided": [0.09, 0.11, 0.02],
            "break_even_failures": [0.012, 0.2, 0.68],
            "why": "pays",
            "part_name": [f"{part} thing" for part in list(PARTS)],
        }
    )


def scope_frontier():
    return pd.DataFrame({"subject": "family:dm", "quiet_share": [0.85, 0.9], "now_amount": [300.0, 900.0],
                         "later_amount": [1200.0, 1000.0], "total_amount": [1500.0, 1900.0]})


def scope_calls():
    return pd.DataFrame({"subject": "family:dm", "option": ["fix_only", "recommended", "thorough"] * 2,
                         "horizon_days": [90.0] * 3 + [1826.25] * 3, "none_share": [0.66, 0.85, 0.89, 0.2, 0.3, 0.4],
                         "one_share": 0.1, "two_share": 0.004, "more_share": 0.0})


def stage_hours():
    return pd.DataFrame({"family": [None, None, "dm"], "scope": "thorough", "stage": ["bench", "cleaning", "bench"],
                         "jobs_seen": [4, 4, 2], "mean_hours": [12.0, 20.0, 11.0], "share": [0.2, 0.3, 0.2],
                         "share_low": [0.1, 0.2, 0.1], "share_high": [0.3, 0.4, 0.4]})


def lives():
    return pd.DataFrame(columns=COLUMNS)


def scopes(table):
    """What :func:`pipeline.decisions.scope.make` would return, without machines; ``table`` takes a table's name."""
    return SimpleNamespace(options=table("scope_options"), lines=table("scope_lines"), calls=table("scope_calls"),
                           frontiers=table("scope_frontier"), shop=None, machines={})
