"""The invented shop's catalogue: parts, assemblies, which part sits where, and the files that say so."""

from dataclasses import dataclass
from functools import cache

from pipeline.demo.fittings_table import ASSEMBLIES, FITTINGS
from pipeline.demo.parts_table import PARTS
from pipeline.demo.world import FAMILIES, stream

FAMILY_NAMES = ("Electromechanical", "Early solid-state", "Late alphanumeric", "Dot-matrix era", "Modern display")
FAMILY_NOTES = ("no play counter; line voltage on some switches", "numeric gas displays",
                "display glass no longer made", "many optos and ramps", "node boards; parts tied to their maker")
INITIALS = "esadm"
WEAR_CLASSES = ("coil", "sleeve", "opto_pair", "plunger", "spring", "switch", "ring", "lamp", "connector", "fuse",
                "capacitor", "board", "display", "moulding", "bracket", "fastener", "cosmetic", "other")
# trigger part or class, part it brings, share, assembly the rule is limited to
COMPANIONS = (
    ("coil", "sleeve-wide", 0.9, "flip"),
    ("coil", "sleeve-nylon-long", 0.9, "flip"),
    ("coil", "sleeve-nylon-std", 0.9, "jet"),
    ("coil", "sleeve-nylon-std", 0.9, "kicker"),
    ("coil", "sleeve-nylon-std", 0.85, "trough"),
    ("coil", "sleeve-nylon-long", 0.9, "upkick"),
    ("coil", "sleeve-nylon-std", 0.85, "hole"),
    ("coil", "sleeve-nylon-std", 0.8, "dropbank"),
    ("coil", "sleeve-nylon-long", 0.9, "divert"),
    ("coil", "sleeve-reel", 0.8, "reel"),
    ("link-flip-old", "stop-flip", 0.95, "flip"),
    ("link-flip-mid", "stop-flip", 0.95, "flip"),
    ("link-flip-late", "stop-flip", 0.95, "flip"),
    ("leg", "bolt-leg", 0.7, "cabinet"),
)
INTERCHANGE = (
    ("coil-jet-dc", "coil-kick-dc", "same bobbin; a little stronger"),
    ("switch-stroke-open", "switch-stroke", "contact re-bent to open on the stroke"),
    ("fuse-slow", "fuse-fast", "only where the schematic allows a slow fuse of the same rating"),
    ("target-drop-wide", "target-drop-flat", "face trimmed; with its own spring"),
    ("socket-wedge", "socket-bayonet", "with a wedge lamp and its board hole widened"),
    ("cap-filter-snap", "cap-filter-large", "adapter plate; same capacitance, voltage no lower"),
    ("link-flip-late", "link-flip-mid", "with its own coil stop"),
    ("board-logic-late", "board-logic-early", "with jumpers set and the program store moved"),
)

NEVER_KEPT = ("decals-cabinet", "glass-top", "board-drive", "panel-colour", "rail-side")


@dataclass(frozen=True)
class Part:
    """A part the shop lists; price in shop currency a piece, today; vendors habitual first."""

    part: str
    wear_class: str
    price: float
    supply: str
    pack_pcs: int
    vendors: str
    description: str


@dataclass(frozen=True)
class Assembly:
    """An assembly; hours of one, and how many a machine of each family has."""

    assembly: str
    bench_hours: float
    installed_hours: float
    open_hours: float
    counts: tuple[int, ...]
    name: str


@dataclass(frozen=True)
class Fitting:
    """A part in an assembly, for the families it fits."""

    assembly: str
    part: str
    families: str
    qty_pcs: int
    thorough_action: str
    fix_only_action: str
    piece_hours: float | None


def _lines(table):
    return [[cell.strip() for cell in line.split("|")] for line in table.strip().splitlines()]


@cache
def parts():
    """Return the part list (tuple of Part), in catalogue order."""
    return tuple(Part(p, c, float(price), supply, int(pack), vendors, text)
                 for p, c, price, supply, pack, vendors, text in _lines(PARTS))


@cache
def part_index():
    """Return the place of each part in the list (dict of str to int)."""
    return {part.part: i for i, part in enumerate(parts())}


@cache
def assemblies():
    """Return the assemblies (tuple of Assembly)."""
    return tuple(Assembly(a, float(bench), float(installed), float(opened), tuple(map(int, counts.split())), name)
                 for a, bench, installed, opened, counts, name in _lines(ASSEMBLIES))


@cache
def fittings(family):
    """Return the fittings a family has (tuple of Fitting, pieces per assembly)."""
    present = {a.assembly for a in assemblies() if a.counts[FAMILIES.index(family)]}
    initial = INITIALS[FAMILIES.index(family)]
    return tuple(f for f in _all_fittings() if f.assembly in present and (f.families == "*" or initial in f.families))


@cache
def _all_fittings():
    return tuple(Fitting(a, p, families, int(qty), thorough, fix, float(hours) if hours else None)
                 for a, p, families, qty, thorough, fix, hours in _lines(FITTINGS))


def shelf_places(seed):
    """Return where each part lies (dict of part to drawer), neighbours by wear class."""
    rng = stream(seed, "owner", 1)
    places = {}
    for i, part in enumerate(sorted(parts(), key=lambda p: WEAR_CLASSES.index(p.wear_class))):
        places[part.part] = f"{'ABCDEFGH'[i // 20]}{1 + i % 20:02d}"
    lost = rng.choice(len(parts()), size=6, replace=False)
    return places | {parts()[int(i)].part: "" for i in lost}


def keep_rule(part):
    """Return the owner's override for a part: dear boards and sets are never kept, fuses always."""
    if part.wear_class == "fuse" or part.part in ("ball", "terminal-crimp"):
        return "always"
    return "never" if part.part in NEVER_KEPT else "auto"


def tables(seed):
    """Return the catalogue's files (dict of file name to list of rows, each a dict)."""
    places = shelf_places(seed)
    return {
        "families": [{"family": f, "name": n, "note": t} for f, n, t in
                     zip(FAMILIES, FAMILY_NAMES, FAMILY_NOTES, strict=True)],
        "parts": [{"part": p.part, "description": p.description, "wear_class": p.wear_class, "supply": p.supply,
                   "shelf": places[p.part], "keep": keep_rule(p), "unit_cost": _remembered(seed, i, p)}
                  for i, p in enumerate(parts())],
        "assemblies": [{"assembly": a.assembly, "name": a.name, "bench_hours": a.bench_hours,
                        "installed_hours": a.installed_hours, "open_hours": a.open_hours} for a in assemblies()],
        "family_assemblies": [{"family": f, "assembly": a.assembly, "count": a.counts[i]}
                              for i, f in enumerate(FAMILIES) for a in assemblies() if a.counts[i]],
        "assembly_parts": [row for f in _all_fittings() for row in _fitting_rows(f)],
        "companions": [_companion_row(*rule) for rule in COMPANIONS],
        "interchange": [{"part": a, "can_replace": b, "condition": c} for a, b, c in INTERCHANGE],
    }


def _remembered(seed, i, part):
    # Remembered prices lag today's by a year or two.
    return round(part.price * float(stream(seed, "owner", 100 + i).uniform(0.72, 1.0)), 2)


def _fitting_rows(fitting):
    families = [""] if fitting.families == "*" else [FAMILIES[INITIALS.index(c)] for c in fitting.families]
    return [{"assembly": fitting.assembly, "part": fitting.part, "family": family, "qty_pcs": fitting.qty_pcs,
             "piece_hours": fitting.piece_hours, "thorough_action": fitting.thorough_action,
             "fix_only_action": fitting.fix_only_action} for family in families]


def _companion_row(trigger, adds, share, assembly):
    by_class = trigger in WEAR_CLASSES
    return {"trigger_part": "" if by_class else trigger, "trigger_wear_class": trigger if by_class else "",
            "adds_part": adds, "share": share, "per": "piece", "qty_pcs": 1, "assembly": assembly}
