"""The true parameters behind the records, written beside them."""

from dataclasses import asdict

import numpy as np

from pipeline.demo import catalogue, lives, use
from pipeline.demo.owner import true_median
from pipeline.demo.records import WATCH_DAYS
from pipeline.demo.vendors import VENDORS, drift
from pipeline.demo.world import FAMILIES, SCOPES, Changes


def tables(seed, world, floor, silent):
    """Return the truth files but faults and slips (dict of name to list of dict)."""
    return {"use": _use(seed, world, use.by_part), "bookings": _bookings(world), "lead_times": _lead_times(),
            "lives": _lives(world), "price_drift": _drift(), "hours": _hours(world),
            "jobs": _jobs(floor, silent), "shelf": _shelf(floor)} | _changed(seed, world)


def numbers(seed, world):
    """Return the scalars of the world and what each truth file means (dict)."""
    said, files = asdict(world), MEANINGS | CHANGED_MEANINGS
    if world.changes == Changes():
        said, files = {name: value for name, value in said.items() if name != "changes"}, MEANINGS
    return {"seed": seed, "invented": "every name and number here is invented", "world": said,
            "first_on": world.first_on, "callback_watch_days": WATCH_DAYS,
            "expected_job_hours_per_year": _yearly_hours(world), "files": files}


MEANINGS = {
    "use.csv": "Share of jobs that use a part and mean pieces, call-backs not counted: use_share is averaged over "
               "the roughness of jobs; use_share_smooth, _typical, _rough are at roughness -1, 0 and 1. "
               "pieces_per_job is the mean over all jobs, pieces_if_used over those that use it.",
    "bookings.csv": "Mean jobs booked a year (accepted enquiries, cancellations included), and planned wait from "
                    "booking to start: gamma with this mean and shape, plus a day.",
    "lead_times.csv": "Days from order to receipt: gamma of mean and shape; an order is late with late_share by an "
                      "exponential extra, a line with line_late_share by another; rounded up to days.",
    "lives.csv": "Weibull from delivery to failure: scales in the class's own clock; a kept piece is worn with the "
                 "share of its job's scope, then its scale is scale_kept_worn. Kept medians are for fix_only.",
    "price_drift.csv": "Yearly rise of list prices by wear class.",
    "hours.csv": "Mean clock hours of a job, call-backs not counted; lognormal with sigma, times roughness.",
    "jobs.csv": "Roughness of each job, true hours, and whether its parts were forgotten.",
    "shelf.csv": "Pieces truly at hand after the last day.",
    "faults.csv": "Planted faults: line in the file as written (header is line 1), what ought to become of the row.",
    "slips.csv": "Purchases never written down: their pieces were on the shelf and were used.",
}

# Only where something changes in the middle of the records.
CHANGED_MEANINGS = {
    "changes.csv": "What becomes different, from which day, and of whom: ending (nobody asks for the family any more; "
                   "by the day of asking), thorough_to_fix_only and refresh_to_fix_only (value: share of those who "
                   "would have asked for the scope; by the day of asking), policy_log_odds (value: added to the "
                   "log-odds of every use by policy in refresh and thorough jobs; by the planned start). Every other "
                   "file but the two _after holds what was true before.",
    "use_after.csv": "As use.csv, after all changes.",
    "bookings_after.csv": "As bookings.csv, after all changes.",
}


def _changed(seed, world):
    if world.changes == Changes():
        return {}
    return {"changes": _changes(world), "use_after": _use(seed, world, use.by_part_after),
            "bookings_after": _bookings_after(world)}


def _changes(world):
    changes = world.changes
    told = [("ending", changes.ending_family, changes.ending_after_share, 1.0 if changes.ending_family else 0.0),
            ("thorough_to_fix_only", "", changes.switch_after_share, changes.thorough_to_fix_only_share),
            ("refresh_to_fix_only", "", changes.switch_after_share, changes.refresh_to_fix_only_share),
            ("policy_log_odds", "", changes.policy_after_share, changes.policy_log_odds)]
    return [{"change": change, "from_on": world.on(world.day_after(after)), "family": family, "value": value}
            for change, family, after, value in told if value]


def _bookings_after(world):
    changes, rows = world.changes, _bookings(world)
    leave = {"thorough": changes.thorough_to_fix_only_share, "refresh": changes.refresh_to_fix_only_share}
    before = {(row["family"], row["scope"]): row["jobs_per_year"] for row in rows}
    for row in rows:
        family, scope = row["family"], row["scope"]
        came = sum(before[family, other] * share for other, share in leave.items()) if scope == "fix_only" else 0.0
        stays = before[family, scope] * (1 - leave.get(scope, 0.0)) + came
        row["jobs_per_year"] = 0.0 if family == changes.ending_family else round(stays, 4)
    return rows


def _use(seed, world, by_part):
    rows = []
    for family in FAMILIES:
        for scope in SCOPES:
            for part, (share, smooth, typical, rough, pcs) in by_part(seed, world, family, scope).items():
                rows.append({"family": family, "scope": scope, "part": catalogue.parts()[part].part,
                             "use_share": round(share, 5), "use_share_smooth": round(smooth, 5),
                             "use_share_typical": round(typical, 5), "use_share_rough": round(rough, 5),
                             "pieces_if_used": round(pcs / share, 4), "pieces_per_job": round(pcs, 5)})
    return rows


def _bookings(world):
    booked = world.bookings
    return [{"family": family, "scope": scope,
             "jobs_per_year": round(world.jobs_per_year * booked.family_shares[f] * booked.scope_shares[f][s], 4),
             "start_mean_days": booked.start_mean_days[s], "start_shape": booked.start_shape[s]}
            for f, family in enumerate(FAMILIES) for s, scope in enumerate(SCOPES)]


def _lead_times():
    return [{"vendor": v.vendor, "mean_days": v.mean_days, "shape": v.shape, "late_share": v.late_share,
             "late_extra_days": v.late_extra_days, "line_late_share": v.line_late_share,
             "line_extra_days": v.line_extra_days,
             "overall_mean_days": round(v.mean_days + 0.5 + v.late_share * v.late_extra_days
                                        + v.line_late_share * (v.line_extra_days + 0.5), 3),
             "quoted_days": v.quoted_days} for v in VENDORS.values()]


def _lives(world):
    rows = []
    for name in catalogue.WEAR_CLASSES:
        clock = lives.CLASS_LIVES[name][0]
        shape, new, _ = lives.scales(world, name, "new")
        _, good, worn = lives.scales(world, name, "kept")
        rows.append({"wear_class": name, "clock": clock, "shape": shape, "scale_new": new, "scale_kept_good": good,
                     "scale_kept_worn": round(worn, 4), "median_new": round(true_median(world, name, "new"), 1),
                     "median_kept": round(true_median(world, name, "kept"), 1)})
    return rows


def _drift():
    return [{"wear_class": name, "drift_share_per_year": drift(name)} for name in catalogue.WEAR_CLASSES]


def _hours(world):
    return [{"family": family, "scope": scope, "mean_hours": world.work.mean_hours[f][s],
             "sigma": world.work.hours_sigma[s], "roughness_loading": world.work.hours_roughness}
            for f, family in enumerate(FAMILIES) for s, scope in enumerate(SCOPES)]


def _jobs(floor, silent):
    return [{"job": job.job, "roughness": round(job.roughness, 5), "true_hours": job.hours,
             "plays_per_month": round(job.machine.plays_per_month, 2),
             "parts_forgotten": "yes" if job.index in silent else ""} for job in floor.jobs]


def _shelf(floor):
    return [{"part": part.part, "at_hand_pcs": int(floor.shelf.at_hand[i])} for i, part in enumerate(catalogue.parts())]


def _yearly_hours(world):
    booked = world.bookings
    shares = np.array(booked.family_shares)[:, None] * np.array(booked.scope_shares)
    return round(float(world.jobs_per_year * (shares * np.array(world.work.mean_hours)).sum()), 2)
