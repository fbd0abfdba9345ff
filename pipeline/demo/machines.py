"""Invented machines and their owners."""

from dataclasses import dataclass

from pipeline.demo.world import FAMILIES, stream

FIRST_WORDS = ("Marmalade", "Velvet", "Turnip", "Gazebo", "Tin", "Badger", "Biscuit", "Walrus", "Gumboot", "Thimble",
               "Lantern", "Pickled", "Crumpet", "Moth", "Teapot", "Umbrella", "Radish", "Kettle", "Otter", "Custard")
SECOND_WORDS = ("Regatta", "Heist", "Lighthouse", "Derby", "Admiral", "Parade", "Orchestra", "Tramway", "Quarrel",
                "Observatory", "Picnic", "Uprising", "Ferry", "Almanac", "Detectives")
YEARS = ((1958, 1977), (1977, 1985), (1985, 1990), (1990, 2004), (2005, 2024))
CONDITIONS = ("fair, complete", "dusty, plays", "battery leak", "dead since a move", "rusty legs, worn playfield",
              "plays, one flipper weak", "missing parts", "smoke residue")
WORTH = (900.0, 1300.0, 2100.0, 3900.0, 5600.0)


@dataclass(frozen=True)
class Machine:
    """One invented machine; ``plays_per_month`` is its true use, games a month."""

    machine: str
    family: str
    title: str
    year: int
    serial: str
    condition_in: str
    agreed_value: float
    customer: str
    setting: str
    plays_per_month: float
    plays_then: int


def titles(seed):
    """Return the invented titles of each family (dict of family to list of str)."""
    rng = stream(seed, "machines", 0)
    names = [f"{a} {b}" for a in FIRST_WORDS for b in SECOND_WORDS]
    picked = rng.choice(len(names), size=60, replace=False)
    return {family: [names[int(i)] for i in picked[12 * f:12 * f + 12]] for f, family in enumerate(FAMILIES)}


def make(seed, number, family, world):
    """Return the machine with this number (Machine), drawn from its own stream."""
    rng = stream(seed, "machines", number)
    f = FAMILIES.index(family)
    first, last = YEARS[f]
    year = int(rng.integers(first, last + 1))
    on_route = bool(rng.random() < world.bookings.route_share * (0.3 if f == 0 else 1.0))
    usual = world.lives.route_plays_per_month if on_route else world.lives.home_plays_per_month
    sigma = world.lives.plays_sigma
    rate = float(usual * rng.lognormal(-sigma**2 / 2, sigma))
    played_months = float(rng.uniform(20, 60 + 3 * (world.today.year - year)))
    return Machine(
        machine=f"m{number:03d}", family=family, title=str(rng.choice(titles(seed)[family])), year=year,
        serial=f"{rng.choice(list('KRTXZ'))}{int(rng.integers(10000, 99999))}",
        condition_in=str(rng.choice(CONDITIONS)), agreed_value=float(round(WORTH[f] * rng.lognormal(0, 0.3) / 50) * 50),
        customer=f"c{number:03d}", setting="route" if on_route else "home", plays_per_month=rate,
        plays_then=int(rate * played_months + rng.gamma(2.0, 6000)))


def read_counter(rng, machine, months):
    """Return plays and their quality as read at intake (int or None, str)."""
    if machine.family == "electromech":
        return None, "unknown"
    true = machine.plays_then + int(machine.plays_per_month * months)
    chance = rng.random()
    old = machine.family in ("solidstate", "alphanumeric")
    if chance < (0.10 if old else 0.03):
        return None, "unknown"
    if chance < (0.24 if old else 0.09):
        return int(true * rng.uniform(0.01, 0.2)), "reset_suspected"
    return (true % 100000, "wrapped") if old and true >= 100000 else (true, "read")
