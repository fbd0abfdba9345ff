"""Frames of the page on consumption in miniature: jobs to come, change, reasons, errors, ranges."""

import datetime
from types import SimpleNamespace

import pandas as pd

TODAY = datetime.date(2031, 3, 3)
FIRST, LAST = TODAY + datetime.timedelta(days=1), TODAY + datetime.timedelta(days=91)
FAMILIES = {"em": "Electromechanical", "ess": "Early solid-state", "dm": "Dot-matrix"}
LOOKS = {"number of jobs": "more_jobs_amount", "how thorough": "more_thorough_amount", "each": "more_each_amount"}
REASONS = {"failed": "failed_uses", "policy": "policy_uses", "along": "companion_uses", "else": "other_uses",
           "unknown": "unknown_reason_uses"}


def coming_jobs():
    return pd.DataFrame(
        {
            "family": list(FAMILIES),
            "from_on": FIRST,
            "to_on": LAST,
            "on_books_jobs": [4, 0, 3],
            "known_jobs": [2.5, 0.0, 3.0],
            "unbooked_jobs": [4.0, 3.1, 5.2],
            "expected_jobs": [6.5, 3.1, 8.2],
            "low_jobs": [4, 1, 5],
            "high_jobs": [9, 5, 11],
            "family_name": list(FAMILIES.values()),
        }
    )


def use_change():
    """By hand: 900 + 100 + 150 - 50 = 1,100, and so on."""
    return pd.DataFrame(
        {
            "family": ["dm", "em"],
            "to_on": LAST,
            "days": 91,
            "jobs_before": [6.0, 7.0],
            "jobs_now": [8.2, 6.5],
            "before_amount": [900.0, 1000.0],
            "expected_amount": [1100.0, 820.0],
            "more_jobs_amount": [100.0, -100.0],
            "more_thorough_amount": [150.0, -90.0],
            "more_each_amount": [-50.0, 10.0],
            "family_name": ["Dot-matrix", "Electromechanical"],
        }
    )


def uses():
    return pd.DataFrame({"family_name": ["Dot-matrix", "Electromechanical"], "failed_uses": [12, 5],
                         "policy_uses": [20, 9], "companion_uses": [1, 0], "other_uses": [0, 1],
                         "unknown_reason_uses": [0, 0]})


def errors():
    return pd.DataFrame({"family_name": ["Dot-matrix", "Electromechanical"], "forecast_money": [120.0, 80.0],
                         "calendar_money": [150.0, 82.0], "drawn_money": [130.0, 80.0]})


def bands(low, high):
    return pd.DataFrame({"family_name": ["Dot-matrix"] * 2, "band_share": [0.5, 0.8], "inside_share": [0.45, 0.82],
                         "low_share": low, "high_share": high, "n_series": 40, "n_origins": 6})


def forecast_of(table, notes=(), unpriced=()):
    """A forecast as the decisions hand it over."""
    return SimpleNamespace(
        notes=notes,
        bench="No job was seen to wait for a place.",
        readings=pd.DataFrame({"jobs_unknown": [0, 0]}),
        unpriced=pd.DataFrame({"part": list(unpriced)}),
        **{name: table(name) for name in ("forecast", "forecast_parts", "forecast_families", "coming_jobs")},
    )
