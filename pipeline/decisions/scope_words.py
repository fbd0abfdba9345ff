"""Why a line is replaced or left: the reckoning of one line, in words."""

import numpy as np

from pipeline.decisions.scope_plan import ALONG, AS_FOUND, FAILED

LEAST_HOURS = 0.05
LEAST_SAID = 5e-4  # one in two thousand machines: below this a number says nothing to a bench


def why(line, option):
    """Reason for a line of ``scope_lines``.

    Parameters
    ----------
    line : Mapping
        ``{option}_from``, ``{option}_pcs``, ``fix_only_pcs``, ``extra_pcs``, ``failures_avoided`` and
        ``break_even_failures`` over five years, ``warranty_avoided``, ``price_from``, ``priced_on``,
        ``owner_gain_amount``, ``is_hours_guessed``, ``wear_class``, ``guess_share``, ``guess_from``, ``mixes``,
        ``is_listed``, ``action``, ``note``.
    option : str
        ``fix_only``, ``recommended`` or ``thorough``.

    Returns
    -------
    str
        Clauses joined by semicolons.
    """
    clauses = [_verdict(line, option), _pieces(line, option), _price(line)]
    if line["extra_pcs"] > 0 and line["is_listed"]:
        clauses += [_owner(line), _guess(line), _mixture(line)]
    if line["is_hours_guessed"]:
        clauses.append("hours a piece from the seed table (from memory)")
    return "; ".join(clause for clause in clauses if clause)


def why_left(line, is_open):
    """Reason for a line that a thorough job would work on and the recommended scope leaves.

    Parameters
    ----------
    line : Mapping
        As for :func:`why`, weighed as the thorough job would do it.
    is_open : bool
        Whether the recommended scope opens its assembly anyway.

    Returns
    -------
    str
    """
    if np.isnan(line["break_even_failures"]) or not line["is_listed"]:
        return f"stays: {_verdict(line, 'thorough')}"
    return "; ".join(clause for clause in (_stays(line, is_open), _guess(line)) if clause)


def _stays(line, is_open):
    if not line["is_had"]:
        return "stays: its supply has ended and the shelf does not hold it; found or made elsewhere, weigh it again"
    avoided, needed = max(line["failures_avoided"], 0.0), line["break_even_failures"]
    figures = f"would avoid {number(avoided)} failures over five years and pays from {number(needed)}"
    if avoided > needed:
        if is_open:
            return f"stays: {figures}, but what is done beside it does as much for less"
        return f"stays: {figures}, but not with its share of opening and putting back {line['assembly'] or 'it'}"
    return f"stays until it fails: {figures}" + ("" if is_open else ", opening not counted")


def why_rare(number_of_parts, number_unpriced=0):
    """Reason for the line that sums up rare parts, some of them perhaps without a price."""
    text = f"{number_of_parts} parts rarer than one piece in twenty such jobs, together"
    return text if not number_unpriced else f"{text}; {number_unpriced} of them without a price, not in the sum"


def why_start(hours, option):
    """Reason for the hours that belong to no line."""
    work = "intake, finding the fault, test and admin"
    work += ", and the whole machine's cleaning, looks and putting back" if option == "thorough" else ""
    return f"{work}: {number(hours)} hours of such jobs that no line explains"


def why_opened(assembly, opened, pieces, option, unseen_hours=0.0, hours=None):
    """Reason for the line that opens an assembly: paid once, whatever is done inside.

    Parameters
    ----------
    assembly : str
    opened, pieces : float
        Assemblies opened, and pieces moved inside.
    option : str
    unseen_hours : float
        Hours of cleaning, wiring and putting back.
    hours : pipeline.decisions.scope_hours.FamilyHours, optional
        Where these hours are known from.

    Returns
    -------
    str
    """
    several = "" if opened <= 1.005 else f" ({number(opened)} of them)"
    text = (
        f"opening {assembly}{several}: paid once for the {number(pieces)} pieces done inside ({option}); "
        "paid again later if one of them fails"
    )
    if unseen_hours < LEAST_HOURS:
        return text
    source = "the seed table's shares (from memory)" if hours.is_guessed else "the stages of thorough jobs"
    return f"{text}; with {number(unseen_hours)} hours of cleaning and wiring, by {source}"


def number(value):
    """A number of pieces or failures to two figures, without needless zeros.

    Parameters
    ----------
    value : float

    Returns
    -------
    str

    Examples
    --------
    >>> number(0.01234), number(3.0), number(128.4)
    ('0.012', '3', '128')
    """
    if abs(value) >= 100:
        return f"{value:.0f}"
    return f"{value:.2g}" if abs(value) < 10 else f"{value:.3g}"


def _verdict(line, option):
    if option == "fix_only":
        return "what had failed or had to go: replacing it is the job"
    if line["extra_pcs"] <= 0:
        return "no more than fixing replaces"
    if line["note"] == ALONG:
        return "comes along with what is replaced beside it"
    if not line["is_listed"]:
        return (
            "what stays in the machine is not listed: assembly_parts.csv and family_assemblies.csv would tell "
            "what this avoids"
        )
    if np.isnan(line["break_even_failures"]):
        return "its cost is unknown, so whether it pays is, too"
    if line["failures_avoided"] <= 0:
        return "by what is known a new piece fails no later than the one in place"
    avoided, needed = line["failures_avoided"], line["break_even_failures"]
    over = f"over five years avoids {number(avoided)} failures and pays from {number(needed)}"
    is_said = abs(line["warranty_avoided"]) >= LEAST_SAID
    warranty = f"inside the warranty avoids {number(line['warranty_avoided']) if is_said else 'next to none'}"
    if avoided > needed:
        inside = "pays there, too" if line["warranty_avoided"] > needed else "does not pay there"
        return f"pays: {over}; {warranty}: {inside}"
    if option == "recommended":
        return f"goes in for the chance of no call-back that is asked, or with what comes along: {over}; {warranty}"
    return f"does not pay by call-backs alone: {over}; {warranty}"


def _pieces(line, option):
    if line["note"] == FAILED:
        return line["fix_only_from"]
    if option != "recommended":
        return line[f"{option}_from"]
    treated = {"clean": "cleaned", "recondition": "reconditioned", "make": "made anew"}.get(line["action"])
    if treated:
        return f"{treated}, as the assembly list names it"
    if line["note"] == AS_FOUND:
        return "pieces: as many as such jobs find bad once it is open"
    return "pieces: all of them"


def _owner(line):
    if np.isnan(line["owner_gain_amount"]) or line["action"] not in ("replace", "make"):
        return ""
    verdict = "it pays" if line["owner_gain_amount"] > 0 else "it does not pay"
    return f"for the machine's owner {verdict}, at the shop's prices and with the life left"


def _mixture(line):
    if not line["mixes"]:
        return ""
    return f"{line['wear_class']} failures mix wear-out with chance: replacing on age helps only against the first"


def _price(line):
    if line["price_from"] == "landed":
        return f"landed price of {line['priced_on']:%Y-%m-%d}"
    if line["price_from"] == "offer":
        return "price by the cheapest offer, never bought yet"
    if line["price_from"] == "unit_cost":
        return "remembered price, never bought or offered"
    return "no price known (0 is none): not in the sums (offers.csv or unit_cost would tell)"


def _guess(line):
    if line["guess_share"] <= 0.5:
        return ""
    whose = "the owner's guess" if line["guess_from"] == "owner" else "a guess from memory"
    return f"life of kept {line['wear_class']} pieces: {whose} still decides"
