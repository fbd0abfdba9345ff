"""Call-backs foretold a year before a world's last day, beside those that came: the whole distribution of counts."""

import datetime
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.stats import poisson

from pipeline.decisions.scope_outlook import LOG_USE_SD
from pipeline.demo import lives as true_lives
from pipeline.demo.world import SCOPES
from pipeline.kernels import scores
from pipeline.kernels.failure_counts import failure_counts
from pipeline.models import callbacks, lives, lives_watched
from pipeline.models.lives_watched import MONTH_DAYS
from pipeline.store import as_of, connect, read
from tests.support import forecast_worlds

HELD_OUT_DAYS, WITHIN_DAYS = 365, 90
N_DRAWS, N_CELLS = 160, 128  # no total comes near the last cell
CLASS_KEYS = ["wear_class", "part_was", "judged"]
_OF_JOB = ["scope", "setting", "clock"]
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)  # the spread of use of machines of one setting
_TURNS = np.exp(-2j * np.pi * np.arange(N_CELLS // 2 + 1) / N_CELLS)


@dataclass(frozen=True)
class HeldOut:
    """Jobs of the last year that were watched for ninety days, with what they held and what came back.

    ``jobs``: of :func:`pipeline.models.lives_watched.watched_jobs`; ``pieces``: by job and `CLASS_KEYS`; ``calls``: job
    and `CLASS_KEYS` (a part's class missing for calls without one); ``lives`` and ``other``: as fitted a year before.
    """

    jobs: pd.DataFrame
    pieces: pd.DataFrame
    calls: pd.DataFrame
    lives: lives.Lives
    other: callbacks.OtherCalls
    settings: read.Settings


def store(entry, folder):
    """Store of a world in a folder, made once."""
    path = folder / f"{entry.name}.duckdb"
    return path if path.exists() else forecast_worlds.store(entry, path)


def interval(values):
    """Mean over worlds and its 90 % interval."""
    values = np.asarray(values, dtype=float)
    half = 1.645 * values.std(ddof=1) / np.sqrt(values.size)
    return values.mean(), values.mean() - half, values.mean() + half


def held_out(path):
    """What a store holds of its last year, and what could be fitted before it."""
    with connect.open_read(path) as whole:
        settings = read.settings(whole)
        origin = settings.today - datetime.timedelta(days=HELD_OUT_DAYS)
        jobs = lives_watched.watched_jobs(whole, settings)
        late = read.query(whole, f"""select job from jobs_watched where delivered_on > date '{origin}'
            and delivered_on + {WITHIN_DAYS} <= date '{settings.today}'""")
        jobs = jobs[jobs["job"].isin(late["job"])].fillna({"setting": ""}).reset_index(drop=True)
        pieces = lives_watched._pieces(whole, jobs)
        failed, _ = lives_watched._failed(whole, jobs, pieces)
        other = read.query(whole, "select job, days_since_delivery as called_days from tidy_callbacks "
                           "where part is null")
    calls = pd.concat([failed, other[other["job"].isin(jobs["job"])]], ignore_index=True)
    calls = calls[calls["called_days"].between(0, WITHIN_DAYS)]
    with as_of.open_read(path, origin) as before:
        as_of.refuse_later(before, origin)
        fitted, other = lives.fit(before), callbacks.fit(before, WITHIN_DAYS)
    return HeldOut(jobs, pieces.groupby(["job", *CLASS_KEYS], as_index=False)["pieces"].sum(), calls, fitted, other,
                   settings)


def foretold(held, rng):
    """Chance of 0, 1, 2 ... calls, by job and by scope.

    Returns
    -------
    by_job : ndarray of float, shape (n_jobs, N_CELLS)
    by_scope : ndarray of float, shape (3, N_CELLS)
        Totals; the jobs of one draw are added up before the draws are mixed, since they share its lives.
    by_class : pandas.DataFrame
        Expected calls with a part by job and `CLASS_KEYS`.
    """
    scale, shape = held.lives.draws(rng, N_DRAWS)
    rates = held.other.draws_by_scope(rng, N_DRAWS)
    is_by_plays = held.lives.clock_draws(rng, N_DRAWS)
    generating = np.empty((len(held.jobs), N_DRAWS, _TURNS.size), dtype=complex)
    expected = []
    for (clock, per_day), jobs in held.jobs.groupby(["clock", "per_day"]):
        counts = _piece_counts(held, jobs["job"])
        cells = _failures(held.lives, counts.columns, per_day, scale, shape, is_by_plays & (clock == "plays"))
        generating[jobs.index] = _of_jobs(counts.to_numpy(), cells)
        mean = np.einsum("u,ugdk,k->g", _WEIGHTS / _WEIGHTS.sum(), cells, np.arange(cells.shape[-1])) / N_DRAWS
        expected.append((counts * mean).melt(ignore_index=False, value_name="expected").reset_index())
    scope = held.jobs["scope"].map(SCOPES.index).to_numpy(dtype=int)
    generating *= np.exp(rates[:, scope].T[:, :, None] * (_TURNS - 1))
    by_scope = [generating[scope == place].prod(axis=0).mean(axis=0) for place in range(len(SCOPES))]
    return _pmf(generating.mean(axis=1)), _pmf(np.stack(by_scope)), pd.concat(expected, ignore_index=True)


def _piece_counts(held, jobs):
    own = held.pieces[held.pieces["job"].isin(jobs)].astype({"pieces": float})
    table = own.pivot_table(index="job", columns=CLASS_KEYS, values="pieces", aggfunc="sum")
    return table.reindex(jobs).fillna(0.0)


def _failures(fitted, classes, per_day, scale, shape, is_by_plays):
    """Chance of 0, 1, 2, 3 failures of one piece: (n_use, n_classes, n_draws, 4)."""
    wear, was, judged = (classes.get_level_values(name).to_numpy() for name in CLASS_KEYS)
    word = np.full(len(classes), "", dtype=object)
    is_by_plays = is_by_plays[np.searchsorted(sorted(set(fitted.table["wear_class"])), wear)]

    def on_clock(values, was, judged):
        rows = (fitted.row(wear, was, word + clock, judged) for clock in ("plays", "months"))
        return np.where(is_by_plays, *(values[row] for row in rows))

    lives = [on_clock(values, *of) for of in ((word + "new", word), (was, judged)) for values in (scale, shape)]
    use = np.exp(LOG_USE_SD * _NODES - LOG_USE_SD**2 / 2)[:, None, None]
    time = WITHIN_DAYS * np.where(is_by_plays, per_day * use, 1 / MONTH_DAYS)
    return failure_counts(time, *lives, n_max=3, steps=16)


def _of_jobs(counts, cells):
    """Generating function of every job's calls with a part, its use drawn for itself: (n_jobs, n_draws, n_turns)."""
    powers = _TURNS ** np.arange(cells.shape[-1])[:, None]
    total = 0.0
    for of_use, weight in zip(cells, _WEIGHTS / _WEIGHTS.sum(), strict=True):
        log_each = np.log(of_use @ powers)
        total = total + weight * np.exp(np.tensordot(counts, log_each, axes=1))
    return total


def _pmf(generating):
    found = np.maximum(np.fft.irfft(generating, N_CELLS, axis=-1), 0.0)
    return found / found.sum(axis=-1, keepdims=True)


def calibrated(entry, folder, seed=1):
    """One world's counts against what was foretold.

    Returns
    -------
    totals : pandas.DataFrame
        By scope: jobs, foretold mean, seen, transform; ``true``: mean by the generator's own lives; ``true_inside``:
        chance that a count of that mean (Poisson) lies inside the middle 80 % of what was foretold.
    transforms : ndarray of float, shape (n_jobs,)
        Of single jobs.
    classes : pandas.DataFrame
        By scope, setting, clock and class: ``expected``, ``true`` and ``seen`` calls; classes are empty for calls
        without a part.
    """
    path = store(entry, folder)
    held, rng = held_out(path), np.random.default_rng(seed)
    by_job, by_scope, by_class = foretold(held, rng)
    classes = _beside_truth(held, by_class, path.with_suffix("") / "truth" / "jobs.csv", entry.world)
    number = held.calls.groupby("job").size().reindex(held.jobs["job"], fill_value=0).to_numpy()
    scope = held.jobs["scope"]
    totals = pd.DataFrame({"world": entry.name, "scope": SCOPES, "foretold": by_scope @ np.arange(N_CELLS)})
    totals["jobs"] = scope.value_counts().reindex(SCOPES, fill_value=0).to_numpy()
    totals["seen"] = pd.Series(number).groupby(scope).sum().reindex(SCOPES, fill_value=0).to_numpy()
    totals["true"] = classes.groupby("scope")["true"].sum().reindex(SCOPES, fill_value=0.0).to_numpy()
    totals["transform"] = scores.randomised_pit(by_scope, totals["seen"].to_numpy(), rng)
    totals["true_inside"] = _inside_share(by_scope, totals["true"].to_numpy())
    return totals, scores.randomised_pit(by_job, number, rng), classes.assign(world=entry.name)


def _inside_share(pmf, mean):
    """Chance that the randomised transform of a Poisson count lies between a tenth and nine tenths."""
    up_to = np.cumsum(pmf, axis=1)
    inside = np.clip(up_to, 0.1, 0.9) - np.clip(up_to - pmf, 0.1, 0.9)
    share = np.divide(inside, pmf, out=np.zeros(pmf.shape), where=pmf > 0)
    return (share * poisson.pmf(np.arange(pmf.shape[1]), mean[:, None])).sum(axis=1)


def _beside_truth(held, by_class, truth_path, world):
    """Expected calls by class beside their true mean and those seen; calls without a part under empty names."""
    true = pd.read_csv(truth_path).set_index("job")["plays_per_month"]
    rows = by_class.merge(held.pieces, on=["job", *CLASS_KEYS]).merge(held.jobs[["job", *_OF_JOB]], on="job")
    rows["true"] = rows["pieces"] * failed_share(world, rows, rows["job"].map(true).to_numpy())
    keys = [*_OF_JOB, *CLASS_KEYS]
    other = held.jobs.groupby(_OF_JOB).size().reset_index(name="jobs").assign(
        wear_class="", part_was="", judged="")
    place = other["scope"].map(SCOPES.index).to_numpy(dtype=int)
    inside = -np.expm1(-WITHIN_DAYS / world.lives.other_mean_days)
    other["expected"] = other["jobs"] * (held.other.alpha / held.other.beta)[place]
    other["true"] = other["jobs"] * np.array(world.lives.other_calls)[place] * inside
    calls = held.calls.fillna({name: "" for name in CLASS_KEYS}).merge(held.jobs[["job", *_OF_JOB]], on="job")
    seen = calls.groupby(keys).size().rename("seen").reset_index()
    told = pd.concat([rows, other], ignore_index=True).groupby(keys, as_index=False)[["expected", "true"]].sum()
    return told.merge(seen, on=keys, how="outer").fillna(0.0)


def failed_share(world, rows, plays_per_month):
    """True share of pieces that fail within the days: each class on its own clock, worn ones by the job's scope."""
    table = {name: true_lives.CLASS_LIVES[name] for name in rows["wear_class"].unique()}
    is_new = (rows["part_was"] == "new").to_numpy()
    worn = np.where(is_new, 0.0, np.array(world.lives.worn_share)[rows["scope"].map(SCOPES.index)])
    clock, shape, new, kept = (rows["wear_class"].map({name: each[i] for name, each in table.items()}).to_numpy()
                               for i in range(4))
    time = WITHIN_DAYS / MONTH_DAYS * np.where(clock == "plays", plays_per_month, 1.0)
    good = np.where(is_new, new, kept) * world.lives.life_factor
    ended = [-np.expm1(-((time / scale.astype(float)) ** shape.astype(float)))
             for scale in (good, good * world.lives.worn_factor)]
    return (1 - worn) * ended[0] + worn * ended[1]
