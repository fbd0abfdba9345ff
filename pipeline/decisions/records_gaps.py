"""Stretches in which a kind of record that is otherwise steady was not written down, and what rests on them."""

import datetime

import numpy as np
import pandas as pd

from pipeline.decisions import records_weight
from pipeline.kernels import record_gaps
from pipeline.store import read

KINDS = {"job_parts": "takings", "job_hours": "hours", "counts": "counts", "orders": "orders",
         "callbacks": "call-backs"}
COLUMNS = ["kind", "place", "from_on", "to_on", "gap_days", "usual_days", "jobs", "decisions", "amount"]
RHYTHM_COLUMNS = ["kind", "record_days", "first_on", "last_on", "usual_days", "limit_days", "gaps"]
# A stretch between two counts is healed by the later one; takings and hours are due while a job is in the shop.
_HEALED = ("counts",)
_ONLY_WITH_JOBS = ("job_parts", "job_hours")
_OF_JOBS = ("job_parts", "job_hours", "callbacks")  # can be written down from the first job on; others from any record
# Records of a job that ran through the stretch, as one of which the decisions are looked up.
_LACKED = {"job_parts": "jobs", "job_hours": "job_hours", "orders": "job_costs", "callbacks": "callbacks"}


def find(connection, decisions, today):
    """List the stretches without a record that the rhythm of that kind of record does not explain.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    decisions : pipeline.decisions.records_weight.Decisions
        All that is decided on the records.
    today : datetime.date
        A stretch may last until today.

    Returns
    -------
    gaps : pandas.DataFrame
        kind (in words), place (``between``, ``before the first``, ``since the last``), from_on and to_on (days with
        something written down on either side), gap_days, usual_days, jobs that were in the shop meanwhile; decisions
        and amount resting on what those jobs' records lack. Those on which most rests first.
    rhythms : pandas.DataFrame
        One row per kind: record_days, first_on, last_on, usual_days and limit_days (missing with fewer than
        ``record_gaps.FEWEST_DAYS`` days), gaps listed.
    named : pandas.DataFrame
        What the gaps bear on, for :mod:`pipeline.decisions.records_weight`; item is a row of ``gaps``.
    """
    days, stays = read.frame(connection, "record_days"), read.frame(connection, "job_stays")
    stays = stays.assign(start=_number(stays["from_on"]), end=_number(stays["to_on"]))
    found, rhythms = [], []
    for holds in KINDS:
        own = _number(days.loc[days["holds"] == holds, "day"]).to_numpy()
        if own.size:
            first = min([*(stays["start"] if holds in _OF_JOBS else _number(days["day"])), own.min()])
            measured = record_gaps.gaps(own, first, today.toordinal())
            listed = _listed(holds, measured, stays)
            found.append(listed)
            rhythms.append(_rhythm(holds, own, measured, len(listed)))
    gaps = pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=["holds", *COLUMNS[:-2], "ran"])
    named = _named(gaps, stays)
    weighed = records_weight.weighed(decisions, gaps, named)
    return weighed[COLUMNS], pd.DataFrame(rhythms, columns=RHYTHM_COLUMNS), named


def _number(days):
    """Days as ordinals, not a number where there is none."""
    days = pd.to_datetime(days)
    return (days - pd.Timestamp(1, 1, 1)).dt.days.astype(float) + 1


def _day(number):
    return datetime.date.fromordinal(int(number))


def _listed(holds, measured, stays):
    """The long gaps of one kind, each with the rows of ``stays`` that were in the shop meanwhile."""
    rows = []
    for place in np.flatnonzero(measured.is_long):
        start, end = measured.from_day[place], measured.to_day[place]
        ran = stays.index[(stays["start"] < end) & ~(stays["end"] <= start)]
        busy_days = _busy_days(stays.loc[ran], start, end)
        if busy_days > measured.limit_days[place] or holds not in _ONLY_WITH_JOBS:
            where = "before the first" if place == 0 else "between"
            where = "since the last" if place == measured.from_day.size - 1 else where
            rows.append((holds, KINDS[holds], where, _day(start), _day(end), int(end - start),
                         float(measured.usual_days[place]), len(ran), ran))
    found = pd.DataFrame(rows, columns=["holds", *COLUMNS[:-2], "ran"])
    return found.astype({"gap_days": "int64", "usual_days": float, "jobs": "int64"})


def _busy_days(stays, start, end):
    """Days of a stretch on which a job was in the shop."""
    is_busy = np.zeros(int(end - start) - 1, dtype=bool)
    for begun, done in stays[["start", "end"]].fillna(end).itertuples(index=False):
        is_busy[max(int(begun - start) - 1, 0):max(int(done - start), 0)] = True
    return is_busy.sum()


def _rhythm(holds, own, measured, gaps):
    is_told = np.isfinite(measured.usual_days).all()
    usual, limit = (np.ceil(np.median(figure)) if is_told else np.nan
                    for figure in (measured.usual_days, measured.limit_days))
    return KINDS[holds], np.unique(own).size, _day(own.min()), _day(own.max()), usual, limit, gaps


def _named(gaps, stays):
    """What each gap bears on: the jobs that ran; the shelf, where nothing was counted since."""
    rows = []
    for gap in gaps.itertuples():
        if gap.holds not in _HEALED:
            rows.append(stays.loc[gap.ran, ["job", "family", "scope"]].assign(item=gap.Index, holds=_LACKED[gap.holds]))
        elif gap.place == "since the last":
            rows.append(pd.DataFrame({"item": [gap.Index], "holds": [gap.holds]}))
    return pd.concat(rows, ignore_index=True) if rows else pd.DataFrame({"item": [], "holds": []})
