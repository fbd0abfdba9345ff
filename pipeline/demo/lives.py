"""How long pieces really last once a machine is delivered, and the call-backs that follow."""

from dataclasses import dataclass

import numpy as np

from pipeline.demo import catalogue, use
from pipeline.demo.jobs import MONTH_DAYS
from pipeline.demo.world import SCOPES, stream

# Wear class: clock, Weibull shape, scale of a new piece, scale of a kept piece found good (plays or months).
CLASS_LIVES = {
    "coil": ("plays", 1.4, 960_000, 410_000),
    "sleeve": ("plays", 2.0, 240_000, 110_000),
    "opto_pair": ("months", 1.5, 2_200, 950),
    "plunger": ("plays", 1.8, 370_000, 150_000),
    "spring": ("plays", 1.7, 600_000, 270_000),
    "switch": ("plays", 1.4, 540_000, 240_000),
    "ring": ("months", 2.2, 2_100, 910),
    "lamp": ("plays", 1.8, 2_500_000, 1_100_000),
    "connector": ("months", 1.9, 5_800, 2_500),
    "fuse": ("months", 1.5, 3_400, 1_400),
    "capacitor": ("months", 2.0, 1_300, 540),
    "board": ("months", 1.1, 2_200, 1_200),
    "display": ("months", 1.5, 660, 260),
    "moulding": ("plays", 1.7, 980_000, 480_000),
    "bracket": ("plays", 1.7, 1_400_000, 550_000),
    "fastener": ("plays", 2.0, 2_600_000, 1_300_000),
    "cosmetic": ("months", 1.8, 5_200, 2_500),
    "other": ("months", 1.8, 7_300, 3_900),
}
OTHER_CAUSES = ("adjustment", "connector reseated", "shaken in transport", "level and pitch")
OTHER_SHARES = (0.42, 0.28, 0.18, 0.12)


@dataclass(frozen=True)
class Call:
    """One call-back; ``fitting`` is None where no part was to blame."""

    reported: int
    fitting: int | None
    part_was: str
    cause: str
    visit_days: int
    hours: float
    is_home_visit: bool
    assembly: str


def scales(world, wear_class, part_was):
    """Return the true Weibull shape and the scale of good and of worn pieces (float, float, float)."""
    _, shape, new, kept = CLASS_LIVES[wear_class]
    factor = world.lives.life_factor
    if part_was == "new":
        return shape, new * factor, new * factor
    return shape, kept * factor, kept * factor * world.lives.worn_factor


def call_backs(seed, world, job, watch_days):
    """Draw every call within ``watch_days`` of a job's delivery (list of Call), in order of report."""
    rng = stream(seed, "lives", job.index)
    fit = use.fitted(seed, world, job.family)
    calls = [_part_call(rng, fit, i, was, job.delivered + int(day), world)
             for i, was, day in _failures(rng, fit, job, world, watch_days)]
    calls += _other_calls(rng, fit, job, world, watch_days)
    return sorted(calls, key=lambda call: call.reported)


def _failures(rng, fit, job, world, watch_days):
    fitted_now = np.zeros(len(fit.part), dtype=int)
    for i, qty, _ in job.needs:
        fitted_now[i] = qty
    found = []
    for was, count in (("new", fitted_now), ("kept", np.maximum(fit.pieces - fitted_now, 0))):
        place = np.repeat(np.arange(len(fit.part)), count)
        days = life_days(rng, world, fit.wear[place], was, job)
        for i, day in zip(place[days < watch_days].tolist(), days[days < watch_days].tolist(), strict=True):
            found.append((i, was, day))
            # The piece put in at the call starts a new life a few days later.
            again = day + 5 + float(life_days(rng, world, fit.wear[[i]], "new", job)[0])
            if again < watch_days:
                found.append((i, "new", again))
    return found


def life_days(rng, world, wear, was, job):
    """Draw lives in days from delivery for pieces of the given wear classes (ndarray, shape of ``wear``)."""
    table = [scales(world, name, was) for name in catalogue.WEAR_CLASSES]
    shape, good, worn = np.array(table).T
    by_plays = np.array([CLASS_LIVES[name][0] == "plays" for name in catalogue.WEAR_CLASSES])
    is_worn = rng.random(len(wear)) < world.lives.worn_share[SCOPES.index(job.scope)]
    life = np.where(is_worn, worn[wear], good[wear]) * rng.weibull(shape[wear])
    return life / np.where(by_plays[wear], job.machine.plays_per_month, 1.0) * MONTH_DAYS


def _part_call(rng, fit, i, was, day, world):
    assembly = next(a for a in catalogue.assemblies() if a.assembly == fit.assembly[i])
    hours = (0.5 + 0.8 * min(assembly.installed_hours, 3.0)) * rng.lognormal(-0.06, 0.35)
    cause = "failed" if was == "new" else str(rng.choice(["worn out", "failed", "broke"], p=[0.5, 0.35, 0.15]))
    return Call(day, int(i), was, cause, int(rng.integers(2, 12)), max(0.25, round(4 * float(hours)) / 4),
                bool(rng.random() < 0.8), assembly.assembly)


def _other_calls(rng, fit, job, world, watch_days):
    number = rng.poisson(world.lives.other_calls[SCOPES.index(job.scope)])
    days = rng.exponential(world.lives.other_mean_days, number)
    calls = []
    for day in days[days < watch_days].tolist():
        cause = OTHER_CAUSES[int(rng.choice(4, p=OTHER_SHARES))]
        place = "" if rng.random() < 0.5 else str(rng.choice(fit.assembly))
        calls.append(Call(job.delivered + int(day), None, "", cause, int(rng.integers(2, 12)),
                          max(0.25, round(4 * float(rng.lognormal(0.25, 0.4))) / 4), bool(rng.random() < 0.8), place))
    return calls
