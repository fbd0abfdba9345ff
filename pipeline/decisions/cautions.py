"""The fixed safety notice that stands beside every scope of work."""

from dataclasses import dataclass

INTRODUCTION = (
    "Reminders, not instructions. Local codes and the law of the place come first; work that "
    "needs a licence belongs to those who hold one. The rules named are of one country and bind "
    "employers there; a lone owner may take them as good practice, and anyone with an employee is "
    "bound by them."
)


@dataclass(frozen=True)
class Caution:
    """One hazard: what to mind, where it stands, and how sure that is.

    Attributes
    ----------
    hazard, caution, source : str
        Own words; the public rule or guide behind them.
    confidence : str
        ``checked`` (found by search), ``partly`` (part of it from memory), ``memory`` (from memory alone).
    """

    hazard: str
    caution: str
    source: str
    confidence: str


CAUTIONS = (
    Caution(
        "Mains",
        "Pull the plug and keep it in hand or in sight before a panel comes off. On old machines "
        "some coils, lamps, relays and coin-door switches sit at line voltage. After a repair "
        "check that the ground prong reaches rails, door and bolts.",
        "29 CFR 1910.333(a)(1) and 1910.147(a)(2)(iii)(A); EN 50678 for ground continuity; UL 22 "
        "and IEC 60335-2-82 for machines in commercial use",
        "checked",
    ),
    Caution(
        "Stored charge",
        "Unplugged is not yet safe: let filter capacitors and display supplies discharge, then "
        "prove it with a meter. Display rails run from about 90 to 190 volts.",
        "29 CFR 1910.333(b)(2)(ii)(C), written for fixed equipment, used as good practice; "
        "voltages partly from memory",
        "partly",
    ),
    Caution(
        "Fuses",
        "Fit the current and the time type that the schematic names, never more and never a piece "
        "of metal. Test a fuse out of its circuit, and look for what blew it.",
        "UL 248-14 and IEC 60127",
        "memory",
    ),
    Caution(
        "Soldering: fume and lead",
        "Draw the fume off at the tip: rosin fume is a known cause of asthma. Wash hands before "
        "eating; no food or drink at the bench where leaded solder is used.",
        "HSE research report RR900 and SIM 03/2002/26; 29 CFR 1910.1025",
        "checked",
    ),
    Caution(
        "Old paint",
        "Finishes from before 1978 may hold lead: test first, no dry sanding, work wet, vacuum "
        "with a HEPA filter, keep children away from the dust.",
        "16 CFR 1303; the practice of 40 CFR 745 Subpart E, which itself covers housing",
        "partly",
    ),
    Caution(
        "Solvents and strippers",
        "Read the safety data sheet; air, gloves, no flame, rags in a closed metal can. Methylene "
        "chloride is banned or restricted in many places.",
        "40 CFR 751 Subpart B (check the dates that apply); 29 CFR 1910.106 and 1910.1200",
        "partly",
    ),
    Caution(
        "Two-part clear coat",
        "Isocyanates sensitise, and that is for life. Send it out, or spray with supplied air in "
        "a proper booth; a cartridge mask is not enough.",
        "NIOSH 96-111; 29 CFR 1910.134",
        "checked",
    ),
    Caution(
        "Springs and coils",
        "A stray contact fires a coil at up to 70 volts: fingers out whenever power is on. A coil "
        "locked on burns skin. Secure a raised playfield with its own support before reaching "
        "under it.",
        "an operator's seminar text on coil voltage; ISO 13732-1 for hot surfaces",
        "partly",
    ),
    Caution(
        "Lifting",
        "A machine weighs 225 to 350 pounds (100 to 160 kg): two people or a lift cart, always. "
        "Fold the backbox and take the balls out first.",
        "NIOSH 94-110, revised lifting equation",
        "checked",
    ),
    Caution(
        "Batteries",
        "Leaking cells are caustic: gloves and goggles, neutralise with a mild acid, rinse. Mount "
        "new cells off the board; never put a lithium primary cell where it can be charged.",
        "makers' safety pages; 49 CFR 173.185 for shipping",
        "partly",
    ),
    Caution(
        "Power tools and dust",
        "Face shield at wheels and buffers, guards on, extraction for dust of plastics and fibre; "
        "compressed air below 30 psi and never on skin.",
        "29 CFR 1910.212, .215 and .242(b)",
        "checked",
    ),
)


def cautions():
    """The notice as a table, in the order to show.

    Returns
    -------
    pandas.DataFrame
        Columns ``hazard``, ``caution``, ``source``, ``confidence``; `INTRODUCTION` belongs above it.
    """
    import pandas as pd

    return pd.DataFrame([vars(each) for each in CAUTIONS])
