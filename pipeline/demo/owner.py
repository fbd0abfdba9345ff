"""What the owner wrote down once: settings, spellings, machines, and guesses about wear."""

import math

from pipeline.demo import catalogue, lives
from pipeline.demo.records import WATCH_DAYS
from pipeline.demo.world import SCOPES, stream

ALIASES = (
    ("flip sleeve", "sleeve-nylon-long"), ("short sleeve", "sleeve-nylon-std"), ("EOS", "switch-stroke"),
    ("EOS open", "switch-stroke-open"), ("flipper stop", "stop-flip"), ("jet coil", "coil-jet-dc"),
    ("sling coil", "coil-kick-dc"), ("sling leaf", "switch-kick"), ("spoon", "switch-spoon"),
    ("bayonet bulb", "lamp-bayonet"), ("wedge bulb", "lamp-wedge"), ("pins 100", "terminal-crimp"),
    ("1 in ring", "ring-medium"), ("post rubber", "ring-tiny"), ("slow one", "fuse-slow"), ("quick one", "fuse-fast"),
    ("trough pair", "opto-trough"), ("big cap", "cap-filter-large"), ("silver ball", "ball"),
    ("drop spring", "spring-target"),
)


def shop_rows(world):
    """Return the shop's settings (list of dict)."""
    settings = {
        "name": "Saltbush Row Pinball Workshop", "currency": "USD", "labour_rate": 60, "labour_cost": 34,
        "overhead_per_hour": 12, "bench_hours_per_week": float(world.bench_hours_per_week), "bays": world.bay_count,
        "holding_rate_share": 0.22, "bay_cost_per_day": 11, "callback_trip_cost": 55, "callback_goodwill_cost": 50,
        "warranty_days": 90, "callback_watch_days": WATCH_DAYS, "target_margin_share": 0.28, "part_markup_share": 0.32,
        "cash_limit_amount": float(round(4200 * world.jobs_per_year / 60, -2)),
        "plays_per_month_home": float(world.lives.home_plays_per_month),
        "plays_per_month_route": float(world.lives.route_plays_per_month), "today": world.today}
    return [{"key": key, "value": value} for key, value in settings.items()]


def alias_rows():
    """Return other spellings of parts (list of dict)."""
    return [{"alias": alias, "part": part} for alias, part in ALIASES]


def machine_rows(jobs):
    """Return every machine with a job, in order of number (list of dict)."""
    seen = {job.machine.machine: job.machine for job in jobs}
    return [{name: getattr(seen[key], name) for name in
             ("machine", "family", "title", "year", "serial", "condition_in", "agreed_value")} for key in sorted(seen)]


def true_median(world, wear_class, part_was):
    """Return the true median life of a piece kept in a small job, or of a new one (float, class's own clock)."""
    shape, good, worn = lives.scales(world, wear_class, part_was)
    share = world.lives.worn_share[SCOPES.index("fix_only")]
    low, high = 0.0, 10 * good
    for _ in range(60):
        middle = (low + high) / 2
        alive = share * math.exp(-((middle / worn) ** shape)) + (1 - share) * math.exp(-((middle / good) ** shape))
        low, high = (middle, high) if alive > 0.5 else (low, middle)
    return (low + high) / 2


def wear_rows(seed, world):
    """Return the owner's guesses: mostly too short for what is cheap, too long for boards; rounded (list of dict)."""
    rows = []
    for i, name in enumerate(catalogue.WEAR_CLASSES):
        rng = stream(seed, "owner", 10 + i)
        clock, shape = lives.CLASS_LIVES[name][:2]
        bias = -0.35 if name in ("ring", "sleeve", "switch", "lamp", "spring", "connector") else 0.3
        bias += 0.45 * float(rng.normal())
        guess = {was: true_median(world, name, was) * math.exp(bias + 0.2 * rng.normal()) for was in ("new", "kept")}
        by_plays, per_month = clock == "plays", world.lives.home_plays_per_month
        plays = {was: value if by_plays else value * per_month for was, value in guess.items()}
        rows.append({"wear_class": name, "median_plays_new": _rounded(plays["new"]),
                     "median_plays_kept": _rounded(plays["kept"]),
                     "median_months_new": _rounded(plays["new"] / per_month),
                     "median_months_kept": _rounded(plays["kept"] / per_month),
                     "shape": round(max(0.6, shape + 0.2 * float(rng.normal())), 1),
                     "weight_jobs": float(rng.choice([0.5, 1.0, 2.0]))})
    return rows


def _rounded(value):
    return float(f"{value:.1e}")

