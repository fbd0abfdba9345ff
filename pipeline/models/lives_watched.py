"""Lives ended and lives still running after delivery: who is watched, for how long, on which clock, judged how."""

import numpy as np
import pandas as pd

from pipeline.models import judgement
from pipeline.store import read

MONTH_DAYS = 365.25 / 12
SHORTEST_DAYS = 0.5


def watched_jobs(connection, settings):
    """Delivered jobs with known use, how long each was watched, and what its clock shows in a day.

    None at all where no call-back was ever noted: that nothing came back, and that nobody wrote it down, look alike.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    settings : pipeline.store.read.Settings
        The shop's.

    Returns
    -------
    pandas.DataFrame
        ``job``, ``family``, ``scope``, ``setting``, ``watch_days``, ``clock`` (``plays`` or ``months``),
        ``per_day`` (plays or months in a day).
    """
    jobs = read.query(connection, "from jobs_watched order by job")
    if read.is_empty(connection, "callbacks"):
        jobs = jobs.iloc[:0]
    since = (pd.Timestamp(settings.today) - pd.to_datetime(jobs["delivered_on"])).dt.days
    plays = jobs["setting"].map({"home": settings.plays_per_month_home, "route": settings.plays_per_month_route})
    is_plays = jobs["is_clock_plays"].astype(bool) & (plays > 0)
    return jobs.assign(
        watch_days=np.clip(since, 0, settings.callback_watch_days).astype(float),
        clock=np.where(is_plays, "plays", "months"),
        per_day=np.where(is_plays, plays, 1.0) / MONTH_DAYS,
    )[["job", "family", "scope", "setting", "watch_days", "clock", "per_day"]]


def watched(connection, settings):
    """Every life watched, equal ones together.

    Pieces are watched from delivery to the earlier of today and ``callback_watch_days``; a piece that failed and was
    replaced at the call starts a new life. A kept piece that failed belongs to the condition its part was left in;
    where a part was left in several, to the worst that still has pieces: worn, then unjudged, then good. That is a
    presumption, nobody having marked the pieces: it leans towards the judgement having been right.

    Parameters
    ----------
    connection, settings
        As for :func:`watched_jobs`.

    Returns
    -------
    lives : pandas.DataFrame
        ``job``, ``wear_class``, ``part_was``, ``judged`` (empty for new pieces), ``clock``, ``days``, ``time`` (on the
        clock), ``is_failed``, ``pieces``.
    left_out : int
        Call-backs with a part that could not be used: after the watch, before delivery, or of a job whose replaced
        pieces nobody wrote down.
    """
    jobs = watched_jobs(connection, settings)
    pieces = _pieces(connection, jobs)
    failed, left_out = _failed(connection, jobs, pieces)
    keys = ["job", "wear_class", "part_was", "judged"]
    by_class = pieces.groupby(keys, as_index=False)["pieces"].sum()
    ended = failed.groupby(keys).size().rename("ended").reset_index()
    running = by_class.merge(ended, how="left", on=keys)
    running["pieces"] = (running["pieces"] - running["ended"].fillna(0)).clip(lower=0)
    running = running.merge(jobs[["job", "watch_days"]], on="job").rename(columns={"watch_days": "days"})
    # the piece put in at the call runs on from there
    again = failed.merge(jobs[["job", "watch_days"]], on="job").assign(part_was="new", judged="", pieces=1.0)
    again["days"] = again["watch_days"] - again["called_days"]
    failed = failed.assign(pieces=1.0, is_failed=True)
    columns = [*keys, "days", "pieces"]
    lives = pd.concat([running[columns], again[columns], failed[[*columns, "is_failed"]]], ignore_index=True)
    lives = lives.merge(jobs[["job", "clock", "per_day"]], on="job")
    lives["is_failed"] = lives["is_failed"].eq(True)
    return lives.assign(time=lives["days"] * lives["per_day"]), left_out


def on_both_clocks(lives):
    """Tell every life in months, and that of a machine whose plays are known in plays, too.

    A piece may so stand under both clocks. Each clock is one hypothesis about what ages its class, so rows of the two
    are never to be added up.

    Parameters
    ----------
    lives : pandas.DataFrame
        From :func:`watched`: each life once.

    Returns
    -------
    pandas.DataFrame
        As ``lives``, first those in plays, then all of them in months; and ``is_played``: whether the machine's plays
        are known.
    """
    is_played = lives["clock"] == "plays"
    in_months = lives.assign(clock="months", time=lives["days"] / MONTH_DAYS, is_played=is_played)
    return pd.concat([lives[is_played].assign(is_played=True), in_months], ignore_index=True)


def _pieces(connection, jobs):
    """Pieces of every watched job and part: new ones, and kept ones by how they were judged (twice where two ways)."""
    found = read.frame(connection, "judged_pieces").merge(jobs[["job", "scope"]], on="job")
    pieces = found.melt(
        ["job", "part", "wear_class", "scope"], ["new_pcs", *judgement.BY_FINDING, "unseen_pcs"], "found", "pieces"
    )
    pieces = pieces[pieces["pieces"] > 0]
    is_new = pieces["found"] == "new_pcs"
    judged = pieces["found"].map(judgement.BY_FINDING).fillna(pieces["scope"].map(judgement.BY_SCOPE))
    pieces = pieces.assign(part_was=np.where(is_new, "new", "kept"), judged=judged.where(~is_new, ""))
    return pieces[["job", "part", "wear_class", "part_was", "judged", "pieces"]]


def _failed(connection, jobs, pieces):
    """One row per failed piece inside its watch, its life counted from delivery or from the call before."""
    calls = read.query(
        connection,
        """
        select calls.job, calls.part, parts.wear_class, coalesce(calls.part_was, 'kept') as part_was,
               calls.days_since_delivery as called_days
        from tidy_callbacks as calls inner join tidy_parts as parts on calls.part = parts.part
        order by calls.job, calls.part, called_days""",
    )
    inside = calls.merge(jobs[["job", "scope", "watch_days"]], on="job")
    inside = inside[(inside["called_days"] >= 0) & (inside["called_days"] <= inside["watch_days"])]
    fitted = pieces[pieces["part_was"] == "new"][["job", "part"]].assign(is_fitted=True)
    inside = inside.merge(fitted, how="left", on=["job", "part"])
    before = inside.groupby(["job", "part"])["called_days"].shift()
    # a new piece in a job that fitted none came with the call before
    is_second = (inside["part_was"] == "new") & inside["is_fitted"].isna() & before.notna()
    days = inside["called_days"] - before.where(is_second, 0.0).fillna(0.0)
    failed = inside.assign(days=days.clip(lower=SHORTEST_DAYS), judged=_judged(inside, pieces))
    return failed[["job", "wear_class", "part_was", "judged", "days", "called_days"]], len(calls) - len(failed)


def _judged(calls, pieces):
    """How the piece of each call was judged: the worst condition that has pieces left; empty for new pieces."""
    kept = pieces[pieces["part_was"] == "kept"]
    counts = kept.pivot_table(index=["job", "part"], columns="judged", values="pieces", aggfunc="sum")
    counts = counts.reindex(columns=list(judgement.WORST_FIRST)).fillna(0.0)
    counts = counts.reindex(pd.MultiIndex.from_frame(calls[["job", "part"]])).fillna(0.0).to_numpy(dtype=float)
    number = calls.groupby(["job", "part", "part_was"]).cumcount().to_numpy()
    up_to = np.cumsum(counts, axis=1)
    place = (up_to <= number[:, None]).sum(axis=1)
    # more calls than pieces: the last condition that had any; no piece at all: by how far the job looked
    last = len(judgement.WORST_FIRST) - 1 - (counts[:, ::-1] > 0).argmax(axis=1)
    judged = np.array(judgement.WORST_FIRST, dtype=object)[np.minimum(place, last)]
    judged = np.where(counts.sum(axis=1) > 0, judged, calls["scope"].map(judgement.BY_SCOPE))
    return np.where(calls["part_was"] == "kept", judged, "")
