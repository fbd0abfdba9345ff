"""Tables of the shelf page in miniature: the curve, the parts that stall, the jobs that wait."""

import numpy as np
import pandas as pd


def ready_curve():
    rows = [("plan", 800.0, 0.3), ("plan", 2000.0, 0.66), ("plan", 4400.0, 0.86), ("equal_share_rule", 2200.0, 0.44),
            ("equal_share_rule", 5000.0, 0.83), ("today", 1500.0, 0.15)]
    return pd.DataFrame(rows, columns=["shelf", "cash_amount", "ready_share"])


def stalling_parts():
    rows = [("OPT-07", 0.05, 0.02, 3.0)]
    return pd.DataFrame(rows, columns=["part", "stalls_share", "alone_share", "stalled_jobs_12m"])


def bay_calendar():
    columns = ["job", "family", "scope", "status", "planned_on", "short_parts", "short_pcs", "waits_for", "ready_on",
               "wait_days"]
    rows = [("J-1", "dm", "refresh", "booked", "2031-01-10", 2, 5, "OPT-07", "2031-03-05", 54.0),
            ("J-2", "em", "thorough", "booked", "2031-02-20", 1, 1, "COI-02", None, np.nan),
            ("J-3", "em", "fix_only", "booked", "2031-03-01", 0, 0, None, "2031-02-01", 0.0)]
    frame = pd.DataFrame(rows, columns=columns).astype({"planned_on": "datetime64[us]", "ready_on": "datetime64[us]"})
    return frame.assign(job_name=["J-1, early", "J-2, late", "J-3, late"])
