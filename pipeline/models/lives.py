"""How long pieces last after delivery: the owner's guess, the shop's own call-backs, and the two together."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels.weibull_posterior import WeibullPosterior, prior_spread, weibull_posterior
from pipeline.models import seeds
from pipeline.store import read

MONTH_DAYS = 365.25 / 12
CLOCKS = ("plays", "months")
WAS = ("new", "kept")
SHORTEST_DAYS = 0.5
# How steeply a class wears out is known from engineering better than how long it lasts: the guessed shape
# counts as ten failures, the guessed median only as many as the owner (or the seed table) says.
SHAPE_WEIGHT = 10.0
# Whoever guesses the life of kept pieces too short guesses that of new ones too short as well: correlation
# between the errors (logarithms) of the two guesses.
GUESS_CORRELATION = 0.8
KEYS = ["wear_class", "part_was", "clock"]


@dataclass(frozen=True)
class Lives:
    """Fitted lives, one row per wear class, ``part_was`` and clock.

    Attributes
    ----------
    table : pandas.DataFrame
        Columns of the output table ``lives``: the classes, ``pieces_watched``, ``failures``, ``median`` with
        its 80 % interval, ``shape``, ``prior_weight_share``; then ``guess_from`` (``owner`` or ``seed``) and
        ``guess_median``.
    posterior : WeibullPosterior
        In the rows of ``table``.
    left_out : int
        Call-backs with a part that could not be used: after the watch, before delivery, or of a job whose
        replaced pieces nobody wrote down.
    """

    table: pd.DataFrame
    posterior: WeibullPosterior
    left_out: int

    def row(self, wear_class, part_was, clock):
        """Row numbers of classes (arrays of equal length) in ``table``."""
        index = pd.MultiIndex.from_frame(self.table[KEYS])
        return index.get_indexer(pd.MultiIndex.from_arrays([wear_class, part_was, clock]))


def fit(connection):
    """Fit the lives of new and of kept pieces, each from delivery, with what call-backs have shown.

    Pieces are watched from delivery to the earlier of today and ``callback_watch_days``; a piece that failed
    and was replaced at the call starts a new life. Kept pieces of one class are one group: telling those judged
    good at the bench from those never looked at needs a fuller method.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    Lives
        Every class that a part of the shop belongs to, on both clocks.
    """
    settings = read.settings(connection)
    guesses = _guesses(connection)
    watched, left_out = _watched(connection, settings)
    group = guesses.reset_index().set_index(KEYS)["index"]
    watched["group"] = group.reindex(pd.MultiIndex.from_frame(watched[KEYS])).to_numpy()
    believed = _believe(guesses, watched)
    table = guesses[KEYS].assign(
        pieces_watched=believed.pieces.astype(int),
        failures=believed.failures.astype(int),
        median=believed.median_quantile(0.5),
        median_low=believed.median_quantile(0.1),
        median_high=believed.median_quantile(0.9),
        shape=believed.shape_quantile(0.5),
        prior_weight_share=believed.prior_weight_share,
        guess_from=guesses["guess_from"],
        guess_median=guesses["median"],
    )
    return Lives(table, believed, left_out)


def _believe(guesses, watched):
    """Posterior in the rows of ``guesses``: kept pieces first, since what they show moves the guess for new ones."""
    is_kept = (guesses["part_was"] == "kept").to_numpy()
    kept = _posterior(guesses[is_kept], watched)
    learnt = guesses[is_kept].assign(
        shift=np.log(kept.median_quantile(0.5)) - np.log(guesses.loc[is_kept, "median"]),
        left_share=np.minimum(kept.prior_weight_share, 1.0),
    )
    learnt = guesses[~is_kept].merge(
        learnt[["wear_class", "clock", "shift", "left_share"]], on=["wear_class", "clock"]
    )
    rest = 1 - GUESS_CORRELATION**2 * (1 - learnt["left_share"])
    new = _posterior(
        guesses[~is_kept].assign(
            median=learnt["median"].to_numpy() * np.exp(GUESS_CORRELATION * learnt["shift"].to_numpy()),
            log_median_sd=learnt["log_median_sd"].to_numpy() * np.sqrt(rest.to_numpy()),
        ),
        watched,
    )
    return _woven(new, kept, is_kept)


def _posterior(guesses, watched):
    place = np.full(int(guesses.index.max()) + 1, -1)
    place[guesses.index] = np.arange(len(guesses))
    inside = watched[watched["group"].isin(guesses.index)]
    return weibull_posterior(
        inside["time"],
        inside["is_failed"],
        guesses[["median", "log_median_sd", "shape", "log_shape_sd"]],
        place[inside["group"].to_numpy(dtype=int)],
        inside["pieces"],
    )


def _woven(new, kept, is_kept):
    """One posterior from two, each in its rows."""
    woven = {}
    for name in ("log_median", "log_shape", "probability", "failures", "pieces", "prior_weight_share"):
        values = np.empty((is_kept.size, *getattr(new, name).shape[1:]))
        values[~is_kept], values[is_kept] = getattr(new, name), getattr(kept, name)
        woven[name] = values
    return WeibullPosterior(**woven)


def _guesses(connection):
    """Prior of every class, life and clock: the owner's cell where there is one, the seed table's elsewhere."""
    classes = read.query(connection, "select distinct wear_class from tidy_parts order by wear_class")[
        "wear_class"
    ]
    seed = seeds.wear().set_index("wear_class").drop(columns="provenance")
    own = read.frame(connection, "wear").set_index("wear_class").reindex(columns=seed.columns).astype(float)
    rows = []
    for wear_class in sorted(set(classes) | {"other"}):
        guess = seed.loc[wear_class if wear_class in seed.index else "other"]
        given = own.loc[wear_class] if wear_class in own.index else guess * np.nan
        shape, weight = (given[name] if given[name] > 0 else guess[name] for name in ("shape", "weight_jobs"))
        for was in WAS:
            for clock in CLOCKS:
                cell = f"median_{clock}_{was}"
                is_own = given[cell] > 0
                rows.append(
                    (
                        wear_class,
                        was,
                        clock,
                        given[cell] if is_own else guess[cell],
                        shape,
                        weight,
                        "owner" if is_own else "seed",
                    )
                )
    table = pd.DataFrame(rows, columns=[*KEYS, "median", "shape", "weight", "guess_from"])
    log_median_sd, _ = prior_spread(table["shape"], table["weight"])
    _, log_shape_sd = prior_spread(table["shape"], np.full(len(table), SHAPE_WEIGHT))
    return table.assign(log_median_sd=log_median_sd, log_shape_sd=log_shape_sd)


def _watched(connection, settings):
    """Lives ended and lives still running: time on its clock, pieces, and whether they failed."""
    jobs = watched_jobs(connection, settings)
    pieces = read.query(connection, "from pieces_watched order by job, part").melt(
        ["job", "part", "wear_class"], ["new_pcs", "kept_pcs"], "part_was", "pieces"
    )
    pieces["part_was"] = pieces["part_was"].str.removesuffix("_pcs")
    failed, left_out = _failed(connection, jobs, pieces)
    by_class = pieces.groupby(["job", "wear_class", "part_was"], as_index=False)["pieces"].sum()
    ended = failed.groupby(["job", "wear_class", "part_was"]).size().rename("ended").reset_index()
    running = by_class.merge(ended, how="left", on=["job", "wear_class", "part_was"])
    running["pieces"] = (running["pieces"] - running["ended"].fillna(0)).clip(lower=0)
    running = running.merge(jobs[["job", "watch_days"]], on="job").rename(columns={"watch_days": "days"})
    # the piece put in at the call runs on from there
    again = failed.merge(jobs[["job", "watch_days"]], on="job").assign(part_was="new", pieces=1.0)
    again["days"] = again["watch_days"] - again["called_days"]
    failed = failed.assign(pieces=1.0, is_failed=True)
    columns = ["job", "wear_class", "part_was", "days", "pieces"]
    lives = pd.concat([running[columns], again[columns], failed[[*columns, "is_failed"]]], ignore_index=True)
    lives = lives.merge(jobs[["job", "clock", "per_day"]], on="job")
    lives["is_failed"] = lives["is_failed"].eq(True)
    return lives.assign(time=lives["days"] * lives["per_day"]), left_out


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
    plays = jobs["setting"].map(
        {"home": settings.plays_per_month_home, "route": settings.plays_per_month_route}
    )
    is_plays = jobs["is_clock_plays"].astype(bool) & (plays > 0)
    return jobs.assign(
        watch_days=np.clip(since, 0, settings.callback_watch_days).astype(float),
        clock=np.where(is_plays, "plays", "months"),
        per_day=np.where(is_plays, plays, 1.0) / MONTH_DAYS,
    )[["job", "family", "scope", "setting", "watch_days", "clock", "per_day"]]


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
    inside = calls.merge(jobs[["job", "watch_days"]], on="job")
    inside = inside[(inside["called_days"] >= 0) & (inside["called_days"] <= inside["watch_days"])]
    fitted = pieces[(pieces["part_was"] == "new") & (pieces["pieces"] > 0)][["job", "part"]].assign(
        is_fitted=True
    )
    inside = inside.merge(fitted, how="left", on=["job", "part"])
    before = inside.groupby(["job", "part"])["called_days"].shift()
    # a new piece in a job that fitted none came with the call before
    is_second = (inside["part_was"] == "new") & inside["is_fitted"].isna() & before.notna()
    days = inside["called_days"] - before.where(is_second, 0.0).fillna(0.0)
    failed = inside.assign(days=days.clip(lower=SHORTEST_DAYS))
    return failed[["job", "wear_class", "part_was", "days", "called_days"]], len(calls) - len(failed)
