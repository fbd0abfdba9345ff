"""Why a line is replaced or left: the reckoning of one line, in words."""

import numpy as np

LEAST_SAID = 5e-4  # one in two thousand machines: below this a number says nothing to a bench


def why(line, option):
    """Reason for a line of ``scope_lines``.

    Parameters
    ----------
    line : Mapping
        ``{option}_from``, ``{option}_pcs``, ``fix_only_pcs``, ``extra_pcs``, ``failures_avoided`` and
        ``break_even_failures`` over five years, ``warranty_avoided``, ``price_from``, ``priced_on``,
        ``is_hours_guessed``, ``wear_class``, ``guess_share``, ``guess_from``, ``is_listed``.
    option : str
        ``fix_only`` or ``thorough``.

    Returns
    -------
    str
        Clauses joined by semicolons.
    """
    clauses = [_verdict(line, option), line[f"{option}_from"], _price(line)]
    if line["extra_pcs"] > 0 and line["is_listed"]:
        clauses.append(_guess(line))
    if line["is_hours_guessed"]:
        clauses.append("hours a piece from the seed table (from memory)")
    return "; ".join(clause for clause in clauses if clause)


def why_opened(assembly, opened, pieces, option):
    """Reason for the line that opens an assembly: paid once, whatever is done inside."""
    several = "" if opened <= 1.005 else f" ({number(opened)} of them)"
    return (
        f"opening {assembly}{several}: paid once for the {number(pieces)} pieces replaced inside ({option}); "
        "paid again later if one of them fails"
    )


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
    return f"does not pay by call-backs alone: {over}; {warranty}"


def _price(line):
    if line["price_from"] == "landed":
        return f"landed price of {line['priced_on']:%Y-%m-%d}"
    if line["price_from"] == "offer":
        return "price by the cheapest offer, never bought yet"
    if line["price_from"] == "unit_cost":
        return "remembered price, never bought or offered"
    return "no price known: not in the sums (offers.csv or unit_cost would tell)"


def _guess(line):
    if line["guess_share"] <= 0.5:
        return ""
    whose = "the owner's guess" if line["guess_from"] == "owner" else "a guess from memory"
    return f"life of kept {line['wear_class']} pieces: {whose} still decides"
